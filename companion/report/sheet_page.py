"""A spec sheet as one plain page, to read at the desk or to print."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from companion.handbook.convert import plain
from companion.handbook.unit_table import DIMENSIONS, OunceSystem
from companion.handbook.units import dimension, written
from companion.job.events import Window
from companion.job.sheet import (
    SpecBattery,
    SpecFluid,
    SpecGrade,
    SpecIdentification,
    SpecReading,
    SpecService,
    SpecSheet,
)
from companion.job.sheet_measures import belt_measure, not_known, tire_measure, torque_measure
from companion.report.figures import figure, window_text

WIDTH = 96
"""Characters in a line, so that the page prints on a sheet of paper."""

Row = tuple[str, str, str]
"""A name, its figure, and what belongs to it."""

_COMPRESSION = ("compression", "leak down")
"""Measures that tell how well the engine seals, and stand together."""


def sheet_page(sheet: SpecSheet, *, ounce: OunceSystem = "us") -> str:
    """Return everything a sheet holds as one page of text.

    Args:
        sheet: Any sheet.
        ounce: Which ounce, pint, quart and gallon the shop means; a sheet that does not say whose
            is shown as the shop's.
    """
    sections: list[tuple[str, list[Row]]] = [
        ("Identification", [*_identification(sheet.identification)])
    ]
    for title, readings in _grouped(sheet.reading):
        sections.append((title, [_reading(each, ounce) for each in readings]))
    sections += [
        ("Fluids", [row for each in sheet.fluid for row in _fluid(each, ounce)]),
        ("Torques", [*_torques(sheet, ounce)]),
        ("Tires", [*_tires(sheet, ounce)]),
        ("Belts", [*_belts(sheet, ounce)]),
        ("Battery", [] if sheet.battery is None else [_battery(sheet.battery)]),
        ("Service", [_service(each) for each in sheet.service]),
    ]
    lines = [sheet.name, *_wrapped(sheet.kind)]
    if sheet.invented:
        lines.append("Invented: there is no such machine.")
    if sheet.notes:
        lines += _wrapped(sheet.notes)
    for title, rows in sections:
        if rows:
            lines += ["", title, *_table(rows)]
    unknown = not_known(sheet)
    if unknown:
        lines += ["", "Not known yet", *_wrapped(f"{', '.join(unknown)}.", "  ")]
        lines += _wrapped("Call it out: it is kept with the job, not as the maker's figure.", "  ")
    lines += ["", "The maker's manual, local codes and licensed practice come first."]
    return "\n".join(lines) + "\n"


def _table(rows: Sequence[Row]) -> Iterator[str]:
    name = max(len(row[0]) for row in rows)
    value = max(len(row[1]) for row in rows)
    for row in rows:
        start = f"  {row[0]:<{name}}  {row[1]:<{value}}"
        yield from textwrap.wrap(
            f"{start}  {row[2]}".rstrip(),
            WIDTH,
            subsequent_indent=" " * min(len(start) + 2, WIDTH // 2 + 12),
            break_long_words=False,
            drop_whitespace=True,
            replace_whitespace=False,
        )


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)


def _identification(known: SpecIdentification) -> Iterator[Row]:
    for name, value, place in (
        ("maker", known.maker, None),
        ("model", known.model, None),
        ("serial number", known.serial, known.serial_place),
        ("year", None if known.year is None else str(known.year), None),
        ("engine", known.engine, None),
        ("engine model", known.engine_model, None),
        ("engine serial", known.engine_serial, known.engine_serial_place),
        ("cycle", known.cycle, None),
    ):
        if value or place:
            yield name, value or "not written down", place or ""


def _grouped(readings: Iterable[SpecReading]) -> Iterator[tuple[str, list[SpecReading]]]:
    groups: dict[str, list[SpecReading]] = {}
    for reading in readings:
        sealing = reading.measure in _COMPRESSION
        title = (
            "Compression and leak-down" if sealing else DIMENSIONS[dimension(reading.unit)].heading
        )
        groups.setdefault(title, []).append(reading)
    yield from groups.items()


def _reading(reading: SpecReading, ounce: OunceSystem, name: str | None = None) -> Row:
    window = _window(reading, ounce)
    how = (f"engine {reading.engine}" if reading.engine else None, reading.condition)
    said = ", ".join(each for each in how if each)
    return name or reading.measure, window, _with_source(said, reading.source)


def _window(reading: SpecReading, ounce: OunceSystem) -> str:
    if reading.low is None and reading.high is None:
        return "not known"
    window = Window(low=reading.low, high=reading.high, unit=reading.unit, source=reading.source)
    also = [
        figure(end, reading.unit, ounce).also
        for end in (reading.low, reading.high)
        if end is not None
    ]
    if not all(also):
        return window_text(window, ounce)
    number, _, unit = also[0].partition(" ")
    both = also[0] if len(also) == 1 else f"{number} to {also[1]}"
    # Two ends in different units, such as thou and inches, are both written out.
    if len(also) == 2 and not also[1].endswith(f" {unit}"):
        both = " to ".join(also)
    return f"{window_text(window, ounce)} ({both})"


def _fluid(fluid: SpecFluid, ounce: OunceSystem) -> Iterator[Row]:
    if fluid.capacity is None or fluid.unit is None:
        amount = "capacity not known"
    else:
        shown = figure(fluid.capacity, fluid.unit, ounce)
        amount = f"{shown.called} ({shown.also})" if shown.also else shown.called
    more = [
        fluid.grade,
        f"{plain(fluid.mix)} to 1 with oil" if fluid.mix is not None else None,
        f"level by {fluid.check}" if fluid.check else None,
    ]
    yield fluid.name, amount, _with_source(", ".join(each for each in more if each), fluid.source)
    for grade in fluid.grades:
        yield "", grade.grade, range_text(grade)


def range_text(grade: SpecGrade) -> str:
    """Return the temperatures of a grade: "from 4 to 40 °C", "below 4 °C"."""
    unit = written(grade.unit)
    if grade.low is None and grade.high is None:
        return "at any temperature"
    if grade.low is None:
        assert grade.high is not None
        return f"below {plain(grade.high)} {unit}"
    if grade.high is None:
        return f"from {plain(grade.low)} {unit} up"
    return f"from {plain(grade.low)} to {plain(grade.high)} {unit}"


def _torques(sheet: SpecSheet, ounce: OunceSystem) -> Iterator[Row]:
    for each in sheet.torque:
        name = each.fastener if each.count in (None, 1) else f"{each.fastener} × {each.count}"
        how = (
            each.thread,
            each.grade,
            each.condition,
            f"engine {each.engine}" if each.engine else None,
            each.order,
        )
        said = ", ".join(part for part in how if part)
        yield name, _window(torque_measure(each), ounce), _with_source(said, each.source)


def _tires(sheet: SpecSheet, ounce: OunceSystem) -> Iterator[Row]:
    for each in sheet.tire:
        window = _window(tire_measure(each), ounce)
        yield each.name, window, _with_source(each.size or "", each.source)


def _belts(sheet: SpecSheet, ounce: OunceSystem) -> Iterator[Row]:
    for each in sheet.belt:
        measure = belt_measure(each)
        known = each.low is not None or each.high is not None
        deflection = f"deflection {_window(measure, ounce)}" if known else "deflection not known"
        how = ", ".join(part for part in (each.size, each.condition) if part)
        yield each.name, deflection, _with_source(how, each.source)


def _battery(battery: SpecBattery) -> Row:
    capacity = battery.ampere_hours
    more = [
        None if capacity is None else f"{plain(capacity)} Ah",
        battery.type,
        battery.size,
    ]
    return "battery", f"{plain(battery.volts)} V", ", ".join(each for each in more if each)


def _service(service: SpecService) -> Row:
    when = [
        "each use" if service.each_use else None,
        None if service.first_hours is None else f"first after {plain(service.first_hours)} h",
        None if service.hours is None else f"every {plain(service.hours)} h",
        None if service.months is None else _months(service.months),
        None if service.season is None else f"{service.season} of season",
    ]
    what = f"{service.work}{f' ({service.note})' if service.note else ''}"
    return (
        service.item,
        ", ".join(each for each in when if each),
        _with_source(what, service.source),
    )


def _months(months: int) -> str:
    return "every month" if months == 1 else f"every {months} months"


def _with_source(said: str, source: str) -> str:
    return f"{said} [{source}]" if said else f"[{source}]"
