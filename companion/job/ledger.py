"""Rows of entries that grow through a long day, as values that are replaced and never changed.

A ledger with one entry more or less shares nearly everything with the one that it was made from,
and a fold over its entries continues from where the entries are still the same. So the cost of a
call does not grow with what was called before it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import chain
from types import MappingProxyType
from typing import Any, Protocol, Self, TypeVar, overload

PAGE = 64
"""Entries of one page: this many are copied where one is added."""

FAR_APART = 256
"""Entries between two places at which the state of a fold is kept, so that a change far back costs
a fold from the place before it and not from the start."""


class Placed(Protocol):
    """What has a place in the order of a job, and a number."""

    @property
    def seq(self) -> int:
        """Number of the record."""
        ...

    @property
    def place(self) -> int:
        """Number of the record in whose place it stands."""
        ...


Entry = TypeVar("Entry")
Within = TypeVar("Within", bound=Placed)
Folded = TypeVar("Folded")

_Fold = tuple[tuple[Any, ...], tuple[tuple[int, Any], ...], tuple[int, Any]]
"""What the fold depends on; its states by number of entries, at some of them; its state at the last
entry."""

_NO_FOLDS: dict[object, _Fold] = {}


class Ledger(Sequence[Entry]):
    """Entries in order; equal to any ledger or tuple of the same entries."""

    __slots__ = ("_folds", "_last", "_length", "_pages")

    def __init__(self, entries: Iterable[Entry] = ()) -> None:
        """Take entries that are in order."""
        every = tuple(entries)
        full = max(len(every) - 1, 0) // PAGE * PAGE
        self._pages: tuple[tuple[Entry, ...], ...] = tuple(
            every[begin : begin + PAGE] for begin in range(0, full, PAGE)
        )
        self._last = every[full:]
        self._length = len(every)
        self._folds = _NO_FOLDS

    def followed_by(self, entry: Entry) -> Self:
        """Return the same with an entry at its end."""
        made = self._empty()
        if len(self._last) < PAGE:
            made._pages, made._last = self._pages, (*self._last, entry)
        else:
            made._pages, made._last = (*self._pages, self._last), (entry,)
        made._length = self._length + 1
        # A copy, since another ledger that continues from here may have other entries.
        made._folds = self._folds.copy() if self._folds else _NO_FOLDS
        return made

    def fold(
        self,
        name: str,
        begin: Folded,
        step: Callable[[Folded, Entry], Folded],
        *,
        holding: tuple[Any, ...] = (),
    ) -> Folded:
        """Fold the entries in order, or continue a fold over the ones before.

        Args:
            name: Of the fold; each has its own.
            begin: The state before the first entry.
            step: Gives the state after one more entry; must change nothing.
            holding: What else it depends on; another object anywhere in it begins anew.
        """
        held, marks, (done, value) = self._folds.get(name, (holding, (), (0, begin)))
        if len(held) != len(holding) or any(
            one is not other for one, other in zip(held, holding, strict=True)
        ):
            marks, done, value = (), 0, begin
        elif done == self._length and name in self._folds:
            known: Folded = value
            return known
        for entry in self._from(done):
            value = step(value, entry)
            done += 1
            if done % FAR_APART == 0:
                marks = (*marks, (done, value))
        if self._folds is _NO_FOLDS:
            self._folds = {}
        self._folds[name] = (holding, marks, (done, value))
        came_to: Folded = value
        return came_to

    def _empty(self) -> Self:
        made = self.__class__.__new__(self.__class__)
        made._folds = _NO_FOLDS
        return made

    def _from(self, index: int) -> Iterator[Entry]:
        """The entries from a place on."""
        if index >= self._length - len(self._last):
            yield from self._last[index - (self._length - len(self._last)) :]
            return
        for page in self._pages:
            if index < len(page):
                yield from page[index:] if index else page
                index = 0
            else:
                index -= len(page)
        yield from self._last

    def _folds_before(self, index: int) -> dict[object, _Fold]:
        """The folds as far as they went over the entries before a place."""
        kept: dict[object, _Fold] = {}
        for name, (holding, marks, last) in self._folds.items():
            if last[0] > index:
                marks = marks[: bisect_right(marks, index, key=lambda mark: mark[0])]
                if not marks:
                    continue
                last = marks[-1]
            kept[name] = (holding, marks, last)
        return kept or _NO_FOLDS

    # --- as any sequence -------------------------------------------------------------------------
    @overload
    def __getitem__(self, index: int) -> Entry: ...

    @overload
    def __getitem__(self, index: slice) -> tuple[Entry, ...]: ...

    def __getitem__(self, index: int | slice) -> Entry | tuple[Entry, ...]:
        if isinstance(index, slice):
            start, stop, step = index.indices(self._length)
            if step == 1 and start >= self._length - len(self._last):
                first = self._length - len(self._last)
                return self._last[start - first : max(stop - first, 0)]
            return tuple(self)[index]
        place = index + self._length if index < 0 else index
        if not 0 <= place < self._length:
            raise IndexError("There is no such entry.")
        place -= self._length - len(self._last)
        if place >= 0:
            return self._last[place]
        for page in reversed(self._pages):
            place += len(page)
            if place >= 0:
                return page[place]
        raise AssertionError("The pages hold fewer entries than were counted.")

    def __iter__(self) -> Iterator[Entry]:
        return chain(chain.from_iterable(self._pages), self._last)

    def __reversed__(self) -> Iterator[Entry]:
        yield from reversed(self._last)
        for page in reversed(self._pages):
            yield from reversed(page)

    def __len__(self) -> int:
        return self._length

    def __eq__(self, other: object) -> bool:
        if isinstance(other, Ledger | tuple):
            return self._length == len(other) and tuple(self) == tuple(other)
        return NotImplemented

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        return f"{type(self).__name__}({tuple(self)!r})"


class Places(Ledger[Within]):
    """Entries by place, and by number among those of one place."""

    __slots__ = ()

    def having(self, entry: Within) -> Self:
        """Return the same with an entry where it belongs."""
        key = self._key(entry)
        if not self._length or self._key(self._last[-1]) < key:
            return self.followed_by(entry)
        page, offset = self._find(key)
        entries = self._page(page)
        return self._put(page, (*entries[:offset], entry, *entries[offset:]), offset)

    def lacking(self, entry: Within) -> Self:
        """Return the same without an entry, whether or not it was there."""
        key = self._key(entry)
        page, offset = self._find(key)
        entries = self._page(page)
        if offset == len(entries) or self._key(entries[offset]) != key:
            return self
        return self._put(page, (*entries[:offset], *entries[offset + 1 :]), offset)

    def at(self, place: int, seq: int) -> Within | None:
        """Return the entry of this place and number, or None."""
        page, offset = self._find((place, seq))
        entries = self._page(page)
        found = entries[offset] if offset < len(entries) else None
        return found if found is not None and found.seq == seq else None

    def until(self, place: int) -> Within | None:
        """Return the last entry at this place or before it, or None."""
        page, offset = self._find((place + 1,))
        if offset:
            return self._page(page)[offset - 1]
        return self._page(page - 1)[-1] if page else None

    def after(self, place: int) -> Iterator[Within]:
        """Yield the entries after this place, the latest first."""
        for entry in reversed(self):
            if entry.place <= place:
                return
            yield entry

    def _key(self, entry: Within) -> tuple[int, ...]:
        return entry.place, entry.seq

    def _page(self, page: int) -> tuple[Within, ...]:
        return self._pages[page] if page < len(self._pages) else self._last

    def _find(self, key: tuple[int, ...]) -> tuple[int, int]:
        """The page on which an entry of this key stands or would stand, and its place there."""
        page = bisect_left(self._pages, key, key=lambda entries: self._key(entries[-1]))
        return page, bisect_left(self._page(page), key, key=self._key)

    def _put(self, page: int, entries: tuple[Within, ...], offset: int) -> Self:
        """The same ledger with other entries on a page; those before ``offset`` are unchanged."""
        made = self._empty()
        before, after = self._pages[:page], (*self._pages[page + 1 :], self._last)
        made._length = self._length - len(self._page(page)) + len(entries)
        half = len(entries) // 2
        here = (entries[:half], entries[half:]) if len(entries) > 2 * PAGE else (entries,)
        pages = (*before, *here, *(after if page < len(self._pages) else ()))
        *full, made._last = [each for each in pages if each] or [()]
        made._pages = tuple(full)
        made._folds = self._folds_before(sum(map(len, before)) + offset)
        return made


class Facts(Places[Within]):
    """Everything of one kind that was called, what no longer counts as well.

    Attributes:
        counting: What of it counts.
        of: The same by the name of what it is about, where the kind has names.
    """

    __slots__ = ("_name", "counting", "of")

    def __init__(self, name: Callable[[Within], str] | None = None) -> None:
        """Begin with nothing.

        Args:
            name: Gives what an entry is about; None where the kind has no names.
        """
        super().__init__()
        self._name = name
        self.counting: Places[Within] = Places()
        self.of: Mapping[str, Places[Within]] = MappingProxyType({})

    def with_fact(self, entry: Within, *, counts: bool) -> Self:
        """Return the same with an entry more, which counts or does not."""
        made = self.having(entry)
        return made.counted(entry) if counts else made

    def counted(self, entry: Within) -> Self:
        """Return the same with an entry of it that counts."""
        return self._changed(entry, self.counting.having(entry), Places.having)

    def discounted(self, entry: Within) -> Self:
        """Return the same with an entry of it that does not count."""
        return self._changed(entry, self.counting.lacking(entry), Places.lacking)

    @property
    def names(self) -> tuple[str, ...]:
        """The names that entries which count are about, in the order of the first of each."""
        firsts = [(name, about[0]) for name, about in self.of.items() if about]
        firsts.sort(key=lambda each: (each[1].place, each[1].seq))
        return tuple(name for name, _ in firsts)

    def about(self, name: str) -> Places[Within]:
        """Return what counts of this name."""
        found = self.of.get(name)
        return Places() if found is None else found

    def _changed(
        self,
        entry: Within,
        counting: Places[Within],
        change: Callable[[Places[Within], Within], Places[Within]],
    ) -> Self:
        if counting is self.counting:
            return self
        made = self._empty()
        made._pages, made._last, made._length = self._pages, self._last, self._length
        made._folds = self._folds
        made.counting = counting
        if self._name is not None:
            name = self._name(entry)
            made.of = {**self.of, name: change(self.about(name), entry)}
        return made

    def _empty(self) -> Self:
        made = super()._empty()
        made._name, made.counting, made.of = self._name, self.counting, self.of
        return made
