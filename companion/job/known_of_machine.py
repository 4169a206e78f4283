"""What the other sessions of a machine say of it: a fold over all of them, in order of time.

A session opens with the outcome, and takes it in anew when it is resumed or the start is asked for,
so that what one job of the machine left off or mended counts in every other.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from companion.job import events as ev
from companion.job import fluids
from companion.job.dangers import dangers
from companion.job.folding.evolve import evolve
from companion.job.record import Record
from companion.job.rules import Rules
from companion.job.state import State
from companion.job.state_values import Fact

MOST_JOBS = 5
"""The most jobs that are not closed that are named."""

MOST_OPEN = 20
"""The most follow-ups and parts needed that are kept; the latest first."""


@dataclass(frozen=True, slots=True)
class OtherSession:
    """Another session of the machine.

    Attributes:
        name: Of its folder.
        opened: When it began.
        last: When its last record was written.
        state: Folded from its log.
    """

    name: str
    opened: datetime
    last: datetime
    state: State


def machine_known(
    others: Sequence[OtherSession],
    rules: Rules,
    *,
    opened: datetime | None = None,
    unread: Iterable[str] = (),
) -> ev.MachineKnown:
    """Fold the other sessions of a machine into what a session must know of them.

    Args:
        others: All of them, in any order.
        rules: What holds the start, and what ends it.
        opened: When the session that this is for was opened, where it is resumed: what was called
            in the others since then counts call by call, since it may have undone what this one
            did. None for a new session.
        unread: Names of sessions of the machine that cannot be read.
    """
    facts = sorted(
        (fact for other in others for fact in _facts_of(other)), key=lambda fact: fact.at
    )
    before = [fact for fact in facts if opened is None or fact.at < opened]
    since = [fact for fact in facts if opened is not None and fact.at >= opened]
    still_counting = sorted(
        _still_counting(before, max(others, key=lambda other: other.last), rules) if others else (),
        key=lambda fact: fact.at,
    )
    jobs = sorted(others, key=lambda other: other.last, reverse=True)
    return ev.MachineKnown(
        facts=(*still_counting, *since),
        unread=tuple(dict.fromkeys(unread)),
        jobs=tuple(
            ev.OtherJob(
                session=other.name,
                title=other.state.card.title if other.state.card is not None else "",
                last=other.last,
                parked=other.state.parked,
            )
            for other in jobs
            if not other.state.closed
        )[:MOST_JOBS],
        open=tuple(sorted(_open(others), key=lambda each: each.at, reverse=True))[:MOST_OPEN],
    )


def state_by_all(others: Sequence[OtherSession], known: ev.MachineKnown) -> State:
    """Return the state of a machine by all its sessions, as a session that opens now would have it.

    Args:
        others: All of them, at least one.
        known: What ``machine_known`` says of them.
    """
    latest = max(others, key=lambda other: other.last)
    rules = latest.state.rules
    start = State(rules, sheet=latest.state.sheet, ounce=latest.state.ounce)
    return evolve(start, Record(1, latest.last, known))


def _facts_of(other: OtherSession) -> Iterator[ev.EarlierFact]:
    """Everything of a session that stays with the machine, with times that never go back."""
    state = other.state
    own: list[Fact[Any]] = [
        *state.effective(state.work),
        *state.effective(state.findings),
        *state.effective(state.fluids),
        *state.effective(state.levels),
        *state.tag_history,
    ]
    latest = other.opened
    for fact in sorted(own, key=lambda fact: fact.place):
        latest = max(latest, fact.at)
        yield ev.EarlierFact(session=other.name, at=latest, event=fact.event)


def _still_counting(
    facts: Sequence[ev.EarlierFact], latest: OtherSession, rules: Rules
) -> Iterator[ev.EarlierFact]:
    """The facts that still stand after all of these, each as one call."""
    state = _knowing(facts, latest, rules)
    for danger in dangers(state):
        event: ev.OfMachine = (
            ev.FindingRecorded(
                part=danger.part, condition=danger.what, count=danger.left, every=danger.every
            )
            if danger.found
            else ev.WorkRecorded(
                part=danger.part, action=danger.what, count=danger.left, every=danger.every
            )
        )
        yield ev.EarlierFact(session=danger.session or latest.name, at=danger.at, event=event)
    hanging = {tag.tag: tag for tag in state.tags}
    for tag in hanging.values():
        yield ev.EarlierFact(
            session=tag.session or latest.name,
            at=tag.at,
            event=ev.TagHung(
                tag=tag.tag, by=tag.by, because=tag.because, step=tag.step, reason=tag.reason
            ),
        )
    for row in rules.dangers.fluids.values():
        # The tag of a fluid whose level need not be known only reminds: once down by "affirm" that
        # is over.
        if row.level_needed or row.tag in hanging:
            yield from _of_fluid(facts, row.fluid, latest, rules)


def _of_fluid(
    facts: Sequence[ev.EarlierFact], fluid: str, latest: OtherSession, rules: Rules
) -> Sequence[ev.EarlierFact]:
    """The calls of a fluid since it was last complete; none where nothing is missing."""
    calls = [
        fact
        for fact in facts
        if isinstance(fact.event, ev.FluidMoved | ev.LevelRead) and fact.event.fluid == fluid
    ]
    for count in range(len(calls), -1, -1):
        if not fluids.balance(_knowing(calls[:count], latest, rules), fluid).missing:
            return calls[count:]
    return calls


def _knowing(facts: Sequence[ev.EarlierFact], latest: OtherSession, rules: Rules) -> State:
    """A state with these facts alone, judged by the latest sheet."""
    start = State(rules, sheet=latest.state.sheet, ounce=latest.state.ounce)
    known = ev.MachineKnown(facts=tuple(facts))
    return evolve(start, Record(1, latest.last, known))


def _open(others: Sequence[OtherSession]) -> Iterator[ev.ToComeBackTo]:
    """Follow-ups of parts that were not worked on since, and parts needed that were not used."""
    worked: dict[str, datetime] = {}
    fitted: dict[str, datetime] = {}
    for other in others:
        for work in other.state.effective(other.state.work):
            part = work.event.part
            worked[part] = max(worked.get(part, work.at), work.at)
            if work.event.action in ("installed", "replaced"):
                fitted[part] = max(fitted.get(part, work.at), work.at)
        for used in other.state.effective(other.state.parts_used):
            part = used.event.part
            fitted[part] = max(fitted.get(part, used.at), used.at)
            worked[part] = max(worked.get(part, used.at), used.at)
    seen: set[tuple[str, bool]] = set()
    for other in sorted(others, key=lambda each: each.last, reverse=True):
        state = other.state
        for follow in reversed(state.effective(state.follow_ups)):
            part = follow.event.part
            if (part, False) not in seen and not _after(worked, part, follow.at):
                seen.add((part, False))
                yield ev.ToComeBackTo(part=part, at=follow.at, session=other.name)
        for needed in reversed(state.effective(state.parts_needed)):
            part, count = needed.event.part, needed.event.count
            if (part, True) not in seen and not _after(fitted, part, needed.at):
                seen.add((part, True))
                yield ev.ToComeBackTo(part=part, count=count, at=needed.at, session=other.name)


def _after(done: dict[str, datetime], part: str, at: datetime) -> bool:
    return part in done and done[part] > at
