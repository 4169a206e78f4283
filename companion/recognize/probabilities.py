"""Sums and shares of probabilities, mostly kept as natural logarithms: the product of many small
ones is then a sum that stays a number."""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

NEVER = -1e30
"""Log-probability of what cannot happen; unlike minus infinity it may be added and subtracted."""

_Real = TypeVar("_Real", np.float32, np.float64)


def softmax(scores: NDArray[_Real], out: NDArray[_Real] | None = None) -> NDArray[_Real]:
    """Share one between scores along the last axis, by their exponentials.

    Args:
        scores: Shape (…, n).
        out: Where to put the shares, of the same shape; may be ``scores`` itself.
    """
    shares: NDArray[_Real] = np.subtract(scores, scores.max(axis=-1, keepdims=True), out=out)
    np.exp(shares, out=shares)
    shares /= shares.sum(axis=-1, keepdims=True)
    return shares


def log_softmax(scores: NDArray[_Real]) -> NDArray[_Real]:
    """Natural logarithms of ``softmax``: log-probabilities.

    Args:
        scores: Shape (…, n).
    """
    below = scores - scores.max(axis=-1, keepdims=True)
    logarithms: NDArray[_Real] = below - np.log(np.exp(below).sum(axis=-1, keepdims=True))
    return logarithms


def log_sum_exp(scores: NDArray[_Real]) -> NDArray[_Real]:
    """Natural logarithm of the sum of the exponentials along the last axis, which is kept.

    Args:
        scores: Shape (…, n).

    Returns:
        Shape (…, 1): taken from some of the scores, it leaves their log-probabilities among all.
    """
    top = scores.max(axis=-1, keepdims=True)
    total: NDArray[_Real] = top + np.log(np.exp(scores - top).sum(axis=-1, keepdims=True))
    return total


def log_add(one: float, other: float) -> float:
    """Log-probability that either of two things happens, given the log-probability of each."""
    if one < other:
        one, other = other, one
    if other <= NEVER:
        return one
    return one + math.log1p(math.exp(other - one))
