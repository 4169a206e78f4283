"""Filling: how much more, too much, how to begin, whose ounces, and which grade."""

from __future__ import annotations

import itertools
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.handbook.units import to_si
from companion.intent.decision import Expectation
from companion.intent.intents import FluidGrade, FluidLeft, ReadBack
from companion.job import decide as job_decide
from companion.job import events as ev
from companion.job.answers import FillSaid, Nothing
from companion.job.fill import Air, fill_of, first_fill, grade_at, ounce_in_doubt, unit_said
from companion.job.sheet import SpecFluid, SpecGrade
from companion.job.state import State
from companion.shelf.rules import shipped_rules
from companion.speak.wording import Reply, word
from tests.bench_job import DISREGARD, Job, added, correction, drained, level, reading

# An invented machine.
SHEET: dict[str, Any] = {
    "name": "Dappleford tiller",
    "kind": "tiller",
    "fluid": [
        {
            "name": "oil",
            "capacity": "24",
            "unit": "us ounce",
            "check": "dipstick",
            "grades": [
                {"grade": "SAE 30", "low": "4", "high": "40"},
                {"grade": "5W-30", "low": "-25", "high": "4"},
            ],
        },
        {"name": "gear oil", "grade": "80W-90"},
        {"name": "fuel", "capacity": "3", "unit": "us quart"},
    ],
}
IMPERIAL = {
    **SHEET,
    "fluid": [{"name": "oil", "capacity": "20", "unit": "imperial ounce", "check": "dipstick"}],
}
UNNAMED = {**SHEET, "fluid": [{"name": "oil", "capacity": "20", "unit": "ounce"}]}


def shop(sheet: dict[str, Any], ounce: str = "us", air: str | None = None) -> Job:
    """A job in a shop with settings of its own."""
    job = Job()
    job.records.clear()
    job.state = State.start(shipped_rules())
    job.keep(
        ev.SessionOpened.model_validate(
            {
                "session": "test",
                "machine": sheet,
                "card": None,
                "call_sign": "bench",
                "ounce": ounce,
                "air_temperature": air,
                "software": "test",
            }
        )
    )
    return job


def reply(job: Job) -> Reply:
    said = word(job.state, job.events, job.answers)
    assert said is not None
    return said


def said(job: Job) -> str:
    return reply(job).whole


# --- how much more ------------------------------------------------------------------------------


def test_the_readback_of_a_filling_says_how_far_it_is() -> None:
    job = Job(SHEET).call(drained("20"), added("10"))
    assert said(job).endswith("Ten of twenty four ounces: fourteen more.")
    job.call(added("12"))
    assert said(job).endswith("Twenty two of twenty four ounces: two more at most.")
    job.call(added("2"))
    assert said(job).endswith("Twenty four of twenty four ounces: read the level.")


def test_too_much_is_a_warning() -> None:
    job = Job(SHEET).call(drained("20"), added("22"), added("4"))
    assert reply(job).tone == "warning"
    assert said(job).endswith("Two ounces too much. Let it out before a start.")
    # Once it is let out, what is in counts again.
    job.call(drained("2"), FluidLeft(fluid="oil"))
    assert said(job) == "Oil: no more. Twenty four of twenty four in. Read the level."


def test_more_onto_a_level_called_full_is_a_warning_as_well() -> None:
    job = Job(SHEET).call(level("full"), added("2"))
    assert reply(job).tone == "warning"
    assert said(job).endswith("It was called full before this: read it again.")


def test_how_much_more_is_answered_with_the_share() -> None:
    job = Job(SHEET).call(drained("20"), added("18"), FluidLeft(fluid="oil"))
    assert (
        said(job)
        == "Oil: six ounces more at most. Eighteen of twenty four in, seventy five percent."
    )
    # The fluid named last is meant.
    assert job.call(FluidLeft()).answers == job.answers


def test_what_is_corrected_or_disregarded_does_not_count() -> None:
    job = Job(SHEET).call(drained("20"), added("2"), correction("20"), FluidLeft(fluid="oil"))
    assert "four ounces more at most" in said(job)
    job.call(added("2"), DISREGARD, FluidLeft(fluid="oil"))
    assert "four ounces more at most" in said(job)


def test_in_metric_it_is_answered_in_metric() -> None:
    # 24 US fl oz are 709.8 mL (NIST SP 811 B.8: 29.573 53 mL each).
    job = Job(SHEET).call(drained("0.5", "liter"), added("600", "milliliter"))
    assert said(job).endswith("Six hundred of seven hundred ten milliliters: one hundred ten more.")


def test_a_hair_under_the_line_is_the_line() -> None:
    job = Job(SHEET).call(drained("20"), added("709", "milliliter"))
    assert said(job).endswith("milliliters: read the level.")


def test_what_nobody_can_know_is_said() -> None:
    job = Job(SHEET).call(FluidLeft(fluid="oil"))
    assert said(job) == (
        "Oil was not called drained, so what is in is not known. "
        "It takes twenty four ounces: go by the dipstick."
    )
    job.call(drained("8", fluid="gear oil"), FluidLeft(fluid="gear oil"))
    assert said(job) == (
        "The sheet has no capacity for gear oil, eight ounces came out. Go by the level."
    )
    assert Job(SHEET).call(FluidLeft()).answers == (
        Nothing("Which fluid? Ask again with its name."),
    )


def test_reading_back_says_the_share() -> None:
    job = Job(SHEET).call(drained("20"), added("18"), ReadBack(subject="oil"))
    assert said(job).endswith("six ounces to capacity, seventy five percent.")


def test_a_filling_far_beyond_what_is_left_is_expected_by_nobody() -> None:
    job = Job(SHEET).call(drained("24"))
    assert job_decide.expectations(job.state)["oil"].high == pytest.approx(24 * 29.57353e-6)
    job.call(added("20"))
    assert job_decide.expectations(job.state)["oil"].high == pytest.approx(4 * 29.57353e-6)
    # Little by little at the end is no surprise, even a little too much.
    job.call(added("3.9"))
    assert job_decide.expectations(job.state)["oil"] == Expectation(
        low=None, high=pytest.approx(3 * 29.57353e-6), unit="m3"
    )


# --- how to begin -------------------------------------------------------------------------------


def test_nine_tenths_first_is_said_once_a_draining() -> None:
    # Common practice. 21.6 ounces are said as 21: the rest by the dipstick.
    job = Job(SHEET).call(drained("20"))
    assert said(job).endswith("First fill about twenty one ounces.")
    assert "First fill" not in said(job.call(drained("2")))
    job.call(added("22"))
    assert said(job.call(drained("22"))).endswith("First fill about twenty one ounces.")


def test_the_grade_is_said_with_it_where_it_is_known() -> None:
    job = shop(SHEET, air="-10").call(drained("20"))
    assert said(job).endswith("First fill about twenty one ounces, five W thirty.")
    sheet = {**SHEET, "fluid": [{"name": "gear oil", "capacity": "20", "unit": "ounce",
                                 "grade": "80W-90"}]}  # fmt: skip
    job = Job(sheet).call(drained("18", fluid="gear oil"))
    assert said(job).endswith("First fill about eighteen ounces, eighty W ninety.")


def test_how_much_more_before_anything_is_in_says_how_to_begin() -> None:
    job = Job(SHEET).call(drained("20"), FluidLeft(fluid="oil"))
    assert said(job) == (
        "Oil: twenty four ounces. First about twenty one, then creep up on the dipstick."
    )


def test_a_level_plug_is_crept_up_to() -> None:
    oil = {"name": "gear oil", "capacity": "20", "unit": "us ounce", "check": "level plug"}
    job = Job({**SHEET, "fluid": [oil]}).call(drained("18", fluid="gear oil"), FluidLeft())
    assert said(job) == (
        "Gear oil: twenty ounces. First about eighteen, then creep up to the level plug."
    )


def test_a_fuel_tank_needs_no_creeping_up() -> None:
    job = Job(SHEET).call(drained("1", "quart", "fuel"))
    assert "First fill" not in said(job)
    assert said(job.call(FluidLeft(fluid="fuel"))) == "Fuel: three quarts."


# --- whose ounce --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sheet_unit", "shop_ounce", "doubt"),
    [
        ("us ounce", "us", False),
        ("us ounce", "imperial", True),
        ("imperial ounce", "us", True),
        ("imperial pint", "imperial", False),
        ("ounce", "us", False),
        ("ounce", "imperial", True),
        ("milliliter", "imperial", False),
        ("liter", "us", False),
        (None, "imperial", False),
    ],
)
def test_when_ounces_may_be_taken_for_one_another(
    sheet_unit: str | None, shop_ounce: Any, doubt: bool
) -> None:
    assert ounce_in_doubt(SpecFluid(name="oil", unit=sheet_unit), shop_ounce) is doubt


def test_a_sheet_in_the_other_ounces_is_converted_and_said() -> None:
    # 20 imperial fl oz = 568.26 mL = 19.215 US fl oz (NIST SP 811 B.8: 28.413 06 and 29.573 53 mL).
    job = shop(IMPERIAL).call(drained("15"), FluidLeft(fluid="oil"))
    answer = job.answers[0]
    assert isinstance(answer, FillSaid)
    assert answer.sheet == (Decimal(20), "imperial ounce")
    assert answer.capacity == (Decimal("19.2"), "us ounce")
    assert said(job) == (
        "Oil: the sheet's twenty imperial ounces are nineteen point two u s ounces. "
        "First about seventeen, then creep up on the dipstick."
    )
    job.call(added("10"))
    assert said(job).endswith("Ten of nineteen point two u s ounces: nine point two more.")


def test_in_an_imperial_shop_a_us_sheet_is_converted_and_said() -> None:
    # 24 US fl oz = 709.76 mL = 24.980 imperial fl oz.
    job = shop(SHEET, "imperial").call(drained("20"), FluidLeft(fluid="oil"))
    assert said(job).startswith(
        "Oil: the sheet's twenty four u s ounces are twenty five imperial ounces."
    )


def test_a_sheet_that_does_not_say_whose_is_taken_as_the_shops_and_that_is_said() -> None:
    job = shop(UNNAMED, "imperial").call(drained("15"), added("10"))
    assert said(job).endswith("Ten of twenty imperial ounces: ten more.")
    # In a US shop it goes without saying.
    job = shop(UNNAMED).call(drained("15"), added("10"))
    assert said(job).endswith("Ten of twenty ounces: ten more.")


# --- which grade --------------------------------------------------------------------------------


def test_the_grade_goes_by_the_air_temperature_called_last() -> None:
    job = Job(SHEET).call(reading("air temperature", "-5", "celsius"), FluidGrade(fluid="oil"))
    assert said(job) == "At minus five degrees celsius: five W thirty."
    job.call(reading("air temperature", "68", "fahrenheit"), FluidGrade(fluid="oil"))
    assert said(job) == "At sixty eight degrees fahrenheit: s a e thirty."


def test_else_by_what_the_shop_expects() -> None:
    job = shop(SHEET, air="-10").call(FluidGrade(fluid="oil"))
    assert said(job) == "At minus ten degrees celsius: five W thirty."
    # What is called out wins.
    job.call(reading("air temperature", "20", "celsius"), FluidGrade(fluid="oil"))
    assert said(job) == "At twenty degrees celsius: s a e thirty."


def test_it_is_said_before_the_first_filling() -> None:
    job = shop(SHEET, air="-10").call(drained("20"), FluidLeft(fluid="oil"))
    assert said(job).endswith("creep up on the dipstick. Five W thirty.")


def test_without_a_temperature_all_are_said_and_it_is_asked_for() -> None:
    job = Job(SHEET).call(FluidGrade(fluid="oil"))
    assert said(job) == (
        "S a e thirty from four degrees celsius, five W thirty below. Call the air temperature."
    )


def test_colder_than_any_grade_is_no_grade() -> None:
    job = Job(SHEET).call(reading("air temperature", "-30", "celsius"), FluidGrade(fluid="oil"))
    assert said(job) == (
        "The sheet has no oil for minus thirty degrees celsius. "
        "It goes from minus twenty five to forty degrees celsius."
    )


def test_one_grade_for_all_weather_and_none_at_all() -> None:
    assert said(Job(SHEET).call(FluidGrade(fluid="gear oil"))) == "Gear oil: eighty W ninety."
    assert said(Job(SHEET).call(FluidGrade(fluid="fuel"))) == "The sheet has no grade for fuel."
    assert said(Job().call(FluidGrade(fluid="oil"))) == "The sheet has no grade for oil."


# --- properties ---------------------------------------------------------------------------------

amounts = st.decimals(Decimal("0.1"), Decimal("50"), places=1)
units = st.sampled_from(["ounce", "milliliter", "liter", "pint", "quart"])


@given(st.lists(st.tuples(st.sampled_from(["added", "drained"]), amounts, units), max_size=8))
def test_filled_and_left_always_make_the_capacity(moves: list[tuple[str, Decimal, str]]) -> None:
    job = Job(SHEET)
    for action, value, unit in moves:
        call = (added if action == "added" else drained)(str(value), unit)
        job.call(call)
        fill = fill_of(job.state, "oil")
        if fill is None:
            continue
        # Rounded to what a cup shows, so that each of the three may be off by half a step.
        step = max(Decimal("0.2"), fill.capacity / 50, abs(fill.filled) / 50, abs(fill.left) / 50)
        if fill.unit == "milliliter":
            step = max(step, Decimal(4))
        assert abs(fill.filled + fill.left - fill.capacity) <= step
        assert (fill.percent > 100) == (fill.left < 0) or abs(fill.percent - 100) <= 1
        assert said(job), "every move has its readback"


@given(
    st.decimals(Decimal("0.05"), Decimal("400"), places=2),
    st.sampled_from(["us ounce", "imperial ounce", "milliliter", "liter", "us quart", "ounce"]),
    st.sampled_from(["us", "imperial"]),
)
def test_the_first_filling_is_never_more_than_nine_tenths_nor_much_less(
    capacity: Decimal, unit: str, ounce: Any
) -> None:
    job = shop(
        {**SHEET, "fluid": [{"name": "oil", "capacity": str(capacity), "unit": unit}]}, ounce
    )
    first = first_fill(job.state, "oil")
    assert first is not None
    takes, _ = to_si(capacity, unit, ounce=ounce)
    poured, _ = to_si(first, unit_said(job.state, "oil"), ounce=ounce)
    assert Decimal("0.8") * takes <= poured <= Decimal("0.9000001") * takes


@given(
    st.lists(st.integers(-40, 50), min_size=2, max_size=5, unique=True),
    st.integers(-60, 70),
    st.sampled_from(["celsius", "fahrenheit"]),
)
def test_every_temperature_between_the_ends_has_the_grade_whose_range_holds_it(
    ends: list[int], at: int, unit: Any
) -> None:
    ends = sorted(ends)
    grades = tuple(
        SpecGrade(grade=str(index), low=Decimal(low), high=Decimal(high), unit=unit)
        for index, (low, high) in enumerate(itertools.pairwise(ends))
    )
    found = grade_at(SpecFluid(name="oil", grades=grades[::-1]), Air(Decimal(at), unit))
    if not ends[0] <= at <= ends[-1]:
        assert found is None
    else:
        assert found is not None
        index = int(found.grade)
        assert ends[index] <= at <= ends[index + 1]
        # Where two meet, the warmer begins.
        assert at < ends[index + 1] or index == len(grades) - 1
