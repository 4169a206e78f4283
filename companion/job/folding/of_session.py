"""What opening, parking and closing a session change, and what is heard and said in it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import ValidationError

from companion.errors import CompanionError
from companion.handbook.unit_table import UNITS
from companion.job import events as ev
from companion.job.card import JobCard
from companion.job.folding.changes import Changes
from companion.job.folding.of_facts import fact_of
from companion.job.folding.of_tags import merged_tags
from companion.job.record import Record
from companion.job.sheet import SpecSheet
from companion.job.state import State, replace
from companion.job.state_values import Question


def _session_opened(state: State, event: ev.SessionOpened, record: Record) -> State:
    try:
        sheet = None if event.machine is None else SpecSheet.model_validate(event.machine)
        card = None if event.card is None else JobCard.model_validate(event.card)
        unknown = next(_unknown_units((event.machine, event.card)), None)
    except ValidationError as error:
        where = ".".join(str(part) for part in error.errors(include_input=False)[0]["loc"])
        raise CompanionError(
            f"The job card or spec sheet kept in this log cannot be read at '{where[:80]}'; "
            "open the log with the version of Bench Companion that wrote it."
        ) from error
    if unknown is not None:
        raise CompanionError(
            f"The job card or spec sheet kept in this log has a unit that this version does not "
            f"know, {unknown[:40]!r}; open the log with the version of Bench Companion that wrote "
            "it."
        )
    return replace(
        state,
        session=event.session,
        sheet=sheet,
        card=card,
        call_sign=event.call_sign,
        ounce=event.ounce,
        air_temperature=event.air_temperature,
        earlier=event.earlier,
        serviced_before=event.serviced_before,
        machine_name=event.machine_name,
        serial_given=event.serial or (None if sheet is None else sheet.identification.serial),
    )


def _unknown_units(kept: Any) -> Iterator[str]:
    """Units of a card or sheet, as a log keeps them, that nothing can be reckoned in."""
    if isinstance(kept, dict):
        unit = kept.get("unit")
        if isinstance(unit, str) and unit not in UNITS:
            yield unit
    if isinstance(kept, dict | list | tuple):
        for inner in kept.values() if isinstance(kept, dict) else kept:
            yield from _unknown_units(inner)


def _machine_known(state: State, event: ev.MachineKnown, record: Record) -> State:
    state = replace(state, known=fact_of(event, record))
    tags, cleared = merged_tags(state)
    return replace(state, tags=tags, cleared=cleared)


def _trouble(state: State, event: ev.Trouble, record: Record) -> State:
    return replace(state, troubles=state.troubles.followed_by(event.what))


def _heard(state: State, event: ev.Heard, record: Record) -> State:
    return replace(state, last_heard=fact_of(event, record))


def _said(state: State, event: ev.Said, record: Record) -> State:
    if not event.text:
        return state
    cut = fact_of(event, record) if event.rest else None
    if event.goes_on:
        return replace(state, cut=cut)
    said = (event.text, *(piece.text for piece in event.rest))
    # What is said again keeps its source.
    kept = state.last_source if " ".join(said) == " ".join(state.last_said) else None
    return replace(state, cut=cut, last_said=said, last_source=event.source or kept)


def _asked(state: State, event: ev.Asked, record: Record) -> State:
    heard = state.last_heard
    if heard is None or heard.seq != event.heard:
        # A question put again, or about a rival, keeps what was heard before it was first put.
        before = state.question or state.last_question
        same = before is not None and before.event.heard == event.heard
        heard = before.heard if before is not None and same else None
    question = Question(record.seq, record.at, event, heard)
    return replace(state, question=question, last_question=question)


def _photo(state: State, event: ev.PhotoAdded, record: Record) -> State:
    return replace(state, photos=state.photos.followed_by(fact_of(event, record)))


def _work_order(state: State, event: ev.WorkOrderKept, record: Record) -> State:
    return replace(
        state,
        customer=state.customer if event.customer is None else event.customer,
        work_order=state.work_order if event.number is None else event.number,
    )


CHANGES: Changes = {
    ev.SessionOpened: _session_opened,
    ev.Trouble: _trouble,
    ev.Heard: _heard,
    ev.Said: _said,
    ev.Asked: _asked,
    ev.MachineKnown: _machine_known,
    ev.PhotoAdded: _photo,
    ev.WorkOrderKept: _work_order,
}
"""What each kind of event of a session, its exchange and its papers changes."""
