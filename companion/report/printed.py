"""Pages made to be printed: their templates."""

from __future__ import annotations

from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

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


def _day(value: date | datetime) -> str:
    return day_text(value)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
