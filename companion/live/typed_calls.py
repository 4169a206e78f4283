"""Calls that were typed in earlier sessions, kept for the up arrow: one file of lines in the data
folder.

Only what was understood as a call is kept, and never the words of a note or a complaint. Losing it
loses nothing that was recorded: a file that cannot be read or written counts as none.
"""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from companion.files.data import data_folder
from companion.files.disk import make_folders, open_own, replace_file, write_all
from companion.files.limits import LARGEST_LIST
from companion.files.plain import plain_bytes
from companion.job.events import NoteKept
from companion.session.exchange import Exchange

NAME = "typed-calls.txt"
MOST = 500
"""Calls kept; the file is cut to the latest of them when a session begins."""
LONGEST = 200
"""Characters of a call; a longer line is none."""


@dataclass(frozen=True, slots=True)
class TypedCalls:
    """The file of one user.

    Attributes:
        path: It need not exist.
    """

    path: Path

    def read(self) -> tuple[str, ...]:
        """Return the latest calls, the oldest first, and cut the file to them."""
        try:
            data = plain_bytes(self.path, LARGEST_LIST)
            lines = data.decode("utf-8", "replace").splitlines()
        except OSError:
            return ()
        calls = [line for line in lines if line.isprintable() and 0 < len(line) <= LONGEST]
        latest = tuple(calls[-MOST:])
        if len(lines) > MOST:
            with suppress(OSError):
                replace_file(self.path, "".join(f"{call}\n" for call in latest).encode())
        return latest

    def keep(self, exchange: Exchange) -> None:
        """Keep the call of an exchange, if it was one that was typed and understood."""
        heard = exchange.heard
        if heard is None or heard.engine != "typed" or heard.outcome not in ("record", "ask"):
            return
        if any(isinstance(record.event, NoteKept) for record in exchange.records):
            return
        if not heard.text.isprintable() or len(heard.text) > LONGEST:
            return
        with suppress(OSError):
            self._append(f"{heard.text}\n".encode())

    def _append(self, line: bytes) -> None:
        make_folders(self.path.parent)
        # Two sessions may add at the same time.
        descriptor = open_own(self.path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        try:
            write_all(descriptor, line)
        finally:
            os.close(descriptor)


def typed_calls() -> TypedCalls:
    """Those of this user."""
    return TypedCalls(data_folder() / NAME)
