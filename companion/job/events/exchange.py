"""What was heard, what was said, and what was asked."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from companion.intent.intents import Intent
from companion.intent.outcome import Figure
from companion.job.events.base import Event
from companion.job.reason import Checked, Filled, Reason


class Rival(BaseModel):
    """Another sentence that the utterance may have been."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

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

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

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
        figure: For ``doubt``, where nothing but the figure of the call is in doubt: that only one
            is asked about (``one``), or which of the first two it was (``either``).
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
    figure: Figure | None = None
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
