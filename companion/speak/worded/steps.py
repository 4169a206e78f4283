"""Steps of the card, and the cautions spoken at them."""

from __future__ import annotations

from collections.abc import Sequence

from companion.job import events as ev
from companion.job import steps
from companion.job.events import AnyEvent
from companion.job.state import State
from companion.speak.phrases import Phrase, caution, recorded
from companion.speak.worded.words import Table, Words


def _entered_logged(event: ev.StepEntered) -> str:
    against = f" although {'; '.join(event.against)}" if event.against else ""
    return f"step entered: {event.step}{against}"


def _done_said(state: State, event: ev.StepDone, events: Sequence[AnyEvent]) -> tuple[Phrase, ...]:
    # Where a step follows, its number tells it.
    goes_on = any(isinstance(other, ev.StepEntered) for other in events)
    return () if goes_on else (recorded("Step done"),)


def _skipped_logged(event: ev.StepSkipped) -> str:
    return f"step skipped: {event.step}{f' ({event.reason})' if event.reason else ''}"


def _skipped_said(
    state: State, event: ev.StepSkipped, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    why = f", {event.reason}" if event.reason else ""
    return (recorded(f"Skipped: {steps.in_words(event.step)}{why}"),)


def _answered_said(
    state: State, event: ev.StepAnswered, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    return (recorded("Yes" if event.answer == "affirm" else "No"),)


def _ruled_logged(event: ev.StepRuled) -> str:
    return f"step {'applies' if event.applies else 'does not apply'}: {event.step}"


def _ruled_said(
    state: State, event: ev.StepRuled, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    return () if event.applies else (recorded("Not needed"),)


def _caution_said(
    state: State, event: ev.CautionSpoken, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    return (caution(event.text),)


def _name(step: str) -> str:
    return step.replace("-", " ")


STEPS: Table = {
    # What a step says comes as an answer.
    ev.StepEntered: Words(
        _entered_logged, reviewed=lambda event: f"on to step {_name(event.step)}"
    ),
    ev.StepDone: Words(
        lambda event: f"step done: {event.step}",
        _done_said,
        reviewed=lambda event: f"step done: {_name(event.step)}",
    ),
    ev.StepSkipped: Words(_skipped_logged, _skipped_said),
    ev.StepReopened: Words(lambda event: f"step taken up again: {event.step}"),
    ev.StepAnswered: Words(
        lambda event: f"step answered: {event.step}: {event.answer}", _answered_said
    ),
    ev.StepRuled: Words(_ruled_logged, _ruled_said),
    ev.CautionSpoken: Words(lambda event: f"caution: {event.text}", _caution_said),
}
"""The words for steps and cautions."""
