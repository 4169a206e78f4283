"""Typed questions about bolts: torque, wrench and tap drill."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from companion.handbook.answer import HandbookAnswer
from companion.handbook.drill import MACHINE_SCREWS, drill_for, machine_screw
from companion.handbook.thread import parse_size
from companion.handbook.torque import NUT_FACTORS, ThreadCondition, torque_for
from companion.handbook.typed import Misread, number
from companion.handbook.units import OunceSystem
from companion.handbook.wrench import wrench_for


def torque(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "3/8-24 grade 5 oiled", "M8 8.8 with anti-seize"."""
    text = " ".join(words).lower().replace("-seize", " seize")
    condition: ThreadCondition = "dry"
    for each in NUT_FACTORS:
        text, found = re.subn(rf"\s+(?:with )?{each}$", "", text)
        if found:
            condition = each
    parted = re.fullmatch(r"(?:for )?(.+?)(?: bolt)? (?:(grade|class) ?)?(\d+(?:\.\d+)?)", text)
    if parted is None:
        raise Misread
    size, unit, pitch = parse_size(parted[1])
    kind = parted[2] or ("grade" if "." not in parted[3] else "class")
    return torque_for(size, unit, f"{kind} {parted[3]}", condition, pitch)


def wrench(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "3/8 bolt", "M10"."""
    text = re.sub(r"^for | bolt$", "", " ".join(words).lower())
    if not text:
        raise Misread
    size, unit, _ = parse_size(text)
    return wrench_for(size, unit)


def drill(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "3/8-16", "#10-24 65%", "M8 tap"."""
    text = re.sub(r"^for | tap\b", "", " ".join(words).lower())
    percent = None
    if asked := re.fullmatch(r"(.+?) (\S+?) ?(?:%|percent)", text):
        text, percent = asked[1], number(asked[2])
    if not text:
        raise Misread
    screw = re.fullmatch(r"(#?)(\d+)(?: ?- ?(\d+))?", text, re.ASCII)
    if screw and (screw[1] or (screw[3] and int(screw[2]) in MACHINE_SCREWS)):
        pitch = Decimal(screw[3]) if screw[3] else None
        return drill_for(machine_screw(int(screw[2])), "inch", pitch, percent)
    size, unit, thread = parse_size(text)
    return drill_for(size, unit, thread, percent)
