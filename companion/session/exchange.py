"""What one happening at the bench came to."""

from __future__ import annotations

from dataclasses import dataclass

from companion.job.events import (
    Heard,
)
from companion.job.record import Record
from companion.recognize.protocol import Recognition
from companion.speak.wording import Reply


@dataclass(frozen=True, slots=True)
class Exchange:
    """What one happening came to.

    Attributes:
        heard: The record of what was heard; None when the clock brought it.
        records: Everything written to the log for it, in order.
        reply: What to sound and say, or None.
    """

    heard: Heard | None
    records: tuple[Record, ...]
    reply: Reply | None


@dataclass(frozen=True, slots=True)
class Considered:
    """What an utterance would be if it ended here.

    Attributes:
        recognition: Of the sound so far.
        pause: How long a pause ends it, in multiples of the usual one.
    """

    recognition: Recognition
    pause: float
