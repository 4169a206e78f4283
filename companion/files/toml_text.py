"""TOML of others read: not too deep, no number beyond what a measure has, every fault with its
line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

from companion.errors import CompanionError
from companion.files.figures import NO_MEASURE, figure_of, number_fault
from companion.files.limits import (
    DEEPEST,
    LARGEST_TEXT,
)
from companion.files.quoting import quoted
from companion.files.reading import text_of
from companion.files.toml_lines import Location, TomlLines

_TOKEN = re.compile(
    r'(?P<closed>"""(?:[^"\\]|\\.|""?(?!"))*+"{3,5}|'
    r"'''(?:[^']|''?(?!'))*+'{3,5}|"
    r'"(?:[^"\\\n]|\\[^\n])*+"(?!"")|'
    r"'[^'\n]*+'(?!'')|#[^\n]*)|"
    r"""(?P<left_open>\"\"\"|'''|["'])|"""
    r"(?P<begins>[\[{])|(?P<ends>[\]}])|(?P<dot>\.)|(?P<other>[=,\n])",
    re.DOTALL,
)


class TomlFault(ValueError):
    """A text that is no TOML that can be read.

    Attributes:
        line: From 1.
        reason: What is wrong there; no full stop.
    """

    def __init__(self, line: int, reason: str) -> None:
        super().__init__(f"line {line}: {reason}")
        self.line = line
        self.reason = reason


def toml_of(
    path: Path, what: str, most: int = LARGEST_TEXT, *, named: bool = False
) -> tuple[dict[str, Any], TomlLines]:
    """Return the TOML that a file holds, and on which line each of its keys stands.

    Args:
        path: The file.
        what: What it is, in words, for the error: "job card".
        most: Bytes that it may hold.
        named: Whether a person named it, so that its name may be a link.

    Raises:
        CompanionError: If it cannot be read, or is no TOML that can be; with file, line and reason.
    """
    try:
        return toml_in(text_of(path, what, most, named=named))
    except TomlFault as fault:
        raise CompanionError(f"{path}:{fault.line}: {fault.reason}.") from None


def toml_in(text: str) -> tuple[dict[str, Any], TomlLines]:
    """Return the TOML in a text, numbers with a point as decimals, and the lines of its keys.

    Raises:
        TomlFault: If it is none, too deep, or has a number beyond what a measure has.
    """
    left_open = _looked_through(text)
    try:
        content = tomllib.loads(text, parse_float=figure_of)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(str(error), text, left_open) from None
    except ValueError:
        # Python reads no whole number of more than some thousand digits.
        digits = re.search(r"\d[\d_]{1000}", text)
        line = 1 if digits is None else _line(text, digits.start())
        raise TomlFault(line, f"this {NO_MEASURE}") from None
    lines = TomlLines(text)
    for location, value in _numbers(content):
        # What is not finite is told by whoever knows what the number is for.
        reason = (
            None if isinstance(value, Decimal) and not value.is_finite() else number_fault(value)
        )
        if reason is not None:
            raise TomlFault(lines.line_of(location), f"'{quoted(_key(location))}' {reason}")
    return content, lines


def _looked_through(text: str) -> int | None:
    """Refuse what stands too deep; else the line of the first thing that is never closed, or None.

    After a fault this may misread what follows; the real reader stops at the fault.
    """
    begun: list[int] = []
    dots = 0
    for found in _TOKEN.finditer(text):
        match found.lastgroup:
            case "begins":
                begun.append(found.start())
            case "ends":
                del begun[-1:]
            case "dot":
                dots += 1
            case "left_open":
                begun.append(found.start())
                break
        if found.lastgroup in ("begins", "ends", "other"):
            dots = 0
        if len(begun) > DEEPEST or dots > DEEPEST:
            reason = f"more than {DEEPEST} brackets or keys stand one in another"
            raise TomlFault(_line(text, found.start()), reason)
    return _line(text, begun[0]) if begun else None


def _not_toml(message: str, text: str, left_open: int | None) -> TomlFault:
    found = re.search(r" \(at (?:line (\d+), column \d+|end of document)\)$", message)
    reason = message[: found.start()] if found else message
    # A fault found at the end of the file began where something was left open.
    at_end = left_open or text.count("\n") + 1
    line = int(found[1]) if found and found[1] else at_end
    return TomlFault(line, f"not valid TOML: {reason[:1].lower()}{reason[1:]}")


def _numbers(content: Any) -> Iterator[tuple[Location, int | Decimal]]:
    waiting: list[tuple[Location, Any]] = [((), content)]
    while waiting:
        location, value = waiting.pop()
        if isinstance(value, dict):
            waiting += (((*location, key), each) for key, each in value.items())
        elif isinstance(value, list):
            waiting += (((*location, place), each) for place, each in enumerate(value))
        elif isinstance(value, int | Decimal) and not isinstance(value, bool):
            yield location, value


def _key(location: Location) -> str:
    return next((part for part in reversed(location) if isinstance(part, str)), "this")


def _line(text: str, place: int) -> int:
    return text.count("\n", 0, place) + 1
