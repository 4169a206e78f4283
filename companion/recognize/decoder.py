"""Whisper's text decoder in numpy, for many prefixes of one sound at once.

CTranslate2 encodes the sound and can decode freely, but it keeps no state between calls: a search
held to a grammar would have it read every prefix again at every step. Here the keys and values of
what was already read are kept, the keys and values of cross-attention are worked out once a sound,
and only the words of the grammar are scored.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.recognize.embeddings import Embeddings
from companion.recognize.probabilities import softmax

Floats = NDArray[np.float32]
Tokens = NDArray[np.int64]

HEAD_WIDTH = 64
"""Width of an attention head, the same in every Whisper model."""
_EPSILON = np.float32(1e-5)


def _erf(x: Floats) -> Floats:
    """Error function to 1.5e-7. Source: Abramowitz and Stegun, 7.1.26."""
    size = np.abs(x)
    t = 1.0 / (1.0 + 0.3275911 * size)
    series = t * (
        0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429)))
    )
    return np.asarray(np.copysign(1.0 - series * np.exp(-size * size), x), dtype=np.float32)


def _gelu(x: Floats) -> Floats:
    return np.asarray(0.5 * x * (1.0 + _erf(x * np.float32(0.70710678))), dtype=np.float32)


@dataclass(frozen=True, slots=True)
class _Linear:
    weight: Floats
    bias: Floats

    def __call__(self, x: Floats) -> Floats:
        return x @ self.weight + self.bias


@dataclass(frozen=True, slots=True)
class _Normalization:
    gamma: Floats
    beta: Floats

    def __call__(self, x: Floats) -> Floats:
        centred = x - x.mean(axis=-1, keepdims=True)
        variance = np.mean(centred * centred, axis=-1, keepdims=True)
        return np.asarray(
            centred / np.sqrt(variance + _EPSILON) * self.gamma + self.beta, dtype=np.float32
        )


@dataclass(frozen=True, slots=True)
class _Layer:
    """Self-attention over the text, cross-attention into the sound, and a feed-forward step."""

    self_normalization: _Normalization
    self_input: _Linear
    self_output: _Linear
    cross_normalization: _Normalization
    cross_query: _Linear
    cross_input: _Linear
    cross_output: _Linear
    forward_normalization: _Normalization
    forward_input: _Linear
    forward_output: _Linear


@dataclass(frozen=True, slots=True)
class Sound:
    """What cross-attention looks into: keys and values of encoded sounds, for every layer.

    Attributes:
        keys: A layer each: shape (sounds, heads, 64, frames).
        values: A layer each: shape (sounds, heads, frames, 64).
    """

    keys: tuple[Floats, ...]
    values: tuple[Floats, ...]

    @property
    def count(self) -> int:
        """How many sounds."""
        return int(self.keys[0].shape[0])


@dataclass(slots=True)
class Prefixes:
    """What was read so far: the same prefixes under each sound.

    Attributes:
        keys: A layer each: shape (sounds, prefixes, heads, 64, tokens).
        values: A layer each: shape (sounds, prefixes, heads, tokens, 64).
        length: Tokens read.
    """

    keys: list[Floats]
    values: list[Floats]
    length: int

    def select(self, rows: NDArray[np.int64]) -> Prefixes:
        """Keep these prefixes, in this order; one may be kept more than once."""
        return Prefixes(
            [layer[:, rows] for layer in self.keys],
            [layer[:, rows] for layer in self.values],
            self.length,
        )


class Decoder:
    """The decoder of one Whisper model."""

    def __init__(self, variables: Mapping[str, NDArray[Any]]) -> None:
        """Arrange the weights; none of the variables is kept.

        Args:
            variables: As ``WeightFile.floats("decoder/")`` gives them.

        Raises:
            KeyError: If a weight is missing.
        """
        self.embeddings = Embeddings(variables["embeddings/weight"])
        self.width = self.embeddings.width
        self.heads = self.width // HEAD_WIDTH

        def floats(name: str) -> Floats:
            return variables[name].astype(np.float32)

        def linear(name: str, scale: float = 1.0) -> _Linear:
            weight = floats(f"{name}/weight").T * np.float32(scale)
            return _Linear(np.ascontiguousarray(weight), floats(f"{name}/bias") * np.float32(scale))

        def normalization(name: str) -> _Normalization:
            return _Normalization(floats(f"{name}/gamma"), floats(f"{name}/beta"))

        self._positions = floats("position_encodings/encodings")

        count = 0
        while f"layer_{count}/ffn/linear_0/weight" in variables:
            count += 1
        self._layers = tuple(
            _Layer(
                normalization(f"layer_{i}/self_attention/layer_norm"),
                linear(f"layer_{i}/self_attention/linear_0"),
                linear(f"layer_{i}/self_attention/linear_1"),
                normalization(f"layer_{i}/attention/layer_norm"),
                linear(f"layer_{i}/attention/linear_0", HEAD_WIDTH**-0.5),
                linear(f"layer_{i}/attention/linear_1"),
                linear(f"layer_{i}/attention/linear_2"),
                normalization(f"layer_{i}/ffn/layer_norm"),
                linear(f"layer_{i}/ffn/linear_0"),
                linear(f"layer_{i}/ffn/linear_1"),
            )
            for i in range(count)
        )
        self._last_normalization = normalization("layer_norm")

    def listen(self, encoded: Floats) -> Sound:
        """Work out the cross-attention's keys and values, once for all prefixes.

        Args:
            encoded: Shape (sounds, frames, width): the encoder's output.
        """
        sounds, frames, _ = encoded.shape
        keys, values = [], []
        for layer in self._layers:
            both = layer.cross_input(encoded).reshape(sounds, frames, 2, self.heads, HEAD_WIDTH)
            keys.append(np.ascontiguousarray(both[:, :, 0].transpose(0, 2, 3, 1)))
            values.append(np.ascontiguousarray(both[:, :, 1].transpose(0, 2, 1, 3)))
        return Sound(tuple(keys), tuple(values))

    def begin(self, sound: Sound) -> Prefixes:
        """Return one empty prefix under each sound."""
        shape = (sound.count, 1, self.heads)
        empty_keys = np.zeros((*shape, HEAD_WIDTH, 0), dtype=np.float32)
        empty_values = np.zeros((*shape, 0, HEAD_WIDTH), dtype=np.float32)
        layers = len(self._layers)
        return Prefixes([empty_keys] * layers, [empty_values] * layers, 0)

    def read(self, sound: Sound, prefixes: Prefixes, tokens: Tokens) -> Floats:
        """Read more tokens, adding them to the prefixes.

        Args:
            sound: What is listened to.
            prefixes: Changed in place: longer by the tokens.
            tokens: Shape (prefixes, n).

        Returns:
            Shape (sounds, prefixes, n, width): the state after each token, from which
            ``embeddings`` scores the next one.
        """
        sounds = sound.count
        rows, new = tokens.shape
        before = prefixes.length
        width, heads = self.width, self.heads
        x = self.embeddings.of(tokens) + self._positions[before : before + new]
        x = np.broadcast_to(x, (sounds, rows, new, width)).copy()
        later = np.triu(np.full((new, before + new), -np.inf, dtype=np.float32), before + 1)
        for i, layer in enumerate(self._layers):
            split = layer.self_input(layer.self_normalization(x))
            split = split.reshape(sounds, rows, new, 3, heads, HEAD_WIDTH)
            query = split[:, :, :, 0].transpose(0, 1, 3, 2, 4)
            keys = np.concatenate(
                (prefixes.keys[i], split[:, :, :, 1].transpose(0, 1, 3, 4, 2)), axis=-1
            )
            values = np.concatenate(
                (prefixes.values[i], split[:, :, :, 2].transpose(0, 1, 3, 2, 4)), axis=-2
            )
            prefixes.keys[i], prefixes.values[i] = keys, values
            attention = query @ keys
            attention *= np.float32(HEAD_WIDTH**-0.5)
            if new > 1:
                attention += later
            mixed = (softmax(attention, out=attention) @ values).transpose(0, 1, 3, 2, 4)
            x += layer.self_output(mixed.reshape(sounds, rows, new, width))

            query = layer.cross_query(layer.cross_normalization(x))
            query = query.reshape(sounds, rows * new, heads, HEAD_WIDTH).transpose(0, 2, 1, 3)
            attention = query @ sound.keys[i]
            mixed = softmax(attention, out=attention) @ sound.values[i]
            mixed = mixed.transpose(0, 2, 1, 3).reshape(sounds, rows, new, width)
            x += layer.cross_output(mixed)

            x += layer.forward_output(_gelu(layer.forward_input(layer.forward_normalization(x))))
        prefixes.length = before + new
        return self._last_normalization(x)
