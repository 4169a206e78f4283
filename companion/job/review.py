"""After the job: what was misheard is corrected, and what should not count is set aside.

As at the bench, nothing is taken out of the log: a correction stands in the place of what was
recorded, and everything that depends on it is worked out again. What holds the start comes off the
machine only by an "affirm" to a readback of what it means; what is to hold it, holds it at once.
Calls that do something at the moment they are made (a step, a timer, an engine that runs) are not
made afterwards, and what they did stays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from companion.intent import intents as it
from companion.job import bench, gate, undo
from companion.job import events as ev
from companion.job.answers import Nothing
from companion.job.review_follows import tags_by_call, undo_what_it_took_back, what_follows
from companion.job.review_turn import Change, Looked, NotReviewed, ReviewTurn, change_of, decided
from companion.job.reviewed_call import ReviewedCall
from companion.job.state import State
from companion.job.state_values import Fact
from companion.job.turn import Turn


def mark(state: State, call: ReviewedCall, judgement: ev.Judgement, looked: Looked) -> Change:
    """Say that a call was right or wrong; it changes nothing else.

    Args:
        state: Before, with all of the log taken in.
        call: What is judged.
        judgement: ``right`` or ``wrong``.
        looked: Who, when and why.
    """
    turn = ReviewTurn(state, looked, call)
    turn.judge(judgement)
    return change_of(turn)


@dataclass(frozen=True, slots=True)
class Said:
    """The call that was really said.

    Attributes:
        words: In the words of the grammar.
        intent: What it means.
        then: The state just before the call, by which it is judged.
        doubt: Why it is asked about before it is taken, in words; None where it is plain.
    """

    words: str
    intent: it.Intent
    then: State
    doubt: str | None = None


def correct(state: State, call: ReviewedCall, said: Said, looked: Looked) -> Change:
    """Put what was really said in the place of what was recorded.

    Args:
        state: Before, with all of the log taken in.
        call: What is corrected.
        said: What was really said.
        looked: Who, when and why.

    Raises:
        NotReviewed: If it cannot be corrected so.
    """
    event = _fact_said(state, call, said)

    def apply(turn: ReviewTurn) -> None:
        turn.judge("corrected", said.words)
        turn.put_question()
        _put_right(turn, event, said.intent)

    question = ev.Asked(
        about="review", record=call.record, candidates=(said.intent,), meaning=said.doubt
    )
    change = decided(ReviewTurn(state, looked, call), apply, question, said.doubt is not None)
    stays = tuple(record.event for record in call.brought if isinstance(record.event, _DONE_THEN))
    return replace(change, stays=stays)


_DONE_THEN = (
    ev.StepDone,
    ev.StepSkipped,
    ev.StepAnswered,
    ev.StepRuled,
    ev.EngineRunning,
    ev.EngineStopped,
    ev.TimerStarted,
    ev.TimerCancelled,
    ev.TimerAcknowledged,
    ev.StartAffirmed,
    ev.JobParked,
    ev.JobClosed,
)
"""What a call does at the moment, and no review undoes."""


def _fact_said(state: State, call: ReviewedCall, said: Said) -> ev.AnyFact | None:
    """The fact that the call would have recorded when it was made; None where it records none."""
    heard = None if call.heard is None else call.heard.seq
    turn = Turn(said.then, call.at(state), heard)
    match said.intent:
        case it.Reading():
            bench.reading(turn, said.intent)
        case it.Fluid():
            bench.fluid(turn, said.intent)
        case it.Level():
            bench.level(turn, said.intent)
        case it.Finding():
            bench.finding(turn, said.intent)
        case it.Work():
            bench.work(turn, said.intent)
        case it.Part():
            bench.part(turn, said.intent)
        case it.FollowUp():
            bench.follow_up(turn, said.intent)
        case it.Note():
            bench.note(turn, said.intent)
        case it.Serial():
            bench.serial(turn, said.intent)
        case it.Correction():
            _correction(turn, state, call, said.intent)
        case _:
            return None
    facts = (
        each
        for each in turn.events
        if isinstance(each, ev.AnyFact) and getattr(each, "by", "voice") == "voice"
    )
    fact = next(facts, None)
    if fact is None:
        raise NotReviewed(next((a.text for a in turn.answers if isinstance(a, Nothing)), _NO_FACT))
    if isinstance(fact, ev.NoteKept):
        return fact.model_copy(update={"clip": call.clip, "clip_sha256": call.clip_sha256})
    return fact


_NO_FACT = "That records nothing here: call it otherwise."


def _correction(turn: Turn, state: State, call: ReviewedCall, intent: it.Correction) -> None:
    """Take "correction …" for what was really said only where a correction was heard."""
    recorded = next((fact for fact in call.counting(state)), None)
    own = None if recorded is None else call.bench_fact(state, recorded.place)
    event = None if recorded is None else recorded.event
    heard_one = own is not None and own.event.corrects is not None
    if not (heard_one and isinstance(event, ev.ReadingRecorded | ev.FluidMoved)):
        raise NotReviewed("Give the whole call that was said, such as gap thirteen thou.")
    quantity = undo.in_place_of(turn, intent, "correction", event.unit)
    if quantity is None:
        return
    unit, si = quantity
    if isinstance(event, ev.ReadingRecorded):
        bench.measure(turn, event.measure, intent.value, unit, si)
    else:
        bench.move(turn, event.action, event.fluid, intent.value, unit, si)


def _put_right(turn: ReviewTurn, event: ev.AnyFact | None, intent: it.Intent) -> None:
    call = turn.call
    if call.fact is None and call.taken_back(turn.state) is not None:
        # A later call at the bench said what becomes of it.
        undo_what_it_took_back(turn, intent)
        return
    gone = call.counting(turn.state)
    if event is not None and gone and _same(gone[0].event, event):
        return
    left_out = gone
    if event is not None and _was_no_correction(turn.state, call, event, gone):
        turn.record(event.model_copy(update={"corrects": call.place}))
    elif event is not None:
        turn.record(event.model_copy(update={"corrects": call.in_place_of(turn.state)}))
        left_out = gone[1:]
    for fact in left_out:
        turn.record(ev.Disregarded(record=fact.seq, restores=_restored(turn.state, call, fact)))
    undo_what_it_took_back(turn, intent)
    if isinstance(intent, it.TagHang):
        gate.hang_by_call(turn, intent.tag)
    what_follows(turn, gone, event)


def _was_no_correction(
    state: State, call: ReviewedCall, event: ev.AnyFact, gone: Sequence[Fact[Any]]
) -> bool:
    """Whether a call that was taken for a correction told something else altogether: what it was
    taken to correct then counts again, and this stands where it was called."""
    if call.fact is not None or not gone:
        return False
    own = call.bench_fact(state, gone[0].place)
    if own is None or own.event.corrects is None:
        return False
    return type(event) is not type(own.event) or _named(event) != _named(own.event)


def _named(event: ev.AnyFact) -> tuple[str, ...]:
    """What a reading or a volume is of."""
    names = ("measure", "action", "fluid")
    return tuple(getattr(event, name) for name in names if hasattr(event, name))


def _same(one: ev.AnyFact, other: ev.AnyFact) -> bool:
    """Whether two facts tell the same, wherever they stand."""
    if type(one) is not type(other):
        return False
    left_out = {"heard", "reviewed", "corrects", "remarks", "clip", "clip_sha256", "by"}
    return one.model_dump(exclude=left_out) == other.model_dump(exclude=left_out)


def set_aside(state: State, call: ReviewedCall, looked: Looked) -> Change:
    """Let a call, or one fact of it, not count.

    Args:
        state: Before, with all of the log taken in.
        call: What is set aside.
        looked: Who, when and why.

    Raises:
        NotReviewed: If it cannot be set aside.
    """
    counting = call.counting(state)
    timers = tuple(
        entry.fact.seq
        for entry in state.undo
        if isinstance(entry.fact.event, ev.TimerStarted | ev.TimerCancelled)
        and entry.fact.event.heard == call.place
        and entry.fact.seq not in state.superseded
    )
    tags = tags_by_call(state, call)
    takes_back = call.fact is None and bool(call.all(ev.Disregarded) or call.all(ev.TagCleared))
    if not (counting or timers or tags or takes_back):
        raise NotReviewed(_why_not_set_aside(state, call))

    def apply(turn: ReviewTurn) -> None:
        turn.judge("set-aside")
        turn.put_question()
        for fact in counting:
            turn.record(ev.Disregarded(record=fact.seq, restores=_restored(turn.state, call, fact)))
        for seq in timers:
            turn.record(ev.Disregarded(record=seq))
        undo_what_it_took_back(turn, None)
        what_follows(turn, counting, None)

    # What would not count, by the fact where there is one: it is what the question names.
    record = counting[0].seq if counting else call.record
    question = ev.Asked(about="review", record=record)
    return decided(ReviewTurn(state, looked, call), apply, question)


def _restored(state: State, call: ReviewedCall, fact: Fact[Any]) -> int | None:
    """The record that counts again once a fact is set aside, as at the bench: what a correction had
    corrected. Where the call that was corrected is set aside itself, nothing does."""
    if call.fact is not None:
        own = fact if fact.seq == call.fact.seq else None
    else:
        own = call.bench_fact(state, fact.place)
    corrects = None if own is None else own.event.corrects
    if corrects is None or state.superseded.get(corrects) != "corrected":
        return None
    return int(corrects)


def _why_not_set_aside(state: State, call: ReviewedCall) -> str:
    if call.fact is not None:
        return "It does not count already."
    if call.all(ev.EngineRunning):
        return "That the engine runs is not set aside: call it stopped at the bench instead."
    if call.all(ev.StepDone) or call.all(ev.StepSkipped) or call.all(ev.StepEntered):
        return "A step is not taken back in a review: go back to it at the bench."
    if call.taken_back(state) is not None:
        return "It does not count already: a later call took it back."
    return "That call recorded nothing that could be set aside."


def confirm_note(state: State, call: ReviewedCall, text: str, looked: Looked) -> Change:
    """Confirm the draft of a note as it is, or with other words.

    Args:
        state: Before, with all of the log taken in.
        call: The call that kept it, or the note itself.
        text: Its words.
        looked: Who, when and why.

    Raises:
        NotReviewed: If it is no note that counts, or there are no words.
    """
    notes = [fact for fact in call.counting(state) if isinstance(fact.event, ev.NoteKept)]
    if not notes:
        raise NotReviewed("That is no note that counts.")
    words = " ".join(text.split())
    if not words:
        raise NotReviewed("A note without words is set aside instead.")
    note = notes[0]
    turn = ReviewTurn(state, looked, call)
    turn.judge("note-confirmed", words)
    turn.record(
        ev.NoteKept(
            about=note.event.about,
            text=words,
            draft=False,
            clip=note.event.clip,
            clip_sha256=note.event.clip_sha256,
            corrects=note.seq,
        )
    )
    return change_of(turn)
