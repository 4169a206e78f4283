"""Constrained decoding of a sound's phonemes: a prefix beam search for CTC, held to a grammar."""

from __future__ import annotations

from dataclasses import dataclass, field

from companion.recognize.ctc import BLANK
from companion.recognize.phonemes import Floats
from companion.recognize.prefix_tree import Place, PrefixTree
from companion.recognize.probabilities import NEVER, log_add

BEAM = 200
"""Prefixes kept after every frame."""
WIDTH = 25.0
"""A prefix this much less probable than the best (natural logarithm) is dropped."""
UNUSUAL = 1.6
"""Taken off the score of a prefix of another form than the plain one when the best are chosen, so
that the many other forms never crowd out the plain ones."""
FAINT = -10.0
"""A phoneme with a logarithm below this in a frame does not begin there."""
SURE_BLANK = -0.005
"""A frame whose blank is likelier than this begins nothing: most frames, and the quick ones."""


@dataclass(slots=True, eq=False)
class _Prefix:
    """One way to begin: ``blank`` and ``sounded`` are the logarithms of its probability with the
    last frame silent and with the last frame on its last phoneme; ``usual`` is where it stands in
    what is said most, ``plain`` whether that can go on."""

    place: Place
    words: tuple[str, ...]
    last: int
    usual: int = 0
    plain: bool = True
    blank: float = NEVER
    sounded: float = NEVER
    next_sounded: float = NEVER
    followed: dict[int, _Prefix] = field(default_factory=dict)
    kept: bool = False


def likeliest_sentences(log_probabilities: Floats, tree: PrefixTree) -> tuple[tuple[str, ...], ...]:
    """Find the sentences of a grammar that a sound most probably is, by its phonemes alone.

    Args:
        log_probabilities: Shape (frames, 40), from ``PhonemeNetwork``.
        tree: The grammar, spelled in phonemes.

    Returns:
        Best first, each sentence once.
    """
    start = _Prefix(tree.root, (), BLANK, blank=0.0)
    live = [start]
    for frame in log_probabilities.tolist():
        live = _after(frame, live, tree)
    ended: dict[tuple[str, ...], float] = {}
    for prefix in live:
        ending = tree.steps(prefix.place).ending
        if ending is not None:
            words = (*prefix.words, ending)
            total = log_add(prefix.blank, prefix.sounded)
            ended[words] = log_add(ended.get(words, NEVER), total)
    return tuple(sorted(ended, key=lambda words: -ended[words]))


def _after(frame: list[float], live: list[_Prefix], tree: PrefixTree) -> list[_Prefix]:
    """The prefixes after one more frame."""
    begun: list[_Prefix] = []
    for prefix in live:
        prefix.next_sounded = prefix.sounded + frame[prefix.last] if prefix.last else NEVER
        prefix.kept = True
    if frame[BLANK] < SURE_BLANK:
        for prefix in live:
            total = log_add(prefix.blank, prefix.sounded)
            steps = tree.steps(prefix.place)
            for number, phoneme in enumerate(steps.symbols):
                log_probability = frame[phoneme]
                if log_probability < FAINT:
                    continue
                before = prefix.blank if phoneme == prefix.last else total
                if before <= NEVER:
                    continue
                longer = prefix.followed.get(number)
                if longer is None:
                    target, word = steps.targets[number], steps.words[number]
                    words = prefix.words if word is None else (*prefix.words, word)
                    usual = tree.usual_step(prefix.usual, word)
                    plain = tree.passes_usual(target, usual)
                    longer = _Prefix(target, words, phoneme, usual, plain)
                    prefix.followed[number] = longer
                if not longer.kept:
                    longer.kept = True
                    longer.blank = longer.sounded = longer.next_sounded = NEVER
                    begun.append(longer)
                longer.next_sounded = log_add(longer.next_sounded, before + log_probability)
    every = live + begun
    totals = []
    for prefix in every:
        prefix.blank = log_add(prefix.blank, prefix.sounded) + frame[BLANK]
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
