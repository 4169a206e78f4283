"""Photos that a form brings, or that are dropped on the page: kept in the session one by one."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.log.photos import add_photo
from companion.log.pictures import MOST_BYTES
from companion.web.acting import Came
from companion.web.guard import Files

FILES = Files(re.compile(r"/session/[^/]+/photos"), 4 * MOST_BYTES)
"""Where photos are sent to: the largest there may be, four at once, or many smaller ones."""

MOST_AT_ONCE = 40
"""Photos that a form may bring."""


@dataclass(frozen=True, slots=True)
class Sent:
    """A file that a form brought.

    Attributes:
        name: What it was called there, which may be anything.
        data: What is in it.
    """

    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Added:
    """What came of the files of a form.

    Attributes:
        steps: Of each photo that was kept, the step or None.
        refused: Why others were not, a sentence each.
    """

    steps: tuple[str | None, ...] = ()
    refused: tuple[str, ...] = ()

    def came(self) -> Came:
        """What to tell."""
        told = [self._kept()] if self.steps else []
        text = " ".join((*told, *self.refused))
        if not text:
            return Came("refused", "No photo was chosen; choose one, or drop it on the page.")
        return Came("recorded" if self.steps else "refused", text)

    def _kept(self) -> str:
        named: Iterable[str | None] = dict.fromkeys(self.steps)
        at = [f"step {step.replace('-', ' ')}" if step else "no step" for step in named]
        many = "Photo added" if len(self.steps) == 1 else f"{len(self.steps)} photos added"
        return f"{many}, at {' and '.join(at)}."


def add_sent(folder: Path, sent: Sent, added: Added, *, step: str, by: str, at: datetime) -> Added:
    """Keep a file that a form brought as a photo; one that is refused costs the others nothing.

    Args:
        folder: The session folder.
        sent: The file.
        added: What came of those before.
        step: Name of the step, or empty for the one that was current when it was taken.
        by: Who adds it.
        at: Now, with the offset from UTC.
    """
    name = re.split(r"[/\\]", sent.name)[-1]
    try:
        photo = add_photo(folder, sent.data, step=step or None, by=by, at=at, name=name)
    except CompanionError as error:
        return Added(added.steps, (*added.refused, str(error)))
    return Added((*added.steps, photo.step), added.refused)
