"""Names on cards and sheets: each can be listened for, stands once, and means one thing."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from companion.files.toml_lines import Location
from companion.nearest import nearest_words
from companion.shelf.fault import Fault

_SAID = re.compile(r"[a-z][a-z']*( [a-z][a-z']*)*")
HYPHENATED = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
"""How cards and their steps are named."""


def name_faults(
    table: str,
    named: Sequence[tuple[str, tuple[str, ...], tuple[str, ...]]],
    key: str = "name",
) -> Iterable[Fault]:
    """Names must be sayable, each given once, and no two said alike.

    Args:
        table: The table of the file in which they stand: "part".
        named: Of each row its name, the other ways to say it, and the ways to say several.
        key: The key of the name.
    """
    meant: dict[str, str] = {}
    for index, (name, spoken, plural) in enumerate(named):
        at: Location = (table, index)
        if name in (each[0] for each in named[:index]):
            yield Fault((*at, key), f"the {table} '{name}' is listed twice")
            continue
        if not name or name != " ".join(name.lower().split()):
            yield Fault((*at, key), f"'{name}' must be in lower case with single spaces")
        elif not spoken:
            yield from said_faults((*at, key), name)
        for place, words in enumerate(spoken):
            yield from said_faults((*at, "spoken", place), words)
        for place, words in enumerate(plural):
            yield from said_faults((*at, "plural", place), words)
        for words in spoken or (name,):
            if meant.setdefault(words, name) != name:
                at_words: Location = (*at, "spoken" if spoken else key)
                yield Fault(at_words, f"'{words}' already means '{meant[words]}'")


def said_faults(at: Location, words: str) -> Iterable[Fault]:
    """Give a fault if these words cannot be listened for."""
    if not _SAID.fullmatch(words):
        yield Fault(
            at,
            f"'{words}' cannot be listened for; write lower-case words of letters a to z, "
            "numbers as words",
        )


def unknown_fault(
    at: Location, what: str, name: str, known: Iterable[str], remedy: str
) -> Iterable[Fault]:
    """Give a fault if nothing known has this name; it names the nearest that are known.

    Args:
        at: Where it stands.
        what: What it should be the name of: "tag".
        name: As it was written.
        known: All that it may be.
        remedy: What to do where it is meant as it stands.
    """
    every = sorted(known)
    if name in every:
        return
    near = nearest_words(name, every)
    hint = f"{near}; " if near else ""
    yield Fault(at, f"the {what} '{name}' is not known; {hint}{remedy}", what)


def no_step(at: Location, name: str, known: Iterable[str]) -> Fault:
    """Return the fault that no step of the card has this name.

    Args:
        at: Where the name stands in the file.
        name: As it stands there.
        known: Names of the steps of the card; the nearest are told.
    """
    near = nearest_words(name, known)
    reason = f"'{at_key(at)}' names '{name}', which is no step of this card"
    return Fault(at, f"{reason}; {near}" if near else reason, "step")


def at_key(at: Location) -> str:
    """Return the key that a location stands under."""
    return next(part for part in reversed(at) if isinstance(part, str))
