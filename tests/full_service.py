"""A full service for tests: a card worked through as an ordinary job, with everything called."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from companion.intent import intents as it
from companion.job import events as ev
from companion.job import fluids, steps
from companion.job.card import CardStep
from companion.shelf.load import load_card, load_sheet, shipped_sheets
from tests.bench_job import (
    AFFIRM,
    CLEAR_TO_START,
    ROGER,
    RUNNING,
    STOPPED,
    Job,
    added,
    drained,
    level,
    reading,
    step,
    work,
)

KINDS = ("generator", "washer", "chipper", "mower", "tiller", "two-stroke", "blower", "saw")
"""Words by which a card and a spec sheet are of one kind of machine."""

MINUTES_A_STEP = 4
"""An ordinary step, in minutes: what matters is only that time passes."""


def machine_for(title: str) -> str:
    """Name of a shipped spec sheet that a card fits; the tiller where its title tells of none."""
    for name in shipped_sheets():
        if any(word in title.lower() and word in load_sheet(name).kind for word in KINDS):
            return name
    return "quillmoor-tiller"


def full_service(
    name: str, answer: it.Plain = AFFIRM
) -> tuple[Job, list[tuple[str | None, ev.CautionSpoken]]]:
    """Work a shipped card through, with the engine run once.

    Args:
        name: The card.
        answer: To everything that a step asks.

    Returns:
        The job, and every caution spoken, with the step at which it was.
    """
    card = load_card(name)
    sheet = load_sheet(machine_for(card.title))
    job = Job(sheet.model_dump(mode="json"), card.model_dump(mode="json"))
    spoken: list[tuple[str | None, ev.CautionSpoken]] = []
    job.open()
    _keep(job, spoken)
    for _ in range(4 * len(card.step)):
        here = steps.current(job.state)
        if here is None or here.name == card.step[-1].name:
            break
        for call in (*_calls(job, here), step("done")):
            job.call(call)
            _keep(job, spoken)
            while job.asked is not None:
                mine = job.asked.about == "step-question"
                job.call(answer if mine else AFFIRM)
                _keep(job, spoken)
        minutes = MINUTES_A_STEP if here.wait is None else here.wait.minutes
        job.wait(minutes=minutes).ring().call(ROGER)
    if job.state.engine_running:
        job.call(STOPPED)
    return job, spoken


def _keep(job: Job, spoken: list[tuple[str | None, ev.CautionSpoken]]) -> None:
    at = job.state.step
    spoken.extend((at, event) for event in job.events if isinstance(event, ev.CautionSpoken))


def _calls(job: Job, here: CardStep) -> Iterator[it.Intent]:
    """What is called at a step before it is called done."""
    say = here.say.lower()
    if here.engine in ("stopped", "cold") and job.state.engine_running:
        yield STOPPED
    if "clear to start" in say:
        yield from _made_ready(job)
        yield CLEAR_TO_START
        yield AFFIRM
        yield RUNNING
        return
    for point in here.points:
        yield work("checked", point)
    for measure in here.expects:
        yield _read(job, here, measure)
    fluid = next((each for each in ("gear oil", "oil", "mix", "fuel") if each in say), None)
    if fluid is not None:
        name = "fuel" if fluid == "mix" else fluid
        if "drain the" in say or "drain it" in say or "old mix" in say:
            yield drained("20", fluid=name)
        if "fill" in say or "fresh fuel in" in say:
            yield added("20", fluid=name)
        if f"{name} level" in say or "amount and level" in say:
            yield level("full", name)


def _made_ready(job: Job) -> Iterator[it.Intent]:
    for fluid in {fact.event.fluid: None for fact in job.state.fluids}:
        if fluids.balance(job.state, fluid).missing:
            yield added("20", fluid=fluid)
            yield level("full", fluid)
    for tag in job.tags:
        yield it.TagClear(tag=tag)
        yield AFFIRM


def _read(job: Job, here: CardStep, measure: str) -> it.Reading:
    """A reading that its window wants."""
    windows = [*here.windows]
    if job.state.sheet is not None:
        windows.extend(each for each in job.state.sheet.reading if each.measure == measure)  # type: ignore[misc]
    for window in windows:
        if window.measure == measure:
            value = window.low if window.low is not None else window.high
            if value is not None:
                return reading(measure, str(value), window.unit)
    unit = "volt" if "voltage" in measure or measure == "battery" else "thou"
    return reading(measure, str(Decimal(5)), unit)
