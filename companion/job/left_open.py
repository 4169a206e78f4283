"""What was taken off, loosened or found wrong, and not called back since."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from companion.job.events import FindingRecorded, WorkRecorded
from companion.job.state import Fact, State
from companion.job.tags import (
    FOUND,
    TAGS,
    hung_by_finding,
    hung_by_work,
    names,
    undone_by_work,
)


@dataclass(frozen=True, slots=True)
class OpenPart:
    """A part that was opened up and not called back.

    Attributes:
        part: As it was called.
        how: What was called of it: "removed", "called missing".
        seq: Number of the record.
    """

    part: str
    how: str
    seq: int


def open_parts(state: State) -> dict[str, tuple[OpenPart, ...]]:
    """Return, by tag, the parts for whose sake it must hang, in the order they were called.

    Where "affirm" is enough for a tag, what was called before it came down is over.
    """
    found: dict[str, dict[str, OpenPart]] = {}
    for fact in _in_order(state):
        event = fact.event
        if isinstance(event, FindingRecorded):
            for rule in hung_by_finding(event.part, event.condition):
                opened = OpenPart(event.part, f"called {event.condition}", fact.seq)
                found.setdefault(rule.tag, {})[event.part] = opened
            continue
        for rule in undone_by_work(event.action, event.part):
            found.get(rule.tag, {}).pop(event.part, None)
        for rule in hung_by_work(event.action, event.part):
            parts = found.setdefault(rule.tag, {})
            parts.pop(event.part, None)
            parts[event.part] = OpenPart(event.part, event.action, fact.seq)
    still = {
        tag: tuple(
            part
            for part in parts.values()
            if TAGS[tag].each_called or part.seq > state.cleared.get(tag, 0)
        )
        for tag, parts in found.items()
    }
    return {tag: parts for tag, parts in still.items() if parts}


def unmended(state: State) -> tuple[OpenPart, ...]:
    """Return the parts that were found unfit to run and not called mended since."""
    found: dict[tuple[str, str], OpenPart] = {}
    for fact in _in_order(state):
        event = fact.event
        if isinstance(event, FindingRecorded):
            if any(
                event.condition in each.conditions and names(each.parts, event.part)
                for each in FOUND
            ):
                key = (event.part, event.condition)
                found[key] = OpenPart(event.part, f"called {event.condition}", fact.seq)
            continue
        for each in FOUND:
            if event.action in each.mended_by:
                for condition in each.conditions:
                    if names(each.parts, event.part):
                        found.pop((event.part, condition), None)
    return tuple(found.values())


def in_words(parts: Iterable[OpenPart]) -> str:
    """Say which parts were opened how: "drive belt and reverse belt were removed"."""
    by_how: dict[str, list[str]] = {}
    for part in parts:
        by_how.setdefault(part.how, []).append(part.part)
    return ", ".join(
        f"{listed(which)} {'was' if len(which) == 1 else 'were'} {how}"
        for how, which in by_how.items()
    )


def listed(words: Iterable[str]) -> str:
    """Join words as they are said: "a", "a and b", "a, b and c"."""
    *most, last = words
    return f"{', '.join(most)} and {last}" if most else last


def _in_order(state: State) -> list[Fact[WorkRecorded] | Fact[FindingRecorded]]:
    work, findings = state.effective(state.work), state.effective(state.findings)
    return sorted([*work, *findings], key=lambda fact: fact.seq)
