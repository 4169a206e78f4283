"""A parts list to shop with: what is needed, what was used up, what the rest of the job takes."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from companion.errors import WrongUse
from companion.files.page import LIST_COLUMNS, WRITTEN_BY, write_page
from companion.handbook.units import UnknownUnit, to_si
from companion.job import fluids
from companion.job.record import worked_until
from companion.job.state import State
from companion.job.steps import steps_left
from companion.log.followed import follows, state_of
from companion.log.reader import read_log
from companion.log.spreadsheet import harmless, printable
from companion.report.figures import Figure
from companion.report.plain_words import day_text, machine_of
from companion.report.plate import plate_lines
from companion.report.printed import template
from companion.report.volumes import grade_text, unit_called, volume_figure


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the list.

    Attributes:
        name: The part, fluid or consumable.
        amount: "2", "20 US fl oz"; empty where nobody said how much.
        note: Size, grade, or why.
    """

    name: str
    amount: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the list."""

    title: str
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class PartsList:
    """The list of one session."""

    machine: str
    job: str
    invented: bool
    session: str
    date: str
    plate: tuple[tuple[str, str], ...]
    sections: tuple[Section, ...]


@follows
def parts_list(folder: Path) -> PartsList:
    """Collect what is to be bought for a session.

    Raises:
        CompanionError: As ``companion.log.reader.read_log``.
    """
    records = read_log(folder).records
    state = state_of(folder, records)
    found = (
        Section("Needed", _needed(state)),
        Section("For the steps that are left", _for_the_rest(state)),
        Section("Used, to restock", _used(state)),
        Section("Fluids", _fluids(state)),
        Section("Consumables of the job", _consumables(state)),
    )
    return PartsList(
        machine=machine_of(state),
        job=state.card.title if state.card else "Job without a card",
        invented=state.sheet is not None and state.sheet.invented,
        session=folder.resolve().name,
        date=day_text(worked_until(records).date()),
        plate=plate_lines(state),
        sections=tuple(section for section in found if section.items),
    )


def write_parts(folder: Path, file: Path, *, replace: bool = False) -> Path:
    """Write the parts list, in the form that the file's suffix says.

    Args:
        folder: The session folder.
        file: Ends in ``.html``, ``.txt`` or ``.csv``.
        replace: Whether a plain file that is no parts list may be replaced too.

    Raises:
        WrongUse: On any other suffix.
        CompanionError: If the log cannot be used or the file cannot be written.
    """
    form = FORMS.get(file.suffix.lower())
    if form is None:
        raise WrongUse(
            f"A parts list cannot be written as '{file.name}'; name a file that ends in "
            f"{', '.join(FORMS)}."
        )
    return write_page(form(parts_list(folder)), file, "parts list", replace=replace)


def as_html(listed: PartsList) -> str:
    """Return the list as a page to print or to read on a phone."""
    return template("parts.html").render(listed=listed)


def as_text(listed: PartsList) -> str:
    """Return the list as plain text, a line an item."""
    lines = [f"Parts list: {listed.machine}{' (invented data)' if listed.invented else ''}"]
    lines.append(f"{listed.job}, {listed.date}")
    lines.append(WRITTEN_BY)
    lines += [f"{name}: {value}" for name, value in listed.plate]
    for section in listed.sections:
        lines += ["", section.title.upper()]
        for item in section.items:
            amount = f"{item.amount}  " if item.amount else ""
            lines.append(f"[ ] {amount}{item.name}{f' ({item.note})' if item.note else ''}")
    if not listed.sections:
        lines += ["", "Nothing to get."]
    return "\n".join(lines) + "\n"


def as_csv(listed: PartsList) -> str:
    """Return the list as comma-separated values (RFC 4180), a header line first."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\r\n")
    rows.writerow(LIST_COLUMNS)
    for section in listed.sections:
        for item in section.items:
            cells = [section.title, item.name, item.amount, item.note, listed.machine]
            rows.writerow([harmless(printable(cell)) for cell in cells])
    return text.getvalue()


FORMS: Mapping[str, Callable[[PartsList], str]] = {
    ".html": as_html,
    ".txt": as_text,
    ".csv": as_csv,
}
"""By suffix, how the list is written."""


def _needed(state: State) -> tuple[Item, ...]:
    """Parts called as needed, less those that were used after they were."""
    called = [(f.seq, f.event.part, f.event.count) for f in state.effective(state.parts_needed)]
    called += [(f.seq, f.event.part, -f.event.count) for f in state.effective(state.parts_used)]
    needed: dict[str, int] = {}
    for _, part, count in sorted(called):
        if count > 0 or part in needed:
            needed[part] = max(0, needed.get(part, 0) + count)
    return tuple(
        Item(part, str(count), _size(state, part)) for part, count in needed.items() if count
    )


def _used(state: State) -> tuple[Item, ...]:
    used: dict[str, int] = {}
    for fact in state.effective(state.parts_used):
        used[fact.event.part] = used.get(fact.event.part, 0) + fact.event.count
    replaced = dict.fromkeys(
        fact.event.part for fact in state.effective(state.work) if fact.event.action == "replaced"
    )
    return (
        *(Item(part, str(count), _size(state, part)) for part, count in used.items()),
        *(
            Item(part, "", "; ".join(filter(None, ("how many was not called", _size(state, part)))))
            for part in replaced
            if part not in used
        ),
    )


def _for_the_rest(state: State) -> tuple[Item, ...]:
    """What the steps that are left take, less what was used in this job already; a job that was
    closed has none left."""
    if state.closed:
        return ()
    counts: dict[str, int] = {}
    for step in steps_left(state):
        for part in step.parts:
            counts[part.name] = counts.get(part.name, 0) + part.count
    for used in state.effective(state.parts_used):
        if used.event.part in counts:
            counts[used.event.part] -= used.event.count
    return tuple(
        Item(part, str(count), _size(state, part)) for part, count in counts.items() if count > 0
    )


def _consumables(state: State) -> tuple[Item, ...]:
    steps = () if state.card is None else state.card.step
    names = dict.fromkeys(name for step in steps for name in step.consumables)
    return tuple(Item(name, "") for name in names)


def _fluids(state: State) -> tuple[Item, ...]:
    moved = dict.fromkeys(fact.event.fluid for fact in state.effective(state.fluids))
    items: list[Item] = []
    for name in moved:
        grade = grade_text(fluids.spec_of(state, name))
        try:
            now = fluids.balance(state, name)
            unit = unit_called(state, name)
            left = fluids.to_capacity(state, name, unit)
            if left is not None and left > 0 and now.level != "full":
                more = volume_figure(state, to_si(left, unit, ounce=state.ounce)[0], unit)
                items.append(Item(name, _both(more), _note("still to fill", grade)))
            if now.added > 0:
                used = volume_figure(state, now.added, unit)
                items.append(Item(name, _both(used), _note("used", grade)))
        except UnknownUnit:
            items.append(Item(name, "", _note("see the report for how much", grade)))
    return tuple(items)


def _both(shown: Figure) -> str:
    return f"{shown.called} ({shown.also})" if shown.also else shown.called


def _note(why: str, grade: str) -> str:
    return f"{why}; {grade}" if grade else why


def _size(state: State, part: str) -> str:
    """What the sheet says of a part's size, as it is ordered."""
    if state.sheet is None:
        return ""
    sizes = {
        **{belt.name: belt.size for belt in state.sheet.belt},
        **{tire.name: tire.size for tire in state.sheet.tire},
    }
    if state.sheet.battery is not None:
        sizes["battery"] = state.sheet.battery.size
    return sizes.get(part) or ""
