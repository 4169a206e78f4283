"""A call as somebody looks it over afterwards: what it recorded, and what of that counts now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from companion.job import events as ev
from companion.job.record import Record
from companion.job.state import State
from companion.job.state_values import Fact

_ABOUT_A_CALL = (ev.Correctable, ev.TagHung, ev.TimerStarted, ev.TimerCancelled)
"""What may be named in place of the call that recorded it."""


@dataclass(frozen=True, slots=True)
class ReviewedCall:
    """A call, or one fact of it.

    Attributes:
        record: The number by which it was named.
        heard: What was heard; None of a fact that no call brought.
        fact: The fact, where the number is that of one.
        brought: Everything that the call recorded at the bench, in order.
        set_aside: Numbers of the records that a review set aside.
    """

    record: int
    heard: Record | None
    fact: Record | None
    brought: tuple[Record, ...]
    set_aside: frozenset[int] = frozenset()

    @property
    def said(self) -> str | None:
        """What was heard, in words."""
        event = None if self.heard is None else self.heard.event
        return event.text if isinstance(event, ev.Heard) else None

    @property
    def clip(self) -> str | None:
        """The sound of the call, as a path inside the session folder."""
        event = None if self.heard is None else self.heard.event
        return event.clip if isinstance(event, ev.Heard) else None

    @property
    def clip_sha256(self) -> str | None:
        """Of its file, where the log has it."""
        event = None if self.heard is None else self.heard.event
        return event.clip_sha256 if isinstance(event, ev.Heard) else None

    @property
    def place(self) -> int:
        """Number of the record in whose place it stands where it recorded no fact."""
        return self.record if self.heard is None else self.heard.seq

    def all(self, kind: type[ev.Event]) -> tuple[Record, ...]:
        """What the call recorded of one kind."""
        return tuple(record for record in self.brought if isinstance(record.event, kind))

    def at(self, state: State) -> datetime:
        """Return when the call was made, or the fact came about that no call brought."""
        if self.heard is not None:
            return self.heard.at
        assert self.fact is not None, "it is one or the other"
        kept = state.fact(self.fact.seq)
        return self.fact.at if kept is None else kept.at

    def counting(self, state: State) -> tuple[Fact[Any], ...]:
        """Return the facts of this call that count, or those that a review put in their place.

        Of a fact that is named, that is whatever stands in its place now; of a call, not what a
        later call at the bench put there.
        """
        own = {record.seq for record in self.brought}
        return tuple(
            fact
            for fact in state.effective(self._in_its_places(state))
            if self.fact is not None or fact.event.reviewed is not None or fact.seq in own
        )

    def in_place_of(self, state: State) -> int:
        """Return the number of the record that a correction of this call corrects: what counts,
        else what was there last, else that of what was heard."""
        facts = self.counting(state) or self._in_its_places(state)[-1:]
        return facts[0].seq if facts else self.place

    def bench_fact(self, state: State, place: int) -> Fact[Any] | None:
        """Return what the call itself recorded in a place."""
        own = {record.seq for record in self.brought}
        return next((fact for fact in state.facts if fact.seq in own and fact.place == place), None)

    def taken_back(self, state: State) -> Fact[Any] | None:
        """Return the fact of this call that a later call at the bench set aside or corrected."""
        if self.counting(state):
            return None
        there = self._in_its_places(state)
        own = {record.seq for record in self.brought}
        reviewed = {fact.place for fact in there if fact.seq in self.set_aside}
        mine = (fact for fact in there if fact.seq in own and fact.place not in reviewed)
        return next(mine, None)

    def _in_its_places(self, state: State) -> tuple[Fact[Any], ...]:
        """Every fact that stands or stood where this call's facts do, in the order recorded. A
        step's work is the step's, and not the call's that ended it."""
        if self.fact is not None:
            places = {state.place(self.fact.seq)}
        else:
            own = (
                record.seq
                for record in self.all(ev.Correctable)
                if getattr(record.event, "by", "voice") == "voice"
            )
            places = {self.place, *(state.place(seq) for seq in own)}
        facts = (fact for fact in state.facts if fact.place in places)
        return tuple(sorted(facts, key=lambda fact: fact.seq))


def find_call(records: Sequence[Record], number: int) -> ReviewedCall | None:
    """Return the call that a record is of; None where it is of none.

    Args:
        records: All of the log, in order.
        number: Of the record of what was heard, or of something that a call recorded.
    """
    if not 1 <= number <= len(records):
        return None
    record = records[number - 1]
    event = record.event
    fact = record if isinstance(event, ev.Correctable) else None
    heard: Record | None = record if isinstance(event, ev.Heard) else None
    if heard is None and not isinstance(event, _ABOUT_A_CALL):
        return None
    if event.heard is not None and 1 <= event.heard <= len(records):
        cause = records[event.heard - 1]
        heard = cause if isinstance(cause.event, ev.Heard) else None
    if heard is None and fact is None:
        return None
    brought = tuple(
        other
        for other in records
        if heard is not None and other.event.heard == heard.seq and other.event.reviewed is None
    )
    set_aside = frozenset(
        other.event.record
        for other in records
        if isinstance(other.event, ev.Disregarded) and other.event.reviewed is not None
    )
    return ReviewedCall(number, heard, fact, brought, set_aside)
