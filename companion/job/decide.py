"""What an intent does to a job: events to record and answers to give.

Pure: the same state, call and time always give the same response. Each family of calls has its own
module; here is only which call goes where, and when a call is not acted on at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from companion.intent import intents as it
from companion.intent.intents import Intent
from companion.intent.outcome import Figure
from companion.job import (
    asking,
    asking_fluids,
    bench,
    gate,
    helping,
    looking_up,
    questions,
    timers,
    undo,
    walk,
)
from companion.job import events as ev
from companion.job.answers import Answer, FromBefore, Nothing, StandingOpen
from companion.job.dangers import dangers
from companion.job.events import AnyEvent
from companion.job.expected import awaited, expectations
from companion.job.lines import named
from companion.job.state import State
from companion.job.timers import next_deadline
from companion.job.turn import Turn

ALWAYS = frozenset({"acknowledge", "resume", "engine.running", "engine.stopped"})
"""Calls that are acted on while standing by: an engine does not wait for "resume"."""

WHILE_PARKED = ALWAYS | {"timer.cancel", "say.again", "help"}
"""Calls that are acted on while the job is parked: an engine and a timer do not wait."""

WHILE_CLOSED = WHILE_PARKED | {
    "tag.list", "timer.left", "readback", "spec", "convert", "torque", "wrench", "mix",
    "drill", "oil.grade", "pulley", "tip.speed", "frequency", "charge", "displacement", "advice",
    "say.source", "fluid.grade",
}  # fmt: skip
"""Calls that are acted on once the job is closed."""


@dataclass(frozen=True, slots=True)
class Response:
    """What to record, in order, and what to answer after it is on disk."""

    events: tuple[AnyEvent, ...] = ()
    answers: tuple[Answer, ...] = ()


def decide(
    state: State,
    intent: Intent,
    *,
    at: datetime,
    heard: int | None,
    clip: str | None = None,
    clip_sha256: str | None = None,
) -> Response:
    """Act on an understood call.

    Args:
        state: Before the call.
        intent: What was called.
        at: When, with its offset from UTC.
        heard: Number of the record of what was heard, or None.
        clip: Sound of the call, as a path inside the session folder; a note keeps it, and marks its
            text as a draft. None for typed calls.
        clip_sha256: Of that file.
    """
    turn = Turn(state, at, heard, clip, clip_sha256)
    if _acted_on(turn, intent):
        questions.act_or_answer(turn, intent, _act)
        gate.rehang(turn)
        gate.warn_if_hung_while_running(turn)
    return _response(turn)


def ask(
    state: State,
    candidates: tuple[Intent, ...],
    *,
    at: datetime,
    heard: int | None,
    figure: Figure | None = None,
) -> Response:
    """Put a doubtful call as a question.

    "Affirm" then acts on the first candidate, "negative" asks about the next. What only asks for
    what was read or what is wanted of one measure is answered instead, both ways.

    Args:
        state: Before the call.
        candidates: What was perhaps said, the likeliest first; at least one.
        at: When.
        heard: Number of the record of what was heard, or None.
        figure: How to ask where nothing but the figure is in doubt.
    """
    turn = Turn(state, at, heard)
    if _acted_on(turn, candidates[0]):
        if _only_ask_of_one_measure(candidates):
            for candidate in candidates:
                questions.act_or_answer(turn, candidate, _act)
        else:
            questions.put_doubt(turn, candidates, figure)
    return _response(turn)


def _only_ask_of_one_measure(candidates: tuple[Intent, ...]) -> bool:
    """Whether it was asked what was read or what is wanted ("what's the gap"): answering both is
    shorter than asking which was meant, and changes nothing."""
    asked = {
        each.subject if isinstance(each, it.ReadBack) else each.measure
        for each in candidates
        if isinstance(each, it.ReadBack | it.SpecAsk)
    }
    kinds = {each.intent for each in candidates}
    return len(asked) == 1 and kinds == {"readback", "spec"}


def ring_timers(state: State, at: datetime) -> Response:
    """What the clock has brought: timers that ring first or again, the earliest first."""
    return Response(events=timers.rings_due(state, at))


def beside(state: State, news: Sequence[AnyEvent], *, at: datetime) -> Response:
    """What follows at the bench from what somebody recorded beside it: tags that are to hang now,
    and the word to stop an engine that runs against one.

    Args:
        state: After the news.
        news: What was recorded.
        at: When it is taken in.
    """
    turn = Turn(state, at)
    if not (state.parked or state.closed):
        gate.rehang(turn)
    if any(isinstance(event, ev.TagHung) for event in news):
        gate.stop_running_engine(turn)
    else:
        gate.warn_if_hung_while_running(turn)
    return _response(turn)


def opening(state: State, *, at: datetime) -> Response:
    """What is said on starting or resuming: hanging tags, then timers, then the current step."""
    turn = Turn(state, at)
    gate.rehang(turn)
    left_running = gate.engine_left_running(turn.state)
    if left_running is not None:
        turn.answer(left_running)
    if turn.state.tags:
        turn.answer(gate.tags_hanging(turn.state, at))
    untagged = tuple(each.reason(at) for each in dangers(turn.state) if each.tag is None)
    if untagged:
        turn.answer(StandingOpen(untagged))
    known = turn.state.known
    fresh = known is not None and not turn.state.steps and turn.state.last_call is None
    out = tuple(each for each in turn.state.earlier if each.verdict in ("low", "high"))
    if known is not None and fresh and (known.event.open or out):
        turn.answer(FromBefore(known.event.open, out))
    running = timers.by_deadline(turn.state)
    if running:
        turn.answer(asking.all_left(turn, running))
    if known is not None and fresh and known.event.jobs:
        # Asked before the card: whoever goes on with the other job needs none of it.
        turn.record(ev.Asked(about="other-job", session=known.event.jobs[0].session))
    else:
        walk.open_card(turn)
    return _response(turn)


def _response(turn: Turn) -> Response:
    return Response(tuple(turn.events), tuple(turn.answers))


def _acted_on(turn: Turn, intent: Intent) -> bool:
    """Whether a call is acted on in this state of the job; where not, say why, if anything."""
    state = turn.state
    if state.standby:
        return intent.intent in ALWAYS
    if state.closed and intent.intent not in WHILE_CLOSED:
        turn.answer(Nothing("The job is closed. Say resume to open it again."))
        return False
    if state.parked and intent.intent not in WHILE_PARKED:
        turn.answer(Nothing("The job is parked. Say resume to go on."))
        return False
    return True


def _act(turn: Turn, intent: Intent) -> None:
    """Act on a call that is no answer to a question."""
    match intent:
        case it.Reading():
            bench.reading(turn, intent)
        case it.Fluid():
            bench.fluid(turn, intent)
        case it.Level():
            bench.level(turn, intent)
        case it.FluidLeft():
            asking_fluids.how_much_more(turn, intent.fluid)
        case it.FluidGrade():
            asking_fluids.grade(turn, intent.fluid)
        case it.Finding():
            bench.finding(turn, intent)
        case it.Work():
            bench.work(turn, intent)
        case it.Part():
            bench.part(turn, intent)
        case it.FollowUp():
            bench.follow_up(turn, intent)
        case it.Note():
            bench.note(turn, intent)
        case it.Serial():
            bench.serial(turn, intent)
        case it.Help():
            turn.answer(helping.what_can_be_said(turn.state))
        case it.Correction():
            undo.correct(turn, intent)
        case it.TimerStart():
            _start_timer(turn, intent)
        case it.TimerCancel():
            _cancel_timer(turn, intent.name)
        case it.TimerLeft():
            asking.time_left(turn, intent.name)
        case it.Acknowledge():
            _acknowledge(turn)
        case it.TagHang():
            gate.hang_by_call(turn, intent.tag)
        case it.TagClear():
            gate.clear_by_call(turn, intent.tag)
        case it.TagList():
            turn.answer(gate.tags_hanging(turn.state, turn.at))
        case it.StartCheck():
            gate.check_start(turn)
        case it.Step() | it.StepSkip() | it.StepGo():
            walk.walk(turn, intent)
        case it.StepsLeft():
            walk.say_left(turn)
        case it.ReadBack():
            asking.read_back(turn, intent.subject)
        case it.SpecAsk():
            asking.spec(turn, intent.measure)
        case it.HandbookQuestion():
            looking_up.answer(turn, intent)
        case it.Plain():
            _plain(turn, intent.intent)


def _plain(turn: Turn, call: str) -> None:
    match call:
        case "disregard":
            undo.disregard(turn)
        case "say.again":
            asking.say_again(turn)
        case "engine.running":
            gate.engine_runs(turn)
        case "engine.stopped":
            turn.record(ev.EngineStopped())
        case "standby":
            turn.record(ev.Standby())
        case "resume":
            _resume(turn)
        case "job.park":
            turn.record(ev.JobParked())
            if turn.state.tags:
                turn.answer(gate.tags_hanging(turn.state, turn.at))
        case "job.close":
            gate.ask_or_close(turn)


def _resume(turn: Turn) -> None:
    before = turn.state
    if not (before.standby or before.parked or before.closed):
        turn.answer(Nothing("Listening."))
        return
    turn.record(ev.Resumed())
    if before.parked or before.closed:
        for answer in opening(turn.state, at=turn.at).answers:
            turn.answer(answer)


def _start_timer(turn: Turn, call: it.TimerStart) -> None:
    """Start a timer; one that runs under the same name ends, which is recorded."""
    seconds = call.seconds
    if seconds is None:
        usual = timers.usual_length(turn.state, call.name, turn.at)
        if usual is None:
            turn.answer(Nothing(f"How long? Call the {named(call.name)} with its length."))
            return
        seconds = usual.total_seconds()
    running = turn.state.timers.get(call.name)
    if running is not None:
        turn.record(ev.TimerCancelled(name=call.name, replaced=True))
    turn.record(
        ev.TimerStarted(
            name=call.name,
            seconds=seconds,
            due=turn.at + timedelta(seconds=seconds),
            replaces=None if running is None else running.seq,
            usual=call.seconds is None,
        )
    )


def _cancel_timer(turn: Turn, name: str) -> None:
    timer = timers.timer_meant(turn.state, name)
    if timer is not None:
        turn.record(ev.TimerCancelled(name=timer.name))
    elif not turn.state.timers:
        turn.answer(Nothing("No timer runs."))
    elif name == "timer":
        names = ", ".join(other.name for other in timers.by_deadline(turn.state))
        turn.answer(Nothing(f"Which timer? These run: {names}."))
    else:
        turn.answer(Nothing(f"No {named(name)} runs."))


def _acknowledge(turn: Turn) -> None:
    """Quiet the timers that ring; "roger" to anything else needs no answer."""
    for timer in timers.ringing(turn.state):
        turn.record(ev.TimerAcknowledged(name=timer.name))


__all__ = [
    "Response",
    "ask",
    "awaited",
    "beside",
    "decide",
    "expectations",
    "next_deadline",
    "opening",
    "ring_timers",
]
