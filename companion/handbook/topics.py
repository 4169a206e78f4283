"""What can be looked up, by name, from typed words."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from companion.errors import CompanionError, WrongUse
from companion.handbook.answer import HandbookAnswer
from companion.handbook.convert import convert_quantity
from companion.handbook.mix import mix_for
from companion.handbook.thread import parse_size
from companion.handbook.torque import NUT_FACTORS, ThreadCondition, torque_for
from companion.handbook.units import OunceSystem, find_unit
from companion.handbook.wrench import wrench_for


@dataclass(frozen=True, slots=True)
class Topic:
    """One thing to look up.

    Attributes:
        usage: What to type after the topic's name, with an example that works.
        look_up: Takes the typed words and the shop's ounce; raises ``ValueError`` with a plain
            sentence, or ``Misread`` where the words do not have the form of ``usage``.
    """

    usage: str
    look_up: Callable[[Sequence[str], OunceSystem], HandbookAnswer]


class Misread(ValueError):
    """The words do not have the form that the topic asks for."""


def answer(topic: str, words: Sequence[str], *, ounce: OunceSystem = "us") -> HandbookAnswer:
    """Look something up.

    Args:
        topic: A key of ``TOPICS``.
        words: As typed.
        ounce: Which ounce, pint, quart and gallon are meant.

    Raises:
        WrongUse: If the topic is unknown or the words do not have its form.
        CompanionError: If the handbook does not hold what is asked.
    """
    found = TOPICS.get(topic.lower())
    if found is None:
        raise WrongUse(f"The handbook has no topic '{topic}'; it has {', '.join(TOPICS)}.")
    try:
        return found.look_up(_split(words), ounce)
    except Misread:
        typed = " ".join([topic, *words])
        raise WrongUse(
            f"'{typed}' cannot be looked up; "
            f"type: companion handbook {topic.lower()} {found.usage}."
        ) from None
    except ValueError as error:
        raise CompanionError(str(error)) from error


def _split(words: Sequence[str]) -> list[str]:
    """The words one by one, whether or not the shell was given them in quotes."""
    return " ".join(words).split()


def _number(text: str) -> Decimal:
    if re.fullmatch(r"\d+/\d+", text):
        top, bottom = text.split("/")
        if int(bottom) == 0:
            raise Misread
        return Decimal(top) / Decimal(bottom)
    if re.fullmatch(r"[-+]?(\d+(\.\d*)?|\.\d+)", text):
        return Decimal(text)
    raise Misread


def _quantity(words: Sequence[str]) -> tuple[Decimal, list[str]]:
    """A leading number such as "30", "3/8", "5 3/8" or "30mm", and the words after it."""
    if not words:
        raise Misread
    first, rest = words[0], list(words[1:])
    glued = re.fullmatch(r"([-+]?[\d./]*\d)([^\d./].*)", first)
    if glued:
        first, rest = glued[1], [glued[2], *rest]
    value = _number(first)
    if rest and re.fullmatch(r"\d+/\d+", rest[0]) and "/" not in first:
        value += _number(rest.pop(0)).copy_sign(value)
    return value, rest


def _convert(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    value, rest = _quantity(words)
    between = next((i for i, word in enumerate(rest) if word.lower() in ("to", "in", "into")), None)
    # "in" may also be the inch that is converted: "3/8 in to mm".
    if between == 0 and rest[0].lower() == "in":
        between = 1 if len(rest) > 1 and rest[1].lower() in ("to", "in", "into") else None
    if between is None:
        if len(rest) != 2:
            raise Misread
        have, want = rest[0], rest[1]
    else:
        have, want = " ".join(rest[:between]), " ".join(rest[between + 1 :])
    if not have or not want:
        raise Misread
    return convert_quantity(value, find_unit(have).name, find_unit(want).name, ounce=ounce)


def _torque(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
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


def _wrench(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    text = re.sub(r"^for | bolt$", "", " ".join(words).lower())
    if not text:
        raise Misread
    size, unit, _ = parse_size(text)
    return wrench_for(size, unit)


def _mix(words: Sequence[str], ounce: OunceSystem) -> HandbookAnswer:
    text = " ".join(words).lower()
    parted = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?::| to )\s*(?:1|one) (?:for )?(.+)", text)
    if parted is None:
        raise Misread
    fuel, unit = _quantity(parted[2].split())
    return mix_for(Decimal(parted[1]), fuel, find_unit(" ".join(unit)).name, ounce=ounce)


TOPICS: Mapping[str, Topic] = MappingProxyType(
    {
        "convert": Topic("NUMBER UNIT to UNIT, as in: convert 30 thou to mm", _convert),
        "torque": Topic(
            "SIZE GRADE [dry|oiled|anti seize], as in: torque 3/8 grade 5 oiled, torque M8 8.8",
            _torque,
        ),
        "wrench": Topic("SIZE, as in: wrench 3/8, wrench M10", _wrench),
        "mix": Topic("RATIO:1 VOLUME UNIT, as in: mix 50:1 2 gallons", _mix),
    }
)
"""Every topic by name."""

__all__ = ["TOPICS", "Topic", "answer"]
