"""What can be looked up, by name, from typed words."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from companion.errors import CompanionError, WrongUse
from companion.files.limits import LONGEST_QUOTED
from companion.files.quoting import quoted
from companion.handbook import typed_readings, typed_sizes, typed_speeds, typed_threads
from companion.handbook.answer import HandbookAnswer
from companion.handbook.typed import Misread
from companion.handbook.unit_table import OunceSystem


@dataclass(frozen=True, slots=True)
class Topic:
    """One thing to look up.

    Attributes:
        about: What it answers, in a few words.
        form: What to type after the topic's name.
        examples: Whole questions that work, each beginning with the topic's name.
        look_up: Takes the typed words and the shop's ounce; raises ``ValueError`` with a plain
            sentence, or ``Misread`` where the words do not have the form.
    """

    about: str
    form: str
    examples: tuple[str, ...]
    look_up: Callable[[Sequence[str], OunceSystem], HandbookAnswer]


def answer(topic: str, words: Sequence[str], *, ounce: OunceSystem = "us") -> HandbookAnswer:
    """Look something up.

    Args:
        topic: A key of ``TOPICS``; of those with a hyphen, the words may be typed apart.
        words: As typed.
        ounce: Which ounce, pint, quart and gallon are meant.

    Raises:
        WrongUse: If the topic is unknown or the words do not have its form.
        CompanionError: If the handbook does not hold what is asked.
    """
    # One by one, whether or not the shell was given them in quotes.
    first, *rest = " ".join([topic, *words]).split() or [""]
    name = first.lower()
    if rest and f"{name}-{rest[0].lower()}" in TOPICS:
        name = f"{name}-{rest.pop(0).lower()}"
    found = TOPICS.get(name)
    if found is None:
        raise WrongUse(f"The handbook has no topic '{quoted(first)}'; it has {', '.join(TOPICS)}.")
    try:
        if any(len(word) > LONGEST_QUOTED for word in rest):
            raise Misread
        return found.look_up(rest, ounce)
    except Misread:
        typed = " ".join([name, *rest])
        raise WrongUse(
            f"'{quoted(typed)}' cannot be looked up; type: companion handbook {name} {found.form}, "
            f"as in: {', '.join(found.examples)}."
        ) from None
    except ValueError as error:
        raise CompanionError(str(error)) from error


def questions(arguments: Sequence[str], *, ounce: OunceSystem = "us") -> tuple[str, ...]:
    """Tell several questions, each in quotes of its own, from one question in several arguments.

    Args:
        arguments: As the shell gives them: "torque", "3/8", "grade 5" is one question, "mix 50:1 2
            gallons", "wrench M8" are two.
        ounce: As for ``answer``.

    Returns:
        Each question with its topic, to give to ``answer``.
    """
    whole = " ".join(arguments)
    if len(arguments) == 1 or not all(len(each.split()) > 1 for each in arguments):
        return (whole,)
    if sum(each.split()[0].lower() in TOPIC_BEGINNINGS for each in arguments) > 1:
        return (*arguments,)
    try:
        answer(whole, (), ounce=ounce)
    except WrongUse:
        # It is no single question; each is answered or refused by itself.
        return (*arguments,)
    except CompanionError:
        pass
    return (whole,)


def contents() -> tuple[str, ...]:
    """List the topics, a line each: what it answers, and a question to type."""
    width = max(map(len, TOPICS))
    return tuple(
        f"{name:<{width}}  {topic.about}; type: companion handbook {topic.examples[0]}"
        for name, topic in TOPICS.items()
    )


def contents_values() -> list[dict[str, Any]]:
    """Return the topics for JSON: what each answers, what it takes and examples of it."""
    return [
        {
            "topic": name,
            "about": topic.about,
            "takes": topic.form,
            "examples": list(topic.examples),
        }
        for name, topic in TOPICS.items()
    ]


TOPICS: Mapping[str, Topic] = MappingProxyType(
    {
        "convert": Topic(
            "a quantity in another unit",
            "NUMBER UNIT to UNIT",
            ("convert 30 thou to mm", "convert 5 hp to kW", "convert 8 oz to g"),
            typed_sizes.convert,
        ),
        "torque": Topic(
            "usual tightening torque of a bolt",
            "SIZE GRADE [dry|oiled|anti seize]",
            ("torque 3/8 grade 5 oiled", "torque 3/8-24 8", "torque M8 8.8", "torque M6 A2-70"),
            typed_threads.torque,
        ),
        "plug": Topic(
            "usual torque of a spark plug",
            "SIZE [gasket|taper] [aluminum|cast iron]",
            ("plug M14", "plug M14 taper cast iron", "plug M10"),
            typed_threads.plug,
        ),
        "wrench": Topic(
            "wrench for a hex bolt",
            "SIZE [flange|small]",
            ("wrench 3/8", "wrench M10", "wrench M8 flange", "wrench M10 small"),
            typed_threads.wrench,
        ),
        "drill": Topic(
            "drill for a tap",
            "SIZE [PERCENT%]",
            ("drill 3/8-16", "drill M8", "drill #10-24", "drill 1/2-20 65%"),
            typed_threads.drill,
        ),
        "mix": Topic(
            "oil for a two-stroke mix",
            "RATIO:1 VOLUME UNIT",
            ("mix 50:1 2 gallons",),
            typed_sizes.mix,
        ),
        "oil": Topic(
            "oil grade by the coldest start",
            "TEMPERATURE UNIT",
            ("oil -10 C", "oil 60 F"),
            typed_readings.oil,
        ),
        "pulley": Topic(
            "speed of a driven pulley and its belt",
            "SIZE to SIZE UNIT at RPM",
            ("pulley 3 to 9 inches at 3600",),
            typed_speeds.pulley,
        ),
        "tip-speed": Topic(
            "tip speed of a mower blade against its limit",
            "LENGTH UNIT at RPM [governed RPM]",
            ("tip-speed 21 inches at 3100", "tip-speed 21 inches at 3500 governed 3100"),
            typed_speeds.blade,
        ),
        "frequency": Topic(
            "generator frequency by engine speed",
            "RPM [POLES poles] [50|60 hertz]",
            ("frequency 3600", "frequency 1500 4 poles", "frequency 3720 60 hertz"),
            typed_speeds.generator,
        ),
        "battery": Topic(
            "charge of a battery from its volts at rest",
            "VOLTS [flooded|glass mat|gel|lithium] [6|12|24 volt battery]",
            ("battery 12.4", "battery 12.6 glass mat", "battery 6.2 flooded 6 volt battery"),
            typed_readings.battery,
        ),
        "leak-down": Topic(
            "what a leak-down reading suggests",
            "PERCENT [intake|exhaust|crankcase] [limit PERCENT]",
            ("leak-down 25 exhaust", "leak-down 12 limit 15"),
            typed_readings.leak_down,
        ),
        "compression": Topic(
            "what a compression reading suggests, dry or dry and wet",
            "DRY [wet WET] UNIT [least PRESSURE] [most PRESSURE]",
            ("compression 60 wet 95 psi", "compression 75 psi least 90"),
            typed_readings.compression,
        ),
        "displacement": Topic(
            "displacement from bore and stroke",
            "BORE x STROKE UNIT [CYLINDERS cylinders]",
            ("displacement 68 x 54 mm", "displacement 2 1/2 x 2 1/4 inches 2 cylinders"),
            typed_sizes.displacement,
        ),
        "ratio": Topic(
            "compression ratio from the volumes of one cylinder",
            "DISPLACEMENT and CHAMBER UNIT",
            ("ratio 196 and 26 cc",),
            typed_sizes.ratio,
        ),
    }
)
"""Every topic by name."""

TOPIC_BEGINNINGS = frozenset(name.split("-")[0] for name in TOPICS)
"""What a question begins with; of a topic with a hyphen the words may be typed apart."""

__all__ = ["TOPICS", "Topic", "answer", "contents", "questions"]
