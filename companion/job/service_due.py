"""Work that comes back: what of it this job did, and when each is due next.

Whether an item of the sheet was done is read from what was called: fluid drained and filled, work
on a part of that name, a part used, a measure called. What was not called was not done here.
"""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from companion.handbook.units import convert, dimension
from companion.job import fluids
from companion.job.events import EarlierService
from companion.job.read_before import earlier_of
from companion.job.service_items import (
    CHANGES,
    CHECKS,
    FILLS,
    Named,
    Thing,
    actions_of,
    is_measured,
    named_on,
    things,
    verb_of,
)
from companion.job.sheet import SpecService
from companion.job.state import State

ENGINE_HOURS = "engine hours"
"""The measure that an hour meter is called by."""


@dataclass(frozen=True, slots=True)
class ServiceDue:
    """One item of the sheet and when it comes back.

    Attributes:
        service: As the sheet has it.
        done_here: Whether this job did it.
        last_at: When it was last done, here or before; None where nobody knows.
        last_hours: Engine hours then; None where they were not called.
        at_hours: Engine hours at which it is due next, or None.
        on: Day on which it is due next, or None.
        overdue: Whether one of the two is past.
    """

    service: SpecService
    done_here: bool
    last_at: date | None
    last_hours: Decimal | None
    at_hours: Decimal | None
    on: date | None
    overdue: bool


def services_due(state: State, at: datetime) -> tuple[ServiceDue, ...]:
    """Return every item of the sheet that comes back, what is overdue first, then the soonest.

    Args:
        state: The job.
        at: The day from which to look: when the job was worked on last.
    """
    if state.sheet is None:
        return ()
    now, known = engine_hours(state), named_on(state.sheet)
    found = [_due(state, known, service, now, at.date()) for service in state.sheet.service]
    return tuple(sorted(found, key=_rank))


def engine_hours(state: State) -> Decimal | None:
    """Return the engine hours called last, in this job or before it; None where nobody knows."""
    called = [
        (fact.event.value, fact.event.unit) for fact in state.readings.about(ENGINE_HOURS)[-1:]
    ]
    earlier = earlier_of(state, ENGINE_HOURS)
    if not called and earlier is not None:
        called = [(earlier.value, earlier.unit)]
    if not called or dimension(called[-1][1]) != "time":
        return None
    return convert(*called[-1], "hour")


def engine_hours_of_job(state: State) -> Decimal | None:
    """Return the engine hours called in this job, or None."""
    return engine_hours(state) if state.readings.about(ENGINE_HOURS) else None


def serviced(state: State) -> tuple[SpecService, ...]:
    """Return the items of the sheet that this job did."""
    if state.sheet is None:
        return ()
    known = named_on(state.sheet)
    return tuple(service for service in state.sheet.service if _is_done(state, known, service))


def _due(
    state: State, known: Named, service: SpecService, now: Decimal | None, today: date
) -> ServiceDue:
    done_here = _is_done(state, known, service)
    before = None if done_here else _earlier(state, service)
    last_at = today if done_here else None if before is None else before.at.date()
    last_hours = engine_hours_of_job(state) if done_here else before.hours if before else None
    at_hours = None
    if service.first_hours is not None and now is not None and last_at is None:
        # Once, early in the machine's life; from then on the usual interval.
        at_hours = service.first_hours if now < service.first_hours else None
    if at_hours is None and service.hours is not None and last_hours is not None:
        at_hours = last_hours + service.hours
    on = _months_on(last_at, service.months) if last_at and service.months else None
    over_hours = at_hours is not None and now is not None and now >= at_hours
    return ServiceDue(
        service=service,
        done_here=done_here,
        last_at=last_at,
        last_hours=last_hours,
        at_hours=at_hours,
        on=on,
        overdue=not done_here and (over_hours or (on is not None and on <= today)),
    )


def _rank(item: ServiceDue) -> tuple[int, date, Decimal, str]:
    """Overdue, then by date, then by hours alone, then by season, last what is for each use."""
    service = item.service
    if item.overdue:
        group = 0
    elif item.on is not None or item.at_hours is not None or service.hours or service.months:
        group = 1
    else:
        group = 3 if service.each_use else 2
    hours = item.at_hours or service.hours or Decimal("Infinity")
    return group, item.on or date.max, hours, service.item


def _is_done(state: State, known: Named, service: SpecService) -> bool:
    """Whether this job did everything that an item is about."""
    about = things(known, service.item)
    return bool(about) and all(_is_thing_done(state, thing, service.work) for thing in about)


def _is_thing_done(state: State, thing: Thing, work: str) -> bool:
    verb, names = verb_of(work), thing.recorded
    moved = [fluids.balance(state, name) for name in names & set(state.fluids.names)]
    if verb in CHANGES and any(now.emptied and now.filled > 0 for now in moved):
        return True
    # A fluid that is only let out stays out until the season begins.
    if work.lower().strip() == "drain" and any(now.emptied for now in moved):
        return True
    if verb in FILLS and any(now.added > 0 for now in moved):
        return True
    actions = actions_of(work)
    if any(fact.event.action in actions for name in names for fact in state.work.about(name)):
        return True
    if verb in ("change", "replace") and any(
        fact.event.part in names for fact in state.effective(state.parts_used)
    ):
        return True
    # A measure that was called counts as a check; the verdict tells whether an adjustment was
    # needed.
    if verb not in CHECKS:
        return False
    if thing.level or "level" in work.lower().split():
        levels = (fluids.balance(state, name).level for name in names & set(state.levels.names))
        if any(level == "full" for level in levels):
            return True
    last = {
        measure: state.readings.about(measure)[-1].event.verdict
        for measure in state.readings.names
        if is_measured(measure, thing, work)
    }
    # With one valve out of its window the work is not done.
    return bool(last) and all(verdict in ("in", "unknown") for verdict in last.values())


def _earlier(state: State, service: SpecService) -> EarlierService | None:
    return next(
        (
            each
            for each in state.serviced_before
            if (each.item, each.work) == (service.item, service.work)
        ),
        None,
    )


def _months_on(day: date, months: int) -> date:
    """The same day so many months on, or the last of that month where it is shorter."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if year > date.max.year:
        return date.max
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))
