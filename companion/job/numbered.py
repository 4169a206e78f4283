"""What is known of records by their numbers, as a value that is replaced and never changed.

One that differs in an entry shares the rest with the one that it was made from, so that a
correction costs no more in a job that has many.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import TypeVar, overload

Value = TypeVar("Value")
Other = TypeVar("Other")

_BITS = 7
"""This many bits of a number tell its place within a block: 128 records a block."""


class Numbered(Mapping[int, Value]):
    """By number of a record; equal to any mapping of the same entries."""

    __slots__ = ("_blocks", "_length")

    def __init__(self) -> None:
        """Begin with nothing; ``having`` and ``lacking`` give others."""
        self._blocks: Mapping[int, Mapping[int, Value]] = MappingProxyType({})
        self._length = 0

    def having(self, number: int, value: Value) -> Numbered[Value]:
        """Return the same with an entry set."""
        block = self._blocks.get(number >> _BITS, {})
        more = number not in block
        return self._with(number >> _BITS, {**block, number: value}, self._length + more)

    def lacking(self, number: int) -> Numbered[Value]:
        """Return the same without an entry, whether or not there was one."""
        block = self._blocks.get(number >> _BITS, {})
        if number not in block:
            return self
        left = {other: value for other, value in block.items() if other != number}
        return self._with(number >> _BITS, left, self._length - 1)

    def _with(self, place: int, block: Mapping[int, Value], length: int) -> Numbered[Value]:
        made: Numbered[Value] = Numbered()
        made._blocks = {**self._blocks, place: block}
        made._length = length
        return made

    def __getitem__(self, number: int) -> Value:
        return self._blocks[number >> _BITS][number]

    @overload
    def get(self, number: int, /) -> Value | None: ...

    @overload
    def get(self, number: int, /, default: Value | Other) -> Value | Other: ...

    def get(self, number: int, /, default: object = None) -> object:
        """Return what is known of a record, or else the default."""
        block = self._blocks.get(number >> _BITS)
        return default if block is None else block.get(number, default)

    def __contains__(self, number: object) -> bool:
        if not isinstance(number, int):
            return False
        block = self._blocks.get(number >> _BITS)
        return block is not None and number in block

    def __iter__(self) -> Iterator[int]:
        for block in self._blocks.values():
            yield from block

    def __len__(self) -> int:
        return self._length

    def __repr__(self) -> str:
        return f"Numbered({dict(self)!r})"
