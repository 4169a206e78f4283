"""What was meant by a line that TOML does not take: numbers and text as people write them, other
quotation marks, a colon for the equals sign, a bracket or quotation mark that is missing."""

from __future__ import annotations

import re
from collections.abc import Iterator

from companion.files.quoting import quoted
from companion.shelf.figures import instead_of_number, number_as_written
from companion.shelf.mended import FILLER

LONGEST_LINE = 1_000
"""Characters of a line that is looked at for what was meant."""

_KEY = r"(?P<key>[A-Za-z_][A-Za-z0-9_-]*)"
_PAIR = re.compile(rf"""\s*{_KEY}\s*=\s*(?P<value>.*?)\s*(?:\#[^"']*)?$""")
_WITHIN = re.compile(rf"""{_KEY}\s*=\s*(?P<value>[^\s"'\[\]{{}}#,](?:[^"'\[\]{{}}#=,]|,(?=\d))*)""")
_WITHOUT_EQUALS = re.compile(rf"\s*{_KEY}(?:\s*:\s*|\s+)(?P<value>[^\s=:][^=]*)$")
_HEADER = re.compile(r"\s*(?P<begin>\[{1,2})\s*(?P<name>[A-Za-z0-9_.-]+)\s*(?P<end>\]{0,2})\s*$")
_IN_A_LIST = re.compile(r"\s*(?P<value>[A-Za-z][A-Za-z' -]*[A-Za-z])\s*,?\s*$")
_LITERAL = re.compile(r"""true|false|[-+]?(0|[1-9]\d*)(\.\d+)?|"[^"\\]*"|'[^']*'""", re.ASCII)
_CURLY = str.maketrans(dict.fromkeys("“”„‟″", '"') | dict.fromkeys("‘’‚‛′", "'"))
_STRINGS = re.compile(r"\"{3}|'{3}")


def mistyped(row: str, reason: str) -> tuple[str, str] | None:
    """Return what to write in place of a line, and the line to go on reading with, or None.

    Args:
        row: As it stands in the file.
        reason: What TOML finds wrong with it.
    """
    if len(row) > LONGEST_LINE:
        return None
    for found in (_header(row), _curly(row), _values(row), _without_equals(row, reason)):
        if found is not None:
            return found
    item = _IN_A_LIST.match(row)
    if item is not None and "invalid value" in reason:
        return f'text stands in quotes: "{quoted(item["value"])}"', f'"{FILLER}",'
    pair = _PAIR.match(row)
    if pair is not None and "illegal character '\\n'" in reason:
        closed = f"{pair['value']}{pair['value'][:1]}"
        return f"the text is not closed: {quoted(pair['key'])} = {quoted(closed)}", _left_out(pair)
    return None


def without_value(row: str) -> str | None:
    """Return a line with its value left out, or None where what follows could not be read."""
    open_ended = any(row.count(begin) != row.count(end) for begin, end in ("[]", "{}"))
    if len(row) > LONGEST_LINE or open_ended or _STRINGS.search(row) or row.count('"') % 2:
        return None
    pair = _PAIR.match(row)
    return "#" if pair is None else _left_out(pair)


def key_of(row: str) -> str:
    """Return the key of a line; empty where it has none."""
    pair = _PAIR.match(row[:LONGEST_LINE])
    return "" if pair is None else pair["key"]


def _left_out(pair: re.Match[str]) -> str:
    return f'{pair["key"]} = "{FILLER}"'


def _header(row: str) -> tuple[str, str] | None:
    header = _HEADER.match(row)
    if header is None or len(header["begin"]) == len(header["end"]):
        return None
    two = max(len(header["begin"]), len(header["end"])) == 2
    whole = f"[[{header['name']}]]" if two else f"[{header['name']}]"
    return f"write {quoted(whole)}", whole


def _curly(row: str) -> tuple[str, str] | None:
    straight = row.translate(_CURLY)
    if straight == row or not re.search(r"[=,\[]\s*[“”„‟‘’‚‛]", row):
        return None
    return f"quotation marks must be straight: {quoted(straight.strip())}", straight


def _values(row: str) -> tuple[str, str] | None:
    """Values of the line, or within its brackets, that TOML does not take."""
    told: list[str] = []

    def left(found: re.Match[str]) -> str:
        bare = found["value"].strip().rstrip(",").strip()
        instead = _instead(found["key"], bare)
        if instead is None:
            return found[0]
        told.append(instead)
        rest = found["value"][len(bare) :] if found["value"].startswith(bare) else ""
        return f'{found["key"]} = "{FILLER}"{rest}'

    whole = _PAIR.match(row)
    if whole is not None and not whole["value"].startswith(("{", "[", '"', "'")):
        instead = _instead(whole["key"], whole["value"])
        return None if instead is None else (instead, _left_out(whole))
    mended = _WITHIN.sub(left, row)
    return (told[0], mended) if told else None


def _without_equals(row: str, reason: str) -> tuple[str, str] | None:
    found = _WITHOUT_EQUALS.match(row)
    if found is None or "expected '='" not in reason:
        return None
    key, value = found["key"], found["value"].strip()
    if _LITERAL.fullmatch(value):
        return f"write {quoted(key)} = {quoted(value)}", f"{key} = {value}"
    return _instead(key, value) or f"write {quoted(key)} = {quoted(value)}", _left_out(found)


def _instead(key: str, value: str) -> str | None:
    """What to write in place of a value that TOML does not accept; None where it may accept it."""
    if value.lower() in ("true", "yes", "false", "no"):
        meant = "true" if value.lower() in ("true", "yes") else "false"
        return None if value == meant else f"write {quoted(key)} = {meant}"
    if _LITERAL.fullmatch(value):
        return None
    for plain in _plainer(value):
        if _LITERAL.fullmatch(plain):
            return f"write {quoted(key)} = {quoted(plain)}"
    number = number_as_written(value)
    if number is not None:
        return (
            f"'{quoted(value)}' stands in quotes, or as TOML has it: {quoted(key)} = "
            f"{quoted(f'{number:f}')}"
        )
    if re.fullmatch(r"[^\W\d_][^\"'=\[\]{}]*", value):
        return f'text stands in quotes: {quoted(key)} = "{quoted(value)}"'
    return instead_of_number(key, value)


def _plainer(value: str) -> Iterator[str]:
    """The value without the marks that other languages put after it."""
    if value.endswith((";", ",")):
        yield value.rstrip(";, ")
