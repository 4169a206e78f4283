"""What the decoder expects to be said before it has heard anything.

It is found by letting it listen to near-silence. It depends on the words alone, and calls begin
alike, so it is kept from one utterance to the next.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from companion.recognize.decoder import Decoder, Floats, Prefixes, Sound

MOST_KEPT = 4000
"""Prefixes; each takes about 15 kB. Beyond them all are forgotten and worked out anew."""

Prefix = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Known:
    """A prefix that was read.

    Attributes:
        keys: Of its last token: shape (layers, heads, 64).
        values: The same.
        log_probabilities: Of what may follow, shape (columns,).
    """

    keys: Floats
    values: Floats
    log_probabilities: Floats


class Prior:
    """Log probabilities of what follows a prefix on near-silence.

    Args:
        decoder: The decoder.
        near_silence: What it listens to.
        start: Tokens that come before the text.
        score: From states, shape (…, width), to log probabilities, shape (…, columns).
    """

    def __init__(
        self,
        decoder: Decoder,
        near_silence: Sound,
        start: Prefix,
        score: Callable[[Floats], Floats],
    ) -> None:
        self._decoder = decoder
        self._near_silence = near_silence
        self._score = score
        self._begun = decoder.begin(near_silence)
        states = decoder.read(near_silence, self._begun, np.array([start]))
        self._first = score(states[0, :, -1])
        self._known: dict[Prefix, _Known] = {}

    def begin(self) -> None:
        """Make room before an utterance; within one, what was read stays."""
        if len(self._known) > MOST_KEPT:
            self._known.clear()

    def after(self, prefixes: Sequence[Prefix]) -> Floats:
        """Log probabilities after prefixes of one length, each of whose beginnings was asked for.

        Args:
            prefixes: Ids of tokens, all of the same number.

        Returns:
            Shape (prefixes, columns).
        """
        if not prefixes[0]:
            return np.repeat(self._first, len(prefixes), axis=0)
        missing = [prefix for prefix in dict.fromkeys(prefixes) if prefix not in self._known]
        if missing:
            self._read(missing)
        return np.stack([self._known[prefix].log_probabilities for prefix in prefixes])

    def _read(self, missing: Sequence[Prefix]) -> None:
        before = self._before(missing)
        last = np.array([[prefix[-1]] for prefix in missing])
        states = self._decoder.read(self._near_silence, before, last)
        log_probabilities = self._score(states[0, :, 0])
        for row, prefix in enumerate(missing):
            self._known[prefix] = _Known(
                np.stack([layer[0, row, :, :, -1] for layer in before.keys]),
                np.stack([layer[0, row, :, -1] for layer in before.values]),
                log_probabilities[row],
            )

    def _before(self, prefixes: Sequence[Prefix]) -> Prefixes:
        """What was read before the last token of each."""
        rows = np.zeros(len(prefixes), dtype=np.int64)
        begun = self._begun.select(rows)
        length = len(prefixes[0]) - 1
        if not length:
            return begun
        paths = [[self._known[prefix[: end + 1]] for end in range(length)] for prefix in prefixes]
        # Shape (layers, prefixes, heads, tokens, 64).
        keys = np.array([[one.keys for one in path] for path in paths]).transpose(2, 0, 3, 1, 4)
        values = np.array([[one.values for one in path] for path in paths]).transpose(2, 0, 3, 1, 4)
        return Prefixes(
            [
                np.concatenate((first, np.swapaxes(layer, -1, -2)[np.newaxis]), axis=-1)
                for first, layer in zip(begun.keys, keys, strict=True)
            ],
            [
                np.concatenate((first, layer[np.newaxis]), axis=-2)
                for first, layer in zip(begun.values, values, strict=True)
            ],
            begun.length + length,
        )
