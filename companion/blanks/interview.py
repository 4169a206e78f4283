"""What is asked on a terminal before a new sheet or card is written; Enter takes what is usual."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from companion.blanks.card_text import CardAnswers
from companion.blanks.kinds import CYCLES, KINDS, Kind
from companion.blanks.known import Known, KnownReading, known_of
from companion.blanks.sheet_text import SheetAnswers
from companion.blanks.usual import Cycle, System
from companion.errors import WrongUse
from companion.files.quoting import quoted
from companion.nearest import PLAINLY_MEANT, nearest

SYSTEMS: tuple[System, ...] = ("inches", "metric")
"""The units that may be liked."""

MOST_STEPS = 100
"""The most steps that may be typed one after the other."""


@dataclass(frozen=True, slots=True)
class Person:
    """Whoever answers.

    Attributes:
        ask: Puts a question and returns the line that is typed, without its end.
        tell: Says something.
    """

    ask: Callable[[str], str]
    tell: Callable[[str], None]


def kind_of(text: str) -> Kind:
    """Return the kind of machine that is meant by its name or in words of one's own.

    Words that hold the name of a kind are of that kind ("self-propelled mower"); others are a kind
    of their own, with what every engine has.

    Raises:
        WrongUse: If it is empty, or a name with a slip in it.
    """
    said = " ".join(text.split())
    plain = said.lower()
    if not plain:
        raise WrongUse(f"No kind of machine was given; it may be one of: {', '.join(KINDS)}.")
    if plain in KINDS:
        return KINDS[plain]
    held = [name for name in KINDS if re.search(rf"\b{re.escape(name)}\b", plain)]
    if held:
        return _said(KINDS[max(held, key=len)], said)
    near = nearest(plain, KINDS, PLAINLY_MEANT)
    if near:
        raise WrongUse(
            f"The kind '{quoted(said)}' is not known; the nearest is '{near[0]}'. The kinds are "
            f"{', '.join(KINDS)}, or words of your own."
        )
    return _said(KINDS["engine"], said)


def _said(kind: Kind, said: str) -> Kind:
    return Kind(
        kind.name, said, kind.cycle, kind.measures, kind.fluids, kind.parts, kind.fasteners,
        kind.conditions,
    )  # fmt: skip


def ask_sheet(name: str, person: Person) -> SheetAnswers:
    """Ask what a new sheet is of."""
    kind = _asked_kind(person)
    cycle = _asked_cycle(person, kind.cycle)
    battery = cycle != "electric" and _yes(person, "Is it started by a battery? [y/N] ")
    system = _asked_system(person)
    person.tell(
        "What does its manual say? A line each, Enter when you know no more. Like: gap 28 to 31 "
        "thou; compression at least 90 psi; oil 20 ounces; head bolt torque 17 to 20 foot pounds."
    )
    known: list[Known] = []
    while said := person.ask("> "):
        try:
            found = known_of(said, system)
        except WrongUse as error:
            person.tell(str(error))
        else:
            known = [each for each in known if _name(each) != _name(found)]
            known.append(found)
    return SheetAnswers(name, kind, cycle, system, battery, tuple(known))


def ask_card(name: str, title: str, person: Person) -> CardAnswers:
    """Ask what a new card is of.

    Args:
        name: By which it is found, as on the command line.
        title: What the job is called.
        person: Who answers.
    """
    said = _choice(person, "For which engines?", (*CYCLES, "any"), "four-stroke")
    cycle = next((each for each in CYCLES if each == said), None)
    kinds: tuple[Kind, ...] = ()
    while True:
        said = person.ask("For which kind of machine, like mower; Enter for any: ")
        if not said:
            break
        try:
            kinds = (kind_of(said),)
            break
        except WrongUse as error:
            person.tell(str(error))
    person.tell(
        "What is said at each step of the work? A line each, Enter after the last; one that ends "
        "with a question mark asks. Like: Blade off, sharpen it. Take-in and making it safe come "
        "before, the test run and the hand-over after."
    )
    steps: list[str] = []
    while len(steps) < MOST_STEPS and (said := person.ask(f"{len(steps) + 1}> ")):
        steps.append(said)
    return CardAnswers(name, title, kinds, cycle, "inches", tuple(steps))


def _name(known: Known) -> str:
    return known.measure if isinstance(known, KnownReading) else known.fluid


def _asked_kind(person: Person) -> Kind:
    names = list(KINDS)
    person.tell("What kind of machine is it?")
    listed = [f"{place} {name}" for place, name in enumerate(names, start=1)]
    for start in range(0, len(listed), 5):
        person.tell("  " + ", ".join(listed[start : start + 5]))
    while True:
        said = person.ask("Its number, or in your own words: ")
        if said.isascii() and said.isdigit() and 1 <= int(said) <= len(names):
            return KINDS[names[int(said) - 1]]
        try:
            if said.isdigit():
                raise WrongUse(f"There are {len(names)} kinds; type a number from 1 to that.")
            return kind_of(said)
        except WrongUse as error:
            person.tell(str(error))


def _asked_cycle(person: Person, usual: Cycle) -> Cycle:
    said = _choice(person, "How does its engine work?", CYCLES, usual)
    return next(each for each in CYCLES if each == said)


def _asked_system(person: Person) -> System:
    said = _choice(person, "Which units do you like?", SYSTEMS, "inches")
    return next(each for each in SYSTEMS if each == said)


def _choice(person: Person, question: str, choices: Sequence[str], usual: str) -> str:
    """Ask for one of several, which may be typed as far as it is plain, or by its number."""
    listed = ", ".join(f"{place} {each}" for place, each in enumerate(choices, start=1))
    while True:
        said = person.ask(f"{question} {listed} [{usual}] ").lower()
        if not said:
            return usual
        if said.isascii() and said.isdigit() and 1 <= int(said) <= len(choices):
            return choices[int(said) - 1]
        plain = re.sub(
            r"[^a-z0-9]", "", {"2": "two", "4": "four"}.get(said[:1], said[:1]) + said[1:]
        )
        fitting = [each for each in choices if each.replace("-", "").startswith(plain)]
        if plain and len(fitting) == 1:
            return fitting[0]
        person.tell(f"Type one of {', '.join(choices)}, or its number.")


def _yes(person: Person, question: str) -> bool:
    while True:
        said = person.ask(question).lower()
        if said in ("", "n", "no"):
            return False
        if said in ("y", "yes"):
            return True
        person.tell("Type yes or no.")
