"""What comes to a job beside the calls: photos, a work order, a review, a signature."""

from __future__ import annotations

from typing import Literal

from companion.intent.call import Moment
from companion.job.events.base import Event


class PhotoAdded(Event):
    """A picture was laid beside the log.

    Attributes:
        file: Its path inside the session folder, such as ``photos/0042.jpg``.
        sha256: Of that file, in lower-case hex, so that a change to it shows.
        step: The step of the card at which it was taken, or None.
        taken: When, by the camera's own clock; None where the picture does not say.
        by: Who added it, or empty.
    """

    kind: Literal["photo.added"] = "photo.added"
    file: str
    sha256: str
    step: str | None = None
    taken: Moment | None = None
    by: str = ""


class WorkOrderKept(Event):
    """Whose job it is and under which order; what is None stays as it was, empty takes it out.

    Attributes:
        customer: Who brought the machine.
        number: Of the shop's work order.
    """

    kind: Literal["work.order"] = "work.order"
    customer: str | None = None
    number: str | None = None


Judgement = Literal["right", "wrong", "corrected", "set-aside", "note-confirmed"]
"""What whoever looked a call over says of it. ``right`` and ``wrong`` are marks and change nothing;
with the others comes what changes."""


class Reviewed(Event):
    """A call, or what a call recorded, was looked over after it was made.

    Attributes:
        record: Number of the record that it is about: of what was heard, or of a fact.
        by: Who looked it over.
        why: In a few words, or nothing.
        judgement: What was found.
        said: The call that was really said, in the words of the grammar; of a note its words; None
            where neither was told.
        called: When the call was made: what stands in its place counts from then.
    """

    kind: Literal["reviewed"] = "reviewed"
    record: int
    by: str
    why: str = ""
    judgement: Judgement
    said: str | None = None
    called: Moment | None = None


class SignedOff(Event):
    """Somebody answers for the record as it stands; what is changed later shows as changed since.

    Attributes:
        by: Who.
    """

    kind: Literal["signed.off"] = "signed.off"
    by: str
