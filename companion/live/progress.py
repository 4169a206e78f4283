"""What goes on, in one line on a terminal."""

from __future__ import annotations

import shutil
from datetime import datetime
from typing import Protocol, TextIO

from companion.session.session import Session


class Progress(Protocol):
    """Shows what is going on: the screen, or one line."""

    def draw(self, doing: str, session: Session, at: datetime, /) -> None:
        """Show it.

        Args:
            doing: What the companion does: "listening", "speaking" …
            session: The job, with its timers and tags.
            at: The time, with its offset from UTC.
        """
        ...

    def clear(self) -> None:
        """Make room for what is printed next."""
        ...


class ProgressLine:
    """One line on a terminal, drawn over itself: what the companion does, timers, tags.

    Args:
        out: The terminal.
        width: Columns to fill; those of the terminal if left out.
        prompt: What ends the line where calls are typed after it; it is then drawn once and left
            alone, so that nothing is written over what is being typed.
    """

    def __init__(self, out: TextIO, width: int | None = None, *, prompt: str = "") -> None:
        self._out = out
        self._width = width
        self._prompt = prompt
        self._drawn = ""

    def draw(self, doing: str, session: Session, at: datetime) -> None:
        """Draw the line anew.

        Args:
            doing: What the companion does: "listening", "speaking" …
            session: The job, with its timers and tags.
            at: The time, with its offset from UTC.
        """
        from companion.screen.pane import brief_line

        if self._prompt and self._drawn == doing:
            return
        self._drawn = doing
        width = self._width or shutil.get_terminal_size().columns
        text = brief_line(session.state, at, width - 1 - len(self._prompt), doing)
        self._out.write(f"\r\x1b[K{text}{self._prompt}")
        self._out.flush()

    def clear(self) -> None:
        """Wipe the line, so that something can be printed in its place."""
        self._drawn = ""
        self._out.write("\r\x1b[K")
        self._out.flush()
