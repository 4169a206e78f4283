"""The weights of a Whisper model, read from a CTranslate2 model file and written to one.

The layout (CTranslate2 ``model_spec.py``, binary version 6, little endian): the version, the name
of the specification, its revision and the number of variables; then for each its name, its shape,
its type and its bytes; then the names that stand for another variable.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

BINARY_VERSION = 6
SPECIFICATION = "WhisperSpec"
_TYPES = {0: np.float32, 1: np.int8, 2: np.int16, 3: np.int32, 4: np.float16}
_KINDS = {np.dtype(precision): kind for kind, precision in _TYPES.items()}
_STUB = 64
"""Most numbers along each side of a variable that stands for one which is not needed."""


class WeightFileError(Exception):
    """The file is no CTranslate2 Whisper model of a kind that can be read here."""


class WeightFile:
    """A model file in memory, taken apart; nothing of it is copied.

    Args:
        data: The ``model.bin`` of a Whisper model in CTranslate2's format.

    Attributes:
        variables: By name, in the precision of the file.

    Raises:
        WeightFileError: If the file is cut short, or not such a model.
    """

    def __init__(self, data: bytes | memoryview) -> None:
        self._data = memoryview(data)
        self._place = 0
        self.variables: dict[str, NDArray[Any]] = {}
        try:
            (version,) = self._taken("<I")
            name = self._name()
            if version != BINARY_VERSION or name != SPECIFICATION:
                raise WeightFileError(f"it is version {version} of '{name}'")
            self._revision, count = self._taken("<II")
            for _ in range(count):
                name = self._name()
                (rank,) = self._taken("<B")
                shape = self._taken(f"<{rank}I")
                kind, size = self._taken("<BI")
                values = np.frombuffer(self._bytes(size), dtype=_TYPES[kind])
                self.variables[name] = values.reshape(shape)
            (count,) = self._taken("<I")
            self._stand_for = {self._name(): self._name() for _ in range(count)}
        except (struct.error, UnicodeDecodeError, ValueError, KeyError) as error:
            raise WeightFileError("it is cut short or damaged") from error

    def floats(self, prefix: str) -> Mapping[str, NDArray[Any]]:
        """The variables whose names begin with ``prefix``, by name without it: in single precision,
        or in half precision where the file has that; 8-bit weights multiplied out by their
        scales."""
        found = {
            name.removeprefix(prefix): values
            for name, values in self.variables.items()
            if name.startswith(prefix)
        }
        scales = {name: found.pop(name) for name in [*found] if name.endswith("_scale")}
        for name, scale in scales.items():
            weight = name.removesuffix("_scale")
            rows = scale.reshape(-1, *([1] * (found[weight].ndim - 1)))
            found[weight] = found[weight].astype(np.float32) / rows.astype(np.float32)
        return found

    def encoder_alone(self, changes: Mapping[str, NDArray[np.float32]]) -> bytes:
        """A file of the same kind with this encoder, and a decoder that is of no use and nearly
        nothing: the engine takes no model without one.

        Args:
            changes: By the variable's name: what is added to it, of its shape.

        Raises:
            WeightFileError: If a variable to be changed is missing, has another shape, or is in
                neither half nor single precision.
        """
        missing = changes.keys() - self.variables.keys()
        if missing:
            raise WeightFileError(f"it has no variable '{min(missing)}'")
        kept: dict[str, NDArray[Any]] = {}
        for name, values in self.variables.items():
            if name.startswith("encoder/"):
                change = changes.get(name)
                kept[name] = values if change is None else _changed(name, values, change)
            elif not name.startswith("decoder/layer_") or name.startswith(
                ("decoder/layer_0/", "decoder/layer_norm/")
            ):
                kept[name] = values[tuple(slice(_STUB) for _ in values.shape)]
        return b"".join(
            (
                struct.pack("<I", BINARY_VERSION),
                _written(SPECIFICATION),
                struct.pack("<II", self._revision, len(kept)),
                *(part for name, values in kept.items() for part in _variable(name, values)),
                struct.pack("<I", len(self._stand_for)),
                *(_written(name) for pair in self._stand_for.items() for name in pair),
            )
        )

    def _taken(self, layout: str) -> tuple[Any, ...]:
        found = struct.unpack_from(layout, self._data, self._place)
        self._place += struct.calcsize(layout)
        return found

    def _bytes(self, count: int) -> memoryview:
        found = self._data[self._place : self._place + count]
        if len(found) < count:
            raise WeightFileError("it is cut short or damaged")
        self._place += count
        return found

    def _name(self) -> str:
        (length,) = self._taken("<H")
        return bytes(self._bytes(length)).rstrip(b"\0").decode("utf-8")


def _changed(name: str, values: NDArray[Any], change: NDArray[np.float32]) -> NDArray[Any]:
    if values.dtype not in (np.float16, np.float32) or change.shape != values.shape:
        raise WeightFileError(f"'{name}' is not of the shape or the type it had")
    return (values.astype(np.float32) + change).astype(values.dtype)


def _written(name: str) -> bytes:
    data = name.encode("utf-8") + b"\0"
    return struct.pack("<H", len(data)) + data


def _variable(name: str, values: NDArray[Any]) -> tuple[bytes, ...]:
    shape = values.shape
    return (
        _written(name),
        struct.pack(f"<B{len(shape)}I", len(shape), *shape),
        struct.pack("<BI", _KINDS[values.dtype], values.nbytes),
        values.tobytes(),
    )
