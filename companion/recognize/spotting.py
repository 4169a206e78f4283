"""Where in a sound the call sign is said, by its phonemes alone: while the companion speaks.

``call_sign.py`` asks whether an utterance may begin with it, and errs to the side of yes, since the
whole call is judged after it. Here the call sign by itself is to stop what is being said, so that
the best way in which it lies in the sound must be nearly the best way that there is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import ThreadpoolController

from companion.grammar.compiled import CallGrammar
from companion.recognize.ctc import BLANK
from companion.recognize.phonemes import FRAMES_PER_SECOND
from companion.recognize.probabilities import NEVER
from companion.recognize.pronunciation import ways_to_say
from companion.recognize.protocol import Recognizer
from companion.recognize.second import WithSecond

LONGEST_SIGN = 1.2
"""Nobody takes longer to say it, in seconds."""


@runtime_checkable
class HearsPhonemes(Protocol):
    """A recognizer with the phoneme network."""

    def phonemes(self, samples: NDArray[np.float32]) -> NDArray[np.float32] | None:
        """Log-probability of each phoneme in each frame; None of no sound, or without a network."""
        ...


@dataclass(frozen=True, slots=True)
class Spotted:
    """The best place of the call sign in a sound.

    Attributes:
        margin: How much less probable it is there than the best path; a natural logarithm, 0 at
            most.
        begin: Where its first phoneme begins, in seconds.
        end: Where its last one is heard, in seconds.
    """

    margin: float
    begin: float
    end: float


@runtime_checkable
class SpotsCallSign(Protocol):
    """Whoever looks for the call sign in a sound."""

    def spot(self, samples: NDArray[np.float32]) -> Spotted | None:
        """Return the best place of the call sign; see ``Spotter``."""
        ...


class Spotter:
    """Looks for the call sign.

    Args:
        ears: Hears the phonemes.
        call_sign: Its words.
    """

    def __init__(self, ears: HearsPhonemes, call_sign: Sequence[str]) -> None:
        self._ears = ears
        self._ways = ways_to_say(tuple(call_sign)) if call_sign else ()
        self._pools = ThreadpoolController()

    def spot(self, samples: NDArray[np.float32]) -> Spotted | None:
        """Return the best place of the call sign, however bad; None where there is no sound, no
        network or no way known to pronounce it.

        Args:
            samples: Shape (n,), mono, -1 to 1, at 16 kHz.
        """
        if not self._ways:
            return None
        with self._pools.limit(limits=1, user_api="blas"):
            phonemes = self._ears.phonemes(samples)
        if phonemes is None:
            return None
        heard = phonemes.astype(np.float64)
        against_best = heard - heard.max(axis=1, keepdims=True)
        found = [place for way in self._ways if (place := _best_place(against_best, way))]
        return max(found, key=lambda each: each.margin, default=None)


def spotter_of(recognizer: Recognizer, grammar: CallGrammar) -> Spotter | None:
    """Return what looks for the call sign of a grammar; None where a recognizer hears no phonemes.

    Args:
        recognizer: With or without a second.
        grammar: With its call sign.
    """
    first = recognizer.first if isinstance(recognizer, WithSecond) else recognizer
    return Spotter(first, grammar.call_sign) if isinstance(first, HearsPhonemes) else None


def _best_place(against_best: NDArray[np.float64], way: Sequence[int]) -> Spotted | None:
    """The best place of these phonemes; of equally good ones the last."""
    labels = np.full(2 * len(way) - 1, BLANK)
    labels[::2] = way
    skips = np.zeros(len(labels), dtype=bool)
    skips[2:] = (labels[2:] != BLANK) & (labels[2:] != labels[:-2])
    reached = np.full(len(labels), NEVER)
    begun = np.zeros(len(labels), dtype=np.int64)
    best: tuple[float, int, int] | None = None
    longest = round(LONGEST_SIGN * FRAMES_PER_SECOND)
    for number, frame in enumerate(against_best):
        ways = np.full((3, len(labels)), NEVER)
        ways[0] = reached
        ways[1, 1:] = reached[:-1]
        ways[2, 2:] = np.where(skips[2:], reached[:-2], NEVER)
        # Begins anew where that is as good.
        ways[1, 0] = 0.0
        starts = np.zeros((3, len(labels)), dtype=np.int64)
        starts[0] = begun
        starts[1, 1:] = begun[:-1]
        starts[1, 0] = number
        starts[2, 2:] = begun[:-2]
        chosen = ways.argmax(axis=0)
        chosen[0] = 1 if ways[1, 0] >= ways[0, 0] else 0
        columns = np.arange(len(labels))
        reached, begun = ways[chosen, columns] + frame[labels], starts[chosen, columns]
        fits = number - begun[-1] < longest
        if fits and reached[-1] > NEVER / 2 and (best is None or reached[-1] >= best[0]):
            best = (float(reached[-1]), int(begun[-1]), number + 1)
    if best is None:
        return None
    margin, begin, end = best
    return Spotted(margin, begin / FRAMES_PER_SECOND, end / FRAMES_PER_SECOND)
