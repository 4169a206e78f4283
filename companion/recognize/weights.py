"""Whisper's decoder weights, read from a CTranslate2 model file.

The layout (CTranslate2 ``model_spec.py``, binary version 6, little endian): the version, the name
of the specification, its revision and the number of variables; then for each its name, its shape,
its type and its bytes.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

BINARY_VERSION = 6
_TYPES = {0: np.float32, 1: np.int8, 2: np.int16, 3: np.int32, 4: np.float16}


class WeightFileError(Exception):
    """The file is no CTranslate2 Whisper model of a kind that can be read here."""


def _string(file: BinaryIO) -> str:
    (length,) = struct.unpack("<H", file.read(2))
    return file.read(length).rstrip(b"\0").decode("utf-8")


def read_variables(path: Path, prefix: str) -> Mapping[str, NDArray[np.float32]]:
    """Read the variables whose names begin with ``prefix``, as 32-bit floats.

    Args:
        path: The ``model.bin`` of a Whisper model in CTranslate2's format.
        prefix: Such as ``decoder/``.

    Returns:
        By name without the prefix; 8-bit weights already multiplied out by their scales.

    Raises:
        WeightFileError: If the file is cut short, or not such a model.
    """
    found: dict[str, NDArray[np.float32]] = {}
    scales: dict[str, NDArray[np.float32]] = {}
    try:
        with path.open("rb") as file:
            (version,) = struct.unpack("<I", file.read(4))
            name = _string(file)
            if version != BINARY_VERSION or name != "WhisperSpec":
                raise WeightFileError(f"it is version {version} of '{name}'")
            _, count = struct.unpack("<II", file.read(8))
            for _ in range(count):
                name = _string(file)
                (rank,) = struct.unpack("<B", file.read(1))
                shape = struct.unpack(f"<{rank}I", file.read(4 * rank))
                kind, size = struct.unpack("<BI", file.read(5))
                if not name.startswith(prefix):
                    file.seek(size, 1)
                    continue
                data = file.read(size)
                values = np.frombuffer(data, dtype=_TYPES[kind]).reshape(shape).astype(np.float32)
                name = name.removeprefix(prefix)
                if name.endswith("_scale"):
                    scales[name.removesuffix("_scale")] = values
                else:
                    found[name] = values
    except (struct.error, UnicodeDecodeError, ValueError, KeyError) as error:
        raise WeightFileError("it is cut short or damaged") from error
    for name, scale in scales.items():
        found[name] = found[name] / scale.reshape(-1, *([1] * (found[name].ndim - 1)))
    return found


def changed(data: bytes, changes: Mapping[str, NDArray[np.float32]]) -> bytearray:
    """Return a CTranslate2 model file with some variables changed.

    Args:
        data: The ``model.bin`` of a Whisper model in CTranslate2's format, its variables in half or
            single precision.
        changes: By the variable's name: what is added to it, of its shape.

    Raises:
        WeightFileError: If a variable is missing, has another shape or another type.
    """
    new = bytearray(data)
    left = dict(changes)
    try:
        place = 4
        (length,) = struct.unpack_from("<H", data, place)
        place += 2 + length + 4
        (count,) = struct.unpack_from("<I", data, place)
        place += 4
        for _ in range(count):
            (length,) = struct.unpack_from("<H", data, place)
            name = data[place + 2 : place + 2 + length].rstrip(b"\0").decode("utf-8")
            place += 2 + length
            rank = data[place]
            shape = struct.unpack_from(f"<{rank}I", data, place + 1)
            place += 1 + 4 * rank
            kind, size = struct.unpack_from("<BI", data, place)
            place += 5
            change = left.pop(name, None)
            if change is not None:
                if kind not in (0, 4) or change.shape != shape:
                    raise WeightFileError(f"'{name}' is not of the shape or the type it had")
                precision = np.dtype(_TYPES[kind])
                values = np.frombuffer(data, precision, size // precision.itemsize, place)
                sums = values.astype(np.float32) + change.ravel()
                new[place : place + size] = sums.astype(precision).tobytes()
            place += size
    except (struct.error, UnicodeDecodeError, IndexError) as error:
        raise WeightFileError("it is cut short or damaged") from error
    if left:
        raise WeightFileError(f"it has no variable '{next(iter(left))}'")
    return new
