"""The table of cautions, read from ``cautions.toml`` and checked."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from companion.job.caution_table import (
    FILTERS,
    LEADS,
    LONGEST_TEXT_WORDS,
    Caution,
    CautionTable,
    Trigger,
)
from companion.shelf.fault import Fault
from companion.shelf.toml_file import read_model

TABLE = Path(__file__).parent / "cautions.toml"
"""The cautions that travel with the program."""


def load_cautions(path: Path = TABLE) -> tuple[Caution, ...]:
    """Load a table of cautions.

    Raises:
        CompanionError: If the file cannot be read or is wrong, with file, line and reason.
    """
    table, _ = read_model(path, CautionTable, "table of cautions", _faults)
    return table.caution


def _faults(table: CautionTable) -> Iterable[Fault]:
    seen: set[str] = set()
    for index, caution in enumerate(table.caution):
        if caution.name in seen:
            yield Fault(("caution", index, "name"), f"'{caution.name}' is listed twice")
        seen.add(caution.name)
        for key in ("name", "text", "source"):
            if not getattr(caution, key).strip():
                yield Fault(("caution", index, key), f"'{key}' is empty")
        if len(caution.text.split()) > LONGEST_TEXT_WORDS:
            yield Fault(
                ("caution", index, "text"),
                f"the text has more than {LONGEST_TEXT_WORDS} words, which nobody takes in",
            )
        if any(letter.isdigit() for letter in caution.text):
            yield Fault(("caution", index, "text"), "the text has digits; write numbers as words")
        if not caution.trigger:
            yield Fault(("caution", index), f"nothing calls for '{caution.name}'; add a trigger")
        for place, trigger in enumerate(caution.trigger):
            yield from _trigger_faults(("caution", index, "trigger", place), trigger)


def _trigger_faults(at: tuple[str | int, ...], trigger: Trigger) -> Iterable[Fault]:
    allowed = FILTERS[trigger.on]
    for key in sorted({key for keys in FILTERS.values() for key in keys}):
        given = getattr(trigger, key)
        if given and key not in allowed:
            narrowed = ", ".join(allowed) or "nothing"
            yield Fault((*at, key), f"'{trigger.on}' is narrowed by {narrowed}, not by '{key}'")
        for place, words in enumerate(given):
            if words != " ".join(words.lower().split()) or not words:
                yield Fault(
                    (*at, key, place), f"'{words}' must be in lower case with single spaces"
                )
    if trigger.on == "step" and not any(getattr(trigger, key) for key in LEADS):
        yield Fault(at, f"every step would call for it; narrow it by {', '.join(LEADS)}")
