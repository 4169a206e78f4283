"""Working out a state from a log's records: whatever this version cannot work with becomes one
sentence.

The chain of a log proves who wrote last, not that a bench wrote it: one from elsewhere may hold
values that are well formed and make no sense together. Such a session is set aside, and what is
told of all others goes on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import wraps
from pathlib import Path
from typing import Concatenate, ParamSpec, TypeVar

from companion.errors import CompanionError
from companion.handbook.unit_table import DIMENSIONS, UNITS
from companion.job.folding.evolve import fold
from companion.job.record import Record
from companion.job.state import State
from companion.shelf.rules import shipped_rules

Given = ParamSpec("Given")
Made = TypeVar("Made")

VOLUME = DIMENSIONS["volume"].si

SENSELESS = (
    ArithmeticError,
    AttributeError,
    LookupError,
    MemoryError,
    RecursionError,
    TypeError,
    ValueError,
)
"""What values raise that make no sense together."""


@contextmanager
def followed(folder: Path) -> Iterator[None]:
    """Use as a context for whatever is worked out from the records of a session.

    Args:
        folder: The session folder, to be named.

    Raises:
        CompanionError: If something in the records cannot be worked with; the cause is kept.
    """
    try:
        yield
    except SENSELESS as error:
        raise CompanionError(
            f"The log in {folder} holds records that this version of Bench Companion cannot follow "
            f"({type(error).__name__}); open it with the version that wrote it, or move its "
            "folder away. Nothing was changed."
        ) from error


def state_of(folder: Path, records: Iterable[Record]) -> State:
    """Return the state of a session after all its records.

    Args:
        folder: The session folder, to be named.
        records: From ``read_log``.

    Raises:
        CompanionError: If its card or sheet cannot be read by this version, or its records cannot
            be followed.
    """
    with followed(folder):
        try:
            return fold(records, shipped_rules())
        except CompanionError as error:
            raise CompanionError(f"{folder}: {error}") from error


def refuse_senseless(folder: Path, state: State) -> None:
    """Refuse a session that could not be put together with others of its machine, or be resumed.

    A report of it can be made all the same, since it works out nothing.

    Args:
        folder: The session folder, to be named.
        state: Of the session.

    Raises:
        CompanionError: If a value has a unit that is unknown, or of something else.
    """
    read = [(fact.seq, fact.event.unit, fact.event.si.unit) for fact in state.readings]
    moved = [(fact.seq, fact.event.unit, VOLUME) for fact in state.fluids]
    wanted = [
        (fact.seq, fact.event.window.unit, fact.event.si.unit)
        for fact in state.readings
        if fact.event.window is not None
    ]
    for seq, unit, si in (*read, *moved, *wanted):
        if unit not in UNITS:
            amiss = "has a unit that this version does not know"
        elif DIMENSIONS[UNITS[unit].dimension].si != si:
            amiss = "has a value and a unit that do not fit"
        else:
            continue
        raise CompanionError(
            f"The log in {folder} cannot be followed: record {seq} {amiss}; open it with the "
            "version of Bench Companion that wrote it. Nothing was changed."
        )


def follows(
    work: Callable[Concatenate[Path, Given], Made],
) -> Callable[Concatenate[Path, Given], Made]:
    """Have all that a function does be ``followed``; its first argument is the session folder."""

    @wraps(work)
    def guarded(folder: Path, /, *given: Given.args, **named: Given.kwargs) -> Made:
        with followed(folder):
            return work(folder, *given, **named)

    return guarded
