"""Readings of one of several cylinders: each cylinder has a measure of its own."""

from __future__ import annotations

import re

_NUMBERS = {1: "one", 2: "two", 3: "three", 4: "four"}
_OF_CYLINDER = re.compile(rf"cylinder (?:{'|'.join(_NUMBERS.values())}) (?P<measure>.+)")


def of_cylinder(measure: str, cylinder: int | None) -> str:
    """Return the measure of a cylinder: "cylinder two compression"; the measure itself for None."""
    if cylinder is None:
        return measure
    return f"cylinder {_NUMBERS.get(cylinder, str(cylinder))} {measure}"


def without_cylinder(measure: str) -> str:
    """Return what is measured of a cylinder: "compression" of "cylinder two compression"; other
    measures as they are."""
    found = _OF_CYLINDER.fullmatch(measure)
    return measure if found is None else found["measure"]
