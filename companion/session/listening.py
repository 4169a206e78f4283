"""What the decision about a call needs to know of the session it is made in."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from companion.intent.outcome import Listening
from companion.job import decide as job
from companion.job.state import State
from companion.job.steps import awaits_answer
from companion.job.undo import correctable

ANSWER_WINDOW = timedelta(seconds=20)
"""How long after a question an answer needs no call sign."""


def how_to_listen(
    state: State, at: datetime, *, spoken: bool, open_mic: bool, used: Mapping[str, int]
) -> Listening:
    """Return how a call is to be taken.

    Args:
        state: Before the call.
        at: When it ended.
        spoken: Whether it was said, and not typed.
        open_mic: Whether a spoken call must begin with the call sign.
        used: How often whoever works has used each form of a call.
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
    )
