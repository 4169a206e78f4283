"""What ``companion grammar check`` reports: words nobody can say, calls taken for others."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from companion.grammar.ambiguity import (
    Ambiguity,
    Meaning,
    ambiguities,
    describe,
    tags_and_words,
)
from companion.grammar.collecting import without_collecting
from companion.grammar.compiled import CallGrammar
from companion.grammar.plural import plural
from companion.grammar.sound_alike import (
    Alike,
    homophone_sentences,
    near_phrases,
    swapped_words,
)
from companion.grammar.unsayable import unsayable, unsayable_sentences

UNIT_MUST_FIT = (
    "meet only after 'correction', which is refused in a unit of another kind than what it corrects"
)
ONE_OR_ALL = "one of them or all, which the readback names"
_ONE_FLYWHEEL = "a machine has one flywheel, so that hardly anyone says 'flywheels'"
_ASKS = "both ask, or one does, and nothing that is recorded could be taken for it"
_DIGITS = (
    "left out, the small word would be heard as the number all the same; the number is read back"
)
_READBACK_OF_TWO = "the readback says which of the two was recorded"
_READBACK = "both are what the trade calls it; only the readback tells them apart"

ACCEPTED: dict[frozenset[str], str] = {
    frozenset(["milliliter", "millimeter"]): UNIT_MUST_FIT,
    frozenset(["milliliter", "millimeters"]): UNIT_MUST_FIT,
    frozenset(["milliliters", "millimeter"]): UNIT_MUST_FIT,
    frozenset(["milliliters", "millimeters"]): UNIT_MUST_FIT,
    frozenset(["belt", "bolt"]): _READBACK,
    frozenset(["belts", "bolts"]): _READBACK,
    frozenset(["tine", "tire"]): _READBACK,
    frozenset(["tines", "tires"]): _READBACK,
    frozenset(["bent", "burnt"]): _READBACK,
    frozenset(["torn", "worn"]): _READBACK,
    frozenset(["failed", "fouled"]): _READBACK,
    frozenset(["flywheel key", "flywheels"]): _ONE_FLYWHEEL,
    frozenset(["flywheel keys", "flywheels"]): _ONE_FLYWHEEL,
    frozenset(["flywheel nut", "flywheels"]): _ONE_FLYWHEEL,
    frozenset(["brake", "breaker"]): _READBACK,
    frozenset(["brakes", "breaker"]): _READBACK,
    frozenset(["dirty", "thirty"]): "'battery dirty' is a finding and 'battery thirty' a reading;"
    " only the readback tells them apart where the sheet has no window for the battery",
    frozenset(["oh", "ohm"]): "meet only where a resistance is corrected without its unit; only the"
    " readback tells them apart where the sheet has no window for it",
    frozenset(["ten", "turn"]): "meet only after 'correction': nobody turns a screw out one hundred"
    " and ten turns, and a reading that is not in turns is not corrected in them",
    frozenset(["a t", "eight e"]): "a serial number is read back character by character",
    frozenset(["four", "more"]): "'eight four gallons' and 'eight more gallons'; only the readback"
    " tells them apart where the sheet has no capacity",
    frozenset(["no", "note"]): "neither affirms anything, and 'negative' says 'no' as well",
    frozenset(
        ["off", "on"]
    ): "'axle is on' is only ever asked about, and 'off' holds the start until it is called back",
    frozenset(["gone", "on"]): "'axle is on' is only ever asked about, and 'gone' holds the start",
    frozenset(["gap", "gas"]): _ASKS,
    # Ways of saying it.
    frozenset(["nope", "note"]): "neither affirms anything, and 'negative' says 'nope' as well",
    frozenset(["step say", "steps"]): _ASKS,
    frozenset(["mix", "six"]): _ASKS,
    frozenset(["are opened", "sharpened"]): "no blade is opened, and nothing else is sharpened;"
    " the readback names what was done",
    frozenset(["i reinstalled", "i've installed"]): "what is reinstalled is installed",
    frozenset(["i mended", "i've undid"]): "'mended' is only ever asked about, and hardly anyone"
    " says 'I've undid'",
    frozenset(["bench", "bent"]): "'bench fuel leak' opens with the call sign; no leak is bent",
    frozenset(["repeat", "ripped"]): "'repeat battery' asks; the readback names what was found",
    frozenset(["tear", "ten"]): _READBACK_OF_TWO,
    frozenset(["adjusted", "rusted"]): _READBACK_OF_TWO,
    frozenset(["frayed", "freed"]): _READBACK_OF_TWO,
    frozenset(["new", "two"]): _READBACK_OF_TWO,
    frozenset(["up", "upper"]): _READBACK_OF_TWO,
    frozenset(["bend", "burned"]): _READBACK,
    frozenset(["cap", "tap"]): _READBACK,
    frozenset(["back", "tach"]): "'back one' goes back a step; no engine turns once a minute",
    frozenset(["nut", "shut"]): "what is shut off is a valve or a tap, and no nut",
    frozenset(["brake are adjusted", "breaker adjusted"]): _READBACK,
    frozenset(["eight", "out"]): "'battery out' is work and 'battery eight' a reading; only the"
    " readback tells them apart where the sheet has no window for the battery",
    frozenset(["at", "eight"]): _DIGITS,
    frozenset(["one", "was"]): _DIGITS,
    frozenset(["eight", "wait"]): _DIGITS,
}
"""Pairs of phrases in the shipped grammars that sound near and are accepted, each with the
reason."""


ACCEPTED_IN_JOBS: dict[frozenset[str], str] = {
    frozenset(["in", "pin"]): "'wheel in' and 'wheel pin': the readback names the part",
    frozenset(["in", "inch"]): "after a figure only; the readback says how much of what it was",
    frozenset(["pull", "pulled"]): "'pull cord' is a part, and 'pulled' is said before one",
    frozenset(["pull", "put"]): "'pull cord' is a part, and 'put' is said before one",
    frozenset(["trigger", "trimmer"]): "'trigger' is a part and 'trimmer' the machine; the readback"
    " says which of the two was shut off",
    frozenset(["blocked", "locked"]): "the readback says which of the two was recorded",
    frozenset(["chipped", "ripped"]): "the readback says which of the two was recorded",
    frozenset(["locks", "looks"]): "'drum locks' are a part; 'looks' is said behind one",
    frozenset(["fitted", "fitting"]): "'fitting' is a part, and 'fitted' is said before one",
}
"""The same for words that stand only in the shipped cards and sheets."""


@dataclass(frozen=True, slots=True)
class Report:
    """What was found in one grammar.

    Attributes:
        states: States of the deterministic automaton.
        arcs: Its arcs.
        words: Different words.
        unpronounceable: Words with no known pronunciation.
        ambiguous: One sentence for each kind of ambiguity.
        alike: Pairs that sound too alike and are not accepted.
        accepted: Pairs that sound too alike and stay, each with the reason; without parts and their
            plurals, of which there are as many as parts.
        numbers: Pairs of number words that sound alike, for information.
        unsayable: For each word with no known pronunciation, a sentence with its line.
    """

    states: int
    arcs: int
    words: int
    unpronounceable: tuple[str, ...]
    ambiguous: tuple[Ambiguity, ...]
    alike: tuple[Alike, ...]
    accepted: tuple[tuple[Alike, str], ...]
    numbers: tuple[Alike, ...]
    unsayable: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether nothing is wrong but what is accepted."""
        return not (self.unpronounceable or self.ambiguous or self.alike)

    @property
    def lines(self) -> tuple[str, ...]:
        """The report, a printed line each."""
        return tuple(self._lines())

    def _lines(self) -> Iterable[str]:
        yield f"{self.words} words, {self.states} states, {self.arcs} arcs."
        yield _heading("Words with no pronunciation", len(self.unpronounceable))
        for told in self.unsayable:
            yield f"  {told}"
        yield _heading("Sentences that can be taken in two ways", len(self.ambiguous))
        for found in self.ambiguous:
            yield f"  {found.text}"
            yield f"    as {describe(found.one)}"
            yield f"    or {describe(found.other)}"
        yield _heading("Calls that sound too alike", len(self.alike))
        for pair in self.alike:
            yield f"  {_pair(pair)}, in: {pair.where}"
        yield _heading("Calls that sound alike and are accepted", len(self.accepted))
        for pair, reason in self.accepted:
            yield f"  {_pair(pair)}: {reason}"
        yield _heading("Numbers that sound alike, for information", len(self.numbers))
        if self.numbers:
            yield "  " + ", ".join(f"{pair.one}/{pair.other}" for pair in self.numbers)
        yield "Nothing is wrong." if self.ok else "Something must be changed: see above."


@without_collecting()
def check_grammar(
    grammar: CallGrammar, files: Sequence[Path] = (), *, meaning: Meaning = tags_and_words
) -> Report:
    """Check one grammar: the shipped one, one with the words of a job, or one of one's own.

    The shipped one takes seconds (``docs/measurements.md``).

    Args:
        grammar: To check.
        files: Where its words may have come from, so that a line can be named.
        meaning: What a tree means; trees of equal meaning are no ambiguity.
    """
    found: dict[frozenset[str], Alike] = {}
    searches = (
        homophone_sentences(grammar, meaning),
        swapped_words(grammar, meaning),
        near_phrases(grammar),
    )
    for search in searches:
        for pair in search:
            found.setdefault(frozenset([pair.one, pair.other]), pair)
    return Report(
        states=len(grammar.automaton.arcs),
        arcs=sum(map(len, grammar.automaton.arcs)),
        words=len(grammar.words),
        unpronounceable=unsayable(grammar.words),
        unsayable=unsayable_sentences(grammar.words, files),
        ambiguous=ambiguities(grammar.rules, meaning),
        alike=tuple(
            pair for pair in found.values() if why_accepted(pair) is None and not pair.numbers
        ),
        accepted=tuple(
            (pair, reason)
            for pair in found.values()
            if (reason := why_accepted(pair)) is not None and reason != ONE_OR_ALL
        ),
        numbers=tuple(pair for pair in found.values() if pair.numbers),
    )


def why_accepted(pair: Alike) -> str | None:
    """Say why a pair stays, or return None; a part and its plural need no entry each."""
    if _one_or_all(pair.one, pair.other) or _one_or_all(pair.other, pair.one):
        return ONE_OR_ALL
    both = frozenset([pair.one, pair.other])
    return ACCEPTED.get(both) or ACCEPTED_IN_JOBS.get(both)


def _one_or_all(one: str, other: str) -> bool:
    """Whether the second is the plural of the first: "bolts", or "bolts loose" for "bolt is …"."""
    first, *rest = one.split()
    several, *others = other.split()
    return plural(first) == several and (rest == others or (rest[1:] == others and rest[0] == "is"))


def _heading(text: str, count: int) -> str:
    return f"{text}: {count or 'none'}"


def _pair(pair: Alike) -> str:
    return f"'{pair.one}' and '{pair.other}' ({pair.likeness:.0%} alike)"
