"""What a page needs of whoever writes reviews into a log.

The review itself stands where the rooms meet (``companion/review/``); it is handed to the
pages when they are put together, and they know no more of it than this.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import datetime
from pathlib import Path
from typing import Literal, Protocol

from companion.job.record import Record
from companion.job.state import State


class Outcome(Protocol):
    """What came of a review."""

    @property
    def kind(self) -> Literal["recorded", "needs-affirm", "refused"]:
        """Recorded; to be affirmed first, with nothing recorded yet; refused."""

    @property
    def text(self) -> str:
        """The readback, what "affirm" would mean, or why not."""

    @property
    def records(self) -> tuple[Record, ...]:
        """What was written."""


class Reviewer(Protocol):
    """Writes reviews of one session; see ``companion.review.reviewer.Reviewer``."""

    def right(self, record: int, *, by: str, at: datetime) -> Outcome:
        """Say that a call was understood rightly."""

    def wrong(self, record: int, *, by: str, why: str, at: datetime) -> Outcome:
        """Say that a call was misunderstood."""

    def correct(
        self,
        record: int,
        text: str,
        *,
        by: str,
        why: str,
        at: datetime,
        affirmed: bool = False,
        read: str | None = None,
    ) -> Outcome:
        """Put what was really said in the place of what was recorded."""

    def set_aside(
        self,
        record: int,
        *,
        by: str,
        why: str,
        at: datetime,
        affirmed: bool = False,
        read: str | None = None,
    ) -> Outcome:
        """Let a call or a photo not count."""

    def note(self, record: int, text: str, *, by: str, why: str, at: datetime) -> Outcome:
        """Confirm the draft of a note."""

    def move_photo(self, record: int, step: str, *, by: str, why: str, at: datetime) -> Outcome:
        """Let a photo stand at another step."""

    def sign_off(self, *, by: str, at: datetime) -> Outcome:
        """Answer for the record as it stands."""


OpenReview = Callable[[Path], AbstractContextManager[Reviewer]]
"""Opens the log of a session folder for review."""

PrepareReview = Callable[[State], None]
"""Makes ready, without being waited for, what takes long at the first correction in a session."""
