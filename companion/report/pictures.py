"""Photos as a page shows them: small, inside the page itself, with what is known of each."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.job.state import State
from companion.log.photos import photo_bytes
from companion.log.pictures import small_jpeg

LONGEST = 1000
"""Points of the longer side of a photo in a page; at 90 mm on paper, 280 an inch."""


@dataclass(frozen=True, slots=True)
class PhotoRow:
    """One photo.

    Attributes:
        seq: Number of its record.
        at: When it was added.
        step: Name of the step at which it was taken, or None.
        taken: When it was taken, or None.
        by: Who added it, or empty.
        source: The picture as a ``data:`` address, or None.
        width: Of that, in points.
        height: Of that, in points.
        missing: Why there is no picture, or empty.
    """

    seq: int
    at: datetime
    step: str | None
    taken: datetime | None
    by: str
    source: str | None
    width: int
    height: int
    missing: str

    @property
    def of(self) -> str:
        """What it shows, for whoever does not see it."""
        return f"Photo at step {self.step.replace('-', ' ')}" if self.step else "Photo of the job"


def photos(folder: Path, state: State, longest: int = LONGEST) -> tuple[PhotoRow, ...]:
    """Return the photos that count, in the order in which they were added.

    Args:
        folder: The session folder.
        state: Of the job.
        longest: Points of the longer side at most.
    """
    rows = []
    for fact in state.effective(state.photos):
        source, width, height, missing = None, 0, 0, ""
        try:
            data, width, height = small_jpeg(
                photo_bytes(folder, fact.event), f"The photo {fact.event.file}", longest
            )
            source = f"data:image/jpeg;base64,{base64.b64encode(data).decode()}"
        except CompanionError as error:
            missing = str(error)
        rows.append(
            PhotoRow(
                seq=fact.seq,
                at=fact.at,
                step=fact.event.step,
                taken=fact.event.taken,
                by=fact.event.by,
                source=source,
                width=width,
                height=height,
                missing=missing,
            )
        )
    return tuple(rows)
