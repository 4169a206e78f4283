"""The gate for every file that a person asks for: written whole or not at all, and never over
something that this program did not make for that purpose.

Such a file is written under another name first and synced; all are put in place at the end, and
the folder is synced then. What stands in the place of one is replaced without a question only if it
is known as an earlier one of its kind by what it holds; any other plain file only where that is
asked for (``--replace``). The record of a session, the lists of the data folder, links, folders,
pipes and devices are never replaced.

A new one is for its owner alone (0600), as everything that is written: whoever hands one on opens
it to others (``chmod``), and one that was opened so stays open when it is replaced.
"""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self

from companion.errors import CompanionError
from companion.files.disk import open_part, sync_file, sync_folder
from companion.files.own import is_kept
from companion.files.plain import open_plain

HEAD_BYTES = 4096
"""How many bytes of an existing file are looked at to tell whether it is an earlier one."""

Known = Callable[[bytes], bool]
"""Tells by the first ``HEAD_BYTES`` of a file whether the program made it for this purpose."""


@dataclass(frozen=True, slots=True)
class _Begun:
    """A file that is not in its place yet."""

    file: BinaryIO
    part: Path
    path: Path
    what: str
    known: Known


class FreshFiles:
    """Use as a context: leaving it puts the files in place, or removes them after any error.

    Args:
        replace: Whether plain files that are there may be replaced whatever they hold.
    """

    def __init__(self, *, replace: bool) -> None:
        self._replace = replace
        self._begun: list[_Begun] = []

    def open(self, path: Path, what: str = "", known: Known = lambda head: False) -> BinaryIO:
        """Begin a file.

        Args:
            path: As a person named it; its folder must be there.
            what: What it is, in words, for the error: "report".
            known: Tells whether what is there may be replaced without a question.

        Raises:
            CompanionError: If something is there that may not be replaced.
            OSError: If it cannot be written.
        """
        self._refuse(path, what, known)
        descriptor, part = open_part(path)
        try:
            file = os.fdopen(descriptor, "w+b", buffering=1 << 16)
        except BaseException:
            os.close(descriptor)
            part.unlink(missing_ok=True)
            raise
        self._begun.append(_Begun(file, part, path, what, known))
        return file

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        try:
            if error is None:
                self._put_in_place()
        finally:
            for each in self._begun:
                with contextlib.suppress(OSError):
                    each.file.close()
                with contextlib.suppress(OSError):
                    each.part.unlink(missing_ok=True)

    def _put_in_place(self) -> None:
        for each in self._begun:
            each.file.flush()
            _as_open_as(each.path, each.file.fileno())
            sync_file(each.file.fileno())
            each.file.close()
        for each in self._begun:
            self._refuse(each.path, each.what, each.known)
        for each in self._begun:
            os.replace(each.part, each.path)
        for folder in dict.fromkeys(each.path.parent for each in self._begun):
            sync_folder(folder)

    def _refuse(self, path: Path, what: str, known: Known) -> None:
        way_out = f"name another file{f' for the {what}' if what else ''}"
        if path.name in ("", ".", ".."):
            raise CompanionError(f"'{path}' names no file; {way_out}.")
        if is_kept(path):
            raise CompanionError(f"{path} belongs to the log or to the shop's data; {way_out}.")
        try:
            there = path.lstat()
        except (FileNotFoundError, NotADirectoryError):
            return
        if not stat.S_ISREG(there.st_mode):
            kind = "is a link" if stat.S_ISLNK(there.st_mode) else "is there"
            raise CompanionError(f"{path} {kind} and is no plain file; {way_out}.")
        if self._replace or _is_known(path, known):
            return
        if what:
            raise CompanionError(
                f"{path} is there already and is no {what} that this program wrote; {way_out}, or "
                "replace it with --replace."
            )
        raise CompanionError(
            f"{path} is there already; name another place, or replace it with --replace."
        )


def _is_known(path: Path, known: Known) -> bool:
    try:
        with open_plain(path) as there:
            return known(there.read(HEAD_BYTES))
    except OSError:
        return False


def _as_open_as(path: Path, descriptor: int) -> None:
    """Let others read what they could read before."""
    if os.name != "posix":
        return
    with contextlib.suppress(OSError):
        before = path.lstat()
        if stat.S_ISREG(before.st_mode) and before.st_uid == os.geteuid():
            os.fchmod(descriptor, stat.S_IMODE(before.st_mode) & 0o666 | 0o600)
