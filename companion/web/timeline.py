"""A session as a reviewer sees it: everything said and answered, call by call."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Any

from companion.job import events as ev
from companion.job.record import Record
from companion.job.state import State
from companion.speak.worded.table import review_line, warns
from companion.web.doubt_words import doubt_sentences, in_doubt, rival_words
from companion.web.photos import Photo, homes_of, photo_on_page
from companion.web.sounds import clip_seconds

FAMILIES = {
    "readings": (ev.ReadingRecorded,),
    "fluids": (ev.FluidMoved, ev.LevelRead),
    "findings": (ev.FindingRecorded,),
    "work": (ev.WorkRecorded,),
    "parts": (ev.PartNeeded, ev.PartUsed, ev.FollowUpRecorded),
    "notes": (ev.NoteKept, ev.SerialRecorded),
    "tags and start": (
        ev.TagHung,
        ev.TagCleared,
        ev.StartChecked,
        ev.StartAffirmed,
        ev.EngineRunning,
        ev.EngineStopped,
    ),
    "timers": (ev.TimerStarted, ev.TimerAcknowledged, ev.TimerCancelled),
    "steps": (ev.StepDone, ev.StepSkipped, ev.StepEntered, ev.StepAnswered, ev.StepRuled),
    "corrections": (ev.Disregarded,),
}
"""By family, what its calls record; the first that fits is a call's."""

OTHER = "questions and the rest"
"""The family of a call that recorded nothing."""

_NOT_TOLD = (
    ev.Said,
    ev.Asked,
    ev.Answered,
    ev.CautionSpoken,
    ev.MachineKnown,
    ev.Reviewed,
    ev.SessionResumed,
)
"""Not told a second time: the answer says it already, or it has a place of its own."""


@dataclass(frozen=True, slots=True)
class Line:
    """Something that was recorded.

    Attributes:
        seq: Number of its record.
        text: What.
        gone: Why it does not count any more, or "".
        by: Number of the record that says so, or None.
        review: Whether a review brought it.
        warning: Whether it is a warning.
    """

    seq: int
    text: str
    gone: str = ""
    by: int | None = None
    review: bool = False
    warning: bool = False


@dataclass(frozen=True, slots=True)
class Looked:
    """What somebody said of a call afterwards.

    Attributes:
        seq: Number of the record.
        at: When.
        by: Who.
        words: What was found.
        why: Why, or "".
        after_sign_off: Whether somebody had signed the record off before.
    """

    seq: int
    at: datetime
    by: str
    words: str
    why: str
    after_sign_off: bool


@dataclass(frozen=True, slots=True)
class Turn:
    """A call with all that it brought, or one thing that no call brought.

    Attributes:
        seq: Number of its first record.
        at: When.
        heard: What was heard; None where no call brought it.
        seqs: Numbers of all its records.
        said: What the companion answered.
        lines: What was recorded, in order, that of reviews as well.
        looked: What was said of it afterwards, in order.
        clip: File name of its sound, or None.
        seconds: Length of the sound; None where there is none that can be played.
        step: Name of the step of the card at which it was made, or None.
        family: What kind of call it was.
        doubts: What spoke against it, in sentences.
        rivals: What else it may have been, each with how likely.
        doubtful: Whether anything spoke against it.
        changed: Whether anything of it was corrected or does not count any more.
        note: The note that it kept and that counts, or None.
        photos: Taken at the step that it began, those that do not count as well.
        passed_over: How many stretches of talk in a row were no calls; 0 of every other turn.
    """

    seq: int
    at: datetime
    heard: ev.Heard | None
    seqs: tuple[int, ...]
    said: tuple[str, ...]
    lines: tuple[Line, ...]
    looked: tuple[Looked, ...] = ()
    clip: str | None = None
    seconds: float | None = None
    step: str | None = None
    family: str = ""
    doubts: tuple[str, ...] = ()
    rivals: tuple[tuple[str, str], ...] = ()
    doubtful: bool = False
    changed: bool = False
    note: ev.NoteKept | None = None
    photos: tuple[Photo, ...] = ()
    passed_over: int = 0

    @property
    def judged(self) -> str:
        """What was found when it was looked over last, or ""."""
        return self.looked[-1].words if self.looked else ""

    @property
    def draft(self) -> bool:
        """Whether it kept a note whose words nobody has checked."""
        return self.note is not None and self.note.draft

    @property
    def words(self) -> str:
        """Everything that a search through it finds."""
        heard = self.heard.text if self.heard is not None else ""
        note = self.note.text or "" if self.note is not None else ""
        lines = " ".join(line.text for line in self.lines)
        photos = " ".join(photo.of for photo in self.photos)
        return f"{heard} {note} {lines} {' '.join(self.said)} {photos}".casefold()


@dataclass(slots=True)
class _Open:
    """A turn while its records are gathered."""

    records: list[Record] = field(default_factory=list)
    step: str | None = None


def turns_of(folder: Path, records: Sequence[Record], state: State) -> tuple[Turn, ...]:
    """Return a session call by call, in order.

    Args:
        folder: The session folder, for the lengths of the clips.
        records: All of them.
        state: Their fold.
    """
    by_call: dict[int, _Open] = {}
    gathered: list[_Open] = []
    loose: _Open | None = None
    step: str | None = None
    homes = homes_of(records)
    at_home: dict[int, _Open] = {}
    for record in records:
        event = record.event
        if isinstance(event, ev.StepEntered):
            step = event.step
        if record.seq in homes:
            home = homes[record.seq]
            if home not in at_home:
                at_home[home] = _Open([], event.step if isinstance(event, ev.PhotoAdded) else None)
                gathered.append(at_home[home])
            at_home[home].records.append(record)
            continue
        call = by_call.get(event.heard) if event.heard is not None else None
        if call is not None:
            call.records.append(record)
        elif isinstance(event, ev.Heard):
            loose = None
            call = by_call[record.seq] = _Open([record], step)
            gathered.append(call)
        elif loose is not None and loose.records[0].at == record.at:
            call = loose
            loose.records.append(record)
        else:
            call = loose = _Open([record], step)
            gathered.append(loose)
        at_home[record.seq] = call
    gone_by = _gone_by(records)
    turns = [_turn(folder, each, state, gone_by, homes) for each in gathered]
    return tuple(_joined(turn for turn in turns if turn is not None))


def _turn(
    folder: Path,
    gathered: _Open,
    state: State,
    gone_by: dict[int, int],
    of_photos: Mapping[int, int],
) -> Turn | None:
    first = gathered.records[0]
    photos = tuple(
        photo_on_page(folder, record, state)
        for record in gathered.records
        if isinstance(record.event, ev.PhotoAdded)
    )
    heard = first.event if isinstance(first.event, ev.Heard) else None
    lines = tuple(
        _line(record, state, gone_by)
        for record in gathered.records
        if not isinstance(record.event, (*_NOT_TOLD, ev.Heard))
        and not _is_note_that_counts(record, state)
        and record.seq not in of_photos
    )
    said = tuple(
        record.event.text
        for record in gathered.records
        if isinstance(record.event, ev.Said) and record.event.text
    )
    notes = [
        record.event
        for record in gathered.records
        if isinstance(record.event, ev.NoteKept) and _is_note_that_counts(record, state)
    ]
    if heard is None and not (lines or said or notes or photos):
        return None
    looked = tuple(
        _looked(record, state)
        for record in gathered.records
        if isinstance(record.event, ev.Reviewed) and record.seq not in of_photos
    )
    clip = heard.clip if heard is not None else None
    return Turn(
        seq=first.seq,
        at=first.at,
        heard=heard,
        seqs=tuple(record.seq for record in gathered.records),
        said=said,
        lines=lines,
        looked=looked,
        clip=clip.rpartition("/")[2] if clip else None,
        seconds=clip_seconds(folder, clip) if clip else None,
        step=gathered.step,
        family=_family(gathered.records) if heard is not None else "",
        doubts=doubt_sentences(heard) if heard is not None else (),
        rivals=rival_words(heard) if heard is not None else (),
        doubtful=heard is not None and in_doubt(heard),
        changed=any(line.gone for line in lines),
        note=notes[-1] if notes else None,
        photos=photos,
    )


def _is_note_that_counts(record: Record, state: State) -> bool:
    """Its words stand by themselves."""
    return isinstance(record.event, ev.NoteKept) and record.seq not in state.superseded


def _joined(turns: Iterable[Turn]) -> Iterable[Turn]:
    """Make one turn of any number of stretches of talk in a row that were no calls."""
    for passed, group in groupby(turns, key=lambda turn: (_passed_over(turn), turn.at.date())):
        members = list(group)
        if not passed[0] or len(members) == 1:
            yield from members
            continue
        seqs = tuple(seq for member in members for seq in member.seqs)
        first = members[0]
        yield Turn(
            first.seq, first.at, first.heard, seqs, (), (), step=first.step,
            passed_over=len(members),
        )  # fmt: skip


def _passed_over(turn: Turn) -> bool:
    heard = turn.heard
    if heard is None or heard.outcome != "ignore" or turn.clip is not None:
        return False
    return not (turn.lines or turn.looked or turn.photos or heard.text)


def _family(records: Iterable[Record]) -> str:
    brought = [record.event for record in records if record.event.reviewed is None]
    for family, kinds in FAMILIES.items():
        if any(isinstance(event, kinds) for event in brought):
            return family
    return OTHER


def _line(record: Record, state: State, gone_by: dict[int, int]) -> Line:
    event: Any = record.event
    if isinstance(event, ev.Correctable):
        event = event.model_copy(update={"corrects": None})
    gone = state.superseded.get(record.seq, "")
    return Line(
        seq=record.seq,
        text=review_line(event),
        gone={"disregarded": "set aside"}.get(gone, gone),
        by=gone_by.get(record.seq) if gone else None,
        review=event.reviewed is not None,
        warning=warns(event),
    )


def _looked(record: Record, state: State) -> Looked:
    event: Any = record.event
    said = (
        f" to “{event.said}”" if event.said is not None and event.judgement == "corrected" else ""
    )
    words = {
        "right": "right",
        "wrong": "wrong",
        "corrected": f"corrected{said}",
        "set-aside": "set aside",
        "note-confirmed": "words of the note checked",
    }[event.judgement]
    return Looked(
        record.seq, record.at, event.by, words, event.why, state.after_sign_off(record.seq)
    )


def _gone_by(records: Iterable[Record]) -> dict[int, int]:
    """By number of a record, that of the one which took its place or set it aside."""
    found: dict[int, int] = {}
    for record in records:
        event = record.event
        if isinstance(event, ev.Disregarded):
            found[event.record] = record.seq
        elif isinstance(event, ev.Correctable) and event.corrects is not None:
            found[event.corrects] = record.seq
    return found
