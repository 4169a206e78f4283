"""The page itself: one self-contained HTML file, made from a log."""

from __future__ import annotations

import base64
import hashlib
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.errors import CompanionError
from companion.files.page import write_page
from companion.files.plain import is_plain
from companion.job import events as ev
from companion.job.record import Record, worked_until
from companion.job.uncollected import uncollected
from companion.log.clips import hashes_of_clips
from companion.log.followed import follows, state_of
from companion.log.reader import read_log
from companion.log.signatures import Signature, signatures_of
from companion.report import facts, fluid_rows
from companion.report.against import not_checked, reasons_by_tag, reasons_without_tag
from companion.report.how_heard import how_heard
from companion.report.lists import LISTS
from companion.report.pictures import photos
from companion.report.plain_words import machine_of
from companion.report.rows import NoteRow
from companion.report.summary import summary
from companion.report.turns import data_address, days
from companion.report.unbroken import unbroken

if TYPE_CHECKING:
    from jinja2 import Template

PAGE_NAME = "report.html"
"""File name of the page inside a session folder, where no other is asked for."""

MANY_TURNS = 80
"""From this many turns on, the exchange is folded day by day when the page opens."""

PIECES_AT_ONCE = 500
"""Pieces of the page that are put together in one go while it is written."""

_HERE = Path(__file__).resolve().parent


OTHER_PAGES = {
    "handover.html": "Sheet for the owner",
    "parts.html": "Parts list",
    "parts.txt": "Parts list",
    "parts.csv": "Parts list for a spreadsheet",
    "tags.html": "Tags to hang up",
}
"""By file name, other pages of a session; they are linked where they stand beside this one."""


def render_report(folder: Path, *, beside: Path | None = None, transcript: bool = False) -> str:
    """Return the report of a session as one HTML page that needs nothing from elsewhere.

    Args:
        folder: The session folder; nothing in it is changed.
        beside: Folder that the page will stand in, for links to what else stands there; None where
            it stands nowhere.
        transcript: Whether what was said is printed too, until it is chosen otherwise on the page.

    Raises:
        CompanionError: As ``companion.log.reader.read_log``.
    """
    page = _rendered(folder, beside, transcript=transcript, halves="surrogatepass")
    return page.decode(errors="surrogatepass")


def _rendered(folder: Path, beside: Path | None, *, transcript: bool, halves: str) -> bytes:
    with uncollected():
        return _page_of(folder, beside, transcript=transcript, halves=halves)


@follows
def _page_of(folder: Path, beside: Path | None, *, transcript: bool, halves: str) -> bytes:
    """The page in UTF-8, in which halves of characters are dealt with as this error handler does:
    as a text, that of a long day takes twice the memory."""
    contents = read_log(folder)
    records, state = contents.records, state_of(folder, contents.records)
    origins = facts.origins(records, state)
    exchange = days(folder, records, origins)
    turns = sum(len(day.turns) for day in exchange)
    notes = facts.notes(state, origins)
    complaints = facts.notes(state, origins, "complaint")
    steps = facts.steps(state, origins)
    pictures = photos(folder, state)
    lists = [(section, section.rows(state, origins)) for section in LISTS]
    names = {step.name for step in steps}
    looked_over = facts.looked_over(records, state)
    last = worked_until(records)
    page = _template().stream(
        others=[
            (name, title)
            for name, title in OTHER_PAGES.items()
            if beside is not None and is_plain(beside / name)
        ],
        state=state,
        opened=records[0].at,
        last=last,
        summary=summary(state, origins, steps, last),
        looked_over=looked_over,
        changed_since=state.changed_since_sign_off,
        how_heard=how_heard(records, folder.resolve().name, contents.anchor, _signed(folder)),
        anchor=contents.anchor,
        transcript=transcript,
        status="closed" if state.closed else "parked" if state.parked else "open",
        hanging=reasons_by_tag(state),
        against=reasons_without_tag(state),
        identification=facts.identification(state),
        origins=origins,
        not_checked=not_checked(records),
        readings=facts.readings(state, origins),
        fluids=fluid_rows.fluids(state, origins),
        tags=facts.tags(records, state, origins),
        timers=facts.timers(records, state, origins),
        steps=steps,
        photos={name: [each for each in pictures if each.step == name] for name in names},
        loose_photos=[each for each in pictures if each.step not in names],
        lists=lists,
        parts_needed=facts.parts_needed(state, origins),
        shopping=facts.shopping(state, origins),
        complaints=[(note, _own_sound(folder, records, note)) for note in complaints],
        notes=[(note, _own_sound(folder, records, note)) for note in notes],
        cautions=[record for record in records if type(record.event) is ev.CautionSpoken],
        troubles=[record for record in records if type(record.event) is ev.Trouble],
        recovered=contents.recovered,
        exchange=exchange,
        turns=turns,
        folded=turns > MANY_TURNS,
    )
    # The turns hold everything of them by now, and a long day takes much memory.
    del contents, records, origins
    # Written piece by piece: all pieces of a long day at once take several times the memory of its
    # page.
    page.enable_buffering(PIECES_AT_ONCE)
    written = bytearray()
    for piece in page:
        written += piece.encode(errors=halves)
    return bytes(written)


def write_report(
    folder: Path, page: Path | None = None, *, transcript: bool = False, replace: bool = False
) -> Path:
    """Write the report of a session; a report that is there is replaced, never half written.

    Args:
        folder: The session folder.
        page: The file to write; ``report.html`` in the session folder if None.
        transcript: See ``render_report``.
        replace: Whether a plain file that is no report may be replaced too.

    Returns:
        The file written.

    Raises:
        CompanionError: If the log cannot be used or the page cannot be written.
    """
    page = folder / PAGE_NAME if page is None else page
    html = _rendered(folder, page.parent, transcript=transcript, halves="replace")
    return write_page(html, page, "report", replace=replace)


@cache
def _template() -> Template:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(_HERE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=unbroken,
    )
    environment.filters["machine"] = machine_of
    # The page's policy lets this one script run and no other, whatever a log may hold.
    script = environment.get_template("page.js").render()
    hashed = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    environment.globals["script_hash"] = f"sha256-{hashed}"
    environment.filters.update(
        day=_day, clock=_clock, moment=_moment, percent=_percent, capital=_capital
    )
    return environment.get_template("page.html")


def _signed(folder: Path) -> Signature | None:
    """The last signature beside the log that its key made."""
    made = [each for each in signatures_of(folder) if each.right]
    return made[-1] if made else None


def _own_sound(folder: Path, records: tuple[Record, ...], note: NoteRow) -> str | None:
    """The sound of a note, where it has one that the call before it does not carry already."""
    evidence = records[note.origin.evidence - 1].event
    if note.clip is None or (isinstance(evidence, ev.Heard) and evidence.clip == note.clip):
        return None
    try:
        return data_address(folder, note.clip, hashes_of_clips(records).get(note.clip))
    except CompanionError:
        return None


def _day(value: date | datetime) -> str:
    return f"{value.day} {value:%B %Y}"


def _clock(value: datetime) -> str:
    return f"{value:%H:%M}"


def _moment(value: datetime) -> str:
    return f"{value.day} {value:%b}, {value:%H:%M}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _percent(value: Any) -> str:
    # A log may hold any number; a share outside 0 to 1 counts as the nearer end.
    return f"{round(min(max(float(value), 0.0), 1.0) * 100)} %"
