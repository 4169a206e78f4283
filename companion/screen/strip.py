"""The line under what is typed: what may follow, or the unit of the figure that comes next."""

from __future__ import annotations

from collections.abc import Sequence

from companion.screen.flow import Fragment, Line, columns, line_columns, shown
from companion.screen.offers import Offers

BETWEEN = "  "
MORE = "…"
INVITATION = "Tab: what can be called"
ANSWERS = "affirm, negative"


def invitation(asked: bool, width: int) -> Line:
    """What can be typed on an empty line.

    Args:
        asked: Whether a question is open.
        width: Columns of the terminal.
    """
    return _cut(f"{ANSWERS}{BETWEEN}{INVITATION}" if asked else INVITATION, width)


def strip_line(offered: Offers, width: int) -> Line:
    """What is offered before anything of it is chosen.

    Args:
        offered: What may follow.
        width: Columns of the terminal.
    """
    if offered.texts:
        return choice_line(offered.texts, None, width)
    if offered.units:
        *most, last = offered.units
        said = f"in {', '.join(most)} or {last}" if most else f"in {last}"
        return _cut(said, width)
    return ()


def choice_line(texts: Sequence[str], chosen: int | None, width: int) -> Line:
    """As many of these as fit, the chosen one among them, in brackets.

    Args:
        texts: What may be chosen.
        chosen: Place of the one that stands in the line now.
        width: Columns of the terminal.
    """
    begin = 0
    while True:
        line, end = _row(texts, chosen, begin, width)
        if chosen is None or chosen < end or end >= len(texts):
            return line
        begin = end


def _row(texts: Sequence[str], chosen: int | None, begin: int, width: int) -> tuple[Line, int]:
    """A row of choices from this one on, and the place of the first that it does not show."""
    line: list[Fragment] = []
    for place in range(begin, len(texts)):
        text = shown(texts[place].strip())
        fragment = ("class:offer.chosen", f"[{text}]") if place == chosen else ("class:offer", text)
        before: tuple[Fragment, ...] = (("", BETWEEN),) if line else ()
        after = len(MORE) + len(BETWEEN) if place + 1 < len(texts) else 0
        if line and line_columns((*line, *before, fragment)) + after > width:
            mark: Fragment = ("class:offer", f"{BETWEEN}{MORE}")
            fits = line_columns((*line, mark)) <= width
            return (*line, mark) if fits else tuple(line), place
        line += (*before, fragment)
    if line_columns(tuple(line)) > width:
        return _cut(line[0][1], width), begin + 1
    return tuple(line), len(texts)


def _cut(text: str, width: int) -> Line:
    if columns(text) > width:
        while columns(text) > width - len(MORE):
            text = text[:-1]
        text += MORE
    return (("class:offer", text),)
