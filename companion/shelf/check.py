"""Cards and sheets checked: everything that is wrong, and what is only asked about."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from companion.errors import CompanionError
from companion.files.quoting import with_short_quotations
from companion.files.toml_lines import TomlLines
from companion.job.card import JobCard
from companion.job.service_items import never_counts
from companion.job.sheet import SpecSheet
from companion.shelf.fault import Fault, WrongFile
from companion.shelf.load import SHEETS, read_card, read_sheet
from companion.shelf.together import card_and_sheet
from companion.shelf.usual import card_questions, sheet_questions

MOST_ASKED = 8
"""How many questions are told when a job begins; nobody reads more before work. Our own figure."""

Read = TypeVar("Read", JobCard, SpecSheet)


@dataclass(frozen=True, slots=True)
class Checked(Generic[Read]):
    """One file, looked over.

    Attributes:
        path: The file.
        read: What it holds; None where it is refused.
        faults: Why it is refused, a sentence each with file and line; none where it is not.
        asked: What is asked about, a sentence each with file and line: figures far from the usual,
            and what never counts. Nothing is refused for it.
    """

    path: Path
    read: Read | None
    faults: tuple[str, ...] = ()
    asked: tuple[str, ...] = ()


def check_sheet(source: str | Path) -> Checked[SpecSheet]:
    """Look a spec sheet over.

    Args:
        source: A TOML file, or the name of a shipped sheet.
    """
    return _checked(source, read_sheet, _of_sheet)


def check_card(source: str | Path) -> Checked[JobCard]:
    """Look a job card over.

    Args:
        source: A TOML file, or the name of a shipped card.
    """
    return _checked(source, read_card, _of_card)


def asked_at_start(card: JobCard | None, sheet: SpecSheet | None) -> tuple[str, ...]:
    """Return what is asked about when a job begins, a sentence each: figures far from the usual,
    and what card and sheet do not have in common. Nothing is refused for it."""
    told: list[str] = []
    if sheet is not None:
        told += (f"Spec sheet '{sheet.name}': {each.reason}" for each in sheet_questions(sheet))
    if card is not None:
        told += (f"Job card '{card.name}': {each.reason}" for each in card_questions(card))
    if card is not None and sheet is not None:
        told += card_and_sheet(card, sheet)
    # The first few of many similar questions are enough.
    more = len(told) - MOST_ASKED
    shown = [with_short_quotations(each) for each in dict.fromkeys(told)][:MOST_ASKED]
    return (*shown, *([f"{more} more figures or names are odd."] if more > 0 else []))


def _checked(
    source: str | Path,
    read: Callable[[str | Path], tuple[Path, Read, TomlLines]],
    asked: Callable[[Path, Read], Iterable[Fault]],
) -> Checked[Read]:
    try:
        path, found, lines = read(source)
    except WrongFile as error:
        return Checked(error.path, None, error.told)
    except CompanionError as error:
        return Checked(Path(source), None, (str(error),))
    told = sorted({(lines.line_of(each.location), each.reason) for each in asked(path, found)})
    return Checked(
        path,
        found,
        (),
        tuple(f"{path}:{line}: {with_short_quotations(reason)}" for line, reason in told),
    )


def _of_sheet(path: Path, sheet: SpecSheet) -> Iterator[Fault]:
    yield from sheet_questions(sheet)
    for index, service in enumerate(sheet.service):
        thing = None if service.each_use else never_counts(sheet, service.item, service.work)
        if thing is not None and path.parent != SHEETS:
            yield Fault(
                ("service", index, "work"),
                f"no call says that '{service.work}' was done to '{thing}', so that it never "
                "counts as done; begin with a word like change, clean, check, grease or sharpen, "
                "or leave it as a reminder",
            )
    if sheet.invented and path.parent != SHEETS:
        yield Fault(
            ("invented",),
            "'invented' stamps every page of this machine as invented data; leave it out for a "
            "machine that there is",
        )


def _of_card(_path: Path, card: JobCard) -> Iterator[Fault]:
    yield from card_questions(card)
