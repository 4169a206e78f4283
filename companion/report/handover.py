"""The sheet for the owner: what was found, done, measured and replaced, what is next, what to
watch. The evidence behind each figure stays in the report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from companion.files.page import write_page
from companion.job import events as ev
from companion.job import fluids
from companion.job.record import worked_until
from companion.job.service_due import ENGINE_HOURS, engine_hours_of_job, services_due
from companion.job.state import State
from companion.log.followed import follows, state_of
from companion.log.reader import read_log
from companion.report.against import not_checked_by_shop, reasons_by_tag, reasons_without_tag
from companion.report.figures import Figure, figure
from companion.report.pictures import photos
from companion.report.plain_words import (
    due_in_plain_words,
    hours_text,
    last_done_in_plain_words,
    verdict_in_plain_words,
)
from companion.report.plate import plate_lines
from companion.report.printed import template
from companion.report.shop import NO_SHOP, Shop
from companion.report.volumes import grade_text
from companion.report.watching import SEE_THE_MANUAL, found, last_readings, to_watch
from companion.report.work_done import counts_of, done, filled, replaced

HANDOVER_NAME = "handover.html"
"""File name of the sheet inside a session folder."""

MANY_ROWS = 34
"""From this many lines on the print is smaller, so that the sheet stays on one page; tried on A4
and Letter."""

PHOTO_LONGEST = 640
"""Points of the longer side of a photo on the sheet; at 45 mm on paper, 360 an inch."""

PHOTOS_A_ROW, LINES_A_ROW = 4, 14
"""How many photos stand side by side, and how many lines a row of them takes."""


@dataclass(frozen=True, slots=True)
class Measured:
    """One measure: as it was found, if that was another value, and as it was left."""

    measure: str
    found: str
    left: Figure
    verdict: str
    kind: str
    source: str


@dataclass(frozen=True, slots=True)
class Filled:
    """What was done with one fluid."""

    fluid: str
    what: str
    grade: str


@dataclass(frozen=True, slots=True)
class Next:
    """One item of the service intervals."""

    what: str
    when: str
    last: str
    note: str
    overdue: bool


@follows
def render_handover(folder: Path, shop: Shop = NO_SHOP) -> str:
    """Return the owner's sheet of a session as one HTML page that needs nothing from elsewhere.

    Args:
        folder: The session folder; nothing in it is changed.
        shop: Whose sheet it is.

    Raises:
        CompanionError: As ``companion.log.reader.read_log``.
    """
    contents = read_log(folder)
    records = contents.records
    state = state_of(folder, records)
    last = worked_until(records)
    hours = engine_hours_of_job(state)
    pictures = photos(folder, state, PHOTO_LONGEST)
    rows: dict[str, Sequence[object]] = {
        "found": found(state),
        "done": done(state),
        "measured": _measured(state),
        "replaced": replaced(state),
        "filled": _filled(state),
        "next": _next(state, last),
        "needed": counts_of(state.effective(state.parts_needed)),
        "watch": to_watch(state),
        "complaints": [
            fact for fact in state.effective(state.notes) if fact.event.about == "complaint"
        ],
        "hanging": reasons_by_tag(state),
        "against": reasons_without_tag(state),
    }
    return template("handover.html").render(
        state=state,
        session=folder.resolve().name,
        opened=records[0].at,
        last=last,
        status="closed" if state.closed else "parked" if state.parked else "open",
        identification=plate_lines(state),
        hours="" if hours is None else hours_text(hours),
        see_the_manual=SEE_THE_MANUAL,
        not_checked=not_checked_by_shop(records),
        has_engine=_has_engine(state),
        mixes=_mixes(state),
        shop=shop,
        photos=pictures,
        anchor=contents.anchor,
        dense=sum(len(each) for each in rows.values()) + _rows_of(pictures) > MANY_ROWS,
        **rows,
    )


def write_handover(
    folder: Path, page: Path | None = None, shop: Shop = NO_SHOP, *, replace: bool = False
) -> Path:
    """Write the owner's sheet; one that is there is replaced, never half written.

    Args:
        folder: The session folder.
        page: The file to write; ``handover.html`` in the session folder if None.
        shop: Whose sheet it is.
        replace: Whether a plain file that is no sheet for the owner may be replaced too.

    Returns:
        The file written.

    Raises:
        CompanionError: If the log cannot be used or the page cannot be written.
    """
    page = folder / HANDOVER_NAME if page is None else page
    text = render_handover(folder, shop)
    return write_page(text, page, "sheet for the owner", replace=replace)


def _next(state: State, at: datetime) -> list[Next]:
    return [
        Next(
            f"{item.service.item}: {item.service.work}",
            due_in_plain_words(item),
            last_done_in_plain_words(item),
            item.service.note or "",
            item.overdue,
        )
        for item in services_due(state, at)
    ]


def _measured(state: State) -> list[Measured]:
    rows = []
    for facts in last_readings(state):
        first, last = facts[0].event, facts[-1].event
        if last.measure == ENGINE_HOURS:
            continue
        same = (first.value, first.unit) == (last.value, last.unit)
        rows.append(
            Measured(
                measure=last.measure,
                found="" if same else figure(first.value, first.unit, state.ounce).called,
                left=figure(last.value, last.unit, state.ounce),
                verdict=verdict_in_plain_words(last, state.ounce),
                source=_not_the_makers(last),
                kind={"in": "good", "unknown": "plain"}.get(last.verdict, "stop"),
            )
        )
    return rows


def _not_the_makers(event: ev.ReadingRecorded) -> str:
    """Where a figure is from that is not the maker's."""
    common = event.window is not None and event.window.source == "common practice"
    return "common practice, not the maker's figure" if common else ""


def _filled(state: State) -> list[Filled]:
    return [
        Filled(name, what, grade_text(fluids.spec_of(state, name))) for name, what in filled(state)
    ]


def _rows_of(pictures: Sequence[object]) -> int:
    return -(-len(pictures) // PHOTOS_A_ROW) * LINES_A_ROW


def _has_engine(state: State) -> bool:
    return state.sheet is None or state.sheet.identification.cycle != "electric"


def _mixes(state: State) -> list[str]:
    if state.sheet is None:
        return []
    return [
        f"{fluid.name}: {fluid.mix:f} parts of fuel to one of oil"
        for fluid in state.sheet.fluid
        if fluid.mix is not None
    ]
