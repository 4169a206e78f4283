"""The lines of a TOML file to fill in: what is known, and what may stand there besides.

A remark begins with "# ". A line that stands ready begins with "#" and no space: without the "#"
it counts, and the file must pass its check with any of them, which is what the tests hold it to.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Mapping, Sequence
from decimal import Decimal

Value = str | int | bool | Decimal | Sequence["Value"] | Mapping[str, "Value"]
"""What can stand behind a key."""

WIDTH = 100
"""Letters in a line of a remark; an editor in a window of the usual width shows them whole."""

REMARK_FROM = 48
"""Column at which the remark of a line begins, so that remarks stand below each other."""


class Lines:
    """The lines of one file, in order."""

    def __init__(self) -> None:
        self._lines: list[str] = []

    def remark(self, text: str) -> None:
        """Write what a reader should know, wrapped."""
        self._lines += textwrap.wrap(
            text, WIDTH, initial_indent="# ", subsequent_indent="# ", break_on_hyphens=False
        )

    def gap(self) -> None:
        """Leave a line empty; never two."""
        if self._lines and self._lines[-1]:
            self._lines.append("")

    def header(self, table: str) -> None:
        """Begin a table: ``[identification]``, ``[[reading]]``."""
        self.gap()
        self._lines.append(table)

    def known(self, key: str, value: Value, remark: str = "") -> None:
        """Write what counts as it stands.

        Args:
            key: Of TOML.
            value: What the key is set to.
            remark: Follows it behind a "#"; empty for none.
        """
        self._line(f"{key} = {written(value)}", remark)

    def ready(self, key: str, value: Value, remark: str = "") -> None:
        """Write what counts once its "#" is taken away.

        Args:
            key: Of TOML.
            value: What the key is set to.
            remark: Follows it behind a "#"; empty for none.
        """
        self._line(f"#{key} = {written(value)}", remark)

    def rows(
        self,
        key: str,
        known: Sequence[Mapping[str, Value]],
        ready: Sequence[Mapping[str, Value]],
    ) -> None:
        """Write a list of tables, a line each.

        Args:
            key: Of the list.
            known: Rows that count as they stand.
            ready: Rows that count once their "#" is taken away.
        """
        self._lines.append(f"{key} = [")
        self._lines += [f"  {written(row)}," for row in known]
        self._lines += [f"  #{written(row)}," for row in ready]
        self._lines.append("]")

    def text(self) -> str:
        """Return the whole file."""
        return "\n".join(self._lines).rstrip("\n") + "\n"

    def _line(self, said: str, remark: str) -> None:
        self._lines.append(f"{said:<{REMARK_FROM - 2}}  # {remark}" if remark else said)


def written(value: Value) -> str:
    """Return a value as TOML writes it, in one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        # The letters that JSON leaves as they are and TOML does not take.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, int | Decimal):
        return f"{value:f}" if isinstance(value, Decimal) else str(value)
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {written(each)}" for key, each in value.items()) + " }"
    return "[" + ", ".join(written(each) for each in value) + "]"


def one_line(text: str) -> str:
    """Return a name as it can stand in a remark: in one line, whatever signs it has."""
    return " ".join("".join(each if each.isprintable() else " " for each in text).split())
