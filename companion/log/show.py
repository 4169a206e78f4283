"""A log as lines to read, one a record."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from companion.job import events as ev
from companion.job.lines import found, how_many
from companion.job.reason import Reason
from companion.job.record import Record
from companion.log.followed import follows, state_of
from companion.log.quantities import quantity, remark_words, verdict_words
from companion.log.reader import read_log


@follows
def log_lines(folder: Path) -> list[str]:
    """Return a log as lines to print: number, time, what happened; a line of its own a new day.

    Raises:
        CompanionError: As ``read_log``.
    """
    contents = read_log(folder)
    superseded = state_of(folder, contents.records).superseded
    lines: list[str] = []
    day: date | None = None
    for record in contents.records:
        if record.at.date() != day:
            day = record.at.date()
            lines.append(f"{day:%A} {day.day} {day:%B %Y}")
        lines.append(record_line(record, superseded.get(record.seq)))
    if contents.recovered is not None:
        lines.append(contents.recovered)
    return lines


@follows
def log_values(folder: Path) -> list[dict[str, Any]]:
    """Return a log for JSON, one object a record: the event whole, and its line.

    Raises:
        CompanionError: As ``read_log``.
    """
    records = read_log(folder).records
    superseded = state_of(folder, records).superseded
    return [
        {
            "record": each.seq,
            "at": each.at.isoformat(),
            "line": event_line(each.event),
            "superseded": superseded.get(each.seq),
            "event": each.event.model_dump(mode="json"),
        }
        for each in records
    ]


def record_line(record: Record, superseded: str | None = None) -> str:
    """Return a record as a line.

    Args:
        record: To show.
        superseded: Why it no longer counts, if so: "corrected" or "disregarded".
    """
    cause = f"  (from {record.event.heard})" if record.event.heard is not None else ""
    mark = f"  [{superseded}]" if superseded else ""
    offset = record.at.isoformat()[-6:].replace("-00:00", "+00:00")
    return f"{record.seq:>5}  {record.at:%H:%M:%S}{offset}  {event_line(record.event)}{cause}{mark}"


def event_line(event: ev.AnyEvent) -> str:
    """Return what happened, in one line."""
    # A line feed from a typed call or a torn clip name must not fake a line of its own.
    told = " ".join(_told(event).split())
    corrects = event.corrects if isinstance(event, ev.Correctable) else None
    return told if corrects is None else f"{told}; corrects {corrects}"


def _told(event: ev.AnyEvent) -> str:
    match event:
        case ev.SessionOpened():
            machine = (event.machine or {}).get("name") or "no spec sheet"
            card = (event.card or {}).get("title") or "no job card"
            return f"session opened: {machine}; {card}; {event.ounce} ounces"
        case ev.SessionResumed():
            return "session resumed"
        case ev.JobParked():
            return "job parked"
        case ev.JobClosed():
            return "job closed" + (f"; on with {event.instead}" if event.instead else "")
        case ev.Standby():
            return "stand by"
        case ev.Resumed():
            return "listening again"
        case ev.Trouble():
            return f"trouble: {event.what}"
        case ev.Heard() | ev.Said() | ev.Asked() | ev.Answered():
            return _exchange(event)
        case ev.ReadingRecorded() | ev.FluidMoved() | ev.LevelRead():
            return _measured(event)
        case ev.TimerStarted():
            return f"{event.name} timer: {event.seconds:g} s, due {event.due:%Y-%m-%d %H:%M:%S}"
        case ev.TimerRang():
            return f"{event.name} timer rang{f' ({event.count} times)' if event.count > 1 else ''}"
        case ev.TimerAcknowledged():
            return f"{event.name} timer acknowledged"
        case ev.ElsewhereRang():
            times = f" ({event.count} times)" if event.count > 1 else ""
            return f"{event.name} timer of {event.session} rang{times}"
        case ev.ElsewhereAcknowledged():
            kept = "" if event.kept else "; not in its own log, which could not be written"
            return f"{event.name} timer of {event.session} acknowledged{kept}"
        case ev.TimerCancelled():
            return f"{event.name} timer cancelled"
        case ev.TagHung():
            why = event.reason or (f"step {event.step}" if event.step else "")
            why = "; ".join(map(_reason, event.because)) or why or event.by
            return f"tag hung: {event.tag} ({why})"
        case ev.TagCleared():
            return f"tag cleared: {event.tag}"
        case ev.StartChecked():
            tags = ", ".join(event.standing)
            hanging = f"tags hang: {tags}" if tags else "no tag hangs"
            against = f"; against it: {'; '.join(map(_reason, event.reasons))}"
            why = against if event.reasons else ""
            return f"clear to start asked: {hanging}{why}{_checked(event)}"
        case ev.StartAffirmed():
            return "start affirmed"
        case ev.EngineRunning():
            against = f" against the tags {', '.join(event.against)}" if event.against else ""
            reasons = f"; {'; '.join(map(_reason, event.reasons))}" if event.reasons else ""
            return f"engine running{against}{reasons}"
        case ev.EngineStopped():
            return "engine stopped"
        case ev.StepEntered():
            against = f" although {'; '.join(event.against)}" if event.against else ""
            return f"step entered: {event.step}{against}"
        case ev.StepDone():
            return f"step done: {event.step}"
        case ev.StepSkipped():
            return f"step skipped: {event.step}{f' ({event.reason})' if event.reason else ''}"
        case ev.StepReopened():
            return f"step taken up again: {event.step}"
        case ev.StepAnswered():
            return f"step answered: {event.step}: {event.answer}"
        case ev.StepRuled():
            return f"step {'applies' if event.applies else 'does not apply'}: {event.step}"
        case ev.FindingRecorded():
            by = " (by the step)" if event.by == "step" else ""
            return f"finding: {found(_of(event), event.condition)}{by}"
        case ev.WorkRecorded():
            by = " (by the step)" if event.by == "step" else ""
            return f"work: {event.action} {_of(event)}{by}"
        case ev.PartNeeded():
            return f"part needed: {event.count} × {event.part}"
        case ev.PartUsed():
            return f"part used: {event.count} × {event.part}"
        case ev.FollowUpRecorded():
            return f"follow up: {event.part}"
        case ev.NoteKept():
            draft = " (draft)" if event.draft else ""
            clip = f" [{event.clip}]" if event.clip else ""
            return f"{event.about}{draft}: {event.text or 'sound only'}{clip}"
        case ev.SerialRecorded():
            return f"serial number: {event.serial}"
        case ev.PhotoAdded():
            step = f" at step {event.step}" if event.step else ""
            return f"photo{step}{f' by {event.by}' if event.by else ''} [{event.file}]"
        case ev.WorkOrderKept():
            told = (("customer", event.customer), ("work order", event.number))
            lines = [f"{name}: {text or 'none'}" for name, text in told if text is not None]
            return "; ".join(lines) or "work order"
        case ev.MachineKnown():
            return _known(event)
        case ev.Disregarded():
            restored = f"; {event.restores} counts again" if event.restores is not None else ""
            return f"disregarded: record {event.record}{restored}"
        case ev.CautionSpoken():
            return f"caution: {event.text}"
        case ev.Reviewed():
            said = f": “{event.said}”" if event.said is not None else ""
            why = f" ({event.why})" if event.why else ""
            return f"{event.by} on record {event.record}: {event.judgement}{said}{why}"
        case ev.SignedOff():
            return f"signed off by {event.by}"


def _reason(reason: Reason) -> str:
    """A reason by its values; its words are for whoever hears or reads a page."""
    if reason.about == "words":
        return reason.what
    count = " × all" if reason.every else ""
    if reason.of > 1:
        count = f" × {reason.left} of {reason.of}"
    session = f", {reason.session}" if reason.session else ""
    return f"{reason.name or reason.about} {reason.what}{count}{session}"


def _checked(event: ev.StartChecked) -> str:
    known = event.known
    checked, unknown = event.checked, event.not_checked
    if known is not None:
        checked = (*(f"{fluid} level" for fluid in known.full), *known.cleared)
        left = (f"{known.steps_left} steps of the card",) if known.steps_left else ()
        unknown = (*(f"{fluid} level" for fluid in known.unknown), *left)
    said = f"; checked: {', '.join(checked)}" if checked else ""
    return f"{said}; not checked: {', '.join(unknown)}" if unknown else said


def _known(event: ev.MachineKnown) -> str:
    facts = [f"{event_line(each.event)} ({each.session})" for each in event.facts]
    unread = [f"cannot be read: {name}" for name in event.unread]
    jobs = [f"{'parked' if job.parked else 'open'}: {job.session}" for job in event.jobs]
    open_ = [f"to come back to: {each.part} ({each.session})" for each in event.open]
    said = "; ".join((*facts, *unread, *jobs, *open_)) or "nothing stands open"
    return f"this machine in its other sessions: {said}"


def _exchange(event: ev.Heard | ev.Said | ev.Asked | ev.Answered) -> str:
    match event:
        case ev.Heard():
            reasons = f" ({'; '.join(event.reasons)})" if event.reasons else ""
            sure = "" if event.engine == "typed" else f", confidence {event.confidence:.2f}"
            clip = f" [{event.clip}]" if event.clip else ""
            return f"heard “{event.text}”{sure}: {event.outcome}{reasons}{clip}"
        case ev.Said():
            source = f" (source: {event.source})" if event.source else ""
            return f"said “{event.text}”{source}"
        case ev.Asked():
            what = f" {event.tag}" if event.tag else ""
            what = f" {event.own} for {event.plain}" if event.own else what
            return f"asked: {event.about}{what}"
        case ev.Answered():
            return f"answered: {event.answer}"


def _of(event: ev.FindingRecorded | ev.WorkRecorded) -> str:
    """The part, with how many of it."""
    many = f" × {event.count}" if event.count > 1 else ""
    return f"{how_many(event.part, 1, every=event.every)}{many}"


def _measured(event: ev.ReadingRecorded | ev.FluidMoved | ev.LevelRead) -> str:
    if isinstance(event, ev.LevelRead):
        return f"{event.fluid} level {event.level}"
    value = quantity(event.value, event.unit)
    if isinstance(event, ev.FluidMoved):
        return f"{event.action} {value} of {event.fluid}"
    said = "".join(f"; {remark_words(remark, event.unit)}" for remark in event.remarks)
    return f"{event.measure} {value}: {verdict_words(event)}{said}"
