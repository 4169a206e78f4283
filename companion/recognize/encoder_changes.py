"""What was fitted in the encoder of the packaged Whisper model: differences of low rank.

``tools/fit_encoder`` makes them from people's and synthetic voices in real and computed noise.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.recognize.whole_files import hold_own

CHANGES = Path(__file__).parent / "encoder_changes.npz"
"""For each weight the factors ``.b`` and ``.a`` whose product is added to it, as a matrix (outputs,
inputs); for each bias and normalization what is added. Half precision."""
CHANGES_SHA256 = "ec1d00525e9b9b218d886b6b7bf0407df7b4234ea5d0dabc63c0ad970eefa6cb"
"""SHA-256 of that file; whoever fits it anew writes it here."""
_KERNELS = {"encoder/conv1/weight": (384, 80, 3), "encoder/conv2/weight": (384, 384, 3)}


def encoder_changes(path: Path = CHANGES) -> dict[str, NDArray[np.float32]]:
    """Return what is added to each variable of the encoder, by its name in the model file.

    Raises:
        ModelDamaged: If the shipped changes are not what they were.
    """
    if path == CHANGES:
        hold_own(path, CHANGES_SHA256, "encoder's changes")
    with np.load(path) as stored:
        parts = {name: stored[name].astype(np.float32) for name in stored.files}
    changes = {name: part for name, part in parts.items() if not name.endswith((".a", ".b"))}
    for name in {name[:-2] for name in parts if name.endswith(".a")}:
        product = parts[f"{name}.b"] @ parts[f"{name}.a"]
        changes[name] = product.reshape(_KERNELS.get(name, product.shape))
    return changes
