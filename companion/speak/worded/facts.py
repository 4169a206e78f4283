"""What a call told: readings, fluids, findings, work, parts, notes and the serial number."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from companion.handbook.units import dimension
from companion.job import events as ev
from companion.job.events import AnyEvent
from companion.job.lines import found, how_many, of_kind, spaced
from companion.job.quantities import quantity, remark_words, verdict_words
from companion.job.state import State
from companion.speak.calls import count_words, found_words, work_words
from companion.speak.fluid_words import moved_phrases
from companion.speak.numbers import number_words, read_back, without_needless_zeros
from companion.speak.phrases import FACT, VERDICTS, Phrase, recorded
from companion.speak.remark_words import remarks_said
from companion.speak.speakable import sentence, speakable
from companion.speak.worded.words import Said, Table, Words


def corrected(event: ev.AnyFact, recalled: str) -> str:
    """Say what a call recorded, and that it stands in the place of something else where it does."""
    return recalled if event.corrects is None else f"Corrected: {recalled}"


def _acknowledged(recalled: Callable[[Any], str]) -> Said:
    """Say back what was recorded."""
    return lambda state, event, events: (recorded(corrected(event, recalled(event))),)


# --- readings, fluids, levels -------------------------------------------------------------------


def _reading_logged(event: ev.ReadingRecorded) -> str:
    said = "".join(f"; {remark_words(remark, event.unit)}" for remark in event.remarks)
    value = quantity(event.value, event.unit)
    return f"{event.measure} {value}: {verdict_words(event)}{said}"


def _reading_recalled(event: ev.ReadingRecorded) -> str:
    return f"{event.measure}, {read_back(event.value, event.unit)}"


def _reading_said(
    state: State, event: ev.ReadingRecorded, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    said = sentence(corrected(event, _reading_recalled(event)))
    judged = " ".join((said, *verdict_said(event)))
    return (Phrase(FACT, "recorded", " ".join((judged, *remarks_said(event, after=judged)))),)


def verdict_said(event: ev.ReadingRecorded) -> tuple[str, ...]:
    """Say how a reading is by the sheet, where that says anything."""
    if dimension(event.unit) == "time":
        # An hour meter has no window to judge by.
        return ()
    if event.verdict == "unknown" and any(r.about == "last time" for r in event.remarks):
        # The value of last time, which follows, already tells that the maker gives no figure.
        return ()
    if event.verdict in ("low", "high") and event.beyond is not None:
        # The unit was just said; only the number is new.
        by = number_words(without_needless_zeros(event.beyond))
        return (f"{event.verdict.capitalize()} by {by}.",)
    return (VERDICTS[event.verdict],)


def _moved_logged(event: ev.FluidMoved) -> str:
    return f"{event.action} {quantity(event.value, event.unit)} of {event.fluid}"


def _moved_recalled(event: ev.FluidMoved) -> str:
    return f"{event.action} {read_back(event.value, event.unit)} of {event.fluid}"


def _moved_said(
    state: State, event: ev.FluidMoved, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    return moved_phrases(state, event, corrected(event, _moved_recalled(event)), events)


def _level(event: ev.LevelRead) -> str:
    return f"{event.fluid} level {event.level}"


# --- findings, work, parts ----------------------------------------------------------------------


def _how_many_logged(event: ev.FindingRecorded | ev.WorkRecorded) -> str:
    many = f" × {event.count}" if event.count > 1 else ""
    return f"{how_many(event.part, 1, every=event.every)}{many}"


def _by_step(event: ev.FindingRecorded | ev.WorkRecorded) -> str:
    return " (by the step)" if event.by == "step" else ""


def _finding_logged(event: ev.FindingRecorded) -> str:
    return f"finding: {found(_how_many_logged(event), event.condition)}{_by_step(event)}"


def _finding_recalled(event: ev.FindingRecorded) -> str:
    return found_words(event.part, event.count, event.every, event.condition)


def _work_logged(event: ev.WorkRecorded) -> str:
    return f"work: {event.action} {_how_many_logged(event)}{_by_step(event)}"


def _work_recalled(event: ev.WorkRecorded) -> str:
    return work_words(event.action, event.part, event.count, event.every)


def _work_said(
    state: State, event: ev.WorkRecorded, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    if event.by == "step":
        # The step itself has said it.
        return ()
    return (recorded(corrected(event, _work_recalled(event))),)


def _needed_recalled(event: ev.PartNeeded) -> str:
    return count_words(event.part, event.count, "need")


def _used_recalled(event: ev.PartUsed) -> str:
    return count_words(event.part, event.count, "used")


def _follow_up_recalled(event: ev.FollowUpRecorded) -> str:
    return f"follow up {event.part}"


# --- notes and the serial number ----------------------------------------------------------------


def _note_logged(event: ev.NoteKept) -> str:
    draft = " (draft)" if event.draft else ""
    clip = f" [{event.clip}]" if event.clip else ""
    return f"{event.about}{draft}: {event.text or 'sound only'}{clip}"


def _note_said(state: State, event: ev.NoteKept, events: Sequence[AnyEvent]) -> tuple[Phrase, ...]:
    if any(isinstance(other, ev.Reviewed) for other in events):
        # The review says that it was confirmed or corrected.
        return ()
    return (recorded(f"{event.about.capitalize()} kept"),)


def _serial_recalled(event: ev.SerialRecorded) -> str:
    return speakable(f"{of_kind(event.machine)}serial number, {spaced(event.serial)}")


FACTS: Table = {
    ev.ReadingRecorded: Words(_reading_logged, _reading_said, _reading_recalled),
    ev.FluidMoved: Words(_moved_logged, _moved_said, _moved_recalled),
    ev.LevelRead: Words(_level, _acknowledged(_level), _level),
    ev.FindingRecorded: Words(_finding_logged, _acknowledged(_finding_recalled), _finding_recalled),
    ev.WorkRecorded: Words(_work_logged, _work_said, _work_recalled),
    ev.PartNeeded: Words(
        lambda event: f"part needed: {event.count} × {event.part}",
        _acknowledged(_needed_recalled),
        _needed_recalled,
    ),
    ev.PartUsed: Words(
        lambda event: f"part used: {event.count} × {event.part}",
        _acknowledged(_used_recalled),
        _used_recalled,
    ),
    ev.FollowUpRecorded: Words(
        lambda event: f"follow up: {event.part}",
        _acknowledged(_follow_up_recalled),
        _follow_up_recalled,
    ),
    ev.NoteKept: Words(
        _note_logged,
        _note_said,
        recalled=lambda event: f"the {event.about}",
        reviewed=lambda event: f"{event.about}: {event.text or 'sound only'}",
    ),
    ev.SerialRecorded: Words(
        lambda event: f"{of_kind(event.machine)}serial number: {event.serial}",
        _acknowledged(_serial_recalled),
        _serial_recalled,
    ),
}
"""The words for what a call may turn out to have told."""
