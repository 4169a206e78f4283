"""Typed questions about bolts and plugs: torque, wrench and tap drill."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from companion.handbook.answer import HandbookAnswer, NotInHandbook
from companion.handbook.drill import MACHINE_SCREWS, drill_for, machine_screw
from companion.handbook.plug import Seat, plug_torque
from companion.handbook.thread import PLUG_THREADS, parse_size
from companion.handbook.torque import NUT_FACTORS, ThreadCondition, torque_for
from companion.handbook.typed import Misread, number
from companion.handbook.unit_table import OunceSystem
from companion.handbook.wrench import Head, wrench_for


def torque(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "3/8-24 grade 5 oiled", "M8 8.8 with anti-seize"."""
    text = " ".join(words).lower().replace("-seize", " seize")
    condition: ThreadCondition = "dry"
    for each in NUT_FACTORS:
        text, found = re.subn(rf"\s+(?:with )?{each}$", "", text)
        if found:
            condition = each
    parted = re.fullmatch(
        r"(?:for )?(.+?)(?: bolt)? (?:(?:stainless )?(a\d[- ]?\d{2,3})"
        r"|(?:(grade|class) ?)?(\d+(?:\.\d+)?))",
        text,
        re.ASCII,
    )
    if parted is None:
        raise Misread
    size, unit, pitch = parse_size(parted[1])
    if parted[2]:
        steel, strength = parted[2][:2].upper(), parted[2][2:].lstrip("- ")
        return torque_for(size, unit, f"{steel}-{strength}", condition, pitch)
    kind = parted[3] or ("grade" if "." not in parted[4] else "class")
    return torque_for(size, unit, f"{kind} {parted[4]}", condition, pitch)


def plug(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "M14", "M14x1.25 taper", "14 mm gasket cast iron"."""
    text = re.sub("^for ", "", " ".join(words).lower()).replace("aluminium", "aluminum")
    parted = re.fullmatch(
        r"m? ?(\d{1,3})(?: ?mm)?(?: ?x ?(\d+(?:\.\d+)?))?(?: (gasket|taper)(?:ed)?(?: seat)?)?"
        r"(?: (?:in )?(aluminum|cast iron|iron))?(?: head)?",
        text,
        re.ASCII,
    )
    if parted is None:
        raise Misread
    size, pitch = Decimal(parted[1]), parted[2]
    if pitch is not None and PLUG_THREADS.get(Fraction(size), Fraction(pitch)) != Fraction(pitch):
        raise NotInHandbook(f"No spark plug has a thread of M{size}x{pitch}.")
    seat: Seat = "taper" if parted[3] == "taper" else "gasket"
    return plug_torque(size, seat, "cast iron" if "iron" in (parted[4] or "") else "aluminum")


def wrench(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    """Read "3/8 bolt", "M10", "M8 flange", "M10 small head"."""
    text = re.sub(r"^for | bolt$", "", " ".join(words).lower())
    head: Head = "usual"
    if other := re.fullmatch(r"(.+?) (flange|small)(?:d)?(?: head| hex)?", text):
        text, head = other[1], "flange" if other[2] == "flange" else "small"
    if not text:
        raise Misread
    size, unit, _ = parse_size(text)
    return wrench_for(size, unit, head)


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
