"""Ways to say the calls, a list a job: what technicians say besides the plain calls.

``python -m tools.ways FILE…`` measures how many ways of a list are understood. A list has a table a
job, ``[CARD.SHEET]``, in it a line a plain call with the ways to say it::

    [drive-service.quillmoor-tiller]
    "gear oil level full" = ["gear oil's full", "gear oil is up to the plug"]

The lists beside this file are the project's own, a file a job; ``tests/test_ways.py`` holds the
program to them. They have no table a job but three kinds of tables: ``[at-once]``, ``[asked]`` and
``[left-out."the reason"]``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

from pydantic import TypeAdapter, ValidationError

from companion.errors import CompanionError
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.intent.intents import Intent
from companion.intent.interpret import understand
from companion.intent.outcome import Decision, Listening
from companion.job.judge import expectations
from companion.shelf.load import load_card, load_sheet
from companion.shelf.words import vocabulary_of

FOLDER = Path(__file__).resolve().parent
"""Of the project's own lists."""

Calls = Mapping[str, Sequence[str]]
"""Plain calls, each with ways to say it."""
Kind = Literal["at-once", "asked", "left-out"]
Outcome = Literal["at once", "right question", "wrong question", "something else", "say again"]
OUTCOMES: tuple[Outcome, ...] = (
    "at once", "right question", "wrong question", "something else", "say again",
)  # fmt: skip
"""Recorded as the plain call; put as a question that has it among its first two; put as one that
has not; recorded as another call; to be said again."""

_MOST_LOOKED_AT = 2
"""How many candidates of a question may come before the right one is out of reach."""

_JOBS: TypeAdapter[Mapping[str, Mapping[str, Calls]]] = TypeAdapter(
    Mapping[str, Mapping[str, Calls]]
)


@dataclass(frozen=True, slots=True)
class Job:
    """A card and a machine, ready to understand calls.

    Attributes:
        grammar: What may be said.
        listening: As in a job of it with a question open, so that answers are calls too.
    """

    grammar: CallGrammar
    listening: Listening

    def understand(self, text: str) -> Decision:
        """What becomes of a text typed in this job."""
        return understand(text, self.grammar, self.listening)

    def meant_by(self, plain: str) -> Intent:
        """The intent of a plain call.

        Raises:
            CompanionError: If it is no call of this job.
        """
        decision = self.understand(plain)
        if not decision.intents:
            raise CompanionError(
                f"'{plain}' is no call ({'; '.join(decision.reasons)}); write the plain call."
            )
        return decision.intents[0]


@dataclass(frozen=True, slots=True)
class Way:
    """One way to say one plain call.

    Attributes:
        card: Name of the job card.
        sheet: Name of the spec sheet.
        kind: What is to become of it.
        plain: The plain call.
        said: The way to say it.
        reason: Why it is left out; empty where it is not.
    """

    card: str
    sheet: str
    kind: Kind
    plain: str
    said: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Measured:
    """What became of one way of a list.

    Attributes:
        family: The name of the intent that was meant.
        plain: The plain call.
        said: The way.
        outcome: See ``OUTCOMES``.
    """

    family: str
    plain: str
    said: str
    outcome: Outcome


@lru_cache(maxsize=16)
def job_of(card: str, sheet: str) -> Job:
    """Load a job by the names of its card and sheet.

    Raises:
        CompanionError: If one of them is not there or wrong.
    """
    loaded = load_sheet(sheet)
    return Job(
        load_grammar(vocabulary_of(load_card(card), loaded)),
        Listening(answer_awaited=True, expectations=expectations(loaded)),
    )


def own_ways() -> tuple[Way, ...]:
    """The project's own lists."""
    return tuple(way for path in sorted(FOLDER.glob("*.toml")) for way in _listed(path))


def _listed(path: Path) -> Iterator[Way]:
    card, _, sheet = path.stem.partition(".")
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    kinds: tuple[Kind, ...] = ("at-once", "asked", "left-out")
    for kind in kinds:
        groups = tables[kind] if kind == "left-out" else {"": tables[kind]}
        for reason, calls in groups.items():
            for plain, ways in calls.items():
                for said in ways:
                    yield Way(card, sheet, kind, plain, said, reason)


def measure(path: Path) -> Iterator[Measured]:
    """Say every way of a list.

    Args:
        path: In the layout above, a table a job.

    Raises:
        CompanionError: If it cannot be read, or has a call or a job that there is not.
    """
    for card, sheets in _jobs(path).items():
        for sheet, calls in sheets.items():
            job = job_of(card, sheet)
            for plain, ways in calls.items():
                meant = job.meant_by(plain)
                for said in ways:
                    outcome = outcome_of(job.understand(said), meant)
                    yield Measured(meant.intent, plain, said, outcome)


def outcome_of(decision: Decision, meant: Intent) -> Outcome:
    """What a decision makes of a way that means this."""
    if decision.outcome == "record":
        return "at once" if decision.intents == (meant,) else "something else"
    if decision.outcome == "ask":
        right = meant in decision.intents[:_MOST_LOOKED_AT]
        return "right question" if right else "wrong question"
    return "say again"


def _jobs(path: Path) -> Mapping[str, Mapping[str, Calls]]:
    try:
        return _JOBS.validate_python(tomllib.loads(path.read_text(encoding="utf-8")))
    except OSError as error:
        raise CompanionError(
            f"{path} cannot be read ({error.strerror}); name a list of ways."
        ) from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise CompanionError(f"{path} is no TOML ({error}); correct it.") from error
    except ValidationError as error:
        where = ".".join(map(str, error.errors()[0]["loc"]))
        raise CompanionError(
            f'{path}, {where}: a list has tables [CARD.SHEET] with lines "plain call" = '
            '["way", …]; write it so.'
        ) from error
