"""What can be called now, in the plain form, and the ways of one's own: what ``companion calls``
prints and changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import takewhile
from typing import Any

from companion.enroll.used_forms import UsedForms
from companion.enroll.ways_file import WaysFile
from companion.errors import CompanionError, WrongUse
from companion.grammar.compiled import CallGrammar
from companion.intent.own_ways import as_way, examine
from companion.intent.plain_calls import SLOTS, Frame, frames_of, names_of
from companion.intent.text import typed_words
from companion.job.card import JobCard
from companion.job.mending import mending_actions
from companion.job.sheet import SpecSheet
from companion.report.calls_page import CallSheet, Shown
from companion.shelf.rules import shipped_rules


def calls_values(grammar: CallGrammar) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    """Everything that can be called, for JSON: the families, and beside them the names that fill
    the slots and the ways.

    Args:
        grammar: The active one.
    """
    families = [
        {"family": family, "calls": [frame.text for frame in frames]}
        for family, frames in _by_family(grammar).items()
    ]
    ways = [{"say": way.own, "as": way.plain} for way in grammar.ways]
    return families, {"names": _names(grammar), "ways": ways}


def calls_lines(grammar: CallGrammar) -> list[str]:
    """The same as lines to print."""
    lines = [
        f"{family}: {' · '.join(frame.text for frame in frames)}"
        for family, frames in _by_family(grammar).items()
    ]
    lines.append("")
    lines += [f"{slot.upper()}: {', '.join(names)}" for slot, names in _names(grammar).items()]
    lines.append("")
    if not grammar.ways:
        lines.append("No way of your own; add one: companion calls --add 'fed her' --as added")
    lines += [f"your own: {way.own} → {way.plain}" for way in grammar.ways]
    return lines


ALWAYS = (
    ("help", "what can be said now"),
    ("say again", "hear it once more"),
    ("disregard", "take the last call back"),
    ("stand by", "it stops listening"),
    ("read tags", "what holds the start"),
    ("clear to start", "may the engine start"),
)
"""Calls that help in any trouble, and what they are for."""

EXAMPLES = (
    "gap thirty thou",
    "compression one twenty p s i",
    "battery twelve point six volts",
    "added twenty ounces of oil",
    "drained half a quart of oil",
    "correction thirty one thou",
    "start soak timer two hours",
    "torque for three eighths grade five",
    "convert thirty thou to millimeters",
    "mix fifty to one for two gallons",
    "oil grade for minus ten celsius",
    "serial number q t four four one seven",
)
"""Whole calls for frames that go on after their first words; the first one that the grammar has is
shown."""


def sheet_of_calls(
    grammar: CallGrammar, *, call_sign: str, card: JobCard | None, sheet: SpecSheet | None
) -> CallSheet:
    """Return what stands on a sheet of calls to hang up.

    Args:
        grammar: The active one: nothing else is on the sheet.
        call_sign: The word before a call, with an open microphone.
        card: Of the job, or None.
        sheet: Of the machine, or None.
    """
    names = _names(grammar)
    return CallSheet(
        call_sign=call_sign,
        machine=None if sheet is None else sheet.name,
        job=None if card is None else card.title,
        invented=sheet is not None and sheet.invented,
        always=[(call, what) for call, what in ALWAYS if grammar.parse(call.split())],
        families=[
            (family, _gathered([(f.text, _example(f, names, grammar)) for f in frames]))
            for family, frames in _by_family(grammar).items()
        ],
        names={slot.upper(): its for slot, its in names.items()},
        ways=[(way.own, way.plain) for way in grammar.ways],
    )


GATHERED = 4
"""This many calls that differ only at their beginning or end are joined in one line of the
sheet."""


def _gathered(calls: Sequence[tuple[str, str | None]]) -> list[Shown]:
    """Calls with their examples, those that share a word at their end or beginning in one."""
    shown: list[Shown] = []
    left = [*calls]
    while left:
        text, example = left[0]
        first, _, _ = text.partition(" ")
        _, _, last = text.rpartition(" ")
        ends = [each for each, _ in left if each.endswith(f" {last}") and last.isupper()]
        begins = [each for each, _ in left if each.startswith(f"{first} ")]
        if len(ends) >= GATHERED:
            alike, said = ends, " / ".join(each.removesuffix(f" {last}") for each in ends)
            shown.append(Shown(f"{said} + {last}"))
        elif len(begins) >= GATHERED:
            lead = _lead(begins)
            alike, said = begins, " / ".join(each.removeprefix(f"{lead} ") for each in begins)
            shown.append(Shown(f"{lead} + {said}"))
        else:
            alike = [text]
            shown.append(Shown(text, example))
        left = [each for each in left if each[0] not in alike]
    return shown


def _lead(calls: Sequence[str]) -> str:
    """The words that calls begin with alike."""
    alike = takewhile(
        lambda column: len(set(column)) == 1, zip(*map(str.split, calls), strict=False)
    )
    return " ".join(column[0] for column in alike)


def _example(frame: Frame, names: Mapping[str, Sequence[str]], grammar: CallGrammar) -> str | None:
    """A whole call of a frame that goes on, as far as one is known."""
    if not frame.goes_on:
        return None
    first, *_ = frame.parts
    begins = names[first[1:-1]] if first.startswith("{") else (" ".join(frame.parts),)
    return next(
        (
            each
            for each in EXAMPLES
            if each.startswith(tuple(f"{begin} " for begin in begins))
            and grammar.parse(each.split())
        ),
        None,
    )


def add_way(own: str, plain: str, kept: WaysFile, grammar: CallGrammar) -> str:
    """Keep a way of one's own, and return the sentence that says so.

    Args:
        own: What is to be said.
        plain: The phrase of the grammar that it stands for.
        kept: Whose it is.
        grammar: The active one, with the ways that are kept already.

    Raises:
        WrongUse: If something speaks against it; says what.
        CompanionError: If the file cannot be written.
    """
    way = as_way(own, plain, grammar.words)
    refusal = examine(way, grammar, mending_actions(shipped_rules().dangers)).refusal
    if refusal is not None:
        raise WrongUse(f"'{way.own}' is not taken as '{way.plain}': {refusal}.")
    kept.keep(way)
    return (
        f"'{way.own}' is taken as '{way.plain}' from now on; what is read back is the plain form."
    )


def forms_lines(forms: UsedForms, *, forget: bool = False) -> list[str]:
    """The forms that somebody has used, a line each, the one used most first; or that they are
    erased.

    Raises:
        CompanionError: If they are to be erased and the file cannot be written.
    """
    if forget:
        erased = forms.forget()
        return ["The forms that you used are forgotten." if erased else "No forms are kept."]
    counts = forms_values(forms)
    if not counts:
        return ["No forms are kept yet: they are counted where calls are spoken."]
    return [f"{each['count']:5d}  {each['form']}" for each in counts]


def forms_values(forms: UsedForms) -> list[dict[str, Any]]:
    """The same for JSON, one object a form.

    Raises:
        CompanionError: If the file cannot be read.
    """
    ordered = sorted(forms.read().items(), key=lambda each: (-each[1], each[0]))
    return [{"form": form, "count": count} for form, count in ordered]


def remove_way(own: str, kept: WaysFile) -> str:
    """Forget a way of one's own, and return the sentence that says so.

    Raises:
        CompanionError: If there is none that is said so, or the file is damaged.
    """
    said = " ".join(typed_words(own)[0])
    if not kept.remove(said):
        raise CompanionError(
            f"There is no way of your own '{said}'; 'companion calls' lists those there are."
        )
    return f"'{said}' is no way of your own any more."


def _by_family(grammar: CallGrammar) -> dict[str, list[Frame]]:
    families: dict[str, list[Frame]] = {}
    for frame in frames_of(grammar):
        families.setdefault(frame.family, []).append(frame)
    return families


def _names(grammar: CallGrammar) -> dict[str, list[str]]:
    known = names_of(grammar)
    return {
        slot: sorted({" ".join(plain) for plain in known[slot].values()})
        for slot in SLOTS
        if known[slot]
    }
