"""Thread designations and fastener grades as a spec sheet may write them."""

from __future__ import annotations

import re
from fractions import Fraction

from companion.handbook.answer import NotInHandbook
from companion.handbook.thread import parse_size
from companion.handbook.torque import ISO_898_1, SAE_J429

_NUMBERED = re.compile(r"#(\d{1,2})-(\d{2})")
"""Small inch threads by number, ASME B1.1: ``#10-24``."""

LARGEST_NUMBER = 12
"""Of the numbered sizes of ASME B1.1."""

LARGEST_INCH = 3
"""Diameters in inches above this are no fastener of outdoor power equipment: "10-24" lacks #."""


FASTENER_GRADES = (*SAE_J429, *ISO_898_1)
"""Grades of SAE J429 and property classes of ISO 898-1."""


def is_thread(text: str) -> bool:
    """Whether a thread designation can be read: ``3/8-16``, ``#10-24``, ``M8``, ``M8x1.25``.

    Any pitch is taken that leaves a thread on the bolt: makers use others than the tables have.
    """
    numbered = _NUMBERED.fullmatch(text)
    if numbered is not None:
        return int(numbered[1]) <= LARGEST_NUMBER
    try:
        diameter, unit, pitch = parse_size(text)
    except NotInHandbook:
        return False
    if diameter <= 0 or (pitch is not None and pitch <= 0):
        return False
    if unit == "inch":
        return diameter <= LARGEST_INCH and (pitch is None or Fraction(1) / pitch < diameter)
    return pitch is None or pitch < diameter
