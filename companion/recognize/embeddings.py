"""What the decoder knows each token by, kept in half precision where a call seldom needs it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

COMMON = 12_000
"""Tokens that are always at hand in single precision: the first, which are the commonest
(byte-pair tokens are numbered by frequency of merging)."""


class Embeddings:
    """A row for each token: what is read for it, and what a state is compared with.

    Args:
        weight: Shape (tokens, width), in half or single precision.

    Attributes:
        common: The first ``COMMON`` rows.
        width: Of a row.
    """

    def __init__(self, weight: NDArray[Any]) -> None:
        self.common = np.asarray(weight[:COMMON].astype(np.float32))
        # As the model has them: of sixty megabytes more a grammar needs a hundredth.
        self._others = weight[COMMON:].copy()
        self.width = int(weight.shape[1])

    def of(self, tokens: NDArray[np.int64] | Sequence[int]) -> NDArray[np.float32]:
        """The rows of tokens.

        Args:
            tokens: Ids, of any shape.

        Returns:
            That shape with ``width`` behind it.
        """
        ids = np.asarray(tokens)
        rows = np.asarray(self.common[np.minimum(ids, COMMON - 1)], dtype=np.float32)
        rare = ids >= COMMON
        rows[rare] = self._others[ids[rare] - COMMON]
        return rows
