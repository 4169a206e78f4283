"""Values, windows, verdicts and remarks as a log or a page writes them."""

from __future__ import annotations

from decimal import Decimal

from companion.handbook.unit_table import UNITS
from companion.job import events as ev
from companion.job.remark import Apart, Changed, EngineNotAsWanted, LastTime, Remark


def quantity(value: Decimal, unit: str) -> str:
    """Return a value with its unit in words: "30 thou", "16 foot pounds".

    A unit of another version is shown as the log has it.
    """
    known = UNITS.get(unit)
    if value != 1 and known is not None:
        unit = known.named_several
    return f"{value:f} {unit}"


def window_words(window: ev.Window) -> str:
    """Return a spec window in words: "28 to 31 thou", "at least 90 psi"."""
    if window.low is not None and window.high is not None:
        return f"{window.low:f} to {quantity(window.high, window.unit)}"
    if window.low is not None:
        return f"at least {quantity(window.low, window.unit)}"
    if window.high is not None:
        return f"at most {quantity(window.high, window.unit)}"
    return "no figure"


def verdict_words(event: ev.ReadingRecorded) -> str:
    """Return what a reading is held to be: "in", "high by 3 thou (wanted 28 to 31 thou)"."""
    against = f" (wanted {window_words(event.window)})" if event.window is not None else ""
    return f"{by_how_much(event)}{against}"


def by_how_much(event: ev.ReadingRecorded) -> str:
    """Return the verdict alone: "in", "high by 3 thou", "no figure to judge by"."""
    if event.verdict == "unknown":
        return "no figure to judge by"
    beyond = f" by {quantity(event.beyond, event.unit)}" if event.beyond is not None else ""
    return f"{event.verdict}{beyond}"


def remark_words(remark: Remark, unit: str) -> str:
    """Return a remark about a reading in words: "down 20 psi since 2 March 2026".

    Args:
        remark: The remark.
        unit: Of the reading.
    """
    match remark:
        case EngineNotAsWanted(wanted="cold"):
            return "the figure holds for a cold engine, and it counted as hot"
        case EngineNotAsWanted():
            return "the figure holds for a hot engine, and it did not count as hot"
        case Apart():
            other = remark.other or "the one called just before"
            return f"{remark.percent} percent off {other}, {quantity(remark.value, unit)}"
        case Changed():
            way = "up" if remark.by > 0 else "down"
            return f"{way} {quantity(abs(remark.by), unit)} since {_date(remark)}"
        case LastTime():
            last = quantity(remark.value, remark.unit)
            return f"not from the maker: {last} on {_date(remark)}"


def _date(remark: Changed | LastTime) -> str:
    return f"{remark.at.day} {remark.at:%B %Y}"
