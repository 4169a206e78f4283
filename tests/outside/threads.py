"""Threads, strengths and torques against standards, charts and an independent library."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from screw_thread_lib import Assembly
from screw_thread_lib.data.ASME import ASME_M_6g6H_dict, ASME_UN_2A2B_dict

from companion.handbook.plug import Head, Seat, plug_torque
from companion.handbook.thread import PLUG_THREADS, Thread, parse_size, standard_thread
from companion.handbook.torque import ThreadCondition, TorqueAnswer, proof_strength, torque_for
from tests.outside.check import Check

LIBRARY = "screw_thread_lib 0.0.6, FED-STD-H28/2B formula 1b"

# Tensile stress areas, square inches and square millimetres.
AREAS = (
    ("1/4-20", 0.0318), ("5/16-18", 0.0524), ("3/8-16", 0.0775), ("7/16-14", 0.1063),
    ("1/2-13", 0.1419), ("9/16-12", 0.182), ("5/8-11", 0.226), ("3/4-10", 0.334),
    ("7/8-9", 0.462), ("1-8", 0.606),
    ("1/4-28", 0.0364), ("5/16-24", 0.0580), ("3/8-24", 0.0878), ("7/16-20", 0.1187),
    ("1/2-20", 0.1599), ("9/16-18", 0.203), ("5/8-18", 0.256), ("3/4-16", 0.373),
    ("7/8-14", 0.509), ("1-12", 0.663),
    ("M3", 5.03), ("M4", 8.78), ("M5", 14.2), ("M6", 20.1), ("M8", 36.6), ("M10", 58.0),
    ("M12", 84.3), ("M14", 115), ("M16", 157), ("M18", 192), ("M20", 245), ("M22", 303),
    ("M24", 353),
    ("M8x1", 39.2), ("M10x1.25", 61.2), ("M12x1.25", 92.1), ("M14x1.5", 125), ("M16x1.5", 167),
)  # fmt: skip

# Proof strengths, ksi and MPa.
STRENGTHS = (
    ("1/2", "grade 2", 55), ("7/8", "grade 2", 33), ("1", "grade 5", 85), ("1", "grade 8", 120),
    ("M12", "class 8.8", 580), ("M20", "class 8.8", 600), ("M12", "class 10.9", 830),
    ("M12", "class 12.9", 970), ("M8", "class 4.8", 310), ("M8", "class 5.8", 380),
    ("M12", "class 9.8", 650), ("M8", "A2-70", 450), ("M8", "A4-70", 450), ("M8", "A4-80", 600),
)  # fmt: skip

# Proof loads as the standards' own tables print them, lbf and N: strength and area at once.
PROOF_LOADS = (
    ("1/4-20", "grade 5", 2700), ("5/16-18", "grade 5", 4450), ("3/8-16", "grade 5", 6600),
    ("1/2-13", "grade 5", 12_100), ("1/4-20", "grade 8", 3800), ("3/8-16", "grade 8", 9300),
    ("1/2-13", "grade 8", 17_050), ("3/8-16", "grade 2", 4250), ("1/2-13", "grade 2", 7800),
    ("M6", "class 8.8", 11_600), ("M8", "class 8.8", 21_200), ("M10", "class 8.8", 33_700),
    ("M12", "class 8.8", 48_900), ("M16", "class 8.8", 91_000), ("M8", "class 10.9", 30_400),
    ("M10", "class 10.9", 48_100), ("M12", "class 10.9", 70_000), ("M8", "class 12.9", 35_500),
    ("M10", "class 12.9", 56_300), ("M12", "class 12.9", 81_800),
    ("M6", "class 4.8", 6230), ("M8", "class 4.8", 11_400), ("M10", "class 4.8", 18_000),
    ("M6", "class 5.8", 7640), ("M8", "class 5.8", 13_900), ("M10", "class 5.8", 22_000),
    ("M6", "class 9.8", 13_100), ("M8", "class 9.8", 23_800), ("M10", "class 9.8", 37_700),
)  # fmt: skip

# Dry torques as bolt charts print them: K 0.20, 75 % of proof load, whole foot pounds. Charts
# differ among themselves by about 5 %.
FOOT_POUNDS = (
    ("1/4-20", "grade 2", 5.5), ("1/4-20", "grade 5", 8), ("1/4-20", "grade 8", 12),
    ("5/16-18", "grade 2", 11), ("5/16-18", "grade 5", 17), ("5/16-18", "grade 8", 25),
    ("3/8-16", "grade 2", 20), ("3/8-16", "grade 5", 31), ("3/8-16", "grade 8", 44),
    ("7/16-14", "grade 2", 32), ("7/16-14", "grade 5", 49), ("7/16-14", "grade 8", 70),
    ("1/2-13", "grade 2", 49), ("1/2-13", "grade 5", 75), ("1/2-13", "grade 8", 107),
    ("9/16-12", "grade 5", 109), ("9/16-12", "grade 8", 154),
    ("5/8-11", "grade 5", 150), ("5/8-11", "grade 8", 212),
    ("3/4-10", "grade 5", 266), ("3/4-10", "grade 8", 376),
    ("1/4-28", "grade 5", 10), ("5/16-24", "grade 5", 19), ("3/8-24", "grade 5", 35),
    ("1/2-20", "grade 5", 85), ("3/8-24", "grade 8", 49),
)  # fmt: skip

# The charts' "lubricated" column, K 0.15, which is what we take for anti-seize.
SLICK_FOOT_POUNDS = (
    ("5/16-18", "grade 5", 13), ("3/8-16", "grade 5", 23), ("1/2-13", "grade 5", 57),
    ("5/16-18", "grade 8", 18), ("3/8-16", "grade 8", 33), ("1/2-13", "grade 8", 80),
)  # fmt: skip

# Metric charts assume friction between 0.10 and 0.14 and 70 to 90 % of proof load: 10 % apart.
NEWTON_METERS = (
    ("M5", "class 8.8", 6), ("M6", "class 8.8", 10), ("M8", "class 8.8", 25),
    ("M10", "class 8.8", 49), ("M12", "class 8.8", 86), ("M14", "class 8.8", 137),
    ("M16", "class 8.8", 214), ("M8", "class 10.9", 36), ("M10", "class 10.9", 72),
    ("M12", "class 10.9", 126), ("M8", "class 12.9", 42), ("M12", "class 12.9", 147),
    ("M8x1", "class 8.8", 27), ("M10x1.25", "class 8.8", 52), ("M12x1.25", "class 8.8", 94),
)  # fmt: skip


# Stainless, charts for friction near 0.14; they differ among themselves by 20 %.
STAINLESS = (
    ("M5", "A2-70", 4.2), ("M6", "A2-70", 7.3), ("M8", "A2-70", 17.5), ("M10", "A2-70", 35),
    ("M8", "A4-80", 23.6), ("M10", "A4-80", 47),
)  # fmt: skip

# Diameter and pitch of spark plugs' threads, mm.
PLUG_SIZES = ((10, 1.0), (12, 1.25), (14, 1.25), (18, 1.5))

# Plug torques as engine makers' manuals give them for an aluminum head: within or beside ours.
PLUGS: tuple[tuple[int, Seat, Head, float], ...] = (
    (10, "gasket", "aluminum", 12), (12, "gasket", "aluminum", 18),
    (14, "gasket", "aluminum", 25), (14, "taper", "aluminum", 15), (14, "gasket", "cast iron", 30),
    (18, "taper", "cast iron", 25),
)  # fmt: skip


def checks() -> Iterator[Check]:
    """Every row about threads."""
    yield from _plugs()
    yield from _areas()
    yield from _strengths()
    yield from _torques()


def _areas() -> Iterator[Check]:
    for size, area in AREAS:
        inch = not size.startswith("M")
        yield Check(
            "thread", f"stress area of {size}, {'in²' if inch else 'mm²'}", area,
            lambda size=size: _thread(size).stress_area,
            "ASME B1.1, tensile stress area" if inch else "ISO 898-1, nominal stress area",
            "from memory", rel=0.005,
        )  # fmt: skip
    for size, row in ASME_UN_2A2B_dict.items():
        # Number sizes and special threads are not in the handbook.
        if not size.startswith("10-") and row["series"] != "UNS":
            yield Check(
                "thread", f"stress area of {size}, in²",
                float(Assembly.from_database("ASME_UN_2A2B", size).As_FEDSTD_1b()),
                lambda size=size: _thread(size).stress_area,
                f"{LIBRARY}, ASME B1.1-2019 data", "library", rel=1e-4,
            )  # fmt: skip
    for size in ASME_M_6g6H_dict:
        yield Check(
            "thread", f"stress area of {size}, mm²",
            float(Assembly.from_database("ASME_M_6g6H", size).As_FEDSTD_1b()) * 25.4**2,
            lambda size=size: _thread(size.replace("-", "x")).stress_area,
            f"{LIBRARY}, ASME B1.13M data; its minor diameter differs a little", "library",
            rel=0.015,
        )  # fmt: skip


def _strengths() -> Iterator[Check]:
    for size, grade, strength in STRENGTHS:
        inch = not size.startswith("M")
        yield Check(
            "strength", f"proof strength of {grade}, {size}, {'ksi' if inch else 'MPa'}", strength,
            lambda size=size, grade=grade, inch=inch:
                proof_strength(_thread(size), grade) / (1000 if inch else 1),
            _standard(size, grade), "from memory",
        )  # fmt: skip
    for size, grade, load in PROOF_LOADS:
        yield Check(
            "strength", f"proof load of {size} {grade}, {'N' if size.startswith('M') else 'lbf'}",
            load,
            lambda size=size, grade=grade:
                proof_strength(_thread(size), grade) * _thread(size).stress_area,
            f"{_standard(size)}, table of proof loads", "from memory", rel=0.01,
        )  # fmt: skip


def _torques() -> Iterator[Check]:
    conditions: tuple[tuple[ThreadCondition, tuple[tuple[str, str, float], ...], str], ...] = (
        ("dry", FOOT_POUNDS, "bolt torque charts, dry, K 0.20, 75 % of proof load"),
        ("anti seize", SLICK_FOOT_POUNDS, "bolt torque charts, lubricated, K 0.15"),
    )
    for condition, rows, source in conditions:
        for size, grade, torque in rows:
            yield Check(
                "torque", f"{size} {grade}, {condition}, ft·lbf", torque,
                lambda size=size, grade=grade, condition=condition:
                    _torque(size, grade, condition).foot_pounds,
                source, "from memory", rel=0.05, abs=0.5,
            )  # fmt: skip
    for size, grade, torque in STAINLESS:
        yield Check(
            "torque", f"{size} {grade}, dry, N·m", torque,
            lambda size=size, grade=grade: _torque(size, grade, "dry").newton_meters,
            "torque charts of stainless bolts, friction near 0.14", "from memory", rel=0.2,
        )  # fmt: skip
    for size, grade, torque in NEWTON_METERS:
        yield Check(
            "torque", f"{size} {grade}, dry, N·m", torque,
            lambda size=size, grade=grade: _torque(size, grade, "dry").newton_meters,
            "metric bolt torque charts, friction 0.10 to 0.14", "from memory", rel=0.1,
        )  # fmt: skip


def _plugs() -> Iterator[Check]:
    for size, pitch in PLUG_SIZES:
        yield Check(
            "plug", f"pitch of the M{size} thread of plugs, mm", pitch,
            lambda size=size: float(PLUG_THREADS[Fraction(size)]),
            "ISO 28741 (formerly ISO 1919, 2345, 2704, 2705)", "from memory",
        )  # fmt: skip
    for size, seat, head, torque in PLUGS:
        yield Check(
            "plug", f"M{size}, {seat} seat, {head}, middle, N·m", torque,
            lambda size=size, seat=seat, head=head:
                sum(plug_torque(Fraction(size), seat, head).newton_meters) / 2,
            "engine makers' manuals and plug boxes", "from memory", rel=0.15,
        )  # fmt: skip
    low, high = (each * 0.7375621 for each in (25, 30))
    for end, figure in enumerate((low, high)):
        yield Check(
            "plug", f"M14 gasket seat, {('least', 'most')[end]}, ft·lbf", figure,
            lambda end=end: plug_torque(Fraction(14)).foot_pounds[end],
            "NIST SP 811 (2008), appendix B.8: 1 / 1.355 818", "by hand", rel=1e-6,
        )  # fmt: skip


def _standard(size: str, grade: str = "") -> str:
    if grade.startswith("A"):
        return "ISO 3506-1"
    return "ISO 898-1" if size.startswith("M") else "SAE J429"


def _thread(size: str) -> Thread:
    diameter, unit, pitch = parse_size(size)
    return standard_thread(diameter, unit, pitch)


def _torque(size: str, grade: str, condition: ThreadCondition) -> TorqueAnswer:
    diameter, unit, pitch = parse_size(size)
    return torque_for(diameter, unit, grade, condition, pitch)
