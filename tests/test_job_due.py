"""Work that comes back: what a job did of it, and when it is due next."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.intent import intents as it
from companion.job import events as ev
from companion.job.service_due import ServiceDue, _months_on, engine_hours, serviced, services_due
from tests.bench_job import DISREGARD, MONDAY, Job, added, drained, level, reading, work

# An invented machine and invented intervals.
MACHINE: dict[str, Any] = {
    "name": "Dunmarrow mower",
    "kind": "walk-behind mower",
    "invented": True,
    "reading": [
        {"measure": "gap", "unit": "thou", "low": "28", "high": "31"},
        {"measure": "intake clearance", "unit": "thou", "low": "4", "high": "6"},
    ],
    "fluid": [
        {"name": "oil", "spoken": ["oil", "engine oil"], "capacity": "20", "unit": "ounce"},
    ],
    "part": [{"name": "blade", "spoken": ["blade", "mower blade"]}],
    "service": [
        {"item": "engine oil", "work": "change", "first_hours": "5", "hours": "50", "months": 12},
        {"item": "air filter", "work": "clean", "hours": "25"},
        {"item": "air filter", "work": "replace", "hours": "100", "months": 12},
        {"item": "spark plug", "work": "check the gap", "hours": "100"},
        {"item": "valve clearance", "work": "check and adjust", "hours": "200"},
        {"item": "mower blade", "work": "sharpen", "hours": "25"},
        {"item": "fuel", "work": "drain or stabilize", "season": "end"},
        {"item": "oil level", "work": "check", "each_use": True},
    ],
}


def hours(value: str) -> it.Reading:
    return reading("engine hours", value, "hour")


def item(job: Job, name: str, work_done: str) -> ServiceDue:
    (found,) = (
        each
        for each in services_due(job.state, job.now)
        if (each.service.item, each.service.work) == (name, work_done)
    )
    return found


def before(name: str, work_done: str, days: int, at_hours: str | None) -> ev.EarlierService:
    return ev.EarlierService(
        item=name,
        work=work_done,
        at=MONDAY - timedelta(days=days),
        hours=None if at_hours is None else Decimal(at_hours),
    )


def done(job: Job) -> list[tuple[str, str]]:
    return [(service.item, service.work) for service in serviced(job.state)]


def test_oil_drained_and_filled_is_a_change_and_due_again_by_hours_and_by_date() -> None:
    job = Job(MACHINE).call(hours("120.5"), drained("18"))
    assert not item(job, "engine oil", "change").done_here
    job.call(added("19"), level("full"))
    oil = item(job, "engine oil", "change")
    assert (oil.done_here, oil.at_hours) == (True, Decimal("170.5"))
    assert oil.on == date(2025, 3, 4)
    assert not oil.overdue


def test_without_the_hour_meter_only_the_date_is_known() -> None:
    job = Job(MACHINE).call(drained("18"), added("19"), work("cleaned", "air filter"))
    assert item(job, "engine oil", "change").at_hours is None
    assert item(job, "engine oil", "change").on == date(2025, 3, 4)
    cleaned = item(job, "air filter", "clean")
    assert (cleaned.done_here, cleaned.at_hours, cleaned.on) == (True, None, None)


@pytest.mark.parametrize(
    ("calls", "expected"),
    [
        ((work("cleaned", "air filter"),), [("air filter", "clean")]),
        # A new filter is a clean one.
        (
            (work("replaced", "air filter"),),
            [("air filter", "clean"), ("air filter", "replace")],
        ),
        ((it.Part(intent="part.used", part="air filter", count=1),), [("air filter", "replace")]),
        ((reading("gap", "30", "thou"),), [("spark plug", "check the gap")]),
        ((reading("gap", "40", "thou"),), []),
        ((reading("intake clearance", "5", "thou"),), [("valve clearance", "check and adjust")]),
        ((work("sharpened", "blade"),), [("mower blade", "sharpen")]),
        ((work("greased", "blade"),), []),
        ((added("2"),), []),
    ],
)
def test_what_was_done_is_read_from_the_calls(
    calls: tuple[it.Intent, ...], expected: list[tuple[str, str]]
) -> None:
    assert done(Job(MACHINE).call(*calls)) == expected


def test_what_is_disregarded_was_not_done() -> None:
    assert done(Job(MACHINE).call(work("sharpened", "blade"), DISREGARD)) == []


def test_what_was_done_in_an_earlier_session_counts_from_there() -> None:
    job = Job(MACHINE, serviced_before=(
        before("engine oil", "change", 400, "60"),
        before("air filter", "clean", 400, "60"),
        before("spark plug", "check the gap", 400, "60"),
    ))  # fmt: skip
    job.call(hours("90"))
    assert item(job, "engine oil", "change").overdue
    assert item(job, "air filter", "clean").at_hours == 85
    assert item(job, "air filter", "clean").overdue
    plug = item(job, "spark plug", "check the gap")
    assert (plug.at_hours, plug.overdue) == (160, False)
    assert [each.service.item for each in services_due(job.state, job.now)][:2] == [
        "engine oil", "air filter",
    ]  # fmt: skip


def test_the_first_change_of_a_new_machine_comes_sooner() -> None:
    job = Job(MACHINE).call(hours("2"))
    assert item(job, "engine oil", "change").at_hours == 5
    assert item(Job(MACHINE).call(hours("30")), "engine oil", "change").at_hours is None


def test_hours_of_an_earlier_session_are_known_but_are_not_those_of_this_job() -> None:
    earlier = ev.EarlierReading(
        measure="engine hours", value=Decimal(80), unit="hour", verdict="unknown",
        at=MONDAY - timedelta(days=90), session="earlier",
    )  # fmt: skip
    job = Job(MACHINE, earlier=(earlier,)).call(drained("18"), added("19"))
    assert engine_hours(job.state) == 80
    assert item(job, "engine oil", "change").at_hours is None


def test_the_order_is_overdue_soonest_season_each_use() -> None:
    items = [each.service.item for each in services_due(Job(MACHINE).state, MONDAY)]
    assert items[-2:] == ["fuel", "oil level"]


def test_a_machine_without_intervals_has_nothing_due() -> None:
    assert services_due(Job({**MACHINE, "service": []}).state, MONDAY) == ()
    assert services_due(Job().state, MONDAY) == ()


@given(day=st.dates(date(2000, 1, 1), date(2100, 1, 1)), months=st.integers(1, 240))
def test_so_many_months_on_is_the_same_day_or_the_last_of_a_shorter_month(
    day: date, months: int
) -> None:
    then = _months_on(day, months)
    assert then.year * 12 + then.month == day.year * 12 + day.month + months
    if then.day != day.day:
        assert then.day < day.day
        assert (then + timedelta(days=1)).month != then.month


# --- an item and what it is recorded as ----------------------------------------------------------


def serviced_once(calls: tuple[it.Intent, ...], about: str, work_done: str, **more: Any) -> bool:
    """Whether these calls do one item of a machine that lists so much more."""
    service = [{"item": about, "work": work_done, "hours": "50"}]
    return bool(done(Job({**MACHINE, **more, "service": service}).call(*calls)))


OTHER_OIL = [{"name": "engine oil", "capacity": "20", "unit": "ounce"}]
PLAIN_OIL = [{"name": "oil", "capacity": "20", "unit": "ounce"}]
TWO_BELTS = [{"name": "drive belt"}, {"name": "reverse belt"}]


@pytest.mark.parametrize(
    ("fluid", "about"),
    [(OTHER_OIL, "oil"), (OTHER_OIL, "Engine oil"), (OTHER_OIL, "motor oil"),
     (PLAIN_OIL, "engine oil"), (PLAIN_OIL, "motor oil")],
)  # fmt: skip
def test_engine_oil_counts_by_whichever_name_the_sheet_has_it(
    fluid: list[dict[str, Any]], about: str
) -> None:
    name = fluid[0]["name"]
    calls = (drained("18", fluid=name), added("19", fluid=name))
    assert serviced_once(calls, about, "change", fluid=fluid)


def test_the_oil_of_a_gearbox_is_not_that_of_the_engine() -> None:
    fluid = [*PLAIN_OIL, {"name": "gear oil", "capacity": "20", "unit": "ounce"}]
    calls = (drained("18", fluid="gear oil"), added("19", fluid="gear oil"))
    assert not serviced_once(calls, "engine oil", "change", fluid=fluid)
    assert serviced_once(calls, "gear oil", "change", fluid=fluid)


def test_a_level_called_full_is_a_level_checked() -> None:
    assert serviced_once((level("full"),), "oil level", "check")
    assert serviced_once((level("full"),), "oil", "check level")
    assert not serviced_once((level("low"),), "oil level", "check")
    assert not serviced_once((level("full"),), "oil", "change")


def test_what_is_only_drained_counts_when_it_is_out() -> None:
    assert serviced_once((drained("18"),), "oil", "drain")
    assert not serviced_once((drained("18"),), "oil", "change")
    assert serviced_once((added("2"),), "oil", "top up")


def test_an_item_of_several_things_is_done_when_all_of_them_are() -> None:
    blade, filter_ = work("cleaned", "blade"), work("cleaned", "air filter")
    assert not serviced_once((blade,), "blade and air filter", "clean")
    assert serviced_once((blade, filter_), "blade and air filter", "clean")


def test_belts_are_done_when_each_of_them_is() -> None:
    drive, reverse = work("checked", "drive belt"), work("checked", "reverse belt")
    assert not serviced_once((reverse,), "belts", "check", belt=TWO_BELTS)
    assert serviced_once((drive, reverse), "belts", "check", belt=TWO_BELTS)


@pytest.mark.parametrize(
    ("call", "about", "work_done"),
    [
        (work("tightened", "head bolt"), "head bolts", "tighten"),
        (reading("head bolt torque", "18", "foot pound"), "head bolts", "check"),
        (reading("front tire pressure", "20", "psi"), "tires", "check the pressure"),
        (work("greased", "drum bearing"), "drum bearings", "grease"),
        (work("inflated", "front tire"), "front tire", "inflate"),
    ],
)
def test_plurals_and_kinds_count(call: it.Intent, about: str, work_done: str) -> None:
    more = {
        "torque": [{"fastener": "head bolt", "unit": "foot pound", "low": "17", "high": "20"}],
        "tire": [{"name": "front tire", "low": "15", "high": "20"}],
        "part": [{"name": "drum bearing"}],
    }
    assert serviced_once((call,), about, work_done, **more)
