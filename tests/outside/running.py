"""Oil, batteries, speeds and readings against standards, rules and common practice."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from companion.handbook.battery import BatteryType, charge_at
from companion.handbook.compression import compression_suggests
from companion.handbook.frequency import frequency_at
from companion.handbook.leak_down import Place, leak_down_suggests
from companion.handbook.oil import SAE_J300, SAE_J300_RUNNING, oil_for
from companion.handbook.pulley import pulley_speeds
from companion.handbook.tip_speed import LIMIT, tip_speed
from tests.outside.check import Check

D = Decimal

# Lowest temperature of cranking (°C), limit there (mPa·s), lowest temperature of pumping (°C).
J300 = (
    ("0W", -35, 6200, -40), ("5W", -30, 6600, -35), ("10W", -25, 7000, -30),
    ("15W", -20, 7000, -25), ("20W", -15, 9500, -20), ("25W", -10, 13_000, -15),
)  # fmt: skip

# Kinematic viscosity at 100 °C, least and below (mm²/s), and least at high shear (mPa·s).
J300_RUNNING = (
    ("20", 6.9, 9.3, 2.6), ("30", 9.3, 12.5, 2.9), ("40", 12.5, 16.3, 3.5), ("50", 16.3, 21.9, 3.7),
    ("60", 21.9, 26.1, 3.7),
)  # fmt: skip

# What makers' charts for small engines put first, by degrees Fahrenheit.
OIL_CHART = (
    ("90", "SAE 30"), ("60", "SAE 30"), ("40", "SAE 30"), ("39", "5W-30"), ("32", "5W-30"),
    ("10", "5W-30"),
    ("-10", "5W-30"),
)  # fmt: skip

SYNCHRONOUS = ((2, 60, 3600), (4, 60, 1800), (6, 60, 1200), (8, 60, 900), (2, 50, 3000),
               (4, 50, 1500), (6, 50, 1000), (8, 50, 750))  # fmt: skip

BCI = (("12.65", 100), ("12.45", 75), ("12.24", 50), ("12.06", 25), ("11.89", 0))

# Other types of lead acid, as charts print them, by percent.
OTHER_TYPES: tuple[tuple[BatteryType, str, int], ...] = (
    ("absorbed glass mat", "12.80", 100), ("absorbed glass mat", "12.60", 75),
    ("absorbed glass mat", "12.30", 50), ("absorbed glass mat", "12.00", 25),
    ("absorbed glass mat", "11.80", 0), ("gel", "12.85", 100), ("gel", "12.65", 75),
    ("gel", "12.35", 50), ("gel", "12.00", 25), ("gel", "11.80", 0),
)  # fmt: skip

# Judged against 60 hertz, then against 50.
GOVERNED = (
    (60, 3600, "loaded"), (60, 3720, "unloaded"), (60, 3900, "high"), (60, 3420, "low"),
    (50, 3000, "loaded"), (50, 3120, "unloaded"), (50, 3300, "high"), (50, 2820, "low"),
)  # fmt: skip

# Specific gravity of the acid at 100, 75, 50 and 25 percent; a cell rests 0.84 V above it.
GRAVITIES = (("1.265", 100), ("1.225", 75), ("1.190", 50), ("1.155", 25))

HEARD: tuple[tuple[Place, str], ...] = (
    ("intake", "the intake valve"),
    ("exhaust", "the exhaust valve"),
    ("crankcase", "rings, piston or cylinder"),
)

COMPRESSIONS = (
    ("120", None, "good"), ("60", None, "measure wet"), ("60", "90", "rings"),
    ("60", "61", "valves or gasket"), ("0", None, "zero"), ("230", None, "high"),
)  # fmt: skip


def checks() -> Iterator[Check]:
    """Every row about running machines and their readings."""
    yield from _oil()
    yield from _speeds()
    yield from _batteries()
    yield from _readings()


def _oil() -> Iterator[Check]:
    ours = {grade.name: grade for grade in SAE_J300}
    for name, cranks_at, cranking, pumps_at in J300:
        for what, figure, field in (
            (f"{name} cranks down to, °C", cranks_at, "cranks_at"),
            (f"{name} cranking limit, mPa·s", cranking, "cranking"),
            (f"{name} pumps down to, °C", pumps_at, "pumps_at"),
        ):
            yield Check(
                "oil", what, figure,
                lambda name=name, field=field: float(getattr(ours[name], field)),
                "SAE J300", "from memory",
            )  # fmt: skip
    running = {grade.name: grade for grade in SAE_J300_RUNNING}
    for name, least, below, high_shear in J300_RUNNING:
        for what, figure, field in (
            (f"{name} at 100 °C, least, mm²/s", least, "least"),
            (f"{name} at 100 °C, below, mm²/s", below, "below"),
            (f"{name} at 150 °C and high shear, mPa·s", high_shear, "high_shear"),
        ):
            yield Check(
                "oil", what, figure,
                lambda name=name, field=field: float(getattr(running[name], field)),
                "SAE J300", "from memory",
            )  # fmt: skip
    for fahrenheit, grade in OIL_CHART:
        yield Check(
            "oil", f"grade named first at {fahrenheit} °F", grade,
            lambda fahrenheit=fahrenheit: oil_for(D(fahrenheit), "fahrenheit").grades[0],
            "oil charts of small engines", "common practice",
        )  # fmt: skip


def _speeds() -> Iterator[Check]:
    yield Check(
        "tip speed", "limit, ft/min", 19_000, lambda: LIMIT,
        "ANSI/OPEI B71.1, rotary mowers", "from memory",
    )  # fmt: skip
    yield Check(
        "tip speed", "limit, m/s", 96.5, lambda: LIMIT * D("0.3048") / 60,
        "ISO 5395-2, pedestrian-controlled mowers", "from memory", abs=0.05,
    )  # fmt: skip
    yield Check(
        "tip speed", "21 inch blade at 3100 rpm, ft/min", 17_043,
        lambda: tip_speed(D(21), "inch", D(3100)).feet_per_minute,
        "π · 21 / 12 · 3100", "by hand", abs=0.5,
    )  # fmt: skip
    yield Check(
        "tip speed", "21 inch blade reaches the limit at, rpm", 3456,
        lambda: tip_speed(D(21), "inch", D(3100)).limit_rpm,
        "19 000 · 12 / (21 π)", "by hand", abs=0.5,
    )  # fmt: skip
    yield Check(
        "pulley", "3 to 9 inches at 3600, rpm", 1200,
        lambda: pulley_speeds(D(3), D(9), "inch", D(3600)).driven_rpm, "3600 · 3 / 9", "by hand",
    )  # fmt: skip
    yield Check(
        "pulley", "4 to 8 inches at 1725, rpm", D("862.5"),
        lambda: pulley_speeds(D(4), D(8), "inch", D(1725)).driven_rpm, "1725 · 4 / 8", "by hand",
    )  # fmt: skip
    yield Check(
        "pulley", "belt on 6 inches at 1750, ft/min", 0.262 * 6 * 1750,
        lambda: pulley_speeds(D(6), D(6), "inch", D(1750)).feet_per_minute,
        "belt speed = 0.262 · d · n, machinery handbooks", "from memory", rel=0.001,
    )  # fmt: skip
    for poles, hertz, rpm in SYNCHRONOUS:
        yield Check(
            "frequency", f"{poles} poles at {rpm} rpm, Hz", hertz,
            lambda poles=poles, rpm=rpm: frequency_at(D(rpm), poles).hertz,
            "synchronous speeds, IEC 60034-1 and NEMA MG 1", "from memory",
        )  # fmt: skip
    for end, (figure, place) in enumerate(((61, "lowest"), (63, "highest"))):
        yield Check(
            "frequency", f"60 Hz set with no load, {place}, Hz", figure,
            lambda end=end: float((frequency_at(D(3600), 2, 60).unloaded or (0, 0))[end]),
            "governors of portable sets are set near 62", "common practice",
        )  # fmt: skip

    for nominal, rpm, verdict in GOVERNED:
        yield Check(
            "frequency", f"{rpm} rpm on 2 poles of a {nominal} Hz set", verdict,
            lambda nominal=nominal, rpm=rpm: frequency_at(D(rpm), 2, nominal).verdict or "none",
            "governors droop some 4 hertz from no load to full", "common practice",
        )  # fmt: skip
    yield Check(
        "frequency", "no load to full load of a 60 Hz set, percent", (0, 8),
        lambda: 100 * ((frequency_at(D(3600), 2, 60).unloaded or (0, 0))[1] - 58) / 63,
        "ISO 8528-5, droop in class G1", "from memory",
    )  # fmt: skip
    yield Check(
        "tip speed", "advised for 21 inches at 3500, governed at 3100, rpm", 3100,
        lambda: tip_speed(D(21), "inch", D(3500), D(3100)).at_most,
        "the maker's governed speed is never passed", "common practice",
    )  # fmt: skip


def _batteries() -> Iterator[Check]:
    for volts, percent in BCI:
        yield Check(
            "battery", f"{volts} V, percent", percent,
            lambda volts=volts: charge_at(D(volts)).percent or D(0),
            "Battery Council International, open-circuit voltage", "from memory", abs=0.5,
        )  # fmt: skip
    for built, volts, percent in OTHER_TYPES:
        yield Check(
            "battery", f"{volts} V of {built}, percent", percent,
            lambda built=built, volts=volts: charge_at(D(volts), built).percent or D(0),
            "charts of resting volts by type", "from memory", abs=0.5,
        )  # fmt: skip
    yield Check(
        "battery", "12.6 V flooded less the same of glass mat, percent", (5, 35),
        lambda: (charge_at(D("12.6")).percent or 0)
        - (charge_at(D("12.6"), "absorbed glass mat").percent or 0),
        "glass mat rests higher for the same charge", "common practice",
    )  # fmt: skip
    for gravity, percent in GRAVITIES:
        volts = 6 * (D(gravity) + D("0.84"))
        yield Check(
            "battery", f"acid of {gravity}, that is {volts} V, percent", percent,
            lambda volts=volts: charge_at(volts).percent or D(0),
            "a cell rests at its specific gravity plus 0.84 V", "common practice", abs=15,
        )  # fmt: skip


def _readings() -> Iterator[Check]:
    for percent, verdict in (
        (8, "tight"),
        (15, "usual"),
        (25, "worn"),
        (40, "bad"),
        (70, "severe"),
        (0, "nothing lost"),
        (100, "all lost"),
    ):
        yield Check(
            "leak-down", f"{percent} percent", verdict,
            lambda percent=percent: leak_down_suggests(D(percent)).verdict,
            "bands of 10, 20 and 30 percent", "common practice",
        )  # fmt: skip
    for heard, points_to in HEARD:
        yield Check(
            "leak-down", f"40 percent, air heard at the {heard}", points_to,
            lambda heard=heard: leak_down_suggests(D(40), heard).points_to or "nothing",
            "where the air comes out tells what leaks", "common practice",
        )  # fmt: skip
    for dry, wet, suggests in COMPRESSIONS:
        yield Check(
            "compression", f"dry {dry} psi" + (f", wet {wet}" if wet else ""), suggests,
            lambda dry=dry, wet=wet:
                compression_suggests(D(dry), "psi", D(wet) if wet else None).suggests,
            "oil seals rings and leaves valves as they are", "common practice",
        )  # fmt: skip
