"""Everything that can happen in a job, as plain data: what the log keeps and state is made of."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from companion.intent.call import Moment
from companion.intent.intents import SI, ExactDecimal, Intent
from companion.job.reason import Checked, Filled, Reason
from companion.job.remark import Remark


class Event(BaseModel):
    """Frozen; refuses keys it does not know.

    Attributes:
        heard: Number of the record of what was heard, where a call led to this.
        reviewed: Number of the record of the review that led to this; None at the bench.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    heard: int | None = None
    reviewed: int | None = None


class Correctable(Event):
    """What a call told, and what may turn out to be something else.

    Attributes:
        corrects: Number of the record in whose place this one stands: another fact, of whatever
            kind, or the record of a call that was not understood.
    """

    corrects: int | None = None


class Window(BaseModel):
    """What the spec sheet wants of a reading, in the sheet's unit; either end may be open."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    low: ExactDecimal | None = None
    high: ExactDecimal | None = None
    unit: str
    source: str


Verdict = Literal["in", "low", "high", "unknown"]
"""``unknown``: the sheet gives no figure."""


# --- the session itself -------------------------------------------------------------------------
class EarlierReading(BaseModel):
    """What the machine last read of one measure before this session.

    Attributes:
        value: As it was called, in ``unit``.
        verdict: As it was judged then.
        at: When it was recorded.
        session: Name of the session that has it.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    measure: str
    value: ExactDecimal
    unit: str
    verdict: Verdict
    at: Moment
    session: str


class EarlierService(BaseModel):
    """When one item of the sheet's service intervals was last done before this session.

    Attributes:
        item: As the sheet names it, with ``work``.
        at: When.
        hours: Engine hours then; None where they were not called.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    item: str
    work: str
    at: Moment
    hours: ExactDecimal | None = None


class SessionOpened(Event):
    """First record of every log; keeps machine and card as they were, so that it stands alone.

    Attributes:
        air_temperature: What the shop expects, in degrees Celsius, or None.
        earlier: What the machine read last, one of each measure, from the shop's earlier sessions.
        serviced_before: When each item of its service intervals was last done in one of them.
        machine_name: What this very machine is called, where that is not the name of its sheet.
        serial: Its serial number, where it was given at take-in.
    """

    kind: Literal["session.opened"] = "session.opened"
    session: str
    machine: dict[str, Any] | None
    card: dict[str, Any] | None
    call_sign: str
    ounce: Literal["us", "imperial"]
    air_temperature: ExactDecimal | None = None
    software: str
    earlier: tuple[EarlierReading, ...] = ()
    serviced_before: tuple[EarlierService, ...] = ()
    machine_name: str | None = None
    serial: str | None = None


class SessionResumed(Event):
    """The program was started again on this log."""

    kind: Literal["session.resumed"] = "session.resumed"
    software: str


class JobParked(Event):
    """Put aside for hours or days; timers run on."""

    kind: Literal["job.parked"] = "job.parked"


class JobClosed(Event):
    """Finished.

    Attributes:
        instead: The session of another job of the same machine that is gone on with instead.
    """

    kind: Literal["job.closed"] = "job.closed"
    instead: str | None = None


class Standby(Event):
    """The companion stops answering until "resume"; timers still ring."""

    kind: Literal["standby"] = "standby"


class Resumed(Event):
    """Answering again after "stand by"."""

    kind: Literal["resumed"] = "resumed"


class Trouble(Event):
    """A device lost, a torn log line recovered, or the like.

    Attributes:
        left: The session folder in place of whose log this one goes on, as a path; None where it
            is another trouble.
    """

    kind: Literal["trouble"] = "trouble"
    what: str
    left: str | None = None


# --- the exchange -------------------------------------------------------------------------------
class Rival(BaseModel):
    """Another sentence that the utterance may have been."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    text: str
    confidence: float


class Heard(Event):
    """What was heard, before anything is made of it.

    Attributes:
        text: The best hypothesis, or the typed line.
        engine: Recognizer name, or "typed".
        outcome: What was decided, with the reasons.
        clip: The sound, as a path inside the session folder, or None for typed calls.
        clip_sha256: Of that file, in lower-case hex; None where there is none, and in logs from
            before it was kept.
        take: Plain calls near to one that was not understood, as they were named in the answer.
    """

    kind: Literal["heard"] = "heard"
    text: str
    engine: str
    confidence: float
    call_confidence: float
    rivals: tuple[Rival, ...] = ()
    clip: str | None = None
    clip_sha256: str | None = None
    draft: str | None = None
    outcome: Literal["record", "ask", "say-again", "ignore"]
    reasons: tuple[str, ...] = ()
    decode_seconds: float = 0.0
    take: tuple[str, ...] = ()


class Unsaid(BaseModel):
    """A piece of an answer that is still to be said.

    Attributes:
        text: All of it.
        cautions: Those in it, in whole sentences: they are said even if a call comes first.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    text: str
    cautions: tuple[str, ...] = ()


class Said(Event):
    """What the companion answered.

    Attributes:
        source: Where the figures in it are from, if it gave any of the handbook or the sheet.
        rest: The pieces of a long answer that are still to be said after this one.
        goes_on: Whether it is a further piece of the answer before it.
    """

    kind: Literal["said"] = "said"
    text: str
    tone: Literal["recorded", "question", "not-understood", "ring", "warning", "none"]
    source: str | None = None
    rest: tuple[Unsaid, ...] = ()
    goes_on: bool = False


class Asked(Event):
    """A question put, and what "affirm" would do; ``candidates`` are asked about one by one.

    Attributes:
        about: ``doubt`` (was this what you said?), ``clear-tag``, ``start``, ``close``, ``step``
            (mark a step done although something is left), ``disregard`` (an older record, not the
            last call), ``step-question`` (what a step of the card asks), ``applies`` (a step of
            which nobody knows whether it applies), ``enter`` (a step although something that must
            be true before is not), ``other-job`` (go on with a parked job of the same machine),
            ``own-way`` (take words that failed as a way of one's own from now on), ``cannot-be``
            (a value that cannot be, of a measure that only grows), ``review`` (correct or set aside
            after the job what holds the start).
        candidates: For ``doubt``: what was perhaps said, the likeliest first; for ``cannot-be``:
            the reading.
        tag: The tag that "affirm" would take down, for ``clear-tag``.
        then: Further tags to be asked about once this one is answered.
        meaning: What "affirm" means here, in the words of a card or a caution; the other questions
            are put into words from what follows.
        grounds: For ``clear-tag``: the parts for which the tag hangs, and how. For ``review``: what
            would no longer hold the start.
        filled: For ``clear-tag``: what was called of the tag's fluid.
        checked: For ``start``: what calls tell and do not tell.
        still: For ``close``: what stands and stays standing.
        standing: For ``close``: the tags that still hang.
        left: For ``close``: the steps left, in words; for ``step``: the points and readings left.
        step: For ``step``: the step that "affirm" would mark done; for ``clear-tag``: the step
            whose end led to the question, so that the next one follows the answer.
            For ``step-question``, ``applies`` and ``enter``: the step that it is about.
        against: For ``enter``: what should be true before the step and is not, in words.
        record: Number of the record that "affirm" would set aside, for ``disregard``; that the
            reading corrects, for ``cannot-be``; for ``review``, of what is corrected or set aside.
        session: For ``other-job``: the parked session of the same machine to go on with instead.
        own: For ``own-way``: the words that failed.
        plain: For ``own-way``: the phrase of the grammar that they stand for.
    """

    kind: Literal["question.asked"] = "question.asked"
    about: Literal[
        "doubt",
        "clear-tag",
        "start",
        "close",
        "step",
        "disregard",
        "step-question",
        "applies",
        "enter",
        "other-job",
        "own-way",
        "cannot-be",
        "review",
    ]
    candidates: tuple[Intent, ...] = ()
    tag: str | None = None
    then: tuple[str, ...] = ()
    meaning: str | None = None
    grounds: tuple[Reason, ...] = ()
    filled: Filled | None = None
    checked: Checked | None = None
    still: tuple[Reason, ...] = ()
    standing: tuple[str, ...] = ()
    left: tuple[str, ...] = ()
    step: str | None = None
    against: tuple[str, ...] = ()
    record: int | None = None
    session: str | None = None
    own: str | None = None
    plain: str | None = None


class Answered(Event):
    """How the open question ended; ``replaced``: another call came instead of an answer."""

    kind: Literal["question.answered"] = "question.answered"
    answer: Literal["affirm", "negative", "replaced"]


# --- the bench ----------------------------------------------------------------------------------
class ReadingRecorded(Correctable):
    """A reading with its verdict.

    Attributes:
        beyond: How far outside the window, in the spoken unit, positive; None when in or unknown.
        remarks: What else was worth saying of it: how it compares, and whether the engine was as
            warm or cold as the sheet wants.
    """

    kind: Literal["reading"] = "reading"
    measure: str
    value: ExactDecimal
    unit: str
    si: SI
    verdict: Verdict
    window: Window | None = None
    beyond: ExactDecimal | None = None
    remarks: tuple[Remark, ...] = ()


FluidAction = Literal["added", "drained"]


class FluidMoved(Correctable):
    """Fluid drained or added."""

    kind: Literal["fluid"] = "fluid"
    action: FluidAction
    fluid: str
    value: ExactDecimal
    unit: str
    si: SI


class LevelRead(Correctable):
    """A level read."""

    kind: Literal["level"] = "level"
    fluid: str
    level: Literal["full", "low", "over"]


class TimerStarted(Event):
    """A timer; its deadline is a wall-clock instant, so that it survives a restart.

    Attributes:
        by: Whether a call started it or a step that waits.
        replaces: Number of the record that started a running timer of the same name, which this
            one ends.
        usual: Whether no length was called, so that it is the usual one.
    """

    kind: Literal["timer.started"] = "timer.started"
    name: str
    seconds: float
    due: Moment
    by: Literal["voice", "step"] = "voice"
    replaces: int | None = None
    usual: bool = False


class TimerRang(Event):
    """A deadline passed and was announced; ``count`` is 1 for the first ring."""

    kind: Literal["timer.rang"] = "timer.rang"
    name: str
    count: int


class TimerAcknowledged(Event):
    """ "Roger" to a ringing timer."""

    kind: Literal["timer.acknowledged"] = "timer.acknowledged"
    name: str


class TimerCancelled(Event):
    """Stopped by a call; ``replaced``: because another of the same name starts in its place."""

    kind: Literal["timer.cancelled"] = "timer.cancelled"
    name: str
    replaced: bool = False


class ElsewhereRang(Event):
    """A timer of another session rang here.

    Attributes:
        session: Name of that session.
        machine: Its machine.
        name: The timer.
        count: 1 for the first ring.
    """

    kind: Literal["elsewhere.rang"] = "elsewhere.rang"
    session: str
    machine: str
    name: str
    count: int


class ElsewhereAcknowledged(Event):
    """ "Roger" to a timer of another session.

    Attributes:
        session: Name of that session.
        machine: Its machine.
        name: The timer.
        kept: Whether the log of that session has it too.
    """

    kind: Literal["elsewhere.acknowledged"] = "elsewhere.acknowledged"
    session: str
    machine: str
    name: str
    kept: bool


HungBy = Literal["voice", "step", "implied"]
"""What hangs a tag: a call for it, a step of the card, or something else that was called."""


class TagHung(Event):
    """A "do not start" tag.

    Attributes:
        by: What hung it.
        because: Why, where it hung by itself.
        step: The step of the card that hung it, where one did.
        reason: Why, in words, in older logs.
    """

    kind: Literal["tag.hung"] = "tag.hung"
    tag: str
    by: HungBy
    because: tuple[Reason, ...] = ()
    step: str | None = None
    reason: str = ""


class TagCleared(Event):
    """Taken down after a readback and "affirm"."""

    kind: Literal["tag.cleared"] = "tag.cleared"
    tag: str


class StartChecked(Event):
    """The start gate was asked.

    Attributes:
        standing: The tags that hang, the oldest first.
        reasons: Why the gate stays shut.
        known: What calls tell and do not tell.
        not_checked: What nobody called, in words, in older logs.
        checked: What was called, in words, in older logs.
    """

    kind: Literal["start.checked"] = "start.checked"
    standing: tuple[str, ...]
    reasons: tuple[Reason, ...] = ()
    known: Checked | None = None
    not_checked: tuple[str, ...] = ()
    checked: tuple[str, ...] = ()


class StartAffirmed(Event):
    """The person affirmed that they will start; never recorded while a tag hangs."""

    kind: Literal["start.affirmed"] = "start.affirmed"


class EngineRunning(Event):
    """The engine runs.

    Attributes:
        against: The tags that hung all the same.
        reasons: What else spoke against a start.
    """

    kind: Literal["engine.running"] = "engine.running"
    against: tuple[str, ...] = ()
    reasons: tuple[Reason, ...] = ()


class EngineStopped(Event):
    """The engine stands."""

    kind: Literal["engine.stopped"] = "engine.stopped"


StepBy = Literal["opening", "done", "next", "back", "skip", "go"]
"""Which call leads to a step."""

SkipReason = Literal["no parts", "not needed", "later"]
"""Why a step is skipped; a step not needed is settled, the others stay left."""


class StepEntered(Event):
    """A step of the card became the current one.

    Attributes:
        by: Which call led to it.
        against: What should have been true before and was not, in words, as it was affirmed.
    """

    kind: Literal["step.entered"] = "step.entered"
    step: str
    by: StepBy = "next"
    against: tuple[str, ...] = ()


class StepDone(Event):
    """A step was done."""

    kind: Literal["step.done"] = "step.done"
    step: str


class StepSkipped(Event):
    """A step was skipped, knowingly; ``reason`` is None where none was called."""

    kind: Literal["step.skipped"] = "step.skipped"
    step: str
    reason: SkipReason | None = None


class StepReopened(Event):
    """A step that had been skipped is taken up after all."""

    kind: Literal["step.reopened"] = "step.reopened"
    step: str


class StepAnswered(Event):
    """What a step asks was answered."""

    kind: Literal["step.answered"] = "step.answered"
    step: str
    answer: Literal["affirm", "negative"]


class StepRuled(Event):
    """The person said whether a step applies."""

    kind: Literal["step.ruled"] = "step.ruled"
    step: str
    applies: bool


RecordedBy = Literal["voice", "step"]
"""What brings a finding or work: a call, or a step of the card that was called done or answered."""


class FindingRecorded(Correctable):
    """Something wrong with a part, or with so many of them.

    Attributes:
        every: Several were called and no number: all of them.
        by: A call, or the answer to what a step asks.
    """

    kind: Literal["finding"] = "finding"
    part: str
    condition: str
    count: int = 1
    every: bool = False
    by: RecordedBy = "voice"


class WorkRecorded(Correctable):
    """Something done to a part, or to so many of them.

    Attributes:
        every: Several were called and no number: all of them.
        by: A call, or a step of the card that was called done.
    """

    kind: Literal["work"] = "work"
    action: str
    part: str
    count: int = 1
    every: bool = False
    by: RecordedBy = "voice"


class PartNeeded(Correctable):
    """To buy."""

    kind: Literal["part.needed"] = "part.needed"
    part: str
    count: int


class PartUsed(Correctable):
    """Taken from stock and fitted."""

    kind: Literal["part.used"] = "part.used"
    part: str
    count: int


class FollowUpRecorded(Correctable):
    """Still not right: to come back to."""

    kind: Literal["followup"] = "followup"
    part: str


OfMachine = Annotated[
    WorkRecorded | FindingRecorded | FluidMoved | LevelRead | TagHung | TagCleared,
    Field(discriminator="kind"),
]
"""What stays with the machine when its job is over."""


class EarlierFact(BaseModel):
    """Something that another session of the machine has and that counts in this one too.

    Attributes:
        session: Name of that session.
        at: When it was called there.
        event: What.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    session: str
    at: Moment
    event: OfMachine


class OtherJob(BaseModel):
    """Another job of the same machine that is not closed.

    Attributes:
        session: Its name.
        title: Of its card, or empty.
        last: When its last record was written.
        parked: Whether it was parked; otherwise it was left open.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    session: str
    title: str
    last: Moment
    parked: bool


class ToComeBackTo(BaseModel):
    """A follow-up, or a part that is needed, from an earlier session and not seen to since.

    Attributes:
        part: What.
        count: How many are needed; 0 for a follow-up.
        at: When it was called.
        session: Name of that session.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    part: str
    count: int = 0
    at: Moment
    session: str


class MachineKnown(Event):
    """What the other sessions of this machine say of it now; takes the place of the one before.

    Attributes:
        facts: What counts in this session too, in order of time.
        unread: Names of sessions that are of this machine, or may be, and cannot be read.
        jobs: Its other jobs that are not closed, the latest first.
        open: Follow-ups and parts needed of its earlier sessions.
    """

    kind: Literal["machine.known"] = "machine.known"
    facts: tuple[EarlierFact, ...] = ()
    unread: tuple[str, ...] = ()
    jobs: tuple[OtherJob, ...] = ()
    open: tuple[ToComeBackTo, ...] = ()


class NoteKept(Correctable):
    """A spoken note; ``draft`` marks a transcript that nobody has read.

    Attributes:
        about: ``complaint``: what the customer complains of.
        clip_sha256: As in ``Heard``.
    """

    kind: Literal["note"] = "note"
    about: Literal["note", "complaint"] = "note"
    text: str | None
    draft: bool
    clip: str | None = None
    clip_sha256: str | None = None


class SerialRecorded(Correctable):
    """The machine's serial number, as it was spelled or typed."""

    kind: Literal["serial"] = "serial"
    serial: str


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


AnyFact = (
    ReadingRecorded
    | FluidMoved
    | LevelRead
    | FindingRecorded
    | WorkRecorded
    | PartNeeded
    | PartUsed
    | FollowUpRecorded
    | NoteKept
    | SerialRecorded
)
"""What a call may turn out to have told."""


class Disregarded(Event):
    """An earlier record is not to count; it stays in the log.

    Attributes:
        record: Its number.
        restores: Number of the record that counts again, where the one set aside had been a
            correction.
    """

    kind: Literal["disregarded"] = "disregarded"
    record: int
    restores: int | None = None


class CautionSpoken(Event):
    """A caution to be spoken now, and kept so that it is not repeated without reason.

    Attributes:
        caution: Its short name; for a caution of the job card, its text.
        text: What is spoken.
        source: Where it is from, or "common practice".
    """

    kind: Literal["caution"] = "caution"
    caution: str
    text: str
    source: str = "common practice"


# --- after the job ------------------------------------------------------------------------------
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


AnyEvent = Annotated[
    SessionOpened
    | SessionResumed
    | JobParked
    | JobClosed
    | Standby
    | Resumed
    | Trouble
    | Heard
    | Said
    | Asked
    | Answered
    | ReadingRecorded
    | FluidMoved
    | LevelRead
    | TimerStarted
    | TimerRang
    | TimerAcknowledged
    | TimerCancelled
    | ElsewhereRang
    | ElsewhereAcknowledged
    | TagHung
    | TagCleared
    | StartChecked
    | StartAffirmed
    | EngineRunning
    | EngineStopped
    | StepEntered
    | StepDone
    | StepSkipped
    | StepReopened
    | StepAnswered
    | StepRuled
    | FindingRecorded
    | WorkRecorded
    | PartNeeded
    | PartUsed
    | FollowUpRecorded
    | MachineKnown
    | NoteKept
    | SerialRecorded
    | PhotoAdded
    | WorkOrderKept
    | Disregarded
    | CautionSpoken
    | Reviewed
    | SignedOff,
    Field(discriminator="kind"),
]
"""Any event; ``EVENT.validate_python`` reads one back."""

EVENT: TypeAdapter[AnyEvent] = TypeAdapter(AnyEvent)
