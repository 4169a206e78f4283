"""The page of one machine: how it stands, what is due, what it read over the years, each job."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from companion.files.page import write_page
from companion.job import events as ev
from companion.job.lines import line, several
from companion.job.service_due import ENGINE_HOURS
from companion.log.index_found import SessionRow
from companion.log.index_history import MachineHistory, Noted
from companion.report.figures import figure, verdict_text, window_text
from companion.report.machine_plot import Plot, plot
from companion.report.plain_words import day_text, due_in_plain_words, last_done_in_plain_words
from companion.report.printed import template
from companion.report.watching import MENDS, MENDS_BY_CONDITION

OPEN_UP_TO = 8
"""Readings of a measure that are listed without being asked for."""

Link = Callable[[SessionRow], str | None]
"""Where a session can be looked at; None where it cannot."""


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """One reading in the list below its plot."""

    session: SessionRow
    day: str
    value: str
    verdict: str
    out: bool


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure over the years.

    Attributes:
        name: What it is.
        wanted: What the latest sheet wants of it, in words; empty where nobody knows.
        judged: Whether it is judged at all: an hour meter only counts.
        plot: Its drawing, or None where one reading is all there is.
        lines: Its readings, the latest first.
        unfolded: Whether they are listed without being asked for.
    """

    name: str
    wanted: str
    judged: bool
    plot: Plot | None
    lines: tuple[ReadingLine, ...]
    unfolded: bool


@dataclass(frozen=True, slots=True)
class JobLines:
    """One session: what it was about and what came of it."""

    session: SessionRow
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Taken:
    """What the machine took or gave on one day."""

    session: SessionRow
    day: str
    what: tuple[str, ...]


def machine_body(history: MachineHistory, link: Link = lambda session: None) -> str:
    """Return the page of a machine without what is around it, for a page that has that already.

    Its styles are ``machine.css``; colors come from the page that it is put into.

    Args:
        history: From ``SessionIndex.machine``.
        link: Where a session can be looked at.
    """
    return template("machine_body.html").render(**_content(history), link=link)


def render_machine(history: MachineHistory) -> str:
    """Return the page of a machine as one HTML page that needs nothing from elsewhere."""
    return template("machine.html").render(
        **_content(history), link=lambda session: None, name=history.row.name
    )


def write_machine(history: MachineHistory, page: Path, *, replace: bool = False) -> Path:
    """Write the page of a machine; one that is there is replaced, never half written.

    Raises:
        CompanionError: If it cannot be written.
    """
    return write_page(render_machine(history), page, "page of the machine", replace=replace)


def _content(history: MachineHistory) -> dict[str, object]:
    row = history.row
    return {
        "machine": row,
        "about": _about(history),
        "still_open": [_to_come_back_to(each) for each in history.still_open],
        "found": _open_findings(history),
        "due": [
            (
                f"{each.service.item}: {each.service.work}",
                due_in_plain_words(each),
                last_done_in_plain_words(each),
                each.overdue,
            )
            for each in history.due
        ],
        "measures": [_measure(history, *item) for item in history.readings.items()],
        "taken": list(_taken(history)),
        "jobs": [_job(history, session) for session in history.sessions],
        "notes": [
            (each.session, day_text(each.at.date()), each.event) for each in reversed(history.notes)
        ],
    }


def _about(history: MachineHistory) -> list[tuple[str, str]]:
    row, sheet = history.row, history.sheet
    plate = None if sheet is None else sheet.identification
    jobs = f"{row.sessions}" + (f", {row.unfinished} not closed" if row.unfinished else "")
    hours = history.hours
    asked = [
        ("Kind", None if sheet is None else sheet.kind),
        ("Maker", plate and plate.maker),
        ("Model", plate and plate.model),
        ("Serial number", row.serial or (plate and plate.serial)),
        ("Engine", plate and plate.engine),
        ("Jobs", jobs),
        ("Worked on last", day_text(row.last.date())),
        (
            "Hour meter",
            None
            if hours is None
            else f"{figure(hours.event.value, hours.event.unit, history.ounce).called} on "
            f"{day_text(hours.at.date())}",
        ),
    ]
    return [(name, value) for name, value in asked if value]


def _to_come_back_to(each: ev.ToComeBackTo) -> tuple[str, str, str]:
    if each.count:
        what = f"needs {each.count} {several(each.part, each.count)}"
    else:
        what = f"come back to the {each.part}"
    return what, day_text(each.at.date()), each.session


def _open_findings(history: MachineHistory) -> list[tuple[str, str, str]]:
    """Findings after which nothing was called that mends them, the latest first."""
    rows: dict[str, tuple[str, str, str]] = {}
    for finding in reversed(history.findings):
        found = finding.event
        mends = MENDS | MENDS_BY_CONDITION.get(found.condition, set())
        mended = any(
            work.event.part == found.part and work.event.action in mends and _after(work, finding)
            for work in history.work
        ) or any(
            used.event.part == found.part and _after(used, finding) for used in history.parts_used
        )
        if not mended:
            what = line(found)
            rows.setdefault(what, (what, day_text(finding.at.date()), finding.session.name))
    return list(rows.values())


def _after(one: Noted[Any], other: Noted[Any]) -> bool:
    if one.session.folder == other.session.folder:
        return one.record > other.record
    return one.at > other.at


def _measure(
    history: MachineHistory, name: str, points: tuple[Noted[ev.ReadingRecorded], ...]
) -> Measure:
    ounce = history.ounce
    lines = [
        ReadingLine(
            session=point.session,
            day=day_text(point.at.date()),
            value=figure(point.event.value, point.event.unit, ounce).called,
            verdict="" if name == ENGINE_HOURS else verdict_text(point.event, ounce),
            out=point.event.verdict in ("low", "high"),
        )
        for point in points
    ]
    titles = [
        f"{each.day}: {each.value}{f', {each.verdict}' if each.verdict else ''}" for each in lines
    ]
    latest = points[-1].event
    return Measure(
        name=name,
        wanted=window_text(latest.window, ounce),
        judged=name != ENGINE_HOURS,
        plot=plot(points, titles, ounce),
        lines=tuple(reversed(lines)),
        unfolded=len(lines) <= OPEN_UP_TO,
    )


def _taken(history: MachineHistory) -> Iterable[Taken]:
    """Fluids and parts by session, the latest first."""
    by_session: dict[Path, list[str]] = {}
    for fluid in history.fluids:
        event = fluid.event
        volume = figure(event.value, event.unit, history.ounce).called
        by_session.setdefault(fluid.session.folder, []).append(
            f"{event.fluid} {event.action} {volume}"
        )
    for used in history.parts_used:
        count = used.event.count
        by_session.setdefault(used.session.folder, []).append(
            f"{count} {several(used.event.part, count)} fitted"
        )
    for session in history.sessions:
        what = by_session.get(session.folder)
        if what and session.opened is not None:
            yield Taken(session, day_text(session.opened.date()), tuple(what))


def _job(history: MachineHistory, session: SessionRow) -> JobLines:
    called: list[Noted[Any]] = [
        *history.findings,
        *history.work,
        *history.parts_needed,
        *history.follow_ups,
    ]
    its = [
        (each.record, line(each.event)) for each in called if each.session.folder == session.folder
    ]
    # The same called twice is one line.
    return JobLines(session, tuple(dict.fromkeys(text for _, text in sorted(its))))
