"""A job at a glance, before its evidence: found, done, out of window, still to come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from companion.handbook.units import UnknownUnit
from companion.job.lines import several
from companion.job.service_due import services_due
from companion.job.state import State
from companion.report.figures import figure, verdict_text, window_text
from companion.report.rows import Origin, StepRow
from companion.report.watching import Found, found, last_readings
from companion.report.work_done import counts_of, done, filled, replaced

STEPS_NAMED = 4
"""How many of the steps left are named; of more only their number is told."""


@dataclass(frozen=True, slots=True)
class Outside:
    """A reading that was out of its window.

    Attributes:
        origin: Of the last reading of the measure.
        measure: Which.
        called: The last one, as it was called.
        verdict: Of it, or what it was before it was put right.
        wanted: The window, in the unit called.
        still: Whether it is out as it was left.
    """

    origin: Origin
    measure: str
    called: str
    verdict: str
    wanted: str
    still: bool


@dataclass(frozen=True, slots=True)
class ToCome:
    """Something left to do: in which section of the page it stands, and what."""

    section: str
    text: str


@dataclass(frozen=True, slots=True)
class Summary:
    """A job at a glance.

    Attributes:
        found: What was found, and what ended it.
        done: What was done, a line each.
        outside: Readings out of their windows, those still out first.
        inside: How many measures were left within their windows.
        to_come: What is left.
    """

    found: tuple[Found, ...]
    done: tuple[str, ...]
    outside: tuple[Outside, ...]
    inside: int
    to_come: tuple[ToCome, ...]


def summary(
    state: State, origins: dict[int, Origin], steps: tuple[StepRow, ...], last: datetime
) -> Summary:
    """Return a job at a glance.

    Args:
        state: Of the job.
        origins: From ``facts.origins``.
        steps: From ``facts.steps``.
        last: When its last record was written; what is overdue is so by then.
    """
    readings = last_readings(state)
    return Summary(
        found=found(state),
        done=_done(state, steps),
        outside=_outside(state, origins),
        inside=sum(facts[-1].event.verdict == "in" for facts in readings),
        to_come=_to_come(state, steps, last),
    )


def _done(state: State, steps: tuple[StepRow, ...]) -> tuple[str, ...]:
    lines = []
    parts = [part if not count or count < 2 else f"{count} {several(part, count)}"
             for part, count in replaced(state)]  # fmt: skip
    if parts:
        lines.append(f"Replaced: {', '.join(parts)}")
    lines += [f"{action.capitalize()}: {', '.join(parts)}" for action, parts in done(state)]
    try:
        lines += [f"{fluid.capitalize()}: {what}" for fluid, what in filled(state) if what]
    except UnknownUnit:
        lines.append("Fluids: with a unit that this version does not know")
    if steps:
        ended = sum(step.mark == "done" for step in steps)
        spared = sum(step.mark == "not applying" or step.why == "not needed" for step in steps)
        rest = f", {spared} not needed" if spared else ""
        lines.append(f"Steps of the card: {ended} of {len(steps)} done{rest}")
    return tuple(lines)


def _outside(state: State, origins: dict[int, Origin]) -> tuple[Outside, ...]:
    rows = []
    for facts in last_readings(state):
        last = facts[-1].event
        out = [fact.event for fact in facts if fact.event.verdict in ("low", "high")]
        if not out:
            continue
        still = last.verdict in ("low", "high")
        verdict = verdict_text(out[-1], state.ounce)
        if not still:
            was = figure(out[-1].value, out[-1].unit, state.ounce).called
            verdict = f"was {was}, {verdict}"
        rows.append(
            Outside(
                origin=origins[facts[-1].seq],
                measure=last.measure,
                called=figure(last.value, last.unit, state.ounce).called,
                verdict=verdict,
                wanted=window_text(last.window, state.ounce, last.unit),
                still=still,
            )
        )
    return tuple(sorted(rows, key=lambda row: not row.still))


def _to_come(state: State, steps: tuple[StepRow, ...], last: datetime) -> tuple[ToCome, ...]:
    rows = []
    left = [step.name.replace("-", " ") for step in steps if step.mark in ("left", "now")]
    left += [
        f"{step.name.replace('-', ' ')} (skipped{f': {step.why}' if step.why else ''})"
        for step in steps
        if step.mark == "skipped" and step.why != "not needed"
    ]
    if left:
        more = len(left) - STEPS_NAMED
        named = ", ".join(left[:STEPS_NAMED]) + (f" and {more} more" if more > 0 else "")
        rows.append(ToCome("steps", f"{'Step' if len(left) == 1 else 'Steps'}: {named}"))
    needed = counts_of(state.effective(state.parts_needed))
    rows += [ToCome("needed", f"To get: {count} × {part}") for part, count in needed]
    parts = dict.fromkeys(fact.event.part for fact in state.effective(state.follow_ups))
    rows += [ToCome("follow-ups", f"To come back to: {part}") for part in parts]
    rows += [ToCome("timers", f"A timer runs: {timer.name}") for timer in state.timers.values()]
    rows += [
        ToCome("", f"Overdue by the service intervals: {item.service.item}, {item.service.work}")
        for item in services_due(state, last)
        if item.overdue
    ]
    return (*rows, *_from_before(state))


def _from_before(state: State) -> list[ToCome]:
    """Follow-ups of earlier jobs about which nothing was done in this one."""
    if state.known is None:
        return []
    seen_to = {fact.event.part for fact in state.effective(state.parts_used)}
    seen_to |= {fact.event.part for fact in state.effective(state.work)}
    told_here = {fact.event.part for fact in state.effective(state.parts_needed)}
    told_here |= {fact.event.part for fact in state.effective(state.follow_ups)}
    return [
        ToCome("", f"From an earlier job: {each.part}, {'needed' if each.count else 'open'}")
        for each in state.known.event.open
        if each.part not in seen_to | told_here
    ]
