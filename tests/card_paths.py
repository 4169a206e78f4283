"""Every way along a job card, worked out from the card alone, without the program's own routing.

What a technician may meet at a step is a ``Met``: an answer, verdicts, findings. A ``Way`` is the
list of steps taken with what was met at each. States that differ only in what no later step of the
card asks for are one, so that even a card with thousands of ways is gone through at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import combinations, product

from companion.job.card import CardStep, Condition, JobCard, StepWork
from companion.job.sheet import SpecSheet

FASTENERS = ("bolt", "nut", "screw", "stud", "clamp")
"""Back only when they are tight, by the last word of the name."""

THREADED = ("plug", "oil filter")
"""Back by "tightened" as well as by "installed" and "replaced"."""

HARMLESS = frozenset({"dull", "dirty", "fouled", "wet", "worn"})
"""What the cards steer by and what may stay as it is without holding a start."""


@dataclass(frozen=True, slots=True)
class Met:
    """What a technician meets at one step."""

    answer: str | None = None
    verdicts: tuple[tuple[str, str], ...] = ()
    findings: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Visit:
    """A step taken and what was met there; ``stands`` is what is off or faulty once it is done."""

    step: CardStep
    met: Met
    stands: frozenset[tuple[str, str]]


Way = tuple[Visit, ...]


@dataclass(frozen=True, slots=True)
class _Here:
    """What is known on arriving at a step, as far as anything later depends on it."""

    index: int = 0
    answers: frozenset[tuple[str, str]] = frozenset()
    verdicts: frozenset[tuple[str, str]] = frozenset()
    findings: frozenset[tuple[str, str]] = frozenset()
    done: frozenset[str] = frozenset()
    passed: frozenset[str] = frozenset()
    stands: frozenset[tuple[str, str]] = frozenset()


@dataclass
class Ways:
    """The ways along a card on one machine."""

    card: JobCard
    sheet: SpecSheet
    edges: dict[_Here, list[tuple[Visit, _Here]]] = field(default_factory=dict)
    came: dict[_Here, Way] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.place = {step.name: index for index, step in enumerate(self.card.step)}
        self.windows = _windows(self.sheet)
        self.listed = _listed(self.sheet)
        waiting = [self._arrive(_Here())]
        self.came[waiting[0]] = ()
        while waiting:
            here = waiting.pop(0)
            if here in self.edges:
                continue
            self.edges[here] = [*self._onward(here)] if here.index < len(self.card.step) else []
            for visit, there in self.edges[here]:
                if there not in self.came:
                    self.came[there] = (*self.came[here], visit)
                waiting.append(there)

    def ends(self) -> Iterator[tuple[_Here, Way]]:
        """Every state in which the card may end, with one way to it."""
        for here, way in self.came.items():
            if here.index == len(self.card.step):
                yield here, way

    def visits(self) -> Iterator[tuple[Way, Visit]]:
        """Every visit there may be, with one way that led there."""
        for here, onward in self.edges.items():
            for visit, _ in onward:
                yield self.came[here], visit

    def some(self, at_most: int) -> list[Way]:
        """Ways that between them meet everything that may be met at each step.

        Args:
            at_most: Up to so many in all, further ones that meet two things together that none of
                the others does.
        """
        every: dict[tuple[tuple[str, Met], ...], Way] = {}
        for here, onward in self.edges.items():
            for visit, there in onward:
                for last in (False, True):
                    way = (*self.came[here], visit, *self._to_the_end(there, last=last))
                    every.setdefault(tuple((one.step.name, one.met) for one in way), way)
        chosen: list[Way] = []
        for size, most in ((1, len(every)), (2, at_most)):
            holds = {key: set(combinations(key, size)) for key in every}
            left = set().union(*holds.values())
            for way in chosen:
                left -= set(combinations(((one.step.name, one.met) for one in way), size))
            while left and len(chosen) < most:
                best = max(every, key=lambda key: (len(left & holds[key]), -len(key)))
                if not left & holds[best]:
                    break
                left -= holds[best]
                chosen.append(every.pop(best))
                del holds[best]
        return chosen

    def _to_the_end(self, here: _Here, *, last: bool) -> Way:
        way: list[Visit] = []
        while self.edges[here]:
            visit, here = self.edges[here][-1 if last else 0]
            way.append(visit)
        return tuple(way)

    # --- one step on ----------------------------------------------------------------------------

    def _arrive(self, here: _Here) -> _Here:
        """Go past the steps that do not apply, and forget what nothing asks for any more."""
        steps = self.card.step
        while here.index < len(steps):
            step = steps[here.index]
            if step.only_if is None or self._holds(step.only_if, here, None):
                break
            here = replace(here, index=here.index + 1, passed=here.passed | {step.name})
        later = [*self._conditions(here.index)]
        asked = {each.step or own for each, own in later}
        return replace(
            here,
            answers=frozenset(one for one in here.answers if one[0] in asked),
            verdicts=frozenset(
                one for one in here.verdicts if one[0] in {each.measure for each, _ in later}
            ),
            findings=frozenset(
                one for one in here.findings if one[0] in {each.part for each, _ in later}
            ),
            done=here.done & asked,
            passed=here.passed & asked,
        )

    def _conditions(self, index: int) -> Iterator[tuple[Condition, str]]:
        for step in self.card.step[index:]:
            if step.only_if is not None:
                yield step.only_if, step.name
            for branch in step.branch:
                yield branch.when, step.name

    def _onward(self, here: _Here) -> Iterator[tuple[Visit, _Here]]:
        step = self.card.step[here.index]
        for met in self._may_meet(step, here.index):
            verdicts = {**dict(here.verdicts), **dict(met.verdicts)}
            stands = _after(step, met, here.stands)
            there = replace(
                here,
                answers=here.answers | ({(step.name, met.answer)} if met.answer else set()),
                verdicts=frozenset(verdicts.items()),
                findings=here.findings | set(met.findings),
                done=here.done | {step.name},
                stands=stands,
            )
            to = next(
                (
                    self.place[each.to]
                    for each in step.branch
                    if self._holds(each.when, there, step.name)
                ),
                here.index + 1,
            )
            between = {each.name for each in self.card.step[here.index + 1 : to]}
            there = self._arrive(replace(there, index=to, passed=there.passed | between))
            yield Visit(step, met, stands), there

    def _may_meet(self, step: CardStep, index: int) -> Iterator[Met]:
        later = [
            each
            for each, own in self._conditions(index)
            if own != step.name or each is not step.only_if
        ]
        answers = (None,) if step.asks is None else ("affirm", "negative")
        measures = []
        for measure in step.expects:
            ends = self.windows.get(measure) or next(
                ((w.low, w.high) for w in step.windows if w.measure == measure), (None, None)
            )
            known = "unknown" if ends == (None, None) else "in"
            steering = {v for each in later if each.measure == measure for v in each.verdict}
            out = [
                verdict
                for verdict, end in (("low", ends[0]), ("high", ends[1]))
                if end is not None and verdict in steering
            ]
            # Too low and too high lead the same way: one of them, in turn from step to step.
            measures.append(
                [(measure, known), *((measure, v) for v in out[index % 2 :][:1] or out[:1])]
            )
        groups: dict[tuple[str | None, tuple[str, ...]], tuple[str, str]] = {}
        for each in later:
            looks = each.step == step.name or any(each is branch.when for branch in step.branch)
            if each.part is not None and looks:
                groups.setdefault((each.part, each.found), (each.part, each.found[0]))
        findings = [
            found
            for count in range(len(groups) + 1)
            for found in combinations(groups.values(), count)
        ]
        for answer, verdicts, found in product(answers, product(*measures), findings):
            yield Met(answer, tuple(verdicts), tuple(found))

    def _holds(self, condition: Condition, here: _Here, own: str | None) -> bool:
        """Whether it is known to hold; "own" is the step whose branch it is."""
        if condition.listed is not None:
            return condition.listed in self.listed
        if condition.answer is not None:
            return ((condition.step or own or ""), condition.answer) in here.answers
        if condition.measure is not None:
            return dict(here.verdicts).get(condition.measure) in condition.verdict
        return any(
            part == condition.part and (not condition.found or found in condition.found)
            for part, found in here.findings
        )


# --- what is off, and what is faulty ------------------------------------------------------------


def opens(work: StepWork) -> bool:
    """Whether this work leaves something that must be called back."""
    if work.action in ("closed", "opened"):
        return (work.action == "closed") == (work.part == "fuel valve")
    return work.action in ("removed", "disconnected", "loosened", "raised", "drained")


def closes(work: StepWork, opened: str, part: str) -> bool:
    """Whether this work ends what other work left on a part."""
    if work.part != part:
        return False
    if opened == "raised":
        return work.action == "lowered"
    if opened == "loosened":
        return work.action == "tightened"
    if opened in ("closed", "opened"):
        return work.action == ("opened" if opened == "closed" else "closed")
    if part.split()[-1] in FASTENERS:
        return work.action == "tightened"
    if part.split()[-1] in THREADED or part in THREADED:
        return work.action in ("installed", "replaced", "tightened")
    return work.action in ("installed", "replaced", "connected")


def is_fault(stands: tuple[str, str]) -> bool:
    """Whether this is a fault that was found, and not something that is off."""
    return stands[0].startswith("found ")


def is_tag(stands: tuple[str, str]) -> bool:
    """Whether this is a tag of a step."""
    return stands[0] == "tag"


def _after(
    step: CardStep, met: Met, before: frozenset[tuple[str, str]]
) -> frozenset[tuple[str, str]]:
    stands = set(before)
    for part, condition in met.findings:
        if condition not in HARMLESS:
            stands.add((f"found {condition}", part))
    for finding in step.finds:
        if finding.answer == met.answer:
            stands.add((f"found {finding.condition}", finding.part))
    for work in step.does:
        stands -= {one for one in stands if not is_fault(one) and closes(work, *one)}
        if work.action in ("replaced", "repaired"):
            stands -= {one for one in stands if is_fault(one) and one[1] == work.part}
        if opens(work):
            stands.add((work.action, work.part))
    stands |= {("tag", tag) for tag in step.hangs}
    stands -= {("tag", tag) for tag in step.clears}
    return frozenset(stands)


def _windows(sheet: SpecSheet) -> dict[str, tuple[object, object]]:
    made = {each.measure: (each.low, each.high) for each in sheet.reading}
    made |= {f"{each.fastener} torque": (each.low, each.high) for each in sheet.torque}
    made |= {f"{each.name} pressure": (each.low, each.high) for each in sheet.tire}
    made |= {
        each.deflection or f"{each.name} deflection": (each.low, each.high) for each in sheet.belt
    }
    return {name: ends for name, ends in made.items() if ends != (None, None)}


def _listed(sheet: SpecSheet) -> frozenset[str]:
    return frozenset(
        (
            *(each.measure for each in sheet.reading),
            *(each.name for each in (*sheet.part, *sheet.fluid, *sheet.belt)),
            *(each.deflection or f"{each.name} deflection" for each in sheet.belt),
            *(f"{each.fastener} torque" for each in sheet.torque),
            *(f"{each.name} pressure" for each in sheet.tire),
            *(("battery",) if sheet.battery is not None else ()),
        )
    )
