"""Every shipped card on every machine it is for, walked as a technician does it.

Whoever does and calls what each step says ends with nothing off and the start gate open, whatever
is answered, read and found on the way; whoever leaves one thing off is held with that thing named.
The ways are worked out by ``card_paths`` from the card alone, and each is gone with the program.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from functools import cache
from typing import Any

import pytest

from companion.intent import intents as it
from companion.job import events as ev
from companion.job.card import CardStep, JobCard
from companion.job.fits import fits
from companion.job.sheet import SpecSheet
from companion.job.sheet_measures import measure_named
from companion.shelf.common import common_measures
from companion.shelf.load import load_card, load_sheet, shipped_cards, shipped_sheets
from tests.bench_job import (
    AFFIRM,
    CLEAR_TO_START,
    NEGATIVE,
    RUNNING,
    STOPPED,
    Job,
    added,
    drained,
    level,
    plain,
    reading,
    step,
)
from tests.card_paths import Met, Visit, Way, Ways, closes, is_fault, is_tag

CARDS = {name: load_card(name) for name in shipped_cards()}
SHEETS = {name: load_sheet(name) for name in shipped_sheets()}
FITTING = [(card, sheet) for card in CARDS for sheet in SHEETS if fits(CARDS[card], SHEETS[sheet])]

MOST = 5
"""How many ways of a card are walked on a machine, unless it takes more to meet everything once."""

FULL = level("full")
FLUIDS: dict[tuple[str, str], tuple[it.Intent, ...]] = {
    ("blade-service", "fuel-out"): (drained("20", fluid="fuel"),),
    ("blade-service", "fuel-in"): (added("20", fluid="fuel"),),
    ("drive-service", "drain-gearbox"): (drained("20", fluid="gear oil"),),
    ("drive-service", "fill-gearbox"): (added("20", fluid="gear oil"), level("full", "gear oil")),
    ("four-stroke-service", "drain-oil"): (drained("16"),),
    ("four-stroke-service", "fill-oil"): (added("15"), added("1")),
    ("pressure-washer-service", "drain-pump"): (drained("4", fluid="pump oil"),),
    ("pressure-washer-service", "fill-pump"): (
        added("4", fluid="pump oil"),
        level("full", "pump oil"),
    ),
    ("season-lay-up", "treat-fuel"): (added("10", fluid="fuel"),),
    ("season-lay-up", "drain-oil"): (drained("16"),),
    ("season-lay-up", "fill-oil"): (added("16"), FULL),
    ("two-stroke-service", "drain-fuel"): (drained("10", fluid="fuel"),),
    ("two-stroke-service", "fresh-mix"): (added("10", fluid="fuel"),),
    ("two-stroke-service", "leak-stays"): (drained("10", fluid="fuel"),),
    **{
        (card, "fresh-fuel"): (drained("20", fluid="fuel"), added("20", fluid="fuel"))
        for card in ("four-stroke-service", "no-start-diagnosis", "season-lay-up")
    },
}
"""What a technician calls of fluids, by what the step says."""

PLAUSIBLE = {
    "length": ("30", "thou"),
    "pressure": ("100", "psi"),
    "torque": ("15", "foot pound"),
    "temperature": ("20", "celsius"),
    "voltage": ("12.6", "volt"),
    "resistance": ("3", "kilohm"),
    "speed": ("3500", "rpm"),
    "percent": ("10", "percent"),
}
"""What is called of a measure that nobody has a figure for."""


@cache
def ways_of(card: str, sheet: str) -> Ways:
    return Ways(CARDS[card], SHEETS[sheet])


@cache
def some_ways(card: str, sheet: str) -> tuple[Way, ...]:
    """Ways that meet all that may be met, those first that come to a start."""
    return tuple(
        sorted(ways_of(card, sheet).some(at_most=MOST), key=lambda way: given_up(way[-1].stands))
    )


def new_ways(card: str, sheet: str) -> list[Way]:
    """Those that were not walked on a machine before this one: at least one, and a few at most."""
    machines = [one for name, one in FITTING if name == card]
    walked = {
        names_of(way)
        for before in machines[: machines.index(sheet)]
        for way in some_ways(card, before)
    }
    ways = some_ways(card, sheet)
    new = [way for way in ways if names_of(way) not in walked]
    return (new or [ways[0]])[: None if sheet == machines[0] else 2]


def names_of(way: Way) -> tuple[str, ...]:
    return tuple(visit.step.name for visit in way)


# --- what the cards say, without the program ----------------------------------------------------


def given_up(stands: Iterable[tuple[str, str]]) -> bool:
    """Whether a machine is left with a fault that is told, and tagged for it."""
    return any(is_fault(one) or one == ("tag", "do not start") for one in stands)


@pytest.mark.parametrize(("card", "sheet"), FITTING)
def test_along_every_way_what_was_taken_off_is_back_before_a_start(card: str, sheet: str) -> None:
    gates = 0
    for before, visit in ways_of(card, sheet).visits():
        if is_gate(visit.step):
            gates += 1
            assert not visit.stands, (visit.step.name, names_of(before))
    assert gates


@pytest.mark.parametrize(("card", "sheet"), FITTING)
def test_along_every_way_nothing_is_off_at_the_end(card: str, sheet: str) -> None:
    for here, way in ways_of(card, sheet).ends():
        off = {one for one in here.stands if not is_fault(one)}
        if given_up(here.stands):
            # A machine that leaks is left with its fuel shut, and a faulty one with its tag.
            off -= {("closed", "fuel valve"), ("tag", "do not start")}
        assert not off, names_of(way)


@pytest.mark.parametrize("name", CARDS)
def test_every_card_is_for_some_machine_and_every_machine_has_a_card(name: str) -> None:
    assert any(card == name for card, _ in FITTING)
    assert {sheet for _, sheet in FITTING} == set(SHEETS)


@pytest.mark.parametrize("name", CARDS)
def test_a_step_that_wants_amounts_called_is_known_to_the_walk(name: str) -> None:
    for each in CARDS[name].step:
        wants = any(words in each.say for words in ("how much", "amount", "fuel added"))
        assert wants == ((name, each.name) in FLUIDS), each.name


@pytest.mark.parametrize("name", CARDS)
def test_nobody_is_sent_to_an_engine_that_may_run_with_a_fault_told_by_an_answer(name: str) -> None:
    card = CARDS[name]
    for each in card.step:
        for finding in each.finds:
            told = {one.when.answer for one in card.step[-1].branch}
            assert finding.answer not in told


# --- the honest technician ----------------------------------------------------------------------


@pytest.mark.parametrize(("card", "sheet"), FITTING)
def test_an_honest_technician_ends_with_nothing_off_and_the_gate_open(
    card: str, sheet: str
) -> None:
    for way in new_ways(card, sheet):
        walked = Walk(CARDS[card], SHEETS[sheet], way)
        walked.to(len(way))
        walked.at_the_end()


# --- the forgetful one --------------------------------------------------------------------------


@pytest.mark.parametrize("name", CARDS)
def test_whatever_one_thing_is_left_off_holds_the_start_by_its_name(name: str) -> None:
    sheets = [sheet for card, sheet in FITTING if card == name]
    left_off: set[tuple[str, str, str]] = set()
    for sheet in sheets:
        for way in some_ways(name, sheet):
            walked = Walk(CARDS[name], SHEETS[sheet], way)
            for index, visit in enumerate(way):
                before = way[index - 1].stands if index else frozenset()
                for opened, part, back in refits(CARDS[name], visit, before):
                    if (visit.step.name, part, back) in left_off:
                        continue
                    left_off.add((visit.step.name, part, back))
                    walked.to(index)
                    forget(walked, index, opened, part, back)
    assert left_off >= {
        (visit.step.name, part, back)
        for sheet in sheets
        for way, visit in ways_of(name, sheet).visits()
        for _, part, back in refits(CARDS[name], visit, way[-1].stands if way else frozenset())
    }
    assert left_off


def refits(
    card: JobCard, visit: Visit, before: frozenset[tuple[str, str]]
) -> Iterator[tuple[str, str, str]]:
    """What is off before a step and back after it: how it was left, its name, what brings it back.

    What a later step brings back too is left to that one: "take a new filter" is not yet "fit it".
    """
    later = card.step[card.step.index(visit.step) + 1 :]
    for opened, part in sorted(before - visit.stands):
        if is_fault((opened, part)):
            continue
        if is_tag((opened, part)):
            yield opened, part, "cleared"
        elif not any(closes(work, opened, part) for each in later for work in each.does):
            yield (
                opened,
                part,
                next(work.action for work in visit.step.does if closes(work, opened, part)),
            )


def words_of(checked: ev.StartChecked) -> str:
    """All that the gate names against a start."""
    return " ".join(str(each) for each in (*checked.standing, *checked.reasons))


def forget(walked: Walk, index: int, opened: str, part: str, back: str) -> None:
    """Do a step without one thing, everything after it, and be held with its name."""
    held = walked.copy()
    visit = held.way[index]
    held.arrive(visit)
    # A tag of a step is left hanging by leaving the step out, with all that is called at it.
    if back != "cleared":
        held.call_all(visit, held.step_after(index))
        for work in visit.step.does:
            if not (work.part == part and closes(work, opened, part)):
                held.call(it.Work(action=work.action, part=work.part, count=work.count))
    held.skip()
    for number in range(index + 1, len(held.way)):
        if is_gate(held.way[number].step) or not held.do(number, forgetful=True):
            break
    if held.job.state.engine_running:
        held.call(STOPPED)
    held.call(CLEAR_TO_START)
    checked = held.job.last(ev.StartChecked)
    told = words_of(checked)
    assert checked.reasons, f"{visit.step.name}: nothing holds the start without {part}"
    assert part in told, f"{visit.step.name}: {part} is not named: {told}"
    assert held.job.asked is None or held.job.asked.about != "start"


# --- one walk -----------------------------------------------------------------------------------


def dumped(model: JobCard | SpecSheet) -> dict[str, Any]:
    return model.model_dump(mode="json", exclude_none=True)


def is_gate(each: CardStep) -> bool:
    return "clear to start" in each.say


class Walk:
    """One technician on one way along a card."""

    def __init__(self, card: JobCard, sheet: SpecSheet, way: Way) -> None:
        self.card, self.sheet, self.way = card, sheet, way
        self.job = Job(dumped(sheet), dumped(card)).open()
        self.at = 0

    def copy(self) -> Walk:
        """The same technician at the same place, to do something else from there on."""
        other = object.__new__(Walk)
        other.card, other.sheet, other.way, other.at = self.card, self.sheet, self.way, self.at
        job = object.__new__(Job)
        job.__dict__.update(self.job.__dict__)
        job.records = [*self.job.records]
        other.job = job
        return other

    def to(self, index: int) -> None:
        """Do honestly every step before this one."""
        while self.at < index:
            self.do(self.at)
            self.at += 1

    def do(self, index: int, *, forgetful: bool = False) -> bool:
        """Do one step and call it done; whether the card led there, as it does for the honest."""
        visit, following = self.way[index], self.step_after(index)
        self.arrive(visit, forgetful=forgetful)
        if forgetful and self.job.state.step != visit.step.name:
            return False
        self.call_all(visit, following, forgetful=forgetful)
        self.call(step("done"))
        if visit.met.answer is not None:
            assert self.asked_about("step-question"), self.where(visit)
            self.call(AFFIRM if visit.met.answer == "affirm" else NEGATIVE)
        assert not self.asked_about("step"), self.where(visit)
        assert visit.step.name in self.job.state.steps
        assert self.job.state.steps[visit.step.name].done is not None, self.where(visit)
        return True

    def arrive(self, visit: Visit, *, forgetful: bool = False) -> None:
        """Be at a step: what does not apply is said not to, and nothing else stands in the way."""
        for _ in self.card.step:
            if not self.asked_about("applies") or self.job.asked.step == visit.step.name:  # type: ignore[union-attr]
                break
            self.call(NEGATIVE)
        while (
            forgetful
            and self.job.asked is not None
            and self.job.asked.about in ("enter", "applies")
        ):
            self.call(AFFIRM)
        assert forgetful or self.job.state.step == visit.step.name, self.where(visit)

    def call_all(
        self, visit: Visit, following: CardStep | None, *, forgetful: bool = False
    ) -> None:
        """Call what a step asks for: fluids, findings, points, readings; run or stop the engine."""
        each, met = visit.step, visit.met
        if is_gate(each):
            self.ask_to_start(open_gate=not forgetful)
        if runs_here(each, met, following) and not self.job.state.engine_running:
            self.call(RUNNING)
        for call in self.calls(each, met):
            self.call(call)
        if self.job.state.engine_running and not runs_on(each, following):
            self.call(STOPPED)
        if not self.job.state.engine_running:
            # What has to be cold, settled or drained is waited for.
            self.job.wait(hours=3)

    def calls(self, each: CardStep, met: Met) -> Iterator[it.Intent]:
        """What a technician calls at a step."""
        yield from FLUIDS.get((self.card.name, each.name), ())
        if "oil level" in each.say and any(fluid.name == "oil" for fluid in self.sheet.fluid):
            yield FULL
        for part, condition in met.findings:
            yield it.Finding(part=part, condition=condition)
        for part in each.points:
            yield it.Work(action="checked", part=part)
        for tally in each.tally:
            yield it.Work(action="checked", part=tally.point, count=tally.count)
        for measure in each.expects:
            yield self.reading(each, measure, dict(met.verdicts)[measure])
        if "park job" in each.say:
            yield plain("job.park")
            yield plain("resume")

    def reading(self, each: CardStep, measure: str, verdict: str) -> it.Reading:
        """A value of a measure inside its window, or outside of it."""
        spec = measure_named(self.sheet, measure)
        windows = [window for window in each.windows if window.measure == measure]
        if spec is not None and (spec.low, spec.high) != (None, None):
            low, high, unit = spec.low, spec.high, spec.unit
        elif windows:
            low, high, unit = windows[0].low, windows[0].high, windows[0].unit
        else:
            kind = next((one.dimension for one in self.card.measure if one.name == measure), None)
            value, unit = PLAUSIBLE[kind or common_measures()[measure]]
            if spec is not None:
                unit = spec.unit
            return reading(measure, value, unit)
        if verdict == "in":
            value = low if low is not None else high
            assert value is not None
            return reading(measure, str(value), unit)
        end = low if verdict == "low" else high
        assert end is not None
        beyond = end * (Decimal("0.8") if verdict == "low" else Decimal("1.2"))
        return reading(measure, str(beyond), unit)

    def call(self, intent: it.Intent) -> None:
        """Call something, and affirm each tag that it asks to clear."""
        self.job.call(intent)
        while self.asked_about("clear-tag"):
            self.job.call(AFFIRM)

    def skip(self) -> None:
        self.call(step("skip"))

    def ask_to_start(self, *, open_gate: bool) -> None:
        self.call(CLEAR_TO_START)
        if not open_gate:
            return
        assert self.asked_about("start"), self.job.last(ev.StartChecked).reasons
        before = len(self.job.all(ev.StartAffirmed))
        self.call(AFFIRM)
        assert len(self.job.all(ev.StartAffirmed)) == before + 1

    def at_the_end(self) -> None:
        """Ask once more: nothing stands, but for a fault that was told."""
        stands = self.way[-1].stands
        assert not self.job.state.engine_running
        self.call(CLEAR_TO_START)
        checked = self.job.last(ev.StartChecked)
        if given_up(stands):
            told = words_of(checked)
            assert all(name in told for _, name in stands), (stands, told)
            return
        assert not checked.reasons, (names_of(self.way), checked.reasons)
        assert self.asked_about("start")

    def asked_about(self, what: str) -> bool:
        return self.job.asked is not None and self.job.asked.about == what

    def step_after(self, index: int) -> CardStep | None:
        return self.way[index + 1].step if index + 1 < len(self.way) else None

    def where(self, visit: Visit) -> str:
        way = [each.step.name for each in self.way]
        return f"at {visit.step.name}, program at {self.job.state.step}: {self.job.asked}; {way}"


def runs_here(each: CardStep, met: Met, following: CardStep | None) -> bool:
    """Whether the engine is started at a step: for the next one, or because the trial worked."""
    if "start?" in (each.asks or ""):
        return met.answer == "affirm"
    return each.name == "warm-up" or (is_gate(each) and needs_running(following))


def runs_on(each: CardStep, following: CardStep | None) -> bool:
    """Whether the engine still runs when a step is called done."""
    return needs_running(following) or (
        following is not None and following.name in ("stop-test", "stop-fault")
    )


def needs_running(each: CardStep | None) -> bool:
    return each is not None and each.engine == "running"
