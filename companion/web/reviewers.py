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
        """Say that a call was understood rightly.

        Args:
            record: Number of what was heard, or of what was recorded of it.
            by: Who does it.
            at: When, with its offset from UTC.
        """

    def wrong(self, record: int, *, by: str, why: str, at: datetime) -> Outcome:
        """Say that a call was misunderstood.

        Args:
            record: Number of what was heard, or of what was recorded of it.
            by: Who does it.
            why: In a few words; may be empty.
            at: When, with its offset from UTC.
        """

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
        """Put what was really said in the place of what was recorded.

        Args:
            record: Number of what was heard, or of what was recorded of it.
            text: The whole call that was really said, as it is typed at the bench.
            by: Who does it.
            why: In a few words; may be empty.
            at: When, with its offset from UTC.
            affirmed: Whether the question that this put before is affirmed.
            read: That question as it was read; None for the one that was put last to ``by``.
        """

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
        """Let a call or a photo not count.

        Args:
            record: Number of what was heard, or of what was recorded of it, or of a photo.
            by: Who does it.
            why: In a few words; may be empty.
            at: When, with its offset from UTC.
            affirmed: Whether the question that this put before is affirmed.
            read: That question as it was read; None for the one that was put last to ``by``.
        """

    def note(self, record: int, text: str, *, by: str, why: str, at: datetime) -> Outcome:
        """Confirm the draft of a note.

        Args:
            record: Number of the note, or of what was heard.
            text: The words of the note.
            by: Who does it.
            why: In a few words; may be empty.
            at: When, with its offset from UTC.
        """

    def move_photo(self, record: int, step: str, *, by: str, why: str, at: datetime) -> Outcome:
        """Let a photo stand at another step.

        Args:
            record: Number of the photo's record.
            step: Name of the step of the card; empty for none.
            by: Who does it.
            why: In a few words; may be empty.
            at: When, with its offset from UTC.
        """

    def sign_off(self, *, by: str, at: datetime) -> Outcome:
        """Answer for the record as it stands."""


OpenReview = Callable[[Path], AbstractContextManager[Reviewer]]
"""Opens the log of a session folder for review."""

PrepareReview = Callable[[State], None]
"""Prepares in the background what takes long at the first correction in a session."""
