"""On which line of a TOML text each key, table and array element stands.

The standard reader keeps no positions, and a person who mends a job card wants the line. The text
must already have been accepted by ``tomllib``: nothing here checks it again.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from collections.abc import Sequence

Location = tuple[str | int, ...]
"""A way into the data: keys of tables and indices of arrays, as pydantic reports them."""

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|' r"'''.*?'{3,5}|" r'"(?:\\.|[^"\\\n])*"|' r"'[^'\n]*'",
    re.DOTALL,
)
_PLAIN_VALUE = re.compile(r"[^\s,\]\}#]+(?: \d\d:[^\s,\]\}#]+)?")


class TomlLines:
    """The lines of one text.

    Args:
        text: TOML that ``tomllib`` has accepted.
    """

    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._lines: dict[Location, int] = {(): 1}
        self._tables: dict[tuple[str, ...], int] = {}
        # By the keys of an array of tables, the keys of the arrays within it.
        self._within: dict[tuple[str, ...], set[tuple[str, ...]]] = {}
        self._line_ends = [found.start() for found in re.finditer("\n", text)]
        self._read()

    def line_of(self, location: Sequence[str | int]) -> int:
        """Return the line of a location, from 1, or that of the nearest thing around it."""
        here = tuple(location)
        while here not in self._lines:
            here = here[:-1]
        return self._lines[here]

    def _read(self) -> None:
        prefix: Location = ()
        self._skip_blank()
        while self._at < len(self._text):
            if self._text.startswith("[", self._at):
                prefix = self._header()
            else:
                self._pair(prefix)
            self._skip_blank()

    def _header(self) -> Location:
        line = self._line()
        is_array = self._text.startswith("[[", self._at)
        self._at += 2 if is_array else 1
        keys = self._keys()
        self._at = self._text.index("]", self._at) + (2 if is_array else 1)
        if is_array:
            self._tables[keys] = self._tables.get(keys, -1) + 1
            # A new element starts its own sub-arrays anew.
            for inner in self._within.pop(keys, ()):
                self._tables.pop(inner, None)
            for length in range(1, len(keys)):
                self._within.setdefault(keys[:length], set()).add(keys)
        location = self._through_arrays(keys)
        for length in range(1, len(location) + 1):
            self._lines.setdefault(location[:length], line)
        return location

    def _through_arrays(self, keys: tuple[str, ...]) -> Location:
        """The keys, with the index of the current element after each array of tables."""
        location: Location = ()
        for length, key in enumerate(keys, start=1):
            location += (key,)
            if keys[:length] in self._tables:
                location += (self._tables[keys[:length]],)
        return location

    def _pair(self, prefix: Location) -> None:
        line = self._line()
        keys = self._keys()
        for length in range(1, len(keys) + 1):
            self._lines.setdefault((*prefix, *keys[:length]), line)
        self._at = self._text.index("=", self._at) + 1
        self._value((*prefix, *keys))

    def _keys(self) -> tuple[str, ...]:
        keys: list[str] = []
        while True:
            self._skip_blank()
            quoted = _STRING.match(self._text, self._at)
            bare = quoted or _BARE_KEY.match(self._text, self._at)
            assert bare is not None, "the text was accepted, so a key stands here"
            keys.append(tomllib.loads(f"key = {bare[0]}")["key"] if quoted else bare[0])
            self._at = bare.end()
            self._skip_blank()
            if not self._text.startswith(".", self._at):
                return tuple(keys)
            self._at += 1

    def _value(self, location: Location) -> None:
        self._skip_blank()
        if self._text.startswith("[", self._at):
            self._array(location)
        elif self._text.startswith("{", self._at):
            self._inline_table(location)
        else:
            found = _STRING.match(self._text, self._at) or _PLAIN_VALUE.match(self._text, self._at)
            assert found is not None, "the text was accepted, so a value stands here"
            self._at = found.end()

    def _array(self, location: Location) -> None:
        self._at += 1
        index = 0
        while not self._ends_with("]"):
            self._lines[*location, index] = self._line()
            self._value((*location, index))
            index += 1

    def _inline_table(self, location: Location) -> None:
        self._at += 1
        while not self._ends_with("}"):
            self._pair(location)

    def _ends_with(self, bracket: str) -> bool:
        """Step over blanks, a comma and the bracket, if it closes here; whether it does."""
        self._skip_blank()
        if self._text.startswith(",", self._at):
            self._at += 1
            self._skip_blank()
        if self._text.startswith(bracket, self._at):
            self._at += 1
            return True
        return False

    def _skip_blank(self) -> None:
        found = _BLANK.match(self._text, self._at)
        assert found is not None, "an empty stretch always matches"
        self._at = found.end()

    def _line(self) -> int:
        return bisect_left(self._line_ends, self._at) + 1
