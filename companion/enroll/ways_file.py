"""Ways of one's own, kept: one TOML file in the data folder, to be read and mended by hand."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from companion.enroll.voice_profile import FOLDER, as_file_name
from companion.errors import CompanionError
from companion.files.data import data_folder
from companion.files.disk import replace_file
from companion.files.quoting import quoted
from companion.files.reading import text_of
from companion.files.toml_text import TomlFault, toml_in
from companion.grammar.own_phrases import Way

NAME = "ways.toml"
"""Beside the enrolled voices; no voice can have this name, which has a dot in it."""

_WORDS = r"^[a-z][a-z']*( [a-z][a-z']*)*$"

_HEAD = """\
# Ways of your own to say a call, kept by Bench Companion.
# say: what you say. as: the phrase of the calls that it stands for. for: whose way it is, by the
# name of an enrolled voice; without it, everyone's. "companion calls" lists, adds and removes them.
"""


class _Kept(BaseModel):
    """One way as the file has it."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    say: str = Field(pattern=_WORDS)
    plain: str = Field(pattern=_WORDS, alias="as")
    person: str | None = Field(default=None, alias="for", min_length=1, max_length=40)


class _File(BaseModel):
    """The whole file."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    way: tuple[_Kept, ...] = ()


def ways_path() -> Path:
    """Where the ways are kept; the file need not exist."""
    return data_folder() / FOLDER / NAME


@dataclass(frozen=True, slots=True)
class WaysFile:
    """The ways of whoever works now.

    Attributes:
        person: Name of an enrolled voice, or None for everyone.
        path: The file.
    """

    person: str | None
    path: Path

    def read(self) -> tuple[Way, ...]:
        """Return the person's ways, and then everyone's that they have not changed.

        Raises:
            CompanionError: If the file cannot be read or is damaged, with its line where the file
                is no TOML.
        """
        kept = self._read()
        own = [each for each in kept if each.person is not None and self._is_mine(each)]
        shared = [each for each in kept if each.person is None]
        ways: dict[str, Way] = {}
        for each in (*own, *shared):
            ways.setdefault(each.say, Way(each.say, each.plain))
        return tuple(ways.values())

    def keep(self, way: Way) -> None:
        """Add a way, in place of one of the same person that is said alike.

        Raises:
            CompanionError: If the file is damaged, or cannot be written.
        """
        new = _Kept.model_validate({"say": way.own, "as": way.plain, "for": self.person})
        kept = [each for each in self._read() if each.say != way.own or not self._is_mine(each)]
        self._write([*kept, new])

    def remove(self, own: str) -> bool:
        """Remove a way of this person's; whether there was one.

        Raises:
            CompanionError: As ``keep``.
        """
        kept = self._read()
        left = [each for each in kept if each.say != own or not self._is_mine(each)]
        if len(left) == len(kept):
            return False
        self._write(left)
        return True

    def _is_mine(self, kept: _Kept) -> bool:
        return _folded(kept.person) == _folded(self.person)

    def _read(self) -> tuple[_Kept, ...]:
        if not os.path.lexists(self.path):
            return ()
        try:
            content, _ = toml_in(text_of(self.path, "file of your own ways"))
        except TomlFault as fault:
            raise CompanionError(
                f"{self.path}: your own ways cannot be read: {fault}; mend or remove the file."
            ) from None
        try:
            return _File.model_validate(content).way
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(
                str(part + 1) if isinstance(part, int) else part for part in first["loc"]
            )
            raise CompanionError(
                f"{self.path}: {quoted(where)}: {_wrong(first['type'])}; mend or remove that way."
            ) from None

    def _write(self, ways: Sequence[_Kept]) -> None:
        text = "\n".join([_HEAD, *map(_table, ways)])  # a blank line before each
        try:
            replace_file(self.path, text.encode())
        except OSError as error:
            raise CompanionError(
                f"Your own ways cannot be written to {self.path} ({error.strerror}); free some "
                "space or mend the folder's permissions."
            ) from None


def ways_of(person: str | None) -> WaysFile:
    """The ways of an enrolled voice, or of everyone."""
    return WaysFile(person, ways_path())


def _folded(person: str | None) -> str | None:
    """A name in the form by which names are compared."""
    return None if person is None else as_file_name(person)


def _table(kept: _Kept) -> str:
    whose = "" if kept.person is None else f'for = "{_escaped(kept.person)}"\n'
    return f'[[way]]\nsay = "{kept.say}"\nas = "{kept.plain}"\n{whose}'


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"')


def _wrong(kind: str) -> str:
    return {
        "missing": "is missing",
        "extra_forbidden": "is not known",
        "string_pattern_mismatch": "must be lower-case words of letters with single spaces between",
    }.get(kind, "is not as it must be")
