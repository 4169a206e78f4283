"""An anchor of a log, to be kept elsewhere: how many records it had, and the hash of the last.

The hash of a line covers the hash of the line before, and so all lines before it. Whoever kept an
anchor can tell whether a log still begins with exactly what it held then, even where all of it was
written anew with a new chain.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Self

from companion.errors import WrongUse
from companion.files.quoting import quoted

SHORT = 20
"""Hex digits in an anchor to be read and typed: 80 bits, more than anybody can try out."""

FEWEST = 16
"""The fewest hex digits that are compared."""

_WRITTEN = re.compile(r"(\d{1,12})[-:](.*)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Anchor:
    """What stood.

    Attributes:
        records: How many, from the first.
        sha256: Of the last of their lines, in lower-case hex: all of it, or as many of its first
            digits as were written down.
    """

    records: int
    sha256: str

    @classmethod
    def read(cls, text: str) -> Self:
        """Read one as it is printed; spaces, hyphens and capitals in it do not count.

        Raises:
            WrongUse: If it is none.
        """
        match = _WRITTEN.fullmatch(text.strip())
        digits = re.sub(r"[\s-]", "", match[2]).lower() if match else ""
        if match is None or not re.fullmatch(rf"[0-9a-f]{{{FEWEST},64}}", digits):
            raise WrongUse(
                f"'{quoted(text)}' is no anchor; type it as the report has it, such as "
                "142-3f9a-c2d1-88e0-1b7c-90aa."
            )
        return cls(int(match[1]), digits)

    @property
    def short(self) -> str:
        """To be read and typed, such as ``142-3f9a-c2d1-88e0-1b7c-90aa``."""
        digits = self.sha256[:SHORT]
        return "-".join([str(self.records), *(digits[i : i + 4] for i in range(0, SHORT, 4))])

    @property
    def full(self) -> str:
        """For programs: all digits of the hash."""
        return f"{self.records}-{self.sha256}"
