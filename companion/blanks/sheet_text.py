"""A new spec sheet: what was answered, and everything else that may stand in it, ready to use."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from companion.blanks.kinds import Kind
from companion.blanks.known import TORQUE, Known, KnownFluid, KnownReading
from companion.blanks.lines import Lines, Value, one_line
from companion.blanks.usual import (
    GRADES,
    MEASURES,
    SAID,
    SERVICES,
    VOLUME,
    Cycle,
    Measure,
    System,
    Window,
    also_said,
    example,
    grades_example,
    torque_example,
)
from companion.handbook.unit_table import UNITS


@dataclass(frozen=True, slots=True)
class SheetAnswers:
    """What is known of a machine.

    Attributes:
        name: As the shop calls it.
        kind: What sort of machine it is.
        cycle: How its engine works, or None where that is not known yet.
        system: The units that are liked.
        battery: Whether it is started by a battery.
        known: Figures of its manual.
        serial: Its serial number, or None.
        called: Figures that were called out at the bench: a measure, its unit, and the figure in
            words for a remark. They are what the machine had, not what it should have.
        blank: Whether to write nothing but what was answered, and the examples.
    """

    name: str
    kind: Kind
    cycle: Cycle | None = None
    system: System = "inches"
    battery: bool = False
    known: tuple[Known, ...] = ()
    serial: str | None = None
    called: tuple[tuple[str, str, str], ...] = field(default=())
    blank: bool = False


def sheet_text(answers: SheetAnswers) -> str:
    """Return the sheet as TOML; it passes the check as it is, and with any line that stands ready
    put to use."""
    lines = Lines()
    _head(lines, answers)
    _what_it_has(lines, answers)
    readings, fluids, fasteners = _readings(answers), _fluid_names(answers), _fasteners(answers)
    # Lists of rows must stand before all tables, and only where the file has no table of that kind.
    if not readings:
        _reading_rows(lines, answers)
    if not fluids:
        _fluid_rows(lines, answers)
    if not fasteners:
        _torque_rows(lines, answers)
    _identification(lines, answers)
    for place, (measure, unit, window) in enumerate(readings):
        _reading(lines, answers, measure, unit, window)
        if place == len(readings) - 1:
            lines.ready("only_grows", True, "for what only counts up, as hours do")
    for fluid in fluids:
        _fluid(lines, answers, fluid)
    for fastener in fasteners:
        _torque(lines, answers, fastener)
    return lines.text()


def _head(lines: Lines, answers: SheetAnswers) -> None:
    lines.remark(f"Spec sheet of {one_line(answers.name)}.")
    lines.remark(
        "A line that begins with # and no space stands ready: take the # away and put in what the "
        "machine's own manual says. The figures there are examples of a usual size, not this "
        "machine's."
    )
    lines.gap()
    lines.known("name", answers.name)
    lines.known("kind", _kind(answers))
    lines.ready("notes", "anything else, for the page", "in words")
    lines.ready("invented", True, "only for a machine that is made up")
    lines.ready(
        "battery",
        {"volts": 12, "ampere_hours": 14, "type": "flooded lead acid", "size": "as it is ordered"},
        "or absorbed glass mat, gel, lithium",
    )


def _kind(answers: SheetAnswers) -> str:
    start = {None: "", "electric": ""}
    engine = {None: "", "electric": ", electric"}.get(answers.cycle, f", {answers.cycle} engine")
    way = start.get(answers.cycle, ", electric start" if answers.battery else ", recoil start")
    return f"{answers.kind.said}{engine}{way}"


def _what_it_has(lines: Lines, answers: SheetAnswers) -> None:
    """Parts, conditions, services, tires and belts: a line each."""
    kind = answers.kind
    lines.gap()
    lines.remark(
        "Parts that you call on this machine. Those of every engine are always listened for: spark "
        "plug, plug wire, air filter, carburetor, drive belt, fuel line, drain plug and more."
    )
    parts: list[dict[str, Value]] = [{"name": part} for part in kind.parts]
    example_part: dict[str, Value] = {
        "name": "handle clamp",
        "spoken": ["handle clamp", "bar clamp"],
        "plural": ["handle clamps"],
    }
    known, ready = ([], parts) if answers.blank else (parts, [])
    lines.rows("part", known, [*ready, example_part])
    lines.gap()
    lines.remark(
        "What can be wrong with them, besides broken, worn, loose, cracked, bent, missing and such."
    )
    conditions: list[dict[str, Value]] = [{"name": each} for each in kind.conditions]
    lines.rows("condition", [], [*conditions, {"name": "warped", "spoken": ["warped", "twisted"]}])
    lines.gap()
    lines.remark(
        "Work that comes back, by whichever is first: hours of the engine, months, the season's "
        "start or end, or each use. An item is a part, fluid or measure of this sheet."
    )
    # A service names something that counts on the sheet as it stands.
    lacking = {"oil", "fuel", "oil level"} - {*_fluid_names(answers)}
    lacking -= {f"{fluid} level" for fluid in _fluid_names(answers)}
    services = SERVICES[answers.cycle or kind.cycle]
    lines.rows("service", [], [each for each in services if each["item"] not in lacking])
    lines.gap()
    length = "inch" if answers.system == "inches" else "millimeter"
    pressure = "psi" if answers.system == "inches" else "bar"
    low, high = ("10", "14") if answers.system == "inches" else ("0.7", "1")
    lines.remark('Tires, called as "front tire pressure", and belts, as "upper belt deflection".')
    taken = _taken(answers)
    tire = next(each for each in _NAMES if f"{each} tire pressure" not in taken)
    lines.rows(
        "tire",
        [],
        [_row({"name": f"{tire} tire", "unit": pressure}, low, high, {"size": "13x5.00-6"})],
    )
    belt: dict[str, Value] = {
        "size": "as it is ordered",
        "condition": "thumb pressure at mid span",
    }
    which = next(each for each in _NAMES[2:] if f"{each} belt deflection" not in taken)
    belt["deflection"] = f"{which} belt deflection"
    slack = ("0.25", "0.5") if answers.system == "inches" else ("6", "13")
    lines.rows("belt", [], [_row({"name": f"{which} belt", "unit": length}, *slack, belt)])


_NAMES = ("front", "rear", "upper", "lower", "left", "right", "other", "one more")
"""What tells the tire and the belt that stand ready from others; more than are ever known."""


def _identification(lines: Lines, answers: SheetAnswers) -> None:
    lines.header("[identification]")
    lines.ready("maker", "as the plate says")
    lines.ready("model", "as the plate says")
    if answers.serial is None:
        lines.ready("serial", "QT4417", "letters and digits as the plate says")
    else:
        lines.known("serial", answers.serial)
    lines.ready("serial_place", "plate on the frame, left side")
    lines.ready("year", 2018, "of make")
    lines.ready("engine", "maker, kind, 208 cubic centimeters")
    lines.ready("engine_model", "as it is stamped")
    lines.ready("engine_serial", "as it is stamped")
    lines.ready("engine_serial_place", "stamped beside the dipstick")
    if answers.cycle is None:
        lines.ready("cycle", answers.kind.cycle, "or four-stroke, two-stroke, electric")
    else:
        lines.known("cycle", answers.cycle, "or four-stroke, two-stroke, electric")


# --- measures -----------------------------------------------------------------------------------


def _readings(answers: SheetAnswers) -> list[tuple[str, str, KnownReading | None]]:
    """What is measured: a measure, its unit and its window where that is known; the known first."""
    known = [
        each
        for each in answers.known
        if isinstance(each, KnownReading) and not _is_torque(each.measure)
    ]
    found: dict[str, tuple[str, KnownReading | None]] = {
        each.measure: (each.unit, each) for each in known
    }
    for measure, unit, _ in answers.called:
        if not _is_torque(measure):
            found.setdefault(measure, (unit, None))
    if not answers.blank:
        cycle = answers.cycle or answers.kind.cycle
        for measure in answers.kind.measured(cycle, battery=answers.battery):
            found.setdefault(measure, (example(measure, cycle, answers.system)[1].unit, None))
    return [(measure, unit, window) for measure, (unit, window) in found.items()]


def _reading(
    lines: Lines, answers: SheetAnswers, measure: str, unit: str, known: KnownReading | None
) -> None:
    lines.header("[[reading]]")
    usual, window = _example_of(answers, measure, unit)
    lines.known("measure", measure, usual.what if usual else "")
    lines.known("unit", unit)
    for called, _, words in answers.called:
        if called == measure:
            lines.remark(f"Called at the bench: {words}.")
    symbol = _several(unit)
    if known is None:
        if window.low is not None:
            lines.ready("low", window.low, f"{symbol}: the least that is right")
        if window.high is not None:
            lines.ready("high", window.high, f"{symbol}: the most that is right")
    else:
        for key, value, which in (("low", known.low, "least"), ("high", known.high, "most")):
            if value is not None:
                lines.known(key, value, f"{symbol}: the {which} that is right")
        # The other end of a window that is open on one side.
        if known.high is None and known.low is not None:
            lines.ready("high", known.low * 2, f"{symbol}: the most that is right")
        elif known.low is None and known.high is not None:
            lines.ready("low", known.high / 2, f"{symbol}: the least that is right")
    lines.ready("condition", usual.condition if usual else "no load", "how the machine must be")
    lines.ready("engine", usual.engine if usual else "cold", "cold or hot, if it matters")
    lines.ready("spoken", [measure, also_said(measure, _taken(answers))], "every way to say it")
    lines.ready("source", "manual, page 12", "else the maker is meant")


def _example_of(answers: SheetAnswers, measure: str, unit: str) -> tuple[Measure | None, Window]:
    """What is known of a measure, and an example of its window in this unit."""
    usual = None
    if measure in MEASURES:
        cycle = answers.cycle or answers.kind.cycle
        usual, _ = example(measure, cycle, answers.system)
        for window in (usual.inches, usual.metric):
            if window.unit == unit:
                return usual, window
    return usual, Window(unit, Decimal(1), Decimal(2))


# --- fluids and fasteners -----------------------------------------------------------------------


def _fluid_names(answers: SheetAnswers) -> tuple[str, ...]:
    known = [each.fluid for each in answers.known if isinstance(each, KnownFluid)]
    usual = () if answers.blank else answers.kind.filled(answers.cycle or answers.kind.cycle)
    return tuple(dict.fromkeys((*known, *usual)))


def _fluid(lines: Lines, answers: SheetAnswers, fluid: str) -> None:
    unit, capacities = VOLUME[answers.system]
    lines.header("[[fluid]]")
    lines.known("name", fluid)
    said = SAID.get(fluid)
    if said is None:
        lines.ready("spoken", [fluid, also_said(fluid, _taken(answers))], "every way to say it")
    else:
        lines.known("spoken", said, "every way to say it")
    what = "how much goes in, in the unit below"
    for each in answers.known:
        if isinstance(each, KnownFluid) and each.fluid == fluid:
            unit = each.unit
            lines.known("capacity", each.capacity, what)
            break
    else:
        lines.ready("capacity", capacities.get(fluid, Decimal(1)), what)
    lines.known("unit", unit)
    lines.ready("grade", GRADES.get(fluid, "as the can says it"), "what to put in")
    lines.ready("grades", grades_example(fluid), "by the air")
    lines.ready("check", "dipstick", "or level plug, sight glass, filler neck")
    if fluid == "fuel":
        lines.ready("mix", 50, "parts of fuel to one of oil, if mixed")
    lines.ready("source", "manual, page 12", "else the maker is meant")


def _fasteners(answers: SheetAnswers) -> tuple[str, ...]:
    known = [each.measure for each in answers.known if isinstance(each, KnownReading)]
    called = [measure for measure, _, _ in answers.called]
    cycle = answers.cycle or answers.kind.cycle
    usual = () if answers.blank else answers.kind.tightened(cycle)
    said = [each.removesuffix(TORQUE) for each in (*known, *called) if _is_torque(each)]
    return tuple(dict.fromkeys((*said, *usual)))


def _torque(lines: Lines, answers: SheetAnswers, fastener: str) -> None:
    measure = f"{fastener}{TORQUE}"
    known = next(
        (
            each
            for each in answers.known
            if isinstance(each, KnownReading) and each.measure == measure
        ),
        None,
    )
    called = [(unit, words) for each, unit, words in answers.called if each == measure]
    window, more = torque_example(fastener, answers.system)
    unit = known.unit if known else called[0][0] if called else window.unit
    lines.header("[[torque]]")
    lines.known("fastener", fastener, f'called as "{measure}"')
    lines.known("unit", unit)
    for _, words in called:
        lines.remark(f"Called at the bench: {words}.")
    symbol = _several(unit)
    if known is not None:
        for key, value, which in (("low", known.low, "least"), ("high", known.high, "most")):
            if value is not None:
                lines.known(key, value, f"{symbol}: the {which} that is right")
    else:
        lines.ready("low", window.low or 1, f"{symbol}: the least that is right")
        lines.ready("high", window.high or 2, f"{symbol}: the most that is right")
    lines.ready("thread", more["thread"], "or 3/8-16, #10-24")
    lines.ready("grade", "class 8.8", "or grade 5")
    lines.ready("condition", "dry", "or oiled, anti seize, thread locker")
    lines.ready("count", more["count"], "how many there are")
    lines.ready("order", more["order"])
    lines.ready("engine", "cold", "cold or hot, if it matters")
    lines.ready("spoken", [fastener, also_said(fastener, _taken(answers))], "every way to say it")
    lines.ready("source", "manual, page 12", "else the maker is meant")


def _is_torque(measure: str) -> bool:
    return measure.endswith(TORQUE)


# --- a sheet that is blank ----------------------------------------------------------------------


def _reading_rows(lines: Lines, answers: SheetAnswers) -> None:
    """Measures, a line each, where none is there yet."""
    cycle = answers.cycle or answers.kind.cycle
    lines.gap()
    lines.remark(
        "What you measure, its unit, and its lower and upper end where you know them. 'engine' is "
        "cold or hot; 'only_grows' is for what counts up."
    )
    rows = []
    for place, measure in enumerate(answers.kind.measured(cycle, battery=answers.battery)):
        usual, window = example(measure, cycle, answers.system)
        more: dict[str, Value] = {"condition": usual.condition, "engine": usual.engine}
        if place == 0:
            more |= {
                "spoken": [measure, also_said(measure, _taken(answers))],
                "source": "manual, page 12",
            }
            more["only_grows"] = False
        row: dict[str, Value] = {"measure": measure, "unit": window.unit}
        rows.append(_row(row, window.low, window.high, more))
    lines.rows("reading", [], rows)


def _fluid_rows(lines: Lines, answers: SheetAnswers) -> None:
    """Fluids, a line each, where none is there yet."""
    cycle = answers.cycle or answers.kind.cycle
    lines.gap()
    lines.remark("What is filled in, how much of it, and by what its level is checked.")
    unit, capacities = VOLUME[answers.system]
    fluids: list[Mapping[str, Value]] = [
        {
            "name": fluid,
            "spoken": SAID.get(fluid, (fluid,)),
            "capacity": capacities.get(fluid, Decimal(1)),
            "unit": unit,
            "grade": GRADES.get(fluid, "as the can says it"),
            "check": "dipstick",
            "source": "manual, page 12",
        }
        for fluid in answers.kind.filled(cycle)
    ]
    mixed: dict[str, Value] = {
        "name": "mixed fuel",
        "mix": 50,
        "grades": grades_example("mixed fuel"),
    }
    lines.rows("fluid", [], [*fluids, mixed])


def _torque_rows(lines: Lines, answers: SheetAnswers) -> None:
    """Fasteners, a line each, where none is there yet."""
    cycle = answers.cycle or answers.kind.cycle
    lines.gap()
    lines.remark('Fasteners; each is called with "torque" after its name.')
    torques = []
    for fastener in (*answers.kind.tightened(cycle), "cover bolt"):
        window, told = torque_example(fastener, answers.system)
        torque: dict[str, Value] = {"fastener": fastener, "unit": window.unit}
        rest: dict[str, Value] = {
            **told,
            "grade": "class 8.8",
            "condition": "dry",
            "engine": "cold",
            "spoken": [fastener, also_said(fastener, _taken(answers))],
            "source": "manual, page 12",
        }
        torques.append(_row(torque, window.low, window.high, rest))
    lines.rows("torque", [], torques)


def _row(
    first: Mapping[str, Value],
    low: Decimal | str | None,
    high: Decimal | str | None,
    more: Mapping[str, Value],
) -> dict[str, Value]:
    row = dict(first)
    for key, value in (("low", low), ("high", high)):
        if value is not None:
            row[key] = Decimal(value)
    return {**row, **more}


def _taken(answers: SheetAnswers) -> frozenset[str]:
    """Names that mean a measure, fluid or fastener of the sheet as it stands."""
    names = [measure for measure, _, _ in _readings(answers)]
    return frozenset((*names, *_fluid_names(answers), *_fasteners(answers)))


def _several(unit: str) -> str:
    """How several of a unit are written: "foot pounds", "psi"."""
    known = UNITS[unit]
    # "p s i" is how it is said.
    spelled = any(len(word) == 1 for word in known.plural.split())
    return known.name if spelled else known.plural
