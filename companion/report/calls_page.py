"""The calls that can be made, on one or two sheets of paper to hang up at the bench."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from companion.files.page import write_page
from companion.report.printed import template

WIDTH_MM, HEIGHT_MM = 190.0, 255.0
"""What A4 and Letter both have within margins of 10 mm, in millimeters, less a line to spare."""

LARGEST_MM, SMALLEST_MM = 6.2, 2.6
"""Height of the letters' square, in millimeters; 2.6 mm are some 7 points."""

_LETTER = 0.6
"""Width of a bold letter with its share of the gaps between words, in squares."""
_LINE = 1.32
"""Height of a line, in squares."""
_CALLS_FILL, _NAMES_FILL = 0.89, 1.12
"""Share of the paper that such text fills, measured in the widest of the usual faces."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A call as it is shown.

    Attributes:
        text: In the plain form, with slots in capitals.
        example: A whole call of it, or None.
    """

    text: str
    example: str | None = None


@dataclass(frozen=True, slots=True)
class CallSheet:
    """What stands on it.

    Attributes:
        call_sign: The word before a call, with an open microphone.
        machine: Which machine, or None for any.
        job: Which job card, or None for any.
        invented: Whether the machine is made up.
        always: Calls that help in any trouble, first on the sheet.
        families: By what somebody wants to do, the calls.
        names: By slot in capitals, the names that may stand there.
        ways: Ways of one's own, each with the plain form.
    """

    call_sign: str
    machine: str | None
    job: str | None
    invented: bool
    always: Sequence[tuple[str, str]]
    families: Sequence[tuple[str, Sequence[Shown]]]
    names: Mapping[str, Sequence[str]]
    ways: Sequence[tuple[str, str]]


def write_calls(sheet: CallSheet, page: Path, *, replace: bool = False) -> Path:
    """Write the sheet of calls.

    Args:
        sheet: What stands on it.
        page: The file to write.
        replace: Whether a plain file that is no sheet of calls may be replaced too.

    Returns:
        The file written.

    Raises:
        CompanionError: If the page cannot be written.
    """
    return write_page(render_calls(sheet), page, "sheet of calls", replace=replace)


def render_calls(sheet: CallSheet) -> str:
    """Return the sheet of calls as one HTML page that needs nothing from elsewhere."""
    return template("calls_page.html").render(
        sheet=sheet,
        calls_mm=_size(_calls_squares(sheet) / _CALLS_FILL),
        names_mm=_size(_names_squares(sheet) / _NAMES_FILL),
    )


def _size(squares: float) -> float:
    """Height of letters at which text of so many squares fills the sheet."""
    fits = math.sqrt(WIDTH_MM * HEIGHT_MM / max(squares, 1.0))
    return round(min(LARGEST_MM, max(SMALLEST_MM, fits)), 2)


def _calls_squares(sheet: CallSheet) -> float:
    """Squares that the calls take: each family stands in a column, under a heading."""
    squares = 0.0
    for family, calls in sheet.families:
        shown = sum(len(call.text) + len(call.example or "") + 4 for call in calls)
        squares += shown * _LETTER * _LINE
        # A heading takes a line, and the last line of a family is half full on average.
        squares += 2.2 * _LINE * max(len(family) * _LETTER, 17)
    return squares + 9 * _LINE * 34


def _names_squares(sheet: CallSheet) -> float:
    names = sum(len(name) + 3 for names in sheet.names.values() for name in names)
    ways = sum(len(own) + len(plain) + 6 for own, plain in sheet.ways)
    return (names + ways) * _LETTER * _LINE + (3 * (len(sheet.names) + 2)) * _LINE * 34
