"""The usual tightening torque of a bolt by size, grade and condition of the thread."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import Literal

from companion.files.quoting import quoted
from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain
from companion.handbook.rounding import to_digits
from companion.handbook.thread import SizeUnit, Thread, standard_thread
from companion.handbook.units import spoken

ThreadCondition = Literal["dry", "oiled", "anti seize"]

NUT_FACTORS: Mapping[ThreadCondition, float] = MappingProxyType(
    {"dry": 0.20, "oiled": 0.18, "anti seize": 0.15}
)
"""K in T = K·D·F, by condition of the thread, for plain or zinc-plated steel.

Source: handbook values, from memory. Shigley's Mechanical Engineering Design, table of torque
factors: 0.20 zinc-plated as received, 0.18 lubricated. Anti-seize pastes are given 0.12 to 0.18 by
such tables and by their makers; 0.15 is the middle, and the figure of the product itself is better.
"""

PRELOAD_SHARE = 0.75
"""Clamping force wanted, as a share of the proof load; usual for bolts that come out again."""

PSI_PER_KSI = 1000.0
NEWTON_METERS_PER_INCH_POUND = 0.1129848290276167
"""NIST SP 811 B.8: 1.129 848 E−01."""


@dataclass(frozen=True, slots=True)
class ProofStrength:
    """Proof strength of one grade over a range of sizes.

    Attributes:
        over: Diameters above this one, in the size's unit.
        up_to: Diameters up to and with this one.
        strength: In psi for inch grades, in MPa for metric classes.
    """

    over: Fraction
    up_to: Fraction
    strength: float


SAE_J429: Mapping[str, tuple[ProofStrength, ...]] = MappingProxyType(
    {
        "grade 2": (
            ProofStrength(Fraction(0), Fraction(3, 4), 55 * PSI_PER_KSI),
            ProofStrength(Fraction(3, 4), Fraction(3, 2), 33 * PSI_PER_KSI),
        ),
        "grade 5": (
            ProofStrength(Fraction(0), Fraction(1), 85 * PSI_PER_KSI),
            ProofStrength(Fraction(1), Fraction(3, 2), 74 * PSI_PER_KSI),
        ),
        "grade 8": (ProofStrength(Fraction(0), Fraction(3, 2), 120 * PSI_PER_KSI),),
    }
)
"""SAE J429: proof strength of inch bolts from 1/4 to 1 1/2, in psi."""

ISO_898_1: Mapping[str, tuple[ProofStrength, ...]] = MappingProxyType(
    {
        "class 4.8": (ProofStrength(Fraction(0), Fraction(39), 310.0),),
        "class 5.8": (ProofStrength(Fraction(0), Fraction(39), 380.0),),
        "class 8.8": (
            ProofStrength(Fraction(0), Fraction(16), 580.0),
            ProofStrength(Fraction(16), Fraction(39), 600.0),
        ),
        "class 9.8": (ProofStrength(Fraction(0), Fraction(16), 650.0),),
        "class 10.9": (ProofStrength(Fraction(0), Fraction(39), 830.0),),
        "class 12.9": (ProofStrength(Fraction(0), Fraction(39), 970.0),),
    }
)
"""ISO 898-1: stress under proof load of metric bolts up to M39, 9.8 up to M16, in MPa."""

ISO_3506_1: Mapping[str, tuple[ProofStrength, ...]] = MappingProxyType(
    {
        "A2-70": (ProofStrength(Fraction(0), Fraction(24), 450.0),),
        "A4-70": (ProofStrength(Fraction(0), Fraction(24), 450.0),),
        "A4-80": (ProofStrength(Fraction(0), Fraction(24), 600.0),),
    }
)
"""ISO 3506-1, from memory: stress at 0.2 % strain of stainless bolts up to M24, in MPa."""

METRIC_GRADES: Mapping[str, tuple[ProofStrength, ...]] = MappingProxyType(
    {**ISO_898_1, **ISO_3506_1}
)
"""Everything that a metric bolt's head may be marked with."""

GALLS = "Stainless on stainless galls: anti seize belongs on it."
"""Noted with every stainless bolt (common practice)."""

CAUTION = "The maker's figure wins."
"""Said with every torque: a gasket or a soft casting wants less than the bolt could take."""

LUBRICATED_CAUTION = "On slick threads the dry figure would overstretch the bolt."
"""Noted with every torque, since both figures are said."""

HOW: Mapping[ThreadCondition, str] = MappingProxyType(
    {"dry": "dry", "oiled": "oiled", "anti seize": "with anti seize"}
)
"""How the condition is said."""


@dataclass(frozen=True, slots=True)
class TorqueAnswer(HandbookAnswer):
    """A usual torque: of the condition asked for, with the one it must not be taken for beside it.

    Attributes:
        thread: As written: "3/8-16", "M8x1.25".
        grade: "grade 5", "class 8.8".
        condition: How the thread is.
        nut_factor: K.
        stress_area: In square inches or square millimetres, as the thread is.
        proof_strength: In psi or MPa, as the thread is.
        preload: Clamping force in pounds-force or newtons, as the thread is.
        foot_pounds: The torque in ft·lbf, unrounded.
        inch_pounds: The torque in in·lbf, unrounded.
        newton_meters: The torque in N·m, unrounded.
        beside: The other condition that is said: oiled beside dry, dry beside all others.
        beside_newton_meters: Its torque in N·m, unrounded.
        cautions: What to mind with it.
    """

    thread: str
    grade: str
    condition: ThreadCondition
    nut_factor: float
    stress_area: float
    proof_strength: float
    preload: float
    foot_pounds: float
    inch_pounds: float
    newton_meters: float
    beside: ThreadCondition
    beside_newton_meters: float
    cautions: tuple[str, ...]


def torque_for(
    size: Decimal | Fraction,
    unit: SizeUnit,
    grade: str,
    condition: ThreadCondition = "dry",
    pitch: Decimal | Fraction | None = None,
) -> TorqueAnswer:
    """Work out the usual tightening torque, T = K·D·F with F = 75 % of the proof load.

    Args:
        size: Nominal diameter, in ``unit``.
        unit: ``inch`` or ``millimeter``.
        grade: A key of ``SAE_J429`` or ``METRIC_GRADES``.
        condition: How the thread is.
        pitch: Threads per inch, or pitch in millimetres; the coarse thread if None.

    Raises:
        NotInHandbook: If the tables have no such size, thread, grade or condition, or the grade is
            of the other system.
    """
    thread = standard_thread(size, unit, pitch)
    proof = proof_strength(thread, grade)
    if condition not in NUT_FACTORS:
        raise NotInHandbook(
            f"A thread is {_either(tuple(NUT_FACTORS))}, not '{quoted(condition)}'."
        )
    factor = NUT_FACTORS[condition]
    preload = PRELOAD_SHARE * proof * thread.stress_area
    torque = factor * float(thread.diameter) * preload
    if unit == "inch":
        inch_pounds, newton_meters = torque, torque * NEWTON_METERS_PER_INCH_POUND
    else:
        newton_meters = torque / 1000  # from N·mm
        inch_pounds = newton_meters / NEWTON_METERS_PER_INCH_POUND
    beside: ThreadCondition = "oiled" if condition == "dry" else "dry"
    share = NUT_FACTORS[beside] / factor
    slick = condition if beside == "dry" else beside
    shares = [NUT_FACTORS[how] / factor for how in ("dry", slick)]
    (dry, less), unit_said = _figures(thread, inch_pounds, newton_meters, shares)
    series = "" if thread.series == "coarse" else f" {thread.series}"
    stainless = grade in ISO_3506_1
    cautions = (LUBRICATED_CAUTION, *((GALLS,) if stainless else ()), CAUTION)
    return TorqueAnswer(
        text=(
            f"{thread.size}{series} {grade_said(grade)}: dry about {dry} {unit_said}, "
            f"{HOW[slick]} only {less}. {CAUTION}"
        ),
        source=f"75 percent of proof load by {_standards(unit, stainless=stainless)}"
        f"; nut factor {factor:.2f}, {condition}",
        thread=thread.designation,
        grade=grade,
        condition=condition,
        nut_factor=factor,
        stress_area=thread.stress_area,
        proof_strength=proof,
        preload=preload,
        foot_pounds=inch_pounds / 12,
        inch_pounds=inch_pounds,
        newton_meters=newton_meters,
        beside=beside,
        beside_newton_meters=newton_meters * share,
        cautions=cautions,
        note=(
            f"{HOW[condition].capitalize()}, the same as "
            f"{_other_system(thread, inch_pounds, newton_meters)}. {' '.join(cautions)} "
            "For bolts in steel: soft threads and gaskets take less."
        ),
    )


def proof_strength(thread: Thread, grade: str) -> float:
    """Return the proof strength of a grade at a size, in psi for inch and MPa for metric threads.

    Raises:
        NotInHandbook: If the grade is unknown or belongs to the other system.
    """
    grades, others = (
        (SAE_J429, METRIC_GRADES) if thread.unit == "inch" else (METRIC_GRADES, SAE_J429)
    )
    if grade in grades:
        for row in grades[grade]:
            if row.over < thread.diameter <= row.up_to:
                return row.strength
        raise NotInHandbook(f"The handbook has no {grade} in {thread.size}.")
    bolt, marks = (
        ("An inch bolt", "a grade, such as grade 5")
        if thread.unit == "inch"
        else ("A metric bolt", "a class, such as 8.8, or is stainless")
    )
    if grade in others:
        raise NotInHandbook(f"{bolt} has {marks}; {grade_said(grade)} is of the other system.")
    raise NotInHandbook(
        f"{bolt} is {_either(tuple(grades))}; the handbook has no '{quoted(grade)}'."
    )


def _figures(
    thread: Thread, inch_pounds: float, newton_meters: float, shares: Sequence[float]
) -> tuple[list[str], str]:
    """The torque times each share, in the unit of a wrench for that bolt, and that unit in
    words."""
    if thread.unit == "millimeter":
        torque, unit = newton_meters, spoken("newton meter", plural=True)
    else:
        torque, unit = _inch_wrench(inch_pounds)
    # The method is good for two digits; but of two figures the lesser must also be said as less.
    for digits in (2, 3):
        figures = [
            plain(to_digits(Decimal(torque * share), digits if torque * share < 1000 else 3))
            for share in shares
        ]
        if len(set(figures)) == len(figures):
            break
    return figures, unit


def _other_system(thread: Thread, inch_pounds: float, newton_meters: float) -> str:
    if thread.unit == "millimeter":
        torque, unit = _inch_wrench(inch_pounds)
        return f"{torque:.0f} {unit}"
    digits = f"{newton_meters:.1f}" if newton_meters < 10 else f"{newton_meters:.0f}"
    return f"{digits} {spoken('newton meter', plural=True)}"


def _inch_wrench(inch_pounds: float) -> tuple[float, str]:
    """Below ten foot pounds an inch-pound wrench is the one to reach for."""
    if inch_pounds < 120:
        return inch_pounds, spoken("inch pound", plural=True)
    return inch_pounds / 12, spoken("foot pound", plural=True)


def grade_said(grade: str) -> str:
    """Write a grade so that a voice reads no range into it: "class 8.8", "stainless A2 70"."""
    return f"stainless {grade.replace('-', ' ')}" if grade in ISO_3506_1 else grade


def _standards(unit: SizeUnit, *, stainless: bool) -> str:
    if unit == "inch":
        return "ASME B1.1 and SAE J429"
    return "ISO 3506-1, from memory" if stainless else "ISO 898-1"


def _either(names: tuple[str, ...]) -> str:
    return f"{', '.join(names[:-1])} or {names[-1]}"
