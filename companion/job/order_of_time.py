"""Facts of this session among those of the machine's other sessions, in order of time."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any, TypeVar

from companion.job.ledger import Ledger
from companion.job.state import State
from companion.job.state_values import Fact

Folded = TypeVar("Folded")


def in_order_of_time(state: State, facts: Iterable[Fact[Any]]) -> list[Fact[Any]]:
    """Put facts of this session among those that the other sessions of the machine have.

    Facts of one session keep their order, whatever a clock was set to in between.
    """
    own = sorted(facts, key=lambda fact: fact.place)
    known = state.known
    if known is None:
        return own
    others = [
        Fact(known.seq, each.at, each.event, known.seq, each.session) for each in known.event.facts
    ]
    if not others:
        return own
    latest = own[0].at if own else others[0].at
    timed: list[tuple[datetime, Fact[Any]]] = [(fact.at, fact) for fact in others]
    for fact in own:
        latest = max(latest, fact.at)
        timed.append((latest, fact))
    return [fact for _, fact in sorted(timed, key=lambda entry: entry[0])]


def fold_in_order_of_time(
    state: State,
    facts: Ledger[Fact[Any]],
    name: str,
    begin: Folded,
    step: Callable[[Folded, Fact[Any]], Folded],
    *,
    holding: tuple[Any, ...] = (),
) -> Folded:
    """Go through facts of this session among those that the other sessions of the machine have, in
    the order of ``in_order_of_time``; what was gone through before is not gone through again.

    Args:
        state: The job.
        facts: Of this session, by place.
        name: Of the fold.
        begin: What it is before the first.
        step: Gives what it is after one more; must change nothing.
        holding: What else it depends on, besides what is known of the other sessions.
    """
    known = state.known
    if known is None:
        return facts.fold(name, begin, step, holding=(None, *holding))
    others = sorted(
        (
            Fact(known.seq, each.at, each.event, known.seq, each.session)
            for each in known.event.facts
        ),
        key=lambda fact: fact.at,
    )

    def further(
        so_far: tuple[Folded, int, datetime | None], fact: Fact[Any]
    ) -> tuple[Folded, int, datetime | None]:
        value, taken, latest = so_far
        latest = fact.at if latest is None else max(latest, fact.at)
        while taken < len(others) and others[taken].at <= latest:
            value = step(value, others[taken])
            taken += 1
        return step(value, fact), taken, latest

    start: tuple[Folded, int, datetime | None] = (begin, 0, None)
    value, taken, _ = facts.fold(name, start, further, holding=(known.event, *holding))
    for fact in others[taken:]:
        value = step(value, fact)
    return value
