"""Dates, times and figures that stay on one line, wherever on a page they stand."""

from __future__ import annotations

import re

_MONTH = (
    "Jan(?:uary)?|Feb(?:ruary)?|Mar(?:ch)?|Apr(?:il)?|May|June?|July?|Aug(?:ust)?|"
    "Sep(?:tember)?|Oct(?:ober)?|Nov(?:ember)?|Dec(?:ember)?"
)
_DATE = re.compile(rf"\b(\d{{1,2}}) ({_MONTH})\b(?:(,?) (\d{{4}}|\d{{2}}:\d{{2}})\b)?")
_FIGURE = re.compile(r"\d ")
_HARD = "\N{NO-BREAK SPACE}"


def unbroken(value: object) -> object:
    """Return a text whose dates ("4 March 2027", "4 Mar, 09:15") cannot wrap; anything else, and
    what is markup already, as it is."""
    if type(value) is not str and (not isinstance(value, str) or hasattr(value, "__html__")):
        return value
    # A quick test first: most texts of a long page have no figure in them, and so no date.
    return _DATE.sub(_joined, value) if _FIGURE.search(value) else value


def _joined(found: re.Match[str]) -> str:
    day, month, comma, rest = found.groups()
    return f"{day}{_HARD}{month}" + (f"{comma}{_HARD}{rest}" if rest else "")
