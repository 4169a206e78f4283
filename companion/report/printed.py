"""Pages made to be printed: their templates, and writing them so that none is ever half there."""

from __future__ import annotations

from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from companion.errors import CompanionError
from companion.files.page import write_page
from companion.report.plain_words import day_text, machine_of
from companion.report.unbroken import unbroken

if TYPE_CHECKING:
    from jinja2 import Template

_HERE = Path(__file__).resolve().parent


@cache
def template(name: str) -> Template:
    """Return a page's template, which refuses names it is not given."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(_HERE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=unbroken,
    )
    environment.filters.update(day=_day, capital=_capital, machine=machine_of)
    return environment.get_template(name)


def write_beside_log(
    folder: Path, page: Path, text: str, what: str, *, replace: bool = False
) -> Path:
    """Write a page about a session; one that is there is replaced, never half written.

    Args:
        folder: The session folder, whose log must not be written over.
        page: The file to write.
        text: What it is to hold.
        what: What it is, in words, for the error.
        replace: Whether a plain file that is none may be replaced too.

    Returns:
        The file written.

    Raises:
        CompanionError: If it would replace the log, or cannot be written.
    """
    if page.resolve().parent == folder.resolve() and page.name.casefold().startswith("log."):
        raise CompanionError(f"{page} belongs to the log; name another file for the {what}.")
    return write_page(text, page, what, replace=replace)


def _day(value: date | datetime) -> str:
    return day_text(value)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
