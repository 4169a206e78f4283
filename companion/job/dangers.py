"""What is off, open, loose or unfit on the machine: a fold over what was called of it.

Each entry lasts from the call that made it until the call that ends it, in whatever sessions of the
machine the two were made; ``danger_table`` says what each call does.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from companion.job.danger_table import SEVERAL, DangerTable, names
from companion.job.days_apart import days_between
from companion.job.events import FindingRecorded, WorkRecorded
from companion.job.order_of_time import fold_in_order_of_time
from companion.job.reason import Reason
from companion.job.state import State
from companion.job.state_values import Fact

SIDES = frozenset({"left", "right", "front", "rear", "upper", "lower"})
"""Words that tell one of several from the others."""


@dataclass(frozen=True, slots=True)
class Danger:
    """A part that holds the start.

    Attributes:
        part: As it was called.
        what: The action or the condition that was called.
        found: Whether it was a finding; otherwise work.
        back: What ends it, the plainest first.
        tag: The tag that hangs for it; None where it holds by its name alone.
        left: How many are left.
        of: How many there were.
        every: Several without a number.
        at: Since when.
        seq: Number of the record, in this session: of another session's, that of ``MachineKnown``.
        session: The other session, or None.
    """

    part: str
    what: str
    found: bool
    back: tuple[str, ...]
    tag: str | None
    left: int
    of: int
    every: bool
    at: datetime
    seq: int
    session: str | None

    def reason(self, at: datetime | None = None) -> Reason:
        """Return it as a value for the log; ``at`` is the time from which days are counted back."""
        return Reason(
            about="finding" if self.found else "work",
            what=self.what,
            name=self.part,
            back=self.back[0],
            tag=self.tag,
            left=self.left,
            of=self.of,
            every=self.every,
            since=self.at,
            session=self.session,
            days=0 if at is None or self.session is None else days_between(self.at, at),
        )


@dataclass(frozen=True, slots=True)
class Called:
    """Work or a finding, with where and when it was called."""

    event: WorkRecorded | FindingRecorded
    at: datetime
    seq: int
    session: str | None = None


def dangers(state: State) -> tuple[Danger, ...]:
    """Return what holds the start by a part, in the order in which it was called."""
    table, counts = state.rules.dangers, known_counts(state)

    def further(open_dangers: Dangers, fact: Fact[Any]) -> Dangers:
        if not isinstance(fact.event, WorkRecorded | FindingRecorded):
            return open_dangers
        called = Called(fact.event, fact.at, fact.seq, fact.session)
        return _after(open_dangers, called, table, counts)

    nothing: Dangers = {}
    open_dangers = fold_in_order_of_time(
        state,
        state.of_parts,
        "dangers",
        nothing,
        further,
        holding=(table, state.card, state.sheet),
    )
    return tuple(open_dangers.values())


def known_counts(state: State) -> dict[str, int]:
    """Return how many there are of what the sheet or the card counts: four head bolts."""
    counts = {}
    for step in () if state.card is None else state.card.step:
        counts.update({part.name: part.count for part in step.parts if part.count > 1})
        counts.update({tally.point: tally.count for tally in step.tally})
    for torque in () if state.sheet is None else state.sheet.torque:
        if torque.count is not None:
            counts[torque.fastener] = torque.count
    return counts


def replay(
    calls: Iterable[Called], table: DangerTable, counts: dict[str, int] | None = None
) -> tuple[Danger, ...]:
    """Fold what was called of a machine.

    Args:
        calls: In order of time.
        table: What each does.
        counts: By part, how many there are, where that is known.
    """
    open_dangers: Dangers = {}
    for called in calls:
        open_dangers = _after(open_dangers, called, table, counts or {})
    return tuple(open_dangers.values())


Dangers = Mapping[tuple[str, str], Danger]
"""The dangers that stand, by part and by what was called of it."""


def _after(
    before: Dangers, called: Called, table: DangerTable, counts: Mapping[str, int]
) -> Dangers:
    """The dangers that stand after one more call."""
    event = called.event
    open_dangers = dict(before)
    if isinstance(event, FindingRecorded):
        found = table.found(event.part, event.condition)
        if found.harmless is None:
            _open(open_dangers, called, event.condition, found.mended_by, found.tag)
        return open_dangers
    _end(open_dangers, event, counts)
    work = table.work(event.part, event.action)
    if work.harmless is None and work.left is not None:
        _open(open_dangers, called, work.left, work.back, work.tag)
    return open_dangers


def _open(
    open_dangers: dict[tuple[str, str], Danger],
    called: Called,
    left: str,
    back: tuple[str, ...],
    tag: str | None,
) -> None:
    event = called.event
    found = isinstance(event, FindingRecorded)
    key = (event.part, left)
    before = open_dangers.pop(key, None)
    count, total = event.count, event.count
    if before is not None:
        # A second call of a bolt is of another bolt; of other parts it is the same call repeated.
        another = not found and event.by == "voice" and names(SEVERAL, event.part)
        count = before.left + count if another else max(before.left, count)
        total = before.of + event.count if another else max(before.of, count)
    open_dangers[key] = Danger(
        part=event.part,
        what=event.condition if isinstance(event, FindingRecorded) else event.action,
        found=found,
        back=back,
        tag=tag,
        left=count,
        of=total,
        every=event.every or (before is not None and before.every),
        at=called.at if before is None else before.at,
        seq=called.seq,
        session=called.session,
    )


def _end(
    open_dangers: dict[tuple[str, str], Danger], event: WorkRecorded, counts: Mapping[str, int]
) -> None:
    # A step of the card does its work to all of them, and so does a call that says "all".
    every = event.every or event.by == "step"
    for key, danger in list(open_dangers.items()):
        same = danger.part == event.part or (every and _one_of(danger.part, event.part))
        if not same or event.action not in danger.back:
            continue
        done = danger.left if every else event.count
        if danger.every:
            # How many there are only the sheet or the card may say. Of bolts, wheels and the like
            # two may not be all; of other parts the called number is all.
            of = counts.get(danger.part)
            all_of_them = not names(SEVERAL, danger.part) and done > 1 if of is None else done >= of
            if every or all_of_them:
                del open_dangers[key]
            continue
        if done >= danger.left:
            del open_dangers[key]
        else:
            open_dangers[key] = replace(danger, left=danger.left - done)


def _one_of(part: str, several: str) -> bool:
    """Whether a part is one of these with a side to it: the left wheel, of the wheels."""
    side, _, name = part.rpartition(f" {several}")
    return not name and bool(side) and all(word in SIDES for word in side.split())


def of_tag(state: State, tag: str) -> tuple[Danger, ...]:
    """Return the parts for whose sake a tag must hang, in the order they were called."""
    return tuple(danger for danger in dangers(state) if danger.tag == tag)
