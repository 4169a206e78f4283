"""Which machines a card is for, and steps that are only for machines that have something."""

from __future__ import annotations

from typing import Any

import pytest

from companion.cli import main
from companion.job.card import CardFits, JobCard
from companion.job.fits import fits, fits_words, lists
from companion.job.sheet import SpecSheet
from companion.shelf.load import load_card, load_sheet
from tests.bench_job import Job, step


def card(**what: Any) -> JobCard:
    return JobCard(name="trial", title="Trial", fits=CardFits(**what))


def sheet(kind: str, cycle: str | None = None) -> SpecSheet:
    return SpecSheet.model_validate(
        {"name": "Trial", "kind": kind, "identification": {"cycle": cycle}}
    )


@pytest.mark.parametrize(
    ("what", "kind", "cycle", "expected"),
    [
        ({}, "whatever it is", None, True),
        ({"kinds": ("mower",)}, "walk-behind rotary mower, recoil start", None, True),
        ({"kinds": ("mower",)}, "Mower", None, True),
        ({"kinds": ("mower",)}, "mowers' trailer", None, False),
        ({"kinds": ("tiller", "mower")}, "rear-tine tiller", None, True),
        ({"kinds": ("pressure washer",)}, "cold-water pressure washer", None, True),
        ({"kinds": ("pressure washer",)}, "washer", None, False),
        ({"cycles": ("two-stroke",)}, "trimmer", "two-stroke", True),
        ({"cycles": ("two-stroke",)}, "trimmer", "four-stroke", False),
        ({"cycles": ("two-stroke",)}, "trimmer", None, True),
        ({"cycles": ("four-stroke",), "kinds": ("mower",)}, "trimmer", "four-stroke", False),
    ],
)
def test_a_card_is_for_the_machines_that_it_names(
    what: dict[str, Any], kind: str, cycle: str | None, expected: bool
) -> None:
    assert fits(card(**what), sheet(kind, cycle)) is expected


def test_it_is_said_which_machines_a_card_is_for(capsys: pytest.CaptureFixture[str]) -> None:
    assert fits_words(card()) is None
    assert fits_words(card(kinds=("mower", "tiller"), cycles=("four-stroke",))) == (
        "mower or tiller, four-stroke"
    )
    assert main(["cards"]) == 0
    listed = capsys.readouterr().out.splitlines()
    assert any("blade-service" in line and "(for mower)" in line for line in listed)
    assert main(["cards", "two-stroke-service"]) == 0
    assert "For: two-stroke." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("card_name", "sheet_name"),
    [
        ("blade-service", "tarnfield-mower"),
        ("chipper-service", "oddlestone-chipper"),
        ("drive-service", "quillmoor-tiller"),
        ("generator-load-check", "brackwater-generator"),
        ("pressure-washer-service", "saltmere-washer"),
        ("two-stroke-service", "wrenlow-trimmer"),
    ],
)
def test_a_card_of_one_kind_of_machine_fits_that_one_alone(card_name: str, sheet_name: str) -> None:
    others = ("tarnfield-mower", "oddlestone-chipper", "quillmoor-tiller", "wrenlow-trimmer",
              "brackwater-generator", "saltmere-washer")  # fmt: skip
    wanted = load_card(card_name)
    assert [name for name in others if fits(wanted, load_sheet(name))] == [sheet_name]


@pytest.mark.parametrize("name", ["shear pin", "belt deflection", "reverse belt", "gear oil",
                                  "plug torque", "tire pressure", "play"])  # fmt: skip
def test_a_sheet_lists_its_parts_measures_fluids_and_belts(name: str) -> None:
    assert lists(load_sheet("quillmoor-tiller"), name)
    assert not lists(load_sheet("wrenlow-trimmer"), name) or name == "plug torque"


LISTED: dict[str, Any] = {
    "name": "trial",
    "title": "Trial",
    "step": [
        {"name": "look", "say": "Look."},
        {
            "name": "belt",
            "say": "Call belt deflection.",
            "only_if": {"listed": "drive belt"},
            "expects": ["belt deflection"],
        },
        {
            "name": "tension",
            "say": "Adjust it.",
            "only_if": {"measure": "belt deflection", "verdict": ["low"], "step": "belt"},
        },
        {
            "name": "new-belt",
            "say": "Fit a new one.",
            "only_if": {"part": "drive belt", "found": ["torn"], "step": "belt"},
        },
        {"name": "end", "say": "Done."},
    ],
}
BELTED = {"name": "x", "kind": "x", "belt": [{"name": "drive belt"}]}
BARE = {"name": "x", "kind": "x"}


def test_a_step_for_a_part_that_the_machine_has_not_is_passed_with_all_that_hangs_on_it() -> None:
    job = Job(BARE, LISTED).open().call(step("done"))
    assert job.state.step == "end"
    assert job.asked is None


def test_a_step_for_a_part_that_the_machine_has_is_come_to() -> None:
    assert Job(BELTED, LISTED).open().call(step("done")).state.step == "belt"


def test_without_a_sheet_it_is_asked_whether_the_step_applies() -> None:
    job = Job(None, LISTED).open().call(step("done"))
    assert job.asked is not None
    assert (job.asked.about, job.asked.step) == ("applies", "belt")
    assert "lists drive belt" in str(job.asked)
