"""Calls that only ask change nothing."""

from __future__ import annotations

from decimal import Decimal

from companion.intent.intents import (
    Finding,
    FollowUp,
    Part,
    ReadBack,
    SpecAsk,
    TorqueAsk,
    WrenchAsk,
)
from companion.job.answers import HandbookSaid, Nothing, ReadBackList, SpecSaid
from companion.job.events import Window
from tests.bench_job import CARD, SHEET, Job, added, convert, mix, reading, step, timer, work


def test_spec_for_a_measure() -> None:
    job = Job(SHEET).call(SpecAsk(measure="gap"))
    window = Window(low=Decimal("0.7"), high=Decimal("0.8"), unit="millimeter", source="maker")
    assert job.answers == (SpecSaid("gap", window),)
    assert job.call(SpecAsk(measure="end play")).answers == (SpecSaid("end play", None),)
    assert Job().call(SpecAsk(measure="gap")).answers == (SpecSaid("gap", None),)


def test_lists_are_read_back_a_line_each() -> None:
    job = Job().call(
        Part(intent="part.need", part="shear pin", count=2),
        Part(intent="part.used", part="spark plug", count=1),
        Finding(part="drive belt", condition="worn"),
        work("greased", "axle"),
        FollowUp(part="carburetor"),
        reading("gap", "30", "thou"),
        reading("gap", "31", "thou"),
        reading("compression", "120", "psi"),
        added("20"),
        timer("soak", hours=2),
    )
    for subject, lines in {
        "parts": ("need 2 shear pins", "used 1 spark plug"),
        "findings": ("drive belt worn",),
        "work": ("greased axle",),
        "follow ups": ("carburetor",),
        "readings": ("gap 31 thou", "compression 120 p s i"),
        "fluids": ("added 20 ounces of oil",),
        "timers": ("soak timer",),
    }.items():
        assert job.call(ReadBack(subject=subject)).answers == (ReadBackList(subject, lines),)
        assert job.events == ()


def test_an_empty_list_says_so() -> None:
    assert Job().call(ReadBack(subject="parts")).answers == (Nothing("No parts recorded yet."),)


def test_steps_are_read_back_with_how_far_each_is() -> None:
    job = Job(None, CARD).open().call(step("done"), step("skip"), ReadBack(subject="steps"))
    assert job.answers == (
        ReadBackList(
            "steps",
            ("make safe done", "drain oil skipped", "grease now", "gap left", "close up left"),
        ),
    )


def test_the_handbook_answers_with_its_source() -> None:
    # NIST SP 811 B.8: an inch is 25.4 mm exactly.
    (said,) = Job().call(convert("30", "thou", "millimeter")).answers
    assert isinstance(said, HandbookSaid)
    assert "0.762 millimeters" in said.text
    assert "NIST" in said.source
    # ASME B18.2.1: a 3/8 inch hex bolt takes a 9/16 inch wrench.
    (said,) = Job().call(WrenchAsk(size=Decimal("0.375"), unit="inch")).answers
    assert isinstance(said, HandbookSaid)
    assert "9/16" in said.text
    # Handbook tables: 3/8-16 grade 5, dry, about 31 foot pounds.
    (said,) = Job().call(TorqueAsk(size=Decimal("0.375"), unit="inch", grade="grade 5")).answers
    assert isinstance(said, HandbookSaid)
    assert "31 foot pounds" in said.text
    # Two US gallons are 256 fluid ounces; a fiftieth of that is 5.12.
    (said,) = Job().call(mix("50", "2", "gallon")).answers
    assert isinstance(said, HandbookSaid)
    assert "5.1" in said.text


def test_what_the_handbook_does_not_hold_is_a_plain_sentence() -> None:
    (said,) = Job().call(WrenchAsk(size=Decimal("0.3"), unit="inch")).answers
    assert isinstance(said, Nothing)
    (said,) = Job().call(TorqueAsk(size=Decimal("8"), unit="millimeter", grade="grade 5")).answers
    assert isinstance(said, Nothing)
