"""What a leak-down reading suggests, and where the air that is heard comes from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Literal

from companion.files.quoting import quoted
from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.convert import plain

Place = Literal["intake", "exhaust", "crankcase"]
"""Where air is heard: at the carburetor, at the muffler, at the breather or the oil fill."""

POINTS_TO: Mapping[Place, str] = MappingProxyType(
    {
        "intake": "the intake valve",
        "exhaust": "the exhaust valve",
        "crankcase": "rings, piston or cylinder",
    }
)
"""What leaks, by where the air comes out (common practice)."""

Verdict = Literal["nothing lost", "tight", "usual", "worn", "bad", "severe", "all lost"]

BANDS: tuple[tuple[Decimal, Verdict], ...] = (
    (Decimal(0), "nothing lost"),
    (Decimal(10), "tight"),
    (Decimal(20), "usual"),
    (Decimal(30), "worn"),
    (Decimal(50), "bad"),
    (Decimal("99.9"), "severe"),
    (Decimal(100), "all lost"),
)
"""Percent lost, up to and with which each verdict holds, for small engines (common practice).

A loss of nothing or of everything is no reading of a cylinder: it comes from gauge, hose or piston.
"""

GOOD: frozenset[Verdict] = frozenset({"tight", "usual"})
"""Verdicts of an engine that needs nothing, where the sheet has no limit."""

TOP_FIRST = Decimal(90)
"""Percent from which the piston is likely past the top, a valve open (common practice)."""


@dataclass(frozen=True, slots=True)
class LeakDownAnswer(HandbookAnswer):
    """What a leak-down reading suggests.

    Attributes:
        percent: Lost, as read.
        heard: Where air was heard, or None.
        verdict: By ``BANDS``.
        limit: The sheet's highest, in percent, or None.
        points_to: What is suspected; None where the reading gives no cause or nothing was heard.
    """

    percent: Decimal
    heard: Place | None
    verdict: Verdict
    limit: Decimal | None
    points_to: str | None


def leak_down_suggests(
    percent: Decimal, heard: Place | None = None, limit: Decimal | None = None
) -> LeakDownAnswer:
    """Say what a leak-down reading suggests.

    Args:
        percent: Of the air that is lost.
        heard: Where air was heard.
        limit: The highest that the machine's sheet allows, in percent; it counts before the usual
            figures.

    Raises:
        NotInHandbook: If no such share can be lost, or air is heard at no known place.
    """
    if not (percent.is_finite() and 0 <= percent <= 100):
        raise NotInHandbook(f"A cylinder loses from 0 to 100 percent, not {plain(percent)}.")
    if heard is not None and heard not in POINTS_TO:
        raise NotInHandbook(f"Air is heard at {' or '.join(POINTS_TO)}, not at '{quoted(heard)}'.")
    verdict = next(verdict for top, verdict in BANDS if percent <= top)
    good = percent <= limit if limit is not None else verdict in GOOD
    points_to = None
    if verdict == "nothing lost":
        advice = "no cylinder is that tight. First check gauge, hose and pressure."
    elif verdict == "all lost":
        advice = "all is lost. First check the connection, then piston at top, then a stuck valve."
    elif good:
        than = "the usual" if limit is None else f"the sheet's {plain(limit)}"
        advice = f"no more than {than}. Some air always passes the rings."
    else:
        more = "more than usual" if limit is None else f"over the sheet's {plain(limit)}"
        if verdict == "severe":
            more = "severe"
        if percent >= TOP_FIRST:
            advice = f"{more}. First see that the piston is at the top of compression."
        elif heard is None:
            advice = f"{more}. Listen: intake or exhaust is that valve, crankcase the rings."
        else:
            points_to = POINTS_TO[heard]
            advice = f"{more}. Heard at the {heard}, it points to {points_to}."
    return LeakDownAnswer(
        text=f"{plain(percent)} percent: {advice}",
        source="common practice",
        percent=percent,
        heard=heard,
        verdict=verdict,
        limit=limit,
        points_to=points_to,
        note=(
            "Engine warm, piston at the top of its compression stroke. Air turns the engine: plug "
            "wire off, crank held, hands clear of blade and belt. Bubbles or hissing between head "
            "and cylinder point to the gasket. The maker's limit wins."
        ),
    )
