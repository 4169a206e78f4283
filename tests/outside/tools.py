"""Wrench sizes, drills and tap drills against standards and a library's tables."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from screw_thread_lib.data.ASME import ASME_M_6g6H_dict, ASME_UN_2A2B_dict

from companion.handbook.drill import DrillAnswer, drill_for, machine_screw
from companion.handbook.drill_sizes import LETTER_DRILLS, NUMBER_DRILLS
from companion.handbook.thread import parse_size
from companion.handbook.wrench import wrench_for
from tests.outside.check import Check

PARTS = "bd_warehouse 0.4.0"
"""A library of standard parts; its tables were copied, since it needs a whole CAD kernel."""

# Heads of hex cap screws, and hex nuts, inches.
INCH_WRENCHES = (
    ("1/4", "7/16", "7/16"), ("5/16", "1/2", "1/2"), ("3/8", "9/16", "9/16"),
    ("7/16", "5/8", "11/16"), ("1/2", "3/4", "3/4"), ("9/16", "13/16", "7/8"),
    ("5/8", "15/16", "15/16"), ("3/4", "1 1/8", "1 1/8"), ("7/8", "1 5/16", "1 5/16"),
    ("1", "1 1/2", "1 1/2"),
)  # fmt: skip

# Widths across flats to ISO and to DIN, mm.
METRIC_WRENCHES = (
    (3, "5.5", "5.5"), (4, "7", "7"), (5, "8", "8"), (6, "10", "10"), (8, "13", "13"),
    (10, "16", "17"), (12, "18", "19"), (14, "21", "22"), (16, "24", "24"), (18, "27", "27"),
    (20, "30", "30"), (22, "34", "32"), (24, "36", "36"),
)  # fmt: skip

# Flange bolts, small and large series, mm.
FLANGES = (
    (5, "7", "8"), (6, "8", "10"), (8, "10", "13"), (10, "13", "16"), (12, "16", "18"),
    (14, "18", "21"), (16, "21", "24"),
)  # fmt: skip

# Small hexagons, as on machines from Japan, mm.
SMALL_HEADS = ((8, "12"), (10, "14"), (12, "17"), (14, "19"), (16, "22"))

# Heads of inch flange screws, inches.
INCH_FLANGES = (("1/4", "3/8"), ("5/16", "1/2"), ("3/8", "9/16"), ("7/16", "5/8"), ("1/2", "3/4"))

# Drills 1 to 60 and A to Z, inches; some are rounded to the thousandth there.
NUMBERS = (
    0.228, 0.221, 0.213, 0.209, 0.205, 0.204, 0.201, 0.199, 0.196, 0.193, 0.191, 0.189, 0.185,
    0.182, 0.18, 0.177, 0.173, 0.17, 0.166, 0.161, 0.159, 0.157, 0.154, 0.152, 0.15, 0.147, 0.144,
    0.14, 0.136, 0.1285, 0.12, 0.116, 0.113, 0.111, 0.11, 0.1065, 0.104, 0.1015, 0.0995, 0.098,
    0.096, 0.0935, 0.089, 0.086, 0.082, 0.081, 0.0785, 0.076, 0.073, 0.07, 0.067, 0.0635, 0.0595,
    0.055, 0.052, 0.0465, 0.043, 0.042, 0.041, 0.04,
)  # fmt: skip
LETTERS = (
    0.234, 0.238, 0.242, 0.246, 0.25, 0.257, 0.261, 0.266, 0.272, 0.277, 0.281, 0.29, 0.295, 0.302,
    0.316, 0.323, 0.332, 0.339, 0.348, 0.358, 0.368, 0.377, 0.386, 0.397, 0.404, 0.413,
)  # fmt: skip

# Tap drills for soft metal. Left out is 1-12, where that table has 15/16, the drill of 1-14.
INCH_TAP_DRILLS = (
    ("#4-40", "number 43"), ("#4-48", "number 42"), ("#5-40", "number 38"), ("#5-44", "number 37"),
    ("#6-32", "number 36"), ("#6-40", "number 33"), ("#8-32", "number 29"), ("#8-36", "number 29"),
    ("#10-24", "number 25"), ("#10-32", "number 21"), ("#12-24", "number 16"),
    ("#12-28", "number 14"), ("1/4-20", "number 7"), ("1/4-28", "number 3"),
    ("5/16-18", "letter F"), ("5/16-24", "letter I"), ("3/8-16", "5/16 inch"),
    ("3/8-24", "letter Q"), ("7/16-14", "letter U"), ("7/16-20", "25/64 inch"),
    ("1/2-13", "27/64 inch"), ("1/2-20", "29/64 inch"), ("9/16-12", "31/64 inch"),
    ("9/16-18", "33/64 inch"), ("5/8-11", "17/32 inch"), ("5/8-18", "37/64 inch"),
    ("3/4-10", "21/32 inch"), ("3/4-16", "11/16 inch"), ("7/8-9", "49/64 inch"),
    ("7/8-14", "13/16 inch"), ("1-8", "7/8 inch"),
)  # fmt: skip

# Millimetres. Left out is M22, where that table has 18.5, below the minor diameter of the nut.
METRIC_TAP_DRILLS = (
    ("M3", 2.5), ("M4", 3.3), ("M5", 4.2), ("M6", 5.0), ("M8", 6.8), ("M8x1", 7.0), ("M10", 8.5),
    ("M10x1.25", 8.8), ("M10x1", 9.0), ("M12", 10.3), ("M12x1.5", 10.5), ("M12x1.25", 10.8),
    ("M14", 12.1), ("M14x1.5", 12.5), ("M16", 14.0), ("M16x1.5", 14.5), ("M18", 15.5),
    ("M18x2", 16.0), ("M18x1.5", 16.5), ("M20", 17.5),
)  # fmt: skip

# Percent of thread that charts print beside the drill.
PERCENTS = (
    ("1/4-20", 75), ("5/16-18", 77), ("3/8-16", 77), ("1/2-13", 78), ("1/4-28", 80), ("3/8-24", 79),
)  # fmt: skip


def checks() -> Iterator[Check]:
    """Every row about wrenches and drills."""
    yield from _wrenches()
    yield from _drills()
    yield from _tap_drills()


def _wrenches() -> Iterator[Check]:
    for size, head, nut in INCH_WRENCHES:
        yield Check(
            "wrench", f"head of a {size} inch bolt, inches", head,
            lambda size=size: wrench_for(Fraction(size), "inch").width,
            "ASME B18.2.1, hex cap screws", "from memory",
        )  # fmt: skip
        yield Check(
            "wrench", f"nut of a {size} inch bolt, inches", nut,
            lambda size=size: wrench_for(Fraction(size), "inch").nut_width,
            "ASME B18.2.2, hex nuts", "from memory",
        )  # fmt: skip
    for bolt, iso, din in METRIC_WRENCHES:
        yield Check(
            "wrench", f"head of M{bolt}, mm", iso,
            lambda bolt=bolt: wrench_for(Fraction(bolt), "millimeter").width,
            f"ISO 4014/4017, hex_head_parameters.csv of {PARTS}", "library",
        )  # fmt: skip
        if din != iso:
            yield Check(
                "wrench", f"head of M{bolt}, older, mm", din,
                lambda bolt=bolt: wrench_for(Fraction(bolt), "millimeter").older_width or "none",
                f"DIN 931, hex_head_parameters.csv of {PARTS}", "library",
            )  # fmt: skip

    for bolt, small, large in FLANGES:
        yield Check(
            "wrench", f"flange head of M{bolt}, small series, mm", small,
            lambda bolt=bolt: wrench_for(Fraction(bolt), "millimeter", "flange").width,
            f"EN 1662 (ISO 4162), hex_head_with_flange_parameters.csv of {PARTS}", "library",
        )  # fmt: skip
        yield Check(
            "wrench", f"flange head of M{bolt}, large series, mm", large,
            lambda bolt=bolt:
                wrench_for(Fraction(bolt), "millimeter", "flange").older_width or "none",
            f"EN 1665 (ISO 15071), hex_head_with_flange_parameters.csv of {PARTS}", "library",
        )  # fmt: skip
    for bolt, width in SMALL_HEADS:
        yield Check(
            "wrench", f"small head of M{bolt}, mm", width,
            lambda bolt=bolt: wrench_for(Fraction(bolt), "millimeter", "small").width,
            "JIS B 1180, small hexagon", "from memory",
        )  # fmt: skip
    for size, width in INCH_FLANGES:
        yield Check(
            "wrench", f"flange head of a {size} inch screw, inches", width,
            lambda size=size: wrench_for(Fraction(size), "inch", "flange").width,
            "ASME B18.2.1, hex flange screws", "from memory",
        )  # fmt: skip


def _drills() -> Iterator[Check]:
    for number, size in enumerate(NUMBERS, start=1):
        yield Check(
            "drill", f"number {number}, inches", size,
            lambda number=number: float(NUMBER_DRILLS[number]),
            f"drill_sizes.csv of {PARTS}", "library", abs=0.000501,
        )  # fmt: skip
    for letter, size in zip(LETTER_DRILLS, LETTERS, strict=True):
        yield Check(
            "drill", f"letter {letter}, inches", size,
            lambda letter=letter: float(LETTER_DRILLS[letter]),
            f"drill_sizes.csv of {PARTS}", "library",
        )  # fmt: skip


def _tap_drills() -> Iterator[Check]:
    for thread, drill in INCH_TAP_DRILLS:
        yield Check(
            "tap drill", f"drill for {thread}", drill, lambda thread=thread: _drill(thread).drill,
            f"tap_hole_sizes.csv of {PARTS}", "library",
        )  # fmt: skip
    yield Check(
        "tap drill", "drill for 1-12", "59/64 inch", lambda: _drill("1-12").drill,
        "tap drill charts", "from memory",
    )  # fmt: skip
    for thread, size in METRIC_TAP_DRILLS:
        yield Check(
            "tap drill", f"drill for {thread}, mm", size,
            lambda thread=thread: _drill(thread).diameter,
            f"tap_hole_sizes.csv of {PARTS}, 75 % of thread", "library", abs=0.1001,
        )  # fmt: skip
    for thread, percent in PERCENTS:
        yield Check(
            "tap drill", f"percent of thread, {thread}", percent,
            lambda thread=thread: _drill(thread).percent,
            "tap drill charts of machinery handbooks", "from memory", abs=1,
        )  # fmt: skip
    for thread, row in ASME_UN_2A2B_dict.items():
        if row["series"] != "UNS" and thread in {"1/4-20", "1/4-28", "1/2-13", "1/2-20", "3/4-10"}:
            yield Check(
                "tap drill", f"hole for {thread} within its minor diameter, inches",
                (row["D1min"], row["D1max"]), lambda thread=thread: _drill(thread).diameter,
                "screw_thread_lib 0.0.6, ASME B1.1-2019 class 2B", "library",
            )  # fmt: skip
    for thread, row in ASME_M_6g6H_dict.items():
        yield Check(
            "tap drill", f"hole for {thread} within its minor diameter, mm",
            (row["D1min"] * 25.4, row["D1max"] * 25.4),
            lambda thread=thread: _drill(thread.replace("-", "x")).diameter,
            "screw_thread_lib 0.0.6, ASME B1.13M class 6H", "library",
        )  # fmt: skip


def _drill(thread: str) -> DrillAnswer:
    if thread.startswith("#"):
        number, threads = thread[1:].split("-")
        return drill_for(machine_screw(int(number)), "inch", Fraction(threads))
    diameter, unit, pitch = parse_size(thread)
    return drill_for(diameter, unit, pitch)
