"""Fluids on a spec sheet against NIST's factors and what shops do."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from decimal import Decimal

from companion.handbook.unit_table import OunceSystem
from companion.intent.intents import SI
from companion.job.events import FluidMoved, SessionOpened
from companion.job.fill import Fill, fill_of, first_fill
from companion.job.folding.evolve import fold
from companion.job.record import Record
from companion.job.state import State
from companion.shelf.rules import shipped_rules
from tests.outside.check import Check

NIST_811 = "NIST SP 811 B.8: US fl oz 2.957 353 E-5 m3, imperial fl oz 2.841 306 E-5 m3"

AT = datetime(2024, 3, 4, 9, tzinfo=UTC)
"""Any instant will do: nothing here depends on it."""


def _job(capacity: str, unit: str, ounce: OunceSystem, *moves: tuple[str, str]) -> State:
    """A job in which oil was drained, and then these amounts were added."""
    sheet = {
        "name": "Trial",
        "kind": "trial",
        "fluid": [{"name": "oil", "capacity": capacity, "unit": unit}],
    }
    opened = SessionOpened(
        session="trial", machine=sheet, card=None, call_sign="bench", ounce=ounce, software="trial"
    )
    si = SI(value=0.0, unit="m3")
    moved = [
        FluidMoved(action=action, fluid="oil", value=Decimal(value), unit=moved_in, si=si)
        for action, value, moved_in in (
            ("drained", "0.3", "liter"),
            *(("added", *move) for move in moves),
        )
    ]
    records = (Record(seq, AT, event) for seq, event in enumerate((opened, *moved), start=1))
    return fold(records, shipped_rules())


def _fill(state: State, unit: str) -> Fill:
    found = fill_of(state, "oil", unit)
    assert found is not None
    return found


def checks() -> Iterator[Check]:
    """Every row about filling."""
    rows: tuple[tuple[str, str, OunceSystem, str, float, float], ...] = (
        ("24", "us ounce", "us", "milliliter", 709.7647, 0.5),
        ("24", "us ounce", "imperial", "ounce", 24.98023, 0.05),
        ("20", "imperial ounce", "us", "ounce", 19.21519, 0.05),
        ("1.5", "imperial pint", "us", "ounce", 28.82279, 0.05),
        ("0.6", "liter", "us", "ounce", 20.28841, 0.05),
        ("0.6", "liter", "imperial", "ounce", 21.11705, 0.05),
    )
    for capacity, unit, ounce, said, expected, within in rows:
        yield Check(
            topic="filling",
            what=f"capacity of {capacity} {unit} in a shop of {ounce} ounces, {said}",
            expected=expected,
            ours=lambda c=capacity, u=unit, o=ounce, s=said: _fill(_job(c, u, o), s).capacity,
            source=NIST_811,
            basis="by hand",
            abs=within,
        )
    yield Check(
        topic="filling",
        what="left of 24 US fl oz after 0.5 L and 4 US fl oz, US fl oz",
        expected=24 - 500 / 29.57353 - 4,
        ours=lambda: (
            _fill(_job("24", "us ounce", "us", ("0.5", "liter"), ("4", "ounce")), "ounce").left
        ),
        source=NIST_811,
        basis="by hand",
        abs=0.05,
    )
    yield Check(
        topic="filling",
        what="first filling of a sump of 20 US fl oz, US fl oz",
        expected=18.0,
        ours=lambda: first_fill(_job("20", "us ounce", "us"), "oil", "ounce") or "unknown",
        source="about nine tenths, then creep up on the dipstick",
        basis="common practice",
    )
