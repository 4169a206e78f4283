"""What is left of an answer when something else is said: it is not lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from companion.job.answers import Answer, SayAgain
from companion.job.events import AnyEvent
from companion.job.state import State
from companion.speak.wording import Reply


def then_the_rest(reply: Reply, state: State) -> Reply:
    """Return a reply that is no answer to a call: it takes nothing away from the answer that it
    comes between."""
    return replace(reply, rest=(*reply.rest, *state.unsaid))


def warned(reply: Reply | None, warning: str | None, state: State) -> Reply | None:
    """Return a reply with a warning before it.

    Args:
        reply: What is said otherwise, or None.
        warning: What happened to the log, or None.
        state: As it stands.
    """
    if warning is None:
        return reply
    if reply is None:
        return then_the_rest(Reply("warning", warning), state)
    return replace(reply, tone="warning", text=f"{warning} {reply.text}")


def cautions_left(
    state: State,
    events: Sequence[AnyEvent],
    answers: Sequence[Answer],
    cut_short: Sequence[str] = (),
) -> tuple[str, ...]:
    """Return, of what is still unsaid, the cautions: a step can be asked for again, and nobody asks
    for a caution that was never heard.

    Args:
        state: Before what is answered.
        events: What is recorded.
        answers: What is answered; an answer said again brings its cautions itself.
        cut_short: Cautions of the piece that was being said when the call came.
    """
    if not (events or answers) or any(isinstance(each, SayAgain) for each in answers):
        return ()
    return (*cut_short, *(text for piece in state.unsaid for text in piece.cautions))
