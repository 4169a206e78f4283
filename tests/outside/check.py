"""One check of the trade's arithmetic against something outside this program."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Basis = Literal["published", "from memory", "common practice", "library", "by hand"]
"""How the figure beside ours was come by.

* ``published``: copied from the publication that ``source`` names.
* ``from memory``: of the publication that ``source`` names, not looked up again.
* ``common practice``: what shops do; no publication stands behind it.
* ``library``: computed or tabulated by independent software, named with its version.
* ``by hand``: worked out on paper from the definition.
"""

Value = Decimal | float | str


@dataclass(frozen=True)
class Check:
    """One row of the table.

    Attributes:
        topic: Part of the handbook.
        what: What is worked out, with its unit.
        expected: The figure from outside; two of them are a range in which ours must lie.
        ours: Works out the program's figure.
        source: Where the figure is from.
        basis: How it was come by.
        rel: Difference that is allowed, as a share of the figure.
        abs: Difference that is allowed, in the figure's unit; the larger of both holds.
    """

    topic: str
    what: str
    expected: Value | tuple[float, float]
    ours: Callable[[], Value]
    source: str
    basis: Basis
    rel: float = 0.0
    abs: float = 0.0

    def agrees(self, ours: Value) -> bool:
        """Whether the program's figure is near enough."""
        expected = self.expected
        if isinstance(expected, tuple):
            return expected[0] <= float(ours) <= expected[1]
        if isinstance(expected, str) or isinstance(ours, str):
            return ours == expected
        return abs(float(ours) - float(expected)) <= self.allowed()

    def allowed(self) -> float:
        """The difference that is allowed."""
        if isinstance(self.expected, str | tuple):
            return 0.0
        return max(self.rel * abs(float(self.expected)), self.abs)

    def columns(self) -> tuple[str, ...]:
        """The row to print: topic, what, outside, ours, allowed, basis, source."""
        expected, allowed = self.expected, self.allowed()
        in_range = isinstance(expected, tuple)
        outside = " … ".join(map(_shown, expected if in_range else (expected,)))
        return (
            self.topic,
            self.what,
            outside,
            _shown(self.ours()),
            "between" if in_range else f"± {allowed:.3g}" if allowed > 1e-15 else "exact",
            self.basis,
            self.source,
        )


def _shown(value: Value) -> str:
    return value if isinstance(value, str) else f"{float(value):.7g}"
