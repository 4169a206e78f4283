"""Text as a table can hold it, so that a spreadsheet shows it and runs nothing."""

from __future__ import annotations

import re

_FORMULA = re.compile(r"'*[=+\-@\t\r\n＝＋－＠]")
"""How a cell begins that a spreadsheet may take for a formula, or that was defused already. Signs
of double width count in some countries."""

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")


def harmless(text: str) -> str:
    """Return text that no spreadsheet takes for a formula.

    An apostrophe is put before it, which spreadsheets hide. Whoever reads the cell with a program
    takes one off wherever apostrophes stand before such a sign, and has what was there.
    """
    return f"'{text}" if _FORMULA.match(text) else text


def printable(text: str) -> str:
    """Return text with a mark in place of control characters, which no cell may hold."""
    return _CONTROL.sub("\ufffd", text)
