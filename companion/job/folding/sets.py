"""Events that only set fields: a row a kind, instead of a function each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from companion.job import events as ev
from companion.job.folding.changes import Changes
from companion.job.record import Record
from companion.job.state import State, replace


@dataclass(frozen=True, slots=True)
class Sets:
    """Which fields an event sets.

    Attributes:
        to: By field, what it is set to.
        from_event: By field, the field of the event that has it.
        to_number: Fields that are set to the number of the record.
    """

    to: Mapping[str, Any] = field(default_factory=dict)
    from_event: Mapping[str, str] = field(default_factory=dict)
    to_number: tuple[str, ...] = ()

    def fields_of(self, record: Record) -> dict[str, Any]:
        """Return the fields that this record sets, with their values."""
        told = {name: getattr(record.event, source) for name, source in self.from_event.items()}
        return {**self.to, **told, **dict.fromkeys(self.to_number, record.seq)}


_OF_STATE: Mapping[type[ev.Event], Sets] = {
    # A "yes" after a restart would answer a question that nobody remembers.
    ev.SessionResumed: Sets({"standby": False, "parked": False, "closed": False, "question": None}),
    ev.Standby: Sets({"standby": True, "question": None}),
    ev.Resumed: Sets({"standby": False, "parked": False, "closed": False}),
    ev.JobParked: Sets({"parked": True, "question": None}, to_number=("last_call",)),
    ev.JobClosed: Sets(
        {"closed": True, "question": None}, {"go_on_with": "instead"}, to_number=("last_call",)
    ),
    ev.Answered: Sets({"question": None}),
    ev.StartAffirmed: Sets(to_number=("start_affirmed", "last_call")),
}
"""Of the state as a whole."""

MARKS: Mapping[type[ev.Event], Sets] = {
    ev.StepDone: Sets({"skipped": None, "reason": None}, to_number=("done",)),
    ev.StepSkipped: Sets({}, {"reason": "reason"}, to_number=("skipped",)),
    ev.StepReopened: Sets({"skipped": None, "reason": None}),
    ev.StepAnswered: Sets({}, {"answer": "answer"}),
    ev.StepRuled: Sets({}, {"applies": "applies"}),
}
"""Of the mark of one step."""


def _set(state: State, event: ev.Event, record: Record) -> State:
    return replace(state, **_OF_STATE[type(event)].fields_of(record))


CHANGES: Changes = dict.fromkeys(_OF_STATE, _set)
"""What each kind of event changes that only sets fields of the state."""
