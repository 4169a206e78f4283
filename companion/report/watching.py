"""What the owner should watch: what was found and not mended, what reads wrong, what is left."""

from __future__ import annotations

from dataclasses import dataclass

from companion.job import events as ev
from companion.job import fluids
from companion.job.compare import change_since_last_time
from companion.job.dangers import dangers
from companion.job.lines import line
from companion.job.state import State
from companion.job.state_values import Fact
from companion.report.figures import figure
from companion.report.plain_words import day_text, verdict_in_plain_words
from companion.speak.reason_words import reasons_words

MENDS = frozenset({"replaced", "repaired"})
"""Work after which a finding no longer stands, whatever it was."""

MENDS_BY_CONDITION = {
    "loose": {"tightened"},
    "dirty": {"cleaned"},
    "fouled": {"cleaned"},
    "plugged": {"cleaned"},
    "corroded": {"cleaned"},
    "rusted": {"cleaned"},
    "dry": {"greased", "oiled", "lubricated"},
    "dull": {"sharpened"},
    "missing": {"installed"},
    "sticking": {"cleaned", "oiled", "lubricated", "adjusted"},
}
"""By condition, what else ends it."""


@dataclass(frozen=True, slots=True)
class Advice:
    """What to tell an owner about a part that is not right; all of it common practice.

    Attributes:
        parts: Words in the names of parts.
        conditions: The conditions it holds for; any if empty.
        text: What to do or to leave.
    """

    parts: tuple[str, ...]
    conditions: tuple[str, ...]
    text: str


ADVICE = (
    Advice(
        ("fuel", "carburetor", "tank"),
        ("leaking", "cracked", "loose"),
        "Do not run it or store it indoors until this is mended: fuel vapor catches fire.",
    ),
    Advice(("guard", "shield", "chute", "deflector"), (), "Do not run it without a sound guard."),
    Advice(
        ("blade", "tine", "impeller", "auger", "flywheel"),
        ("cracked", "bent", "broken", "loose", "missing"),
        "Do not run it: what turns can be thrown.",
    ),
    Advice(("brake", "switch"), (), "Do not run it until it stops as it should."),
    Advice(
        ("muffler", "exhaust"),
        (),
        "Keep dry grass and hands away: it burns, and sparks can get out.",
    ),
    Advice(("belt", "chain"), (), "It can slip or part under load; stop at a squeal or a smell."),
    Advice(("cable", "rope"), (), "It can part without warning; have it replaced soon."),
    Advice(("tire", "wheel"), (), "Look at it before each use."),
    Advice((), ("leaking",), "Look underneath before each use, and stop if it gets worse."),
)
"""The first that fits is given."""

AS_IT_SHOULD_BE = frozenset({"strong"})
"""Conditions that are no fault, as of a spark."""

SEE_THE_MANUAL = "Have it seen to; the maker's manual says how far it may go."


@dataclass(frozen=True, slots=True)
class Watch:
    """One thing to watch: what, and what to do about it."""

    what: str
    advice: str


@dataclass(frozen=True, slots=True)
class Found:
    """A finding, with how many it is of, and what was done about it; ``mended`` is None while it
    stands."""

    part: str
    condition: str
    called: str
    mended: str | None


def found(state: State) -> tuple[Found, ...]:
    """Return what was found, each once, and what ended it."""
    rows: dict[tuple[str, str], Found] = {}
    for fact in state.effective(state.findings):
        part, condition = fact.event.part, fact.event.condition
        rows[part, condition] = Found(part, condition, line(fact.event), _mended(state, fact))
    return tuple(rows.values())


def to_watch(state: State) -> tuple[Watch, ...]:
    """Return what the owner should watch, what can hurt first."""
    findings = [
        Watch(row.called, advice_on(row.part, row.condition))
        for row in found(state)
        if row.mended is None
    ]
    findings.sort(key=lambda watch: not watch.advice.startswith("Do not"))
    return (*findings, *_levels(state), *_readings(state), *_left(state))


def advice_on(part: str, condition: str) -> str:
    """Return what to tell an owner about a part in this condition."""
    for advice in ADVICE:
        about = not advice.parts or any(word in part for word in advice.parts)
        if about and (not advice.conditions or condition in advice.conditions):
            return advice.text
    return SEE_THE_MANUAL


def fluids_called(state: State) -> tuple[str, ...]:
    """Return the fluids that were moved or whose level was called, the first named first."""
    places = [(fact.place, fact.event.fluid) for fact in state.effective(state.fluids)]
    places += [(fact.place, fact.event.fluid) for fact in state.effective(state.levels)]
    return tuple(dict.fromkeys(name for _, name in sorted(places)))


def last_readings(state: State) -> tuple[tuple[Fact[ev.ReadingRecorded], ...], ...]:
    """Return the readings that count by measure, each in the order in which they were taken."""
    by_measure: dict[str, list[Fact[ev.ReadingRecorded]]] = {}
    for fact in sorted(state.effective(state.readings), key=lambda fact: fact.place):
        by_measure.setdefault(fact.event.measure, []).append(fact)
    return tuple(tuple(facts) for facts in by_measure.values())


def _mended(state: State, finding: Fact[ev.FindingRecorded]) -> str | None:
    part, condition = finding.event.part, finding.event.condition
    if condition in AS_IT_SHOULD_BE:
        return "as it should be"
    row = state.rules.dangers.found(part, condition)
    if row.harmless is None:
        # On this page a fault that holds the start counts as mended only when it no longer holds
        # it.
        standing = {(each.part, each.what) for each in dangers(state) if each.found}
        if (part, condition) in standing:
            return None
        ways = [
            work.event.action
            for work in state.effective(state.work)
            if work.place > finding.place
            and work.event.part == part
            and work.event.action in row.mended_by
        ]
        return ways[-1] if ways else "mended"
    ends = MENDS | MENDS_BY_CONDITION.get(finding.event.condition, set())
    for work in state.effective(state.work):
        if work.place > finding.place and work.event.part == part and work.event.action in ends:
            return work.event.action
    used = (fact for fact in state.effective(state.parts_used) if fact.event.part == part)
    return "replaced" if any(fact.place > finding.place for fact in used) else None


def _levels(state: State) -> list[Watch]:
    rows = []
    for name in fluids_called(state):
        now = fluids.balance(state, name)
        if now.missing:
            rows.append(
                Watch(
                    f"{name}: {reasons_words(fluids.reasons(state, name), dated=True)}",
                    "Do not start it until it is filled.",
                )
            )
        elif now.level in ("low", "over"):
            rows.append(Watch(f"{name} level {now.level}", "Put it right before it is run."))
    return rows


def _readings(state: State) -> list[Watch]:
    rows = []
    for facts in last_readings(state):
        event = facts[-1].event
        if event.verdict in ("low", "high"):
            said = figure(event.value, event.unit, state.ounce).called
            verdict = verdict_in_plain_words(event, state.ounce)
            rows.append(Watch(f"{event.measure} {said}: {verdict}", SEE_THE_MANUAL))
            continue
        changed = change_since_last_time(state, facts[-1])
        if changed is not None and event.verdict == "in":
            way = "up" if changed.by > 0 else "down"
            by = figure(abs(changed.by), event.unit, state.ounce).called
            since = day_text(changed.at.date())
            rows.append(
                Watch(
                    f"{event.measure} {way} {by} since {since}",
                    "Within what is wanted; look at it again at the next service.",
                )
            )
    return rows


def _left(state: State) -> list[Watch]:
    return [
        Watch(f"{part}: still to come back to", "Ask before you rely on it.")
        for part in dict.fromkeys(fact.event.part for fact in state.effective(state.follow_ups))
    ]
