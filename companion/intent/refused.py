"""Why a text is no call, in words that help to say it better."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from companion.grammar.compiled import CallGrammar
from companion.grammar.parse_tree import Node
from companion.intent.match import EXACT_WORDS, SAYING_NOTHING, UNIT_WORDS
from companion.intent.meaning import call_sign_length
from companion.intent.numbers import NUMBER_WORDS
from companion.intent.opposites import TURNING, unturned
from companion.intent.short_words import said_otherwise
from companion.intent.tagged import part_of
from companion.intent.text import UNKNOWN
from companion.intent.unit_needed import unit_needed

TURNED_AROUND = "turns it around: call what is so"
"""How the reason ends where a word denies what the rest would say."""

NOT_OF_THIS_JOB = "of this job"
"""How the reason ends where a name is not known."""

MEANS_OTHERWISE = "means something else"
"""How the reason goes on where a verb says another thing of some parts."""

UNKNOWN_WORD = "a word in it is not known: call it without that word"
"""The reason where an engine heard a word that no call has, and cannot say which."""

_NAMES = {
    "measure": "a measure", "fluid": "a fluid", "part": "a part", "tag": "a tag",
    "name": "a timer", "step": "a step",
}  # fmt: skip
_OTHER_CALLS = frozenset({"timer", "for", "added", "drained", "need", "used", "correction"})
"""Words before a number in calls that are no readings."""

_OF_NO_NAME = frozenset(
    {"to", "me", "you", "her", "him", "us", "them", "after", "before", "until", "because", "with"}
)
"""Words of talk that stand in no name."""

_MOST_UNKNOWN = 3
"""How many words in a row may stand before or inside a known name."""


def why_refused(words: Sequence[str], grammar: CallGrammar) -> str:
    """Say why words are no call, as far as can be told.

    Args:
        words: Lower case, no sentence of the grammar and not near one.
        grammar: What may be said.

    Returns:
        A short phrase for the log and to be spoken: "'not' turns it around: call what is so",
        "'ring gap' is not a measure of this job", "the unit is missing: thou or inches".
    """
    turned = turned_around(words, grammar)
    if turned is not None:
        return turned
    if UNKNOWN in words:
        known = [word for word in words if word != UNKNOWN]
        return unit_needed(known, grammar) or UNKNOWN_WORD
    return (
        _meant_otherwise(words, grammar)
        or unit_needed(words, grammar)
        or _unknown_name(words, grammar)
        or _unknown_measure(words, grammar)
        or no_call(words, grammar)
    )


def _meant_otherwise(words: Sequence[str], grammar: CallGrammar) -> str | None:
    """Name the word of a sentence that means something else of the part that is called."""
    for parse in grammar.parse(words):
        part = part_of(parse)
        word = said_otherwise(words, part) if part else None
        if word is not None:
            return f"'{word}' {MEANS_OTHERWISE} of the {part}"
    return None


def turned_around(words: Sequence[str], grammar: CallGrammar) -> str | None:
    """Name the word that turns around what the others would say; None where there is none.

    Args:
        words: Lower case, no sentence of the grammar.
        grammar: What may be said. Its own words deny nothing where they stand as it has them ("tag
            no oil").
    """
    opening = call_sign_length(words, grammar)
    understood = _understood(words, grammar)
    for at, word in enumerate(words):
        if opening < at < understood or word not in TURNING:
            continue
        # "Half" of a figure, "no oil" of a tag.
        part_of_figure = word == "half" and EXACT_WORDS & set(words[at + 1 : at + 2])
        if part_of_figure or (at > opening and _begins_tag(words[at:], grammar)):
            continue
        return f"'{word}' {TURNED_AROUND}"
    for word in words:
        if word not in grammar.words and any(plain in grammar.words for plain in unturned(word)):
            return f"'{word}' {TURNED_AROUND}"
    return None


def _begins_tag(words: Sequence[str], grammar: CallGrammar) -> bool:
    """Whether a tag is named like these words or the first of them."""
    tag = grammar.walk(("tag",))
    ends = (grammar.walk(words[:end], tag) for end in range(2, len(words) + 1))
    return tag is not None and any(end is not None and grammar.is_final(end) for end in ends)


_OPENING_TALK = frozenset(
    {
        "what", "what's", "which", "how", "is", "are", "was", "the", "a", "an", "i", "i'm", "i've",
        "it", "it's", "that", "that's", "there", "there's", "can", "do", "got",
    }
)  # fmt: skip
"""Words that open talk as often as calls."""


def no_call(words: Sequence[str], grammar: CallGrammar) -> str:
    """Say how far words are a call: which number is wrong, or how much was understood."""
    odd = next((word for word in words if any(char.isdigit() for char in word)), None)
    if odd is not None:
        return f"'{odd}' is not plainly one number"
    end = _understood(words, grammar)
    # "What is the" begins more talk than calls, and does not show what was meant.
    if not _OPENING_TALK.issuperset(words[call_sign_length(words, grammar) : end]):
        return f"understood only as far as '{' '.join(words[:end])}'"
    return "no call is like this"


def _understood(words: Sequence[str], grammar: CallGrammar) -> int:
    """How many words from the first are the beginning of a call."""
    return next(end for end in range(len(words), -1, -1) if grammar.walk(words[:end]) is not None)


def _unknown_name(words: Sequence[str], grammar: CallGrammar) -> str | None:
    """Name what would be a known name without a word or two before or inside it ("ring gap", for
    "gap")."""
    said = tuple(word for word in words if word not in SAYING_NOTHING or word in grammar.words)
    opening = call_sign_length(said, grammar)
    for start, end in _unknown_runs(said, opening):
        left = (*said[:start], *said[end:])
        named = _name_at(left, start, grammar)
        if named is not None:
            kind, first, last = named
            return _not_of_this_job(said[first : last + end - start], kind)
        measured = _measured(left, start, grammar)
        if measured is not None:
            return _not_of_this_job(said[opening : measured + end - start], "a measure")
    return None


def _unknown_runs(words: Sequence[str], opening: int) -> Iterator[tuple[int, int]]:
    for length in range(1, _MOST_UNKNOWN + 1):
        for start in range(opening, len(words) - length):
            run = words[start : start + length]
            if not (NUMBER_WORDS | _OF_NO_NAME) & set(run):
                yield start, start + length


def _name_at(words: tuple[str, ...], at: int, grammar: CallGrammar) -> tuple[str, int, int] | None:
    """What kind of name stands at or around a place in a sentence of the grammar, and where."""
    for parse in grammar.parse(words):
        for node in parse.walk():
            if node.key in _NAMES and _holds(node, at):
                return _NAMES[node.key], node.start, node.end
    return None


def _holds(node: Node, at: int) -> bool:
    return node.start <= at < node.end


def _measured(words: tuple[str, ...], at: int, grammar: CallGrammar) -> int | None:
    """Where the number begins after a measure around this place, whatever follows the number."""
    number = _first_number(words)
    opening = call_sign_length(words, grammar)
    if number is None or at >= number:
        return None
    asked = grammar.walk(("spec", "for", *words[opening:number]))
    return number if asked is not None and grammar.is_final(asked) else None


def _unknown_measure(words: Sequence[str], grammar: CallGrammar) -> str | None:
    """Name what stands before a number with its unit, where no call begins like that."""
    number = _first_number(words)
    opening = call_sign_length(words, grammar)
    if number is None or not opening < number <= opening + _MOST_UNKNOWN:
        return None
    if (_OTHER_CALLS | _OF_NO_NAME) & set(words[:number]):
        return None
    figure = set(words[number:])
    if not UNIT_WORDS & figure or not figure <= EXACT_WORDS | SAYING_NOTHING:
        return None
    if grammar.walk(words[:number]) is not None:
        return None
    return _not_of_this_job(words[opening:number], "a measure")


def _first_number(words: Sequence[str]) -> int | None:
    return next((place for place, word in enumerate(words) if word in NUMBER_WORDS), None)


def _not_of_this_job(name: Sequence[str], kind: str) -> str:
    return f"'{' '.join(name)}' is not {kind} {NOT_OF_THIS_JOB}"
