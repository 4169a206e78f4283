"""Words of a shop that calls have not, or not there, and that sound like words which they have.

A search held to the grammar takes "released guard" for "replaced guard" and "deflated" for
"inflated": it knows no other. What the phonemes say of the other word tells the two apart.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache

import numpy as np

from companion.grammar.compiled import CallGrammar
from companion.grammar.pronounce import distance
from companion.recognize.ctc import log_likelihoods
from companion.recognize.phonemes import PHONEMES, Floats
from companion.recognize.pronunciation import ways_of, ways_to_say

BETTER = 2.0
"""Nats by which the phonemes speak more for the other word than for the call's own. Of 663 calls
that were taken as they were said, in quiet and in noise, the nearest other word came to -1.3 at
most; of 32 that were taken for others and held such a word, 20 lay above 3 (our own measurement,
with synthetic voices)."""
NEAR = 0.34
"""Share of the phonemes in which the two words agree, at least."""
MOST_WAYS = 2
"""Ways to say what stands before the word, and after it, that are tried."""

_DONE = """
    added adjusted aimed aligned assembled attached balanced bent blackened bled blocked
    bolted borrowed bought bumped burned capped centered changed charged clamped cleared
    coated covered crimped cut damaged deflated detached dialed discharged disassembled disengaged
    dislodged drilled dried dropped emptied engaged expanded fastened filed filled fitted flattened
    flushed found glued ground hammered heated held inspected isolated knocked leveled lifted locked
    lost lowered marked matched measured mounted moved ordered packed painted parked pinched plated
    plugged polished pressed primed pulled pushed raised rebuilt recharged reclosed reconnected
    regreased released removed reopened replugged reset returned reversed riveted rotated sanded
    scratched screwed sealed seated secured selected set shortened shut sliced smoothed snagged
    sold split spliced squeezed stalled started stopped straightened stretched stored
    strained swapped switched taped tapped threaded tied trimmed turned twisted
    unblocked unbolted uncapped unclamped unclogged uncovered unfastened unhooked unlatched unlocked
    unloosened unmounted unpacked unplugged unscrewed unsealed unseated unsecured untied untightened
    uninstalled vented warmed warped waxed wedged weighed welded wound wrapped"""
_IS = """
    active bare big blunt broken charged chipped clear closed cold cool coarse crooked dead deep
    dented dim down dry dull empty engaged even fair fast fine firm flat fouled free fresh full good
    grounded hard heated heavy high hot insecure jammed leaky level light live locked long loud low
    melted missing narrow new noisy off oily old on open out pinched plain plugged present quiet
    rich rough round rubbed rusty safe secure shallow sharp shiny short shut slack slow small
    smooth snug soft solid sound spare split sticky stiff stretched stuck tall tapered thick thin
    tight tilted turned twisted unbroken undamaged uneven unlocked unsafe unworn up used warm warped
    weak wet whole wide"""
OTHER_WORDS = frozenset((*_DONE.split(), *_IS.split()))
"""What may be done to a part or be said of one (common practice): some of it calls have as well,
but not of everything."""

_TOLD_APART = OTHER_WORDS | frozenset(
    {"new", "worn", "torn", "loose", "bad", "gone", "fell", "fail", "leaking", "missing", "cracked"}
)
_NOT_OF_A_PART = frozenset({"added", "hundred", "speed", "need", "supposed", "called"})
_ARTICLES = frozenset({"a", "an", "the"})
_TURNING = {"un": ("AH", "N"), "dis": ("D", "IH", "S"), "re": ("R", "IY")}
"""How the beginnings of words sound that the dictionary does not list with them."""
_ENDINGS = ("ened", "ed", "en", "d", "y")


def better_word(
    words: Sequence[str], log_probabilities: Floats, grammar: CallGrammar
) -> tuple[str, str] | None:
    """Find the word that sounds most like what was said in the place of a word of the call.

    Args:
        words: A sentence of the grammar.
        log_probabilities: Of phonemes, shape (frames, 40).
        grammar: What may be said: with the other word the sentence must be none of it.

    Returns:
        The word of the sentence and the other one, which the phonemes speak for by more than
        ``BETTER``; None where there is none, as nearly always.
    """
    own = ways_to_say(words)
    if not own:
        return None
    pairs: list[tuple[str, str]] = []
    ways: list[tuple[int, ...]] = []
    for said, other, sounds in _in_place(words, grammar):
        pairs += [(said, other)] * len(sounds)
        ways += sounds
    if not ways:
        return None
    found = log_likelihoods(log_probabilities, [*own, *ways])
    others = found[len(own) :]
    likeliest = int(others.argmax())
    better = float(others[likeliest] - np.logaddexp.reduce(found[: len(own)]))
    return pairs[likeliest] if better > BETTER else None


def _in_place(
    words: Sequence[str], grammar: CallGrammar
) -> Iterator[tuple[str, str, list[tuple[int, ...]]]]:
    """Each word of a sentence with each other one, and ways to say the sentence with that."""
    for end, said in enumerate(words, start=1):
        if not _is_told_apart(said):
            continue
        # "A plugged" sounds like "unplugged".
        alone = end < 2 or words[end - 2] not in _ARTICLES
        for begin in (end - 1,) if alone else (end - 1, end - 2):
            before, after = words[:begin], words[end:]
            for other, sounds in _near(tuple(words[begin:end])):
                if _is_call((*before, other, *after), grammar):
                    continue
                yield (
                    said,
                    other,
                    [
                        (*first, *sound, *last)
                        for first in ways_to_say(before)[:MOST_WAYS]
                        for sound in sounds
                        for last in ways_to_say(after)[:MOST_WAYS]
                    ],
                )


def _is_told_apart(word: str) -> bool:
    return (word in _TOLD_APART or word.endswith("ed")) and word not in _NOT_OF_A_PART


def _is_call(words: Sequence[str], grammar: CallGrammar) -> bool:
    end = grammar.walk(words)
    return end is not None and grammar.is_final(end)


@cache
def _near(span: tuple[str, ...]) -> tuple[tuple[str, tuple[tuple[int, ...], ...]], ...]:
    """Other words that sound like a word, or like one with the article before it."""
    own = ways_to_say(span)[:MOST_WAYS]
    return tuple(
        (other, near)
        for other in sorted(OTHER_WORDS)
        if not _of_one_stem(span[-1], other)
        and (near := tuple(way for way in _ways(other) if _is_near(way, own)))
    )


@cache
def _ways(word: str) -> tuple[tuple[int, ...], ...]:
    """Ways to pronounce a word; of one that the dictionary lacks, by how it begins."""
    return ways_of(word)[:MOST_WAYS] or tuple(
        (*(PHONEMES[sound] for sound in sounds), *way)
        for beginning, sounds in _TURNING.items()
        if word.startswith(beginning)
        for way in ways_of(word.removeprefix(beginning))[:MOST_WAYS]
    )


def _is_near(way: Sequence[int], own: Sequence[Sequence[int]]) -> bool:
    return any(0 < distance(way, one) <= (1 - NEAR) * max(len(way), len(one)) for one in own)


def _of_one_stem(one: str, other: str) -> bool:
    """Whether two words are forms of one: "open" and "opened"; in noise one passes for the other,
    and it says the same."""
    return bool(_stems(one) & _stems(other))


def _stems(word: str) -> frozenset[str]:
    return frozenset(
        {word, *(word.removesuffix(ending) for ending in _ENDINGS if word.endswith(ending))}
    )
