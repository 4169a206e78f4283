"""Connectionist temporal classification (Graves et al., 2006): how phonemes lie in the frames of a
sound, and how probable that is.

Each frame is one phoneme or the blank. A phoneme holds for any number of frames, blanks may stand
anywhere, and between two equal phonemes one must. All that is worked out here goes forward through
the same lattice, a frame at a time (``_forward``): what differs is whether the ways that meet are
added up or the best is taken, and where they may begin.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.recognize.probabilities import NEVER

Floats = NDArray[np.float32] | NDArray[np.float64]

BLANK = 0
"""Index of "no new phoneme here"."""

_Join = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]
"""Joins the log-probabilities of two ways that meet: ``np.logaddexp`` or ``np.maximum``."""


@dataclass(frozen=True, slots=True, eq=False)
class _Lattice:
    """Sequences laid out label by label.

    Attributes:
        labels: Shape (sequences, places): indices of phonemes and blanks; after the end of a
            shorter sequence blanks that are never looked at.
        may_skip: The same shape: whether the label before may be left out.
    """

    labels: NDArray[np.int64]
    may_skip: NDArray[np.bool_]

    @classmethod
    def of(cls, labels: NDArray[np.int64]) -> _Lattice:
        """Work out which labels may be left out: blanks between two different phonemes."""
        may_skip = np.zeros(labels.shape, dtype=bool)
        may_skip[:, 2:] = (labels[:, 2:] != BLANK) & (labels[:, 2:] != labels[:, :-2])
        return cls(labels, may_skip)

    @classmethod
    def of_sequences(cls, sequences: Sequence[Sequence[int]]) -> _Lattice:
        """Lay out sequences with blanks before, between and after their phonemes."""
        labels = np.full((len(sequences), 2 * max(map(len, sequences)) + 1), BLANK)
        for row, sequence in enumerate(sequences):
            labels[row, 1 : 2 * len(sequence) : 2] = sequence
        return cls.of(labels)

    def turned_round(self) -> _Lattice:
        """The same lattice from its end, for going backwards in time."""
        return _Lattice.of(self.labels[:, ::-1])


def _forward(
    lattice: _Lattice, log_probabilities: Floats, join: _Join, *, last_start: int = 0
) -> Iterator[NDArray[np.float64]]:
    """Go through a sound frame by frame.

    Args:
        lattice: What is said.
        log_probabilities: Shape (frames, kinds).
        join: How ways that meet are put together.
        last_start: The last frame in which a way may begin, at the first label (or, in the first
            frame, at the second where the first is a blank).

    Yields:
        After each frame the log-probability of having come to each label, shape (sequences,
        places).
    """
    labels, may_skip = lattice.labels, lattice.may_skip[:, 2:]
    for number, frame in enumerate(log_probabilities):
        if number == 0:
            reached = np.full(labels.shape, NEVER)
            reached[:, : 2 if labels[0, 0] == BLANK else 1] = 0.0
        else:
            before = reached
            reached = before.copy()
            reached[:, 1:] = join(reached[:, 1:], before[:, :-1])
            skipped = np.where(may_skip, before[:, :-2], NEVER)
            reached[:, 2:] = join(reached[:, 2:], skipped)
            if number <= last_start:
                reached[:, 0] = join(reached[:, 0], np.zeros(len(labels)))
        reached = reached + frame[labels]
        yield reached


def log_likelihoods(
    log_probabilities: Floats, sequences: Sequence[Sequence[int]]
) -> NDArray[np.float64]:
    """Log-probability that a whole sound is each of these sequences, over every way to lie in it.

    Args:
        log_probabilities: Shape (frames, kinds), at least one frame.
        sequences: Of indices of phonemes, none empty.

    Returns:
        Shape (sequences,).
    """
    for reached in _forward(_Lattice.of_sequences(sequences), log_probabilities, np.logaddexp):
        last = reached
    rows, ends = np.arange(len(sequences)), np.array([2 * len(each) for each in sequences])
    return np.asarray(np.logaddexp(last[rows, ends], last[rows, ends - 1]))


def occupancy(log_probabilities: Floats, sequence: Sequence[int]) -> NDArray[np.float64]:
    """How probably each frame is each phoneme, given that the whole is this sequence.

    Args:
        log_probabilities: Shape (frames, kinds).
        sequence: Indices of phonemes.

    Returns:
        Shape (frames, kinds); each frame's probabilities add up to one.
    """
    lattice = _Lattice.of_sequences([sequence])
    (labels,) = lattice.labels
    ahead = np.concatenate([*_forward(lattice, log_probabilities, np.logaddexp)])
    back = _forward(lattice.turned_round(), log_probabilities[::-1], np.logaddexp)
    behind = np.concatenate([*back])[::-1, ::-1]
    together = ahead + behind - log_probabilities[:, labels]
    together -= np.logaddexp.reduce(together, axis=1, keepdims=True)
    found = np.zeros(log_probabilities.shape)
    for place, label in enumerate(labels):
        found[:, label] += np.exp(together[:, place])
    return found


def best_span(log_probabilities: Floats, sequence: Sequence[int], last_start: int) -> float:
    """Log-probability of the best single way in which a sequence lies somewhere in a sound.

    Only the frames that it covers count, from its first phoneme to its last.

    Args:
        log_probabilities: Shape (frames, kinds).
        sequence: Indices of phonemes, at least one.
        last_start: The last frame in which it may begin.
    """
    labels = np.full((1, 2 * len(sequence) - 1), BLANK)
    labels[0, ::2] = sequence
    reached = _forward(_Lattice.of(labels), log_probabilities, np.maximum, last_start=last_start)
    return max((float(each[0, -1]) for each in reached), default=NEVER)


def best_path(log_probabilities: Floats) -> float:
    """Log-probability of the best path through a sound, whatever it says."""
    return float(log_probabilities.max(axis=1).sum())
