"""What the decision about a call needs to know of the session it is made in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from companion.intent import intents as it
from companion.intent.outcome import Decision, Hearing, Listening
from companion.job import decide as job
from companion.job.questions import HOLDS
from companion.job.state import State
from companion.job.steps import awaits_answer
from companion.job.undo import correctable

ANSWER_WINDOW = timedelta(seconds=20)
"""How long after a question an answer needs no call sign."""

AGAIN_WITHIN = timedelta(seconds=20)
"""How long after a call that was not recorded the next one may be the same call said again; our own
figure: question, thought and answer take about ten."""


@dataclass(frozen=True, slots=True)
class HeardBefore:
    """The last call, where it was asked about or was to be said again.

    Attributes:
        at: When it ended.
        hearing: What it may have been.
    """

    at: datetime
    hearing: Hearing


def heard_before(
    decision: Decision, before: HeardBefore | None, at: datetime
) -> HeardBefore | None:
    """Return what is kept of a call in case that it is said again.

    Args:
        decision: What became of it.
        before: What was kept of the one before it. Talk that was ignored is no call, and changes
            nothing.
        at: When it ended.
    """
    if decision.outcome == "ignore":
        return before
    if decision.outcome == "record" or decision.hearing is None:
        return None
    return HeardBefore(at, decision.hearing)


def how_to_listen(
    state: State,
    at: datetime,
    *,
    spoken: bool,
    open_mic: bool,
    used: Mapping[str, int],
    before: HeardBefore | None = None,
) -> Listening:
    """Return how a call is to be taken.

    Args:
        state: Before the call.
        at: When it ended.
        spoken: Whether it was said, and not typed.
        open_mic: Whether a spoken call must begin with the call sign.
        used: How often whoever works has used each form of a call.
        before: The call just before it, where that was not recorded.
    """
    asked_at = state.question.at if state.question is not None else None
    name, unit = correctable(state) or (None, None)
    answering = asked_at is not None and at - asked_at <= ANSWER_WINDOW
    return Listening(
        call_sign_needed=spoken and open_mic and not answering,
        # Whoever types "yes" where nothing was asked is told so; a "yes" that is heard may be for
        # somebody else.
        answer_awaited=asked_at is not None or not spoken or awaits_answer(state) is not None,
        ounce=state.ounce,
        expectations=job.expectations(state),
        correcting=name,
        correcting_unit=unit,
        awaited=job.awaited(state),
        used=used,
        open_mic=spoken and open_mic,
        doubted=_doubted(state, at),
        before=before.hearing if before and spoken and at - before.at <= AGAIN_WITHIN else None,
    )


def _doubted(state: State, at: datetime) -> tuple[it.Intent, ...]:
    """The readings or volumes that the open question is about, while it holds."""
    question = state.question
    if question is None or question.event.about != "doubt" or at - question.at > HOLDS:
        return ()
    candidates = question.event.candidates
    values = all(isinstance(each, it.Reading | it.Fluid) for each in candidates)
    return candidates if values else ()
