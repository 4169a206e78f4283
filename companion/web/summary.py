"""What a session comes to, for the head of its page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from companion.job.record import worked_until
from companion.job.state_values import Tag
from companion.report import facts, fluid_rows
from companion.report.against import reasons_by_tag, reasons_without_tag
from companion.report.rows import FluidSection, LineRow, ReadingRow, ShoppingRow
from companion.web.shop import View
from companion.web.timeline import Turn

MOST_READINGS = 40
"""Readings listed at the head; where there are more, only the last of each measure is."""


@dataclass(frozen=True, slots=True)
class SignedOff:
    """A sign-off."""

    seq: int
    at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class Summary:
    """What stands at the head of a session's page.

    Attributes:
        machine: Its name, or what to say where there is no sheet.
        job: Title of the card, or what to say where there is none.
        status: Open, parked or closed.
        invented: Whether the machine's figures are made up.
        opened: When it began.
        last: When it was last worked on; a review is no work.
        hanging: The tags that hang, each with why.
        against: What else speaks against a start.
        readings: Those that count; of very many the last of each measure.
        more_readings: How many are left out.
        out: Those of them that were the last of their measure and out of its window.
        fluids: What went out and in.
        drafts: Calls whose note nobody has checked.
        follow_ups: What to come back to.
        needed: Parts to get.
        signed_off: By whom and when, in order.
        changed_since: How many reviews changed something after the last sign-off.
        calls: How many calls there are.
        looked_over: How many of them somebody looked over.
        doubtful: Doubtful calls that nobody has looked over, but for the notes among the drafts.
    """

    machine: str
    job: str
    status: Literal["open", "parked", "closed"]
    invented: bool
    opened: datetime
    last: datetime
    hanging: tuple[tuple[Tag, str], ...]
    against: tuple[str, ...]
    readings: tuple[ReadingRow, ...]
    more_readings: int
    out: tuple[ReadingRow, ...]
    fluids: tuple[FluidSection, ...]
    drafts: tuple[Turn, ...]
    follow_ups: tuple[LineRow, ...]
    needed: tuple[ShoppingRow, ...]
    signed_off: tuple[SignedOff, ...]
    changed_since: int
    calls: int
    looked_over: int
    doubtful: tuple[Turn, ...]


def summary_of(view: View) -> Summary:
    """Return what a session comes to."""
    state, records = view.state, view.records
    origins = facts.origins(records, state)
    readings = [r for r in facts.readings(state, origins) if not r.origin.superseded]
    last = {reading.measure: reading for reading in readings}
    listed = readings if len(readings) <= MOST_READINGS else list(last.values())
    calls = [turn for turn in view.turns if turn.heard is not None and not turn.passed_over]
    return Summary(
        machine=state.machine or "Machine without a spec sheet",
        job=state.card.title if state.card else "Job without a card",
        status="closed" if state.closed else "parked" if state.parked else "open",
        invented=bool(state.sheet and state.sheet.invented),
        opened=records[0].at,
        last=worked_until(records),
        hanging=reasons_by_tag(state),
        against=reasons_without_tag(state),
        readings=tuple(listed),
        more_readings=len(readings) - len(listed),
        out=tuple(each for each in last.values() if each.verdict in ("low", "high")),
        fluids=fluid_rows.fluids(state, origins),
        drafts=tuple(turn for turn in calls if turn.draft),
        follow_ups=tuple(r for r in facts.follow_ups(state, origins) if not r.origin.superseded),
        needed=facts.shopping(state, origins),
        signed_off=tuple(SignedOff(f.seq, f.at, f.event.by) for f in state.signed_off),
        changed_since=state.changed_since_sign_off,
        calls=len(calls),
        looked_over=sum(bool(turn.looked) for turn in calls),
        doubtful=tuple(t for t in calls if t.doubtful and not t.draft and not t.looked),
    )
