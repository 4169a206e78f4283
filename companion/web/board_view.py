"""What the board on the wall shows, worked out from the job, the running program and the time.

Everything shown is what the bench says too: the gate's own reasons, the question as it was spoken,
the answer of "help".
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from companion.handbook.convert import plain
from companion.handbook.units import UnknownUnit, dimension
from companion.job import gate, helping, steps
from companion.job.card import CardStep
from companion.job.events import ReadingRecorded, Said
from companion.job.reason import Reason
from companion.job.state import State
from companion.job.timers import by_deadline
from companion.log.live_status import SILENT_AFTER, LiveStatus
from companion.report.figures import figure, window_text
from companion.speak.answer_words import answer_phrases
from companion.speak.questions import question_phrase
from companion.speak.reason_words import NEVER_CHECKED, reason_lines, unknown_words
from companion.speak.speakable import sentence

Listens = Literal["yes", "later", "no"]
"""Whether a call would be heard now: yes, only after something else, or no."""


@dataclass(frozen=True, slots=True)
class Listening:
    """Whether it listens.

    Attributes:
        listens: In short; decides the sign and the color, which tell nothing that the words do not.
        words: One or two, read from afar.
        more: What to do, or since when; may be empty.
    """

    listens: Listens
    words: str
    more: str = ""


@dataclass(frozen=True, slots=True)
class StepShown:
    """A step of the card.

    Attributes:
        place: From 1.
        name: In words.
        say: As it is spoken.
        cautions: In whole sentences, each with that word before it.
        left: Points and readings that it still lacks, all of them.
        finished: Whether nothing of it is left to do.
    """

    place: int
    name: str
    say: str
    cautions: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    finished: bool = False


@dataclass(frozen=True, slots=True)
class Hold:
    """Something that holds the start.

    Attributes:
        tag: The tag that hangs; None where it holds without one.
        why: In the gate's own words.
    """

    tag: str | None
    why: str


@dataclass(frozen=True, slots=True)
class Start:
    """What stands against a start.

    Attributes:
        words: What to do, or that nothing called holds it; never that a start is safe.
        holds: Tags first, the oldest first.
        unknown: What no call told of; named where nothing holds the start.
    """

    words: str
    holds: tuple[Hold, ...]
    unknown: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TimerShown:
    """A timer that runs or rings.

    Attributes:
        name: Its name.
        due: Its deadline.
        rings: Whether it has rung and was not acknowledged.
    """

    name: str
    due: datetime
    rings: bool


@dataclass(frozen=True, slots=True)
class ReadingShown:
    """The last reading that counts.

    Attributes:
        words: As it was called: ``gap 40 thou``.
        verdict: Against the sheet, in words; empty of engine hours, of which nobody wants anything.
        amiss: Whether it is out of its window.
        wanted: What the sheet wants; empty where it gives nothing.
        at: When.
    """

    words: str
    verdict: str
    amiss: bool
    wanted: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Readback:
    """The last answer.

    Attributes:
        heard: What it answers, as it was heard; None where nobody called, or it was not understood
            enough to be kept.
        said: The answer, whole.
        outcome: What became of the call, in a word or two; empty where nothing did.
        amiss: Whether it was not taken.
    """

    heard: str | None
    said: str
    outcome: str = ""
    amiss: bool = False


@dataclass(frozen=True, slots=True)
class Board:
    """All of it.

    Attributes:
        machine: Its name, or that there is none.
        job: Title of the card, or that there is none.
        steps: How many steps the card has; 0 without one.
        ended: ``parked`` or ``closed``; empty while the job is open.
    """

    machine: str
    job: str
    steps: int
    ended: Literal["", "parked", "closed"]
    listening: Listening
    step: StepShown | None
    next: StepShown | None
    start: Start
    timers: tuple[TimerShown, ...]
    question: str | None
    reading: ReadingShown | None
    readback: Readback | None
    help: str


def board_of(
    state: State, live: LiveStatus | None, at: datetime, said: Said | None = None
) -> Board:
    """Work out what the board shows.

    Args:
        state: The job, folded from its log.
        live: What the program that works on it does; None where none does.
        at: Now, in the shop's time.
        said: The last answer of the log that is no further piece of one before it; tells what
            ``state.last_said`` answers.
    """
    here = steps.current(state)
    following = steps.next_open(state, here) if state.card is not None else None
    return Board(
        machine=state.machine or "No machine named",
        job=state.card.title if state.card is not None else "No job card",
        steps=len(steps.all_steps(state)),
        ended="closed" if state.closed else "parked" if state.parked else "",
        listening=listening_of(state, live, at),
        step=None if here is None else _step(state, here),
        next=None if following is None else _step(state, following),
        start=start_of(state, at),
        timers=tuple(
            TimerShown(timer.name, timer.due, bool(timer.rings)) for timer in by_deadline(state)
        ),
        question=(
            None if state.question is None else question_phrase(state, state.question.event).text
        ),
        reading=_reading(state),
        readback=_readback(state, said),
        help=" ".join(
            phrase.text for phrase in answer_phrases(state, helping.what_can_be_said(state))
        ),
    )


def listening_of(state: State, live: LiveStatus | None, at: datetime) -> Listening:
    """Say whether a call would be heard now.

    What cannot be known counts as no: a board that says "listening" to nobody costs a reading.

    Args:
        state: The job.
        live: What the program that runs it said last; None where none runs.
        at: The time, with its offset from UTC.
    """
    if live is None:
        ended = "The job is parked." if state.parked else "The job is closed."
        away = ended if state.parked or state.closed else "Nothing said now is recorded."
        return Listening("no", "Not running", away)
    if live.sign is not None and at - live.sign > SILENT_AFTER:
        since = live.sign.astimezone(at.tzinfo)
        return Listening("no", "Not answering", f"No sign of life since {since:%H:%M:%S}.")
    match live.mode:
        case "no microphone":
            return Listening("no", "Microphone gone", "Plug it in again; typed calls go on.")
        case None:
            return Listening("no", "Not known", "It runs; whether it listens is not known.")
    if state.standby:
        return Listening("later", "Standing by", "Say resume to go on.")
    match live.mode:
        case "speaking":
            return Listening("later", "Speaking", "It hears nothing until it has spoken.")
        case "key":
            return Listening("later", "Waits for the key", "Press it, then speak.")
        case "typed":
            return Listening("later", "Takes typed calls", "No microphone is used.")
        case "listening":
            return Listening("yes", "Listening", f"Begin with: {state.call_sign}.")


def start_of(state: State, at: datetime) -> Start:
    """Say what stands against a start, as the gate would answer now."""
    reasons = gate.reasons_against_start(state, at)
    hanging = tuple(tag.tag for tag in state.tags)
    # A line for each, so that the words are the gate's and the tag can stand out.
    holds = [_of_tag(tag, [each for each in reasons if each.tag == tag]) for tag in hanging]
    rest = [each for each in reasons if each.tag not in hanging]
    holds.extend(Hold(None, sentence(line)) for line in reason_lines(rest))
    runs_only = state.engine_running and all(each.about == "engine" for each in reasons)
    if runs_only:
        words = "Engine running"
    elif state.engine_running:
        words = "Stop the engine"
    elif holds:
        words = "Do not start"
    else:
        words = "No tag hangs"
    return Start(
        words=words,
        holds=tuple(holds),
        unknown=() if holds else (*unknown_words(gate.checked(state)), *NEVER_CHECKED),
    )


def _of_tag(tag: str, reasons: list[Reason]) -> Hold:
    (line,) = reason_lines(reasons) or (f"tag {tag}: it hangs",)
    return Hold(tag, sentence(line.removeprefix(f"tag {tag}: ")))


def _step(state: State, step: CardStep) -> StepShown:
    finished = steps.is_finished(state, step)
    is_current = state.step == step.name
    return StepShown(
        place=steps.place(state, step),
        name=steps.in_words(step.name),
        say=sentence(step.say),
        cautions=tuple(f"Caution. {sentence(text)}" for text in step.cautions),
        left=steps.left_of(state, step) if is_current and not finished else (),
        finished=finished,
    )


def _reading(state: State) -> ReadingShown | None:
    readings = state.effective(state.readings)
    if not readings:
        return None
    fact = max(readings, key=lambda each: each.seq)
    event = fact.event
    return ReadingShown(
        words=f"{event.measure} {figure(event.value, event.unit, state.ounce).called}",
        verdict="" if _is_time(event.unit) else _verdict(event),
        amiss=event.verdict in ("low", "high"),
        wanted=window_text(event.window, state.ounce),
        at=fact.at,
    )


def _readback(state: State, answer: Said | None) -> Readback | None:
    if not state.last_said:
        return None
    said = " ".join(state.last_said)
    last = state.last_heard
    if last is None or answer is None or answer.heard != last.seq:
        # The clock or a device brought it: it answers nobody.
        return Readback(None, said)
    heard = last.event
    if heard.outcome == "ignore":
        return Readback(None, said)
    outcome, amiss = {
        "record": ("taken", False),
        "ask": ("asked about", False),
        "say-again": ("not taken: say again", True),
    }[heard.outcome]
    return Readback(heard.text or None, said, outcome, amiss)


def _verdict(event: ReadingRecorded) -> str:
    """The verdict without the unit, which stands before it."""
    if event.verdict == "unknown":
        return "no figure"
    by = "" if event.beyond is None else f" by {plain(event.beyond)}"
    return f"{event.verdict}{by}"


def _is_time(unit: str) -> bool:
    try:
        return dimension(unit) == "time"
    except UnknownUnit:
        # A log of a newer version may hold it.
        return False
