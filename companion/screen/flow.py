"""Styled text that flows into lines of so many columns; wide characters count as two."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from prompt_toolkit.utils import get_cwidth

Fragment = tuple[str, str]
"""A style class and the text that has it."""
Line = tuple[Fragment, ...]

INDENT = "  "
"""Begins each further line of a text that takes more than one."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Something that stays on one line where it can.

    Attributes:
        style: Its style class.
        text: What it says.
    """

    style: str
    text: str


def columns(text: str) -> int:
    """Columns that a text takes on a terminal."""
    return get_cwidth(text)


def line_columns(line: Line) -> int:
    """Columns that a line takes."""
    return sum(columns(text) for _, text in line)


def line_text(line: Line) -> str:
    """The text of a line."""
    return "".join(text for _, text in line)


def shown(text: str) -> str:
    """A text with nothing in it that would move the cursor."""
    return "".join(char if char.isprintable() else " " for char in text)


def words(style: str, text: str) -> list[Piece]:
    """A sentence as pieces, which breaks between any two words."""
    return [Piece(style, word) for word in text.split()]


def listed(style: str, names: Sequence[str]) -> list[Piece]:
    """Names as pieces, a comma after each but the last: where a name had to be broken, it shows
    where the next one begins."""
    last = len(names) - 1
    return [Piece(style, name if place == last else f"{name},") for place, name in enumerate(names)]


def flow(pieces: Sequence[Piece], width: int) -> list[Line]:
    """Put pieces into lines, a space between two; what is wider than a line is broken between its
    words, and a word that is wider between its characters.

    Args:
        pieces: In their order.
        width: Columns of a line; at least four.
    """
    lines: list[list[Fragment]] = [[]]
    used = 0
    for piece in pieces:
        text = shown(piece.text)
        whole = columns(text) <= width - len(INDENT)
        parts = [text] if whole else list(_broken(text, width - len(INDENT)))
        for part in parts:
            cells = columns(part)
            if lines[-1] and used + 1 + cells <= width:
                lines[-1].append(("", " "))
                used += 1
            elif lines[-1]:
                lines.append([("", INDENT)])
                used = len(INDENT)
            lines[-1].append((piece.style, part))
            used += cells
    return [tuple(line) for line in lines if line]


def folded(line: str, width: int, indent: int) -> list[str]:
    """Fold a line of what is printed between its words; a word wider than that is left to the
    terminal.

    Args:
        line: Keeps the blanks between its words.
        width: Columns of the terminal.
        indent: Columns left free before each further line.
    """
    lines = []
    while columns(line) > width:
        fits = next(end for end in range(len(line), 0, -1) if columns(line[:end]) <= width)
        # A blank inside the indentation is no place to fold at.
        begin = len(line) - len(line.lstrip())
        at = line.rfind(" ", begin, fits + 1)
        if at <= begin:
            break
        lines.append(line[:at].rstrip())
        line = " " * indent + line[at:].strip()
    return [*lines, line]


def _broken(text: str, width: int) -> Iterator[str]:
    """The words of a text, those too wide in parts."""
    for word in text.split():
        part, cells = "", 0
        for char in word:
            more = columns(char)
            if part and cells + more > width:
                yield part
                part, cells = "", 0
            part += char
            cells += more
        yield part
