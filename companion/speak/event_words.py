"""Recorded events in the words that acknowledge them."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from companion.handbook.units import dimension
from companion.job import events as ev
from companion.job import steps
from companion.job.events import AnyEvent
from companion.job.lines import named
from companion.job.state import State
from companion.speak.aloud import aloud
from companion.speak.calls import corrected, record_words
from companion.speak.fluid_words import moved_phrases
from companion.speak.numbers import (
    duration_words,
    number_words,
    read_back_duration,
    without_needless_zeros,
)
from companion.speak.phrases import (
    CONSEQUENCE,
    FACT,
    RINGING,
    VERDICTS,
    WARNING,
    Phrase,
    caution,
    recorded,
)
from companion.speak.questions import answered_phrases, fact_of, question_phrase
from companion.speak.reason_words import (
    NEVER_CHECKED,
    checked_words,
    reason_lines,
    unknown_words,
)
from companion.speak.remark_words import remarks_said
from companion.speak.review_words import reviewed_phrases
from companion.speak.speakable import sentence, speakable

TAGS_NAMED = 3
"""So many tags that still hang are named when one comes down."""


def event_phrases(state: State, event: AnyEvent, events: Sequence[AnyEvent]) -> tuple[Phrase, ...]:
    """Put one recorded event into words; most need ``state`` only for totals."""
    match event:
        case ev.ReadingRecorded():
            return (_reading(event),)
        case ev.FluidMoved():
            return moved_phrases(state, event, events)
        case ev.WorkRecorded(by="step"):
            # The step itself said it.
            return ()
        case ev.LevelRead() | ev.FindingRecorded() | ev.WorkRecorded():
            return (recorded(corrected(event)),)
        case ev.PartNeeded() | ev.PartUsed() | ev.FollowUpRecorded():
            return (recorded(corrected(event)),)
        case ev.NoteKept():
            if any(isinstance(other, ev.Reviewed) for other in events):
                # That it was confirmed or corrected says the review.
                return ()
            return (recorded(f"{event.about.capitalize()} kept"),)
        case ev.SerialRecorded():
            return (recorded(corrected(event)),)
        case ev.TimerStarted():
            return (_timer_started(event, events),)
        case ev.TimerRang():
            still = "rings" if event.count == 1 else "still rings"
            return (Phrase(RINGING, "ring", sentence(f"{named(event.name)} {still}")),)
        case ev.ElsewhereRang():
            still = "" if event.count == 1 else " still rings"
            return (
                Phrase(RINGING, "ring", sentence(f"{event.machine}: {named(event.name)}{still}")),
            )
        case ev.ElsewhereAcknowledged():
            text = f"{event.machine}: {named(event.name)} off"
            only = "" if event.kept else " here only, that job's own log could not be written"
            return (recorded(f"{text}{only}"),)
        case ev.TimerAcknowledged():
            return (recorded(f"{named(event.name)} off"),)
        case ev.TimerCancelled():
            return () if event.replaced else (recorded(f"{named(event.name)} cancelled"),)
        case ev.TagCleared():
            return (_tag_cleared(state, event, events),)
        case ev.StartChecked():
            return _start_checked(event)
        case ev.StartAffirmed():
            return (recorded("Start affirmed"),)
        case ev.EngineRunning():
            return (_engine_running(event),)
        case ev.EngineStopped():
            return (recorded("Engine stopped"),)
        case ev.StepDone():
            # Where a step follows, its number tells it.
            goes_on = any(isinstance(other, ev.StepEntered) for other in events)
            return () if goes_on else (recorded("Step done"),)
        case ev.StepSkipped():
            why = f", {event.reason}" if event.reason else ""
            return (recorded(f"Skipped: {steps.in_words(event.step)}{why}"),)
        case ev.StepAnswered():
            return (recorded("Yes" if event.answer == "affirm" else "No"),)
        case ev.StepRuled():
            return () if event.applies else (recorded("Not needed"),)
        case ev.Disregarded():
            return (_disregarded(state, event),)
        case ev.CautionSpoken():
            return (caution(event.text),)
        case ev.Reviewed():
            return reviewed_phrases(state, event, events)
        case ev.SignedOff():
            return (recorded(f"Signed off by {event.by}"),)
        case ev.Asked():
            return (question_phrase(state, event),)
        case ev.Answered():
            return answered_phrases(state, event, events)
        case ev.JobParked():
            return (recorded("Job parked"),)
        case ev.JobClosed():
            return (recorded("Job closed"),)
        case ev.Standby():
            return (recorded("Standing by"),)
        case ev.Resumed():
            return (recorded("Listening", CONSEQUENCE),)
        case ev.Trouble():
            return (Phrase(WARNING, "warning", sentence(aloud(event.what))),)
        case (
            ev.SessionOpened()
            | ev.SessionResumed()
            | ev.Heard()
            | ev.Said()
            | ev.TagHung()  # all tags of a call are said together
            | ev.StepEntered()  # its words come as an answer
            | ev.StepReopened()
            | ev.PhotoAdded()  # nobody calls it, and nobody waits for an answer
            | ev.WorkOrderKept()
            | ev.MachineKnown()  # what stands is said as an answer
        ):
            return ()


def _reading(event: ev.ReadingRecorded) -> Phrase:
    said = sentence(corrected(event))
    judged = " ".join((said, *verdict_said(event)))
    return Phrase(FACT, "recorded", " ".join((judged, *remarks_said(event, after=judged))))


def verdict_said(event: ev.ReadingRecorded) -> tuple[str, ...]:
    """Say how a reading is by the sheet, where that says anything."""
    if dimension(event.unit) == "time":
        # Nobody wants anything of an hour meter.
        return ()
    if event.verdict == "unknown" and any(r.about == "last time" for r in event.remarks):
        # What it was last time, which then follows, says that the maker gives no figure.
        return ()
    if event.verdict in ("low", "high") and event.beyond is not None:
        # The unit was just said; only the number tells anything new.
        by = number_words(without_needless_zeros(event.beyond))
        return (f"{event.verdict.capitalize()} by {by}.",)
    return (VERDICTS[event.verdict],)


def _timer_started(event: ev.TimerStarted, events: Sequence[AnyEvent]) -> Phrase:
    again = any(
        isinstance(other, ev.TimerCancelled) and other.replaced and other.name == event.name
        for other in events
    )
    started = "started again" if again else "started"
    place = FACT if event.by == "voice" else CONSEQUENCE
    length = read_back_duration(event.seconds)
    if event.by == "step" and not again:
        return recorded(f"{named(event.name)}, {duration_words(event.seconds)}", place)
    text = f"{named(event.name)}, {'the usual ' if event.usual else ''}{length}, {started}"
    return recorded(text, place)


def tags_hung_phrases(events: Sequence[AnyEvent]) -> tuple[Phrase, ...]:
    """Say all the tags together that a call hung."""
    hung = [event.tag for event in events if isinstance(event, ev.TagHung)]
    if not hung:
        return ()
    by_step = all(event.by == "step" for event in events if isinstance(event, ev.TagHung))
    if len(hung) > 1 and by_step:
        # The step itself says what to take off; "read tags" names them.
        count = number_words(Decimal(len(hung))).capitalize()
        return (recorded(f"{count} tags hung", CONSEQUENCE),)
    one = "Tag" if len(hung) == 1 else "Tags"
    return (recorded(f"{one} hung: {', '.join(hung)}", CONSEQUENCE),)


def _tag_cleared(state: State, event: ev.TagCleared, events: Sequence[AnyEvent]) -> Phrase:
    cleared = sentence(f"Tag cleared: {event.tag}")
    if any(isinstance(other, ev.Asked) and other.about == "clear-tag" for other in events):
        # The next tag is asked about at once; after the last, what still hangs is said.
        return recorded(cleared)
    left = [tag.tag for tag in state.tags]
    if len(left) > TAGS_NAMED:
        # "Read tags" names them.
        still = f"{number_words(Decimal(len(left))).capitalize()} still hang."
    else:
        still = f"Still hanging: {', '.join(left)}." if left else "No tag hangs."
    return Phrase(FACT, "recorded", f"{cleared} {speakable(still)}")


def _start_checked(event: ev.StartChecked) -> tuple[Phrase, ...]:
    against = reason_lines(event.reasons) or tuple(f"tag {tag} hangs" for tag in event.standing)
    if not against:
        return ()
    first, *others = (sentence(reason) for reason in against)
    said = [f"Do not start. {first}", *others]
    known = event.known
    # Older logs have what was and was not checked in words.
    checked = event.checked if known is None else checked_words(known)
    if checked:
        said.append(sentence(f"Checked: {', '.join(checked)}"))
    # What no call ever tells is read out when the gate would open; here it would only tire.
    unknown = (
        tuple(each for each in event.not_checked if each not in NEVER_CHECKED)
        if known is None
        else unknown_words(known)
    )
    if unknown:
        said.append(sentence(f"Not checked: {', '.join(unknown)}"))
    return tuple(Phrase(WARNING, "warning", each) for each in said)


def _engine_running(event: ev.EngineRunning) -> Phrase:
    if not event.against and not event.reasons:
        return recorded("Engine running")
    said = ["Stop the engine."]
    if event.against:
        hang = "This tag hangs" if len(event.against) == 1 else "These tags hang"
        said.append(sentence(f"{hang}: {', '.join(event.against)}"))
    said.extend(sentence(reason) for reason in reason_lines(event.reasons))
    return Phrase(WARNING, "warning", " ".join(said))


def _disregarded(state: State, event: ev.Disregarded) -> Phrase:
    fact = fact_of(state, event.record)
    text = f"Disregarded: {record_words(fact.event)}" if fact is not None else "Disregarded"
    said = sentence(text)
    restored = None if event.restores is None else fact_of(state, event.restores)
    if restored is not None:
        said = f"{said} {sentence(f'This counts again: {record_words(restored.event)}')}"
    return Phrase(FACT, "recorded", said)
