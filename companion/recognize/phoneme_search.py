"""Prefix beam search over the phonemes of a sound, held to a grammar."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from companion.recognize.phonemes import BLANK, NEVER, Floats
from companion.recognize.pronunciation import PhonemeTree, Spot

BEAM = 200
"""Prefixes kept after every frame."""
WIDTH = 25.0
"""A prefix this much less probable than the best (natural logarithm) is dropped."""
UNUSUAL = 1.6
"""What a prefix of another form than the plain one gives up when the best are kept, so that the
many other forms never crowd the plain ones out."""
FAINT = -10.0
"""A phoneme with a logarithm below this in a frame does not begin there."""
SURE_BLANK = -0.005
"""A frame whose blank is likelier than this begins nothing: most frames, and the quick ones."""


@dataclass(slots=True, eq=False)
class _Prefix:
    """One way to begin: ``blank`` and ``sounded`` are the logarithms of its probability with the
    last frame silent and with the last frame on its last phoneme; ``usual`` is where it stands in
    what is said most, ``plain`` whether that can go on."""

    spot: Spot
    words: tuple[str, ...]
    last: int
    usual: int = 0
    plain: bool = True
    blank: float = NEVER
    sounded: float = NEVER
    next_sounded: float = NEVER
    followed: dict[int, _Prefix] = field(default_factory=dict)
    kept: bool = False


def likeliest_sentences(chances: Floats, tree: PhonemeTree) -> tuple[tuple[str, ...], ...]:
    """Find the sentences of a grammar that a sound most probably is, by its phonemes alone.

    Args:
        chances: Shape (frames, 40), from ``PhonemeNetwork``.
        tree: The grammar.
    Returns:
        Best first, each sentence once.
    """
    start = _Prefix(tree.root, (), BLANK, blank=0.0)
    live = [start]
    for frame in chances.tolist():
        live = _after(frame, live, tree)
    ended: dict[tuple[str, ...], float] = {}
    for prefix in live:
        tree.steps(prefix.spot)
        if prefix.spot.ending is not None:
            words = (*prefix.words, prefix.spot.ending)
            total = _sum(prefix.blank, prefix.sounded)
            ended[words] = _sum(ended.get(words, NEVER), total)
    return tuple(sorted(ended, key=lambda words: -ended[words]))


def _after(frame: list[float], live: list[_Prefix], tree: PhonemeTree) -> list[_Prefix]:
    """The prefixes after one more frame."""
    begun: list[_Prefix] = []
    for prefix in live:
        prefix.next_sounded = prefix.sounded + frame[prefix.last] if prefix.last else NEVER
        prefix.kept = True
    if frame[BLANK] < SURE_BLANK:
        for prefix in live:
            total = _sum(prefix.blank, prefix.sounded)
            for number, step in enumerate(tree.steps(prefix.spot)):
                chance = frame[step.phoneme]
                if chance < FAINT:
                    continue
                before = prefix.blank if step.phoneme == prefix.last else total
                if before <= NEVER:
                    continue
                longer = prefix.followed.get(number)
                if longer is None:
                    words = prefix.words if step.word is None else (*prefix.words, step.word)
                    usual = tree.usual_step(prefix.usual, step.word)
                    plain = tree.passes_usual(step.target, usual)
                    longer = _Prefix(step.target, words, step.phoneme, usual, plain)
                    prefix.followed[number] = longer
                if not longer.kept:
                    longer.kept = True
                    longer.blank = longer.sounded = longer.next_sounded = NEVER
                    begun.append(longer)
                longer.next_sounded = _sum(longer.next_sounded, before + chance)
    every = live + begun
    totals = []
    for prefix in every:
        prefix.blank = _sum(prefix.blank, prefix.sounded) + frame[BLANK]
        prefix.sounded = prefix.next_sounded
        prefix.kept = False
        totals.append(max(prefix.blank, prefix.sounded))
    if not begun:
        return live
    floor = max(totals) - WIDTH
    ranks = [
        total if prefix.plain else total - UNUSUAL
        for prefix, total in zip(every, totals, strict=True)
    ]
    order = sorted(range(len(every)), key=lambda i: -ranks[i])[:BEAM]
    return [every[i] for i in order if totals[i] >= floor]


def _sum(one: float, other: float) -> float:
    """Logarithm of the sum of two probabilities given as logarithms."""
    if one < other:
        one, other = other, one
    if other <= NEVER:
        return one
    return one + math.log1p(math.exp(other - one))
