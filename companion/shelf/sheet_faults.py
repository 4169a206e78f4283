"""What can be wrong with a spec sheet beyond the types of its keys."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from itertools import pairwise

from companion.files.toml_lines import Location
from companion.handbook.unit_table import UNITS
from companion.handbook.units import dimension
from companion.job.sheet import SpecFluid, SpecReading, SpecService, SpecSheet, SpecTorque
from companion.job.sheet_measures import belt_measure, tire_measure, torque_measure
from companion.nearest import nearest_words
from companion.shelf.common import common_measures
from companion.shelf.fault import Fault
from companion.shelf.name_faults import name_faults
from companion.shelf.service_faults import service_item_faults
from companion.shelf.threads import FASTENER_GRADES, is_thread
from companion.shelf.window_faults import no_unit, unit_fault, upside_down

YEARS = range(1900, 2101)
"""Years of make that are believed."""


def sheet_faults(sheet: SpecSheet) -> Iterable[Fault]:
    """Give everything that is wrong with a sheet whose keys and types are right."""
    if not sheet.name.strip():
        yield Fault(("name",), "'name' is empty")
    year = sheet.identification.year
    if year is not None and year not in YEARS:
        yield Fault(("identification", "year"), f"{year} is no year of make")
    for index, reading in enumerate(sheet.reading):
        yield from _reading_faults(("reading", index), reading)
    for index, fluid in enumerate(sheet.fluid):
        yield from _fluid_faults(("fluid", index), fluid)
    for index, torque in enumerate(sheet.torque):
        yield from _torque_faults(("torque", index), torque)
    for index, tire in enumerate(sheet.tire):
        yield from _window_faults(("tire", index), tire_measure(tire), "pressure")
    for index, belt in enumerate(sheet.belt):
        yield from _window_faults(("belt", index), belt_measure(belt), "length")
    if sheet.battery is not None:
        for key in ("volts", "ampere_hours"):
            yield from _above_zero(("battery", key), getattr(sheet.battery, key))
    for index, service in enumerate(sheet.service):
        yield from _service_faults(("service", index), service, sheet.service[:index])
    yield from service_item_faults(sheet)
    yield from name_faults("reading", [(r.measure, r.spoken, ()) for r in sheet.reading], "measure")
    yield from name_faults("fluid", [(f.name, f.spoken, ()) for f in sheet.fluid])
    yield from name_faults("torque", [(t.fastener, t.spoken, ()) for t in sheet.torque], "fastener")
    for table in ("tire", "belt"):
        yield from name_faults(table, [(each.name, (), ()) for each in getattr(sheet, table)])
    for table in ("part", "condition"):
        yield from name_faults(table, [(t.name, t.spoken, t.plural) for t in getattr(sheet, table)])
    yield from _measured_twice(sheet)


def _reading_faults(at: Location, reading: SpecReading) -> Iterable[Fault]:
    reason = unit_fault(reading.measure, reading.unit, common_measures().get(reading.measure))
    if reason is not None:
        yield Fault((*at, "unit"), reason)
    yield from _upside_down(at, reading.low, reading.high)


def _window_faults(at: Location, measure: SpecReading, kind: str) -> Iterable[Fault]:
    """Faults of a window whose measure is of one kind whatever it is called."""
    if _dimension(measure.unit) != kind:
        yield Fault((*at, "unit"), no_unit(measure.unit, kind))
    yield from _upside_down(at, measure.low, measure.high)
    for key in ("low", "high"):
        yield from _not_below_zero((*at, key), getattr(measure, key))


def _upside_down(at: Location, low: Decimal | None, high: Decimal | None) -> Iterable[Fault]:
    reason = upside_down(low, high)
    if reason is not None:
        yield Fault((*at, "low"), reason)


def _fluid_faults(at: Location, fluid: SpecFluid) -> Iterable[Fault]:
    if fluid.unit is not None and _dimension(fluid.unit) != "volume":
        yield Fault((*at, "unit"), no_unit(fluid.unit, "volume"))
    if fluid.capacity is not None and fluid.unit is None:
        yield Fault((*at, "capacity"), "'capacity' needs a 'unit' of volume")
    yield from _above_zero((*at, "capacity"), fluid.capacity)
    yield from _above_zero((*at, "mix"), fluid.mix)
    yield from _grade_faults(at, fluid)


def _grade_faults(at: Location, fluid: SpecFluid) -> Iterable[Fault]:
    """Ranges from the coldest up must each end where the next begins."""
    for index, grade in enumerate(fluid.grades):
        here: Location = (*at, "grades", index)
        if not grade.grade.strip():
            yield Fault((*here, "grade"), "'grade' is empty")
        if grade.unit != fluid.grades[0].unit:
            yield Fault(here, f"the ranges of {fluid.name} are in different units; give all in one")
            return
        if grade.low is not None and grade.high is not None and grade.low >= grade.high:
            yield Fault(
                here, f"the range is upside down: low is {grade.low} and high is {grade.high}"
            )
            return
    lowest = Decimal("-Infinity")
    in_order = sorted(
        enumerate(fluid.grades), key=lambda one: lowest if one[1].low is None else one[1].low
    )
    for (_, colder), (index, warmer) in pairwise(in_order):
        here = (*at, "grades", index)
        both = f"'{colder.grade}' and '{warmer.grade}'"
        if colder.high is None or warmer.low is None or colder.high > warmer.low:
            yield Fault(here, f"the ranges of {both} overlap; end one where the next begins")
        elif colder.high < warmer.low:
            yield Fault(
                here,
                f"between {both} there is no grade from {colder.high} to {warmer.low}; "
                "end one range where the next begins",
            )


def _torque_faults(at: Location, torque: SpecTorque) -> Iterable[Fault]:
    yield from _window_faults(at, torque_measure(torque), "torque")
    if torque.thread is not None and not is_thread(torque.thread):
        yield Fault(
            (*at, "thread"),
            f"'{torque.thread}' cannot be read as a thread; write it like 3/8-16, #10-24 or "
            "M8x1.25",
        )
    if torque.grade is not None and torque.grade not in FASTENER_GRADES:
        yield Fault(
            (*at, "grade"),
            f"'{torque.grade}' is no grade of a fastener; the grades are "
            + ", ".join(FASTENER_GRADES)
            + _nearest_grade(torque.grade),
        )
    yield from _above_zero((*at, "count"), torque.count)


def _nearest_grade(grade: str) -> str:
    near = nearest_words(grade, FASTENER_GRADES)
    return f"; {near}" if near else ""


def _service_faults(
    at: Location, service: SpecService, before: Sequence[SpecService]
) -> Iterable[Fault]:
    for key in ("item", "work"):
        if not getattr(service, key).strip():
            yield Fault((*at, key), f"'{key}' is empty")
    if any((service.item, service.work) == (each.item, each.work) for each in before):
        yield Fault((*at, "item"), f"the service '{service.work} {service.item}' is listed twice")
    intervals = ("first_hours", "hours", "months", "season")
    if not service.each_use and all(getattr(service, key) is None for key in intervals):
        yield Fault(
            at,
            "this service has no interval; give 'first_hours', 'hours', 'months', 'season' or "
            "'each_use'",
        )
    for key in ("first_hours", "hours", "months"):
        yield from _above_zero((*at, key), getattr(service, key))


def _measured_twice(sheet: SpecSheet) -> Iterable[Fault]:
    """Torques, tires and belts become measures, which must not be those of another table."""
    said: dict[str, str] = {
        words: reading.measure
        for reading in sheet.reading
        for words in (reading.measure, *reading.spoken)
    }
    made: list[tuple[Location, SpecReading]] = [
        *(
            (("torque", index, "fastener"), torque_measure(each))
            for index, each in enumerate(sheet.torque)
        ),
        *((("tire", index, "name"), tire_measure(each)) for index, each in enumerate(sheet.tire)),
        *(
            (("belt", index, "name"), belt_measure(each))
            for index, each in enumerate(sheet.belt)
            if each.low is not None or each.high is not None
        ),
    ]
    for at, measure in made:
        for words in measure.spoken or (measure.measure,):
            if words in said:
                yield Fault(
                    at, f"'{words}' is a measure of this sheet already; give its window once"
                )
                break
        wanted = common_measures().get(measure.measure)
        if wanted is not None and _dimension(measure.unit) not in (wanted, None):
            yield Fault(at, f"'{measure.measure}' takes a unit of {wanted}, not {measure.unit}")
        said.update(dict.fromkeys((measure.measure, *measure.spoken), measure.measure))


def _above_zero(at: Location, value: Decimal | int | None) -> Iterable[Fault]:
    if value is not None and value <= 0:
        yield Fault(at, f"'{at[-1]}' must be above zero")


def _not_below_zero(at: Location, value: Decimal | None) -> Iterable[Fault]:
    if value is not None and value < 0:
        yield Fault(at, f"'{at[-1]}' must not be below zero")


def _dimension(unit: str) -> str | None:
    return dimension(unit) if unit in UNITS else None
