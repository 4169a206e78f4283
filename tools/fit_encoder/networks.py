"""The networks: Whisper's encoder with what is fitted in it, its decoder, and our own.

All of the width of tiny.en. The names of the weights are those of the model file, and of the files
that the program reads.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional

from tools.fit_encoder.effects import DEVICE

WIDTH = 384
"""Of the encoder's output."""
HEADS = 6
LAYERS = 4
KINDS = 40
"""Phonemes, and the blank."""
TAPS = 7
"""Frames that a convolution of the phoneme network looks at."""
DROPPED = 0.3
"""Share of the phoneme network's values that are left out while it is fitted."""
_PARTS = {
    "attention_norm": "self_attention/layer_norm",
    "asked": "self_attention/linear_0",
    "attended": "self_attention/linear_1",
    "norm": "ffn/layer_norm",
    "wide": "ffn/linear_0",
    "narrow": "ffn/linear_1",
}
"""Of a layer of the encoder, and their names in the model file."""


class Weights:
    """Weights as they are in the model file, on the GPU."""

    def __init__(self, arrays: Mapping[str, NDArray[np.generic]]) -> None:
        self._arrays = arrays

    def __getitem__(self, name: str) -> Tensor:
        return torch.from_numpy(self._arrays[name].astype(np.float32)).to(DEVICE)

    def linear(self, name: str) -> tuple[Tensor, Tensor]:
        """A matrix and its bias."""
        return self[f"{name}/weight"], self[f"{name}/bias"]


class Changed(nn.Module):  # type: ignore[misc]
    """A matrix that stays, with a difference of low rank (Hu et al., 2021, arXiv 2106.09685), and
    a bias with a whole one; with rank 0 both stay."""

    def __init__(self, weight: Tensor, bias: Tensor, rank: int) -> None:
        super().__init__()
        self._shape = weight.shape
        flat = weight.reshape(weight.shape[0], -1)
        self.register_buffer("weight", flat)
        self.register_buffer("bias", bias)
        self.rank = rank
        if rank:
            first = torch.randn(rank, flat.shape[1], device=DEVICE) / math.sqrt(flat.shape[1])
            self.a = nn.Parameter(first)
            self.b = nn.Parameter(torch.zeros(flat.shape[0], rank, device=DEVICE))
            self.c = nn.Parameter(torch.zeros_like(bias))

    def now(self) -> tuple[Tensor, Tensor]:
        """The matrix and the bias with their differences."""
        if not self.rank:
            return self.weight.reshape(self._shape), self.bias
        return (self.weight + self.b @ self.a).reshape(self._shape), self.bias + self.c

    def forward(self, x: Tensor) -> Tensor:
        """Shapes (…, inputs) to (…, outputs)."""
        return functional.linear(x, *self.now())

    def changes(self, name: str) -> dict[str, nn.Parameter]:
        """What is fitted, by its name in the file that the program reads."""
        return {f"{name}/weight.b": self.b, f"{name}/weight.a": self.a, f"{name}/bias": self.c}


class Norm(nn.Module):  # type: ignore[misc]
    """A normalization, with differences where it is fitted."""

    def __init__(self, weights: Weights, name: str, *, fitted: bool) -> None:
        super().__init__()
        self.register_buffer("gamma", weights[f"{name}/gamma"])
        self.register_buffer("beta", weights[f"{name}/beta"])
        self.fitted = fitted
        if fitted:
            self.g = nn.Parameter(torch.zeros_like(self.gamma))
            self.h = nn.Parameter(torch.zeros_like(self.beta))

    def forward(self, x: Tensor) -> Tensor:
        """In single precision."""
        gamma = self.gamma + self.g if self.fitted else self.gamma
        beta = self.beta + self.h if self.fitted else self.beta
        return functional.layer_norm(x.float(), (x.shape[-1],), gamma, beta, 1e-5)

    def changes(self, name: str) -> dict[str, nn.Parameter]:
        """What is fitted, by its name in the file that the program reads."""
        return {f"{name}/gamma": self.g, f"{name}/beta": self.h}


class Encoder(nn.Module):  # type: ignore[misc]
    """Whisper's encoder; with rank 0 as it is."""

    def __init__(self, weights: Weights, rank: int) -> None:
        super().__init__()

        def linear(name: str) -> Changed:
            return Changed(*weights.linear(name), rank)

        def part(name: str) -> nn.Module:
            if name.endswith("layer_norm"):
                return Norm(weights, name, fitted=rank > 0)
            return linear(name)

        self.conv1, self.conv2 = linear("encoder/conv1"), linear("encoder/conv2")
        self.register_buffer("positions", weights["encoder/position_encodings/encodings"])
        self.layers = nn.ModuleList(
            nn.ModuleDict(
                {key: part(f"encoder/layer_{number}/{name}") for key, name in _PARTS.items()}
            )
            for number in range(LAYERS)
        )
        self.last = Norm(weights, "encoder/layer_norm", fitted=rank > 0)

    def forward(self, features: Tensor) -> Tensor:
        """Shapes (batch, bands, frames of 10 ms) to (batch, frames of 20 ms, ``WIDTH``)."""
        gelu = functional.gelu
        x = gelu(functional.conv1d(features, *self.conv1.now(), padding=1))
        x = gelu(functional.conv1d(x, *self.conv2.now(), padding=1, stride=2)).transpose(1, 2)
        x = x + self.positions[: x.shape[1]]
        for layer in self.layers:
            asked = _heads(layer["asked"](layer["attention_norm"](x)), 3)
            heard = functional.scaled_dot_product_attention(*asked)
            x = x + layer["attended"](heard.transpose(1, 2).reshape(x.shape))
            x = x + layer["narrow"](gelu(layer["wide"](layer["norm"](x))))
        return self.last(x)

    def changes(self) -> dict[str, NDArray[np.float16]]:
        """What was fitted, in half precision, as ``companion/recognize/encoder_changes.py`` reads
        it."""
        return {name: _half(value) for name, value in self._fitted().items()}

    def go_on_from(self, changes: Mapping[str, NDArray[np.float16]]) -> None:
        """Take what ``changes`` gave before."""
        _take(self._fitted(), changes)

    def _fitted(self) -> dict[str, nn.Parameter]:
        found = self.conv1.changes("encoder/conv1") | self.conv2.changes("encoder/conv2")
        found |= self.last.changes("encoder/layer_norm")
        for number, layer in enumerate(self.layers):
            for key, name in _PARTS.items():
                found |= layer[key].changes(f"encoder/layer_{number}/{name}")
        return found


class Decoder:
    """Whisper's decoder as it is, over the tokens that are kept."""

    def __init__(self, weights: Weights) -> None:
        self._embeddings = weights["embeddings"]
        self._positions = weights["decoder/position_encodings/encodings"]
        self._layers = [_DecoderLayer(weights, f"decoder/layer_{i}") for i in range(LAYERS)]
        self._last = Norm(weights, "decoder/layer_norm", fitted=False)

    def __call__(self, encoded: Tensor, tokens: Tensor) -> Tensor:
        """Scores of what follows each token: shape (batch, tokens, kept tokens)."""
        x = self._embeddings[tokens] + self._positions[: tokens.shape[1]]
        for layer in self._layers:
            x = layer(x, encoded)
        return self._last(x) @ self._embeddings.T


class _DecoderLayer:
    def __init__(self, weights: Weights, name: str) -> None:
        self._own_norm = Norm(weights, f"{name}/self_attention/layer_norm", fitted=False)
        self._own = [weights.linear(f"{name}/self_attention/linear_{i}") for i in range(2)]
        self._norm = Norm(weights, f"{name}/attention/layer_norm", fitted=False)
        self._heard = [weights.linear(f"{name}/attention/linear_{i}") for i in range(3)]
        self._last_norm = Norm(weights, f"{name}/ffn/layer_norm", fitted=False)
        self._last = [weights.linear(f"{name}/ffn/linear_{i}") for i in range(2)]

    def __call__(self, x: Tensor, encoded: Tensor) -> Tensor:
        linear, attention = functional.linear, functional.scaled_dot_product_attention
        written = attention(*_heads(linear(self._own_norm(x), *self._own[0]), 3), is_causal=True)
        x = x + linear(written.transpose(1, 2).reshape(x.shape), *self._own[1])
        (asked,) = _heads(linear(self._norm(x), *self._heard[0]), 1)
        heard = attention(asked, *_heads(linear(encoded, *self._heard[1]), 2))
        x = x + linear(heard.transpose(1, 2).reshape(x.shape), *self._heard[2])
        wide = functional.gelu(linear(self._last_norm(x), *self._last[0]))
        return x + linear(wide, *self._last[1])


class PhonemeNetwork(nn.Module):  # type: ignore[misc]
    """As ``companion/recognize/phonemes.py`` has it, under the names that it reads."""

    def __init__(self, width: int) -> None:
        """Draw the weights to begin with; ``width`` is that of the layers in between."""
        super().__init__()

        def drawn(*shape: int) -> nn.Parameter:
            return nn.Parameter(torch.randn(*shape) / math.sqrt(math.prod(shape[:-1])))

        def zeros(count: int) -> nn.Parameter:
            return nn.Parameter(torch.zeros(count))

        self.gain, self.shift = nn.Parameter(torch.ones(WIDTH)), zeros(WIDTH)
        self.into, self.into_bias = drawn(WIDTH, width), zeros(width)
        self.first, self.first_bias = drawn(TAPS, width, width), zeros(width)
        self.second, self.second_bias = drawn(TAPS, width, width), zeros(width)
        self.out = nn.Parameter(0.1 * torch.randn(width, KINDS) / math.sqrt(width))
        self.out_bias = zeros(KINDS)

    def forward(self, encoded: Tensor) -> Tensor:
        """Scores of the phonemes in each frame: shape (batch, frames, ``KINDS``)."""
        x = _normalized(encoded) * self.gain + self.shift
        x = self._thinned(x @ self.into + self.into_bias)
        for kernel, bias in ((self.first, self.first_bias), (self.second, self.second_bias)):
            over_time = functional.conv1d(
                _normalized(x).transpose(1, 2), kernel.permute(2, 1, 0), bias, padding=TAPS // 2
            )
            x = x + self._thinned(over_time.transpose(1, 2))
        return _normalized(x) @ self.out + self.out_bias

    def _thinned(self, x: Tensor) -> Tensor:
        return functional.dropout(functional.gelu(x, approximate="tanh"), DROPPED, self.training)

    def weights(self) -> dict[str, NDArray[np.float16]]:
        """The weights in half precision."""
        return {name: _half(value) for name, value in self.named_parameters()}

    def go_on_from(self, weights: Mapping[str, NDArray[np.float16]]) -> None:
        """Take what ``weights`` gave before."""
        _take(dict(self.named_parameters()), weights)


def _heads(x: Tensor, parts: int) -> Tensor:
    """Shape (batch, n, parts times ``WIDTH``) to (parts, batch, ``HEADS``, n, a head's width)."""
    shape = (x.shape[0], x.shape[1], parts, HEADS, WIDTH // HEADS)
    return x.reshape(shape).permute(2, 0, 3, 1, 4)


def _normalized(x: Tensor) -> Tensor:
    return functional.layer_norm(x.float(), (x.shape[-1],))


def _half(value: Tensor) -> NDArray[np.float16]:
    return np.asarray(value.detach().cpu().numpy(), dtype=np.float16)


def _take(fitted: Mapping[str, nn.Parameter], stored: Mapping[str, NDArray[np.float16]]) -> None:
    with torch.no_grad():
        for name, value in fitted.items():
            value.copy_(torch.from_numpy(stored[name].astype(np.float32)).reshape(value.shape))
