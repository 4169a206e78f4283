"""Beam search over the sentences of a grammar, scored by the decoder less its own bias."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.recognize.decoder import Decoder, Floats, Sound
from companion.recognize.prefix_tree import Place, TokenTree
from companion.recognize.prior import Prior

LONGEST_SENTENCE = 48
"""Tokens; no call of the grammar comes near."""


@dataclass(frozen=True, slots=True)
class SearchOptions:
    """How wide to search, and how to score; the figures did best on tuning voices.

    Attributes:
        beam: Prefixes kept at every step.
        prior_weight: How much of the logarithm of a prefix's probability on near-silence is
            subtracted; without
            it short words win, since the decoder expects them before it has heard anything.
        width: A prefix this much less probable than the most probable one (natural logarithm) is
            dropped.
        finished_width: The same, against the most probable whole sentence.
        unusual: What a prefix of a less usual form gives up of its score when the best are kept, so
            that the many other forms of a call never crowd the plain ones out; the scores
            themselves stay as they are. It is the natural logarithm of how much likelier a plain
            form is (``companion.intent.context.USUAL_ODDS``).
    """

    beam: int = 8
    prior_weight: float = 0.5
    width: float = 25.0
    finished_width: float = 20.0
    unusual: float = 1.6


@dataclass(frozen=True, slots=True)
class Sentence:
    """A whole sentence of the grammar with its scores.

    Attributes:
        words: The sentence.
        tokens: Ids of its tokens as it was spelled.
        score: Logarithm of its probability with the prior taken off: what sentences are ranked by.
        heard: Natural logarithm of its probability given the sound alone.
    """

    words: tuple[str, ...]
    tokens: tuple[int, ...]
    score: float
    heard: float


@dataclass(frozen=True, slots=True)
class _Live:
    score: float
    heard: float
    place: Place
    words: tuple[str, ...]
    tokens: tuple[int, ...]
    usual: int = 0


@dataclass(slots=True)
class _BestHeard:
    """The most probable whole sentence so far, of any form and of the plain one.

    Prefixes of plain forms are only held against plain sentences: the other forms have many short
    ones ("done", "right"), which are probable in any noise before a longer call is half heard.
    """

    of_all: float = -np.inf
    of_usual: float = -np.inf

    def take(self, heard: float, *, usual: bool) -> None:
        self.of_all = max(self.of_all, heard)
        if usual:
            self.of_usual = max(self.of_usual, heard)


class ScoredVocabulary:
    """The columns of the decoder's output that a search looks at.

    Those of the grammar are what it needs; the most common others stand for all that it does not,
    so that the probabilities are nearly those over the whole vocabulary at a tenth of the cost.
    """

    COMMON = 4000
    """Byte-pair tokens are numbered by frequency of merging: the first are the commonest."""

    def __init__(self, decoder: Decoder, tree: TokenTree, end: int) -> None:
        """Gather the columns.

        Args:
            decoder: Whose output.
            tree: Whose tokens come first.
            end: Id of the token that ends a text; it follows the tree's.
        """
        first = [*map(int, tree.vocabulary), end]
        others = np.setdiff1d(np.arange(self.COMMON), first)
        self.end = len(first) - 1
        self._column = {token: column for column, token in enumerate(first)}
        self._columns = np.ascontiguousarray(decoder.embeddings[[*first, *others]].T)

    def column_of(self, token: int) -> int:
        """Return the column of a token of the grammar."""
        return self._column[token]

    def log_probabilities(self, states: Floats) -> Floats:
        """Natural logarithms of the probability of each next token.

        Args:
            states: Shape (…, width).

        Returns:
            Shape (…, columns): the tree's tokens, then the end.
        """
        scores = states @ self._columns
        top = scores.max(axis=-1, keepdims=True)
        total = np.log(np.exp(scores - top).sum(axis=-1, keepdims=True))
        kept = scores[..., : self.end + 1]
        return np.asarray(kept - (top + total), dtype=np.float32)


def search(
    decoder: Decoder,
    sound: Sound,
    tree: TokenTree,
    vocabulary: ScoredVocabulary,
    prior: Prior,
    start: tuple[int, ...],
    options: SearchOptions,
) -> tuple[Sentence, ...]:
    """Find the sentences of a grammar that a sound most probably is.

    Args:
        decoder: The decoder.
        sound: The utterance.
        tree: The grammar.
        vocabulary: Made for this tree.
        prior: Made for this vocabulary.
        start: Tokens that come before the text.
        options: How to search.

    Returns:
        Best first, each sentence once.
    """
    prefixes = decoder.begin(sound)
    states = decoder.read(sound, prefixes, np.array([start]))[0, :, -1]
    prior.begin()
    live = [_Live(0.0, 0.0, tree.root, (), ())]
    finished: dict[tuple[str, ...], Sentence] = {}
    best = _BestHeard()
    for _ in range(LONGEST_SENTENCE):
        chances = vocabulary.log_probabilities(states)
        expected = prior.after([one.tokens for one in live])
        gains = chances - options.prior_weight * expected
        for row, one in enumerate(live):
            ending = tree.steps(one.place).ending
            if ending is not None:
                sentence = Sentence(
                    (*one.words, ending),
                    one.tokens,
                    one.score + float(gains[row, vocabulary.end]),
                    one.heard + float(chances[row, vocabulary.end]),
                )
                _keep_best(finished, sentence)
                best.take(sentence.heard, usual=tree.usual_step(one.usual, ending) >= 0)
        live, rows = _extend(live, tree, gains, chances, best, options)
        if not live:
            break
        prefixes = prefixes.select(np.array(rows))
        tokens = np.array([[one.tokens[-1]] for one in live])
        states = decoder.read(sound, prefixes, tokens)[0, :, 0]
    return tuple(sorted(finished.values(), key=lambda sentence: -sentence.score))


def score(
    decoder: Decoder,
    sound: Sound,
    spelled: Sequence[tuple[tuple[str, ...], tuple[int, ...]]],
    vocabulary: ScoredVocabulary,
    prior: Prior,
    start: tuple[int, ...],
    options: SearchOptions,
) -> tuple[Sentence, ...]:
    """Score sentences of the grammar that a search did not come to, as it would have.

    Args:
        decoder: The decoder.
        sound: The utterance.
        spelled: Each sentence with the ids of its tokens; a sentence may come in two spellings.
        vocabulary: Made for their grammar.
        prior: Made for this vocabulary.
        start: Tokens that come before the text.
        options: How to score.

    Returns:
        Best first, each sentence once, in its better spelling.
    """
    if not spelled:
        return ()
    texts = [tokens for _, tokens in spelled]
    longest = max(map(len, texts))
    padded = [(*start, *text, *text[-1:] * (longest - len(text))) for text in texts]
    prefixes = decoder.begin(sound).select(np.zeros(len(texts), dtype=np.int64))
    states = decoder.read(sound, prefixes, np.array(padded))[0, :, len(start) - 1 :]
    chances = vocabulary.log_probabilities(states)
    heard = np.zeros(len(texts))
    expected = np.zeros(len(texts))
    for place in range(longest + 1):
        rows = [row for row, text in enumerate(texts) if len(text) >= place]
        columns = [
            vocabulary.column_of(texts[row][place]) if place < len(texts[row]) else vocabulary.end
            for row in rows
        ]
        heard[rows] += chances[rows, place, columns]
        before = prior.after([texts[row][:place] for row in rows])
        expected[rows] += before[np.arange(len(rows)), columns]
    finished: dict[tuple[str, ...], Sentence] = {}
    for row, (words, tokens) in enumerate(spelled):
        total = float(heard[row] - options.prior_weight * expected[row])
        _keep_best(finished, Sentence(words, tokens, total, float(heard[row])))
    return tuple(sorted(finished.values(), key=lambda sentence: -sentence.score))


def _keep_best(finished: dict[tuple[str, ...], Sentence], sentence: Sentence) -> None:
    """Keep the better of two spellings of the same words."""
    known = finished.get(sentence.words)
    if known is None or known.score < sentence.score:
        finished[sentence.words] = sentence


def _extend(
    live: list[_Live],
    tree: TokenTree,
    gains: Floats,
    heard: Floats,
    best: _BestHeard,
    options: SearchOptions,
) -> tuple[list[_Live], list[int]]:
    """Lengthen every prefix by every token that may follow and keep the best; with the rows they
    came from."""
    scores: list[NDArray[np.float32]] = []
    unusual: list[NDArray[np.bool_]] = []
    chances: list[NDArray[np.float32]] = []
    origins: list[tuple[int, int]] = []
    for row, one in enumerate(live):
        tokens = tree.steps(one.place).tokens
        scores.append(one.score + gains[row, tokens])
        unusual.append(tree.to_other_forms(one.place, one.usual))
        chances.append(one.heard + heard[row, tokens])
        origins += [(row, step) for step in range(len(tokens))]
    if not origins:
        return [], []
    score, chance = np.concatenate(scores), np.concatenate(chances)
    other_form = np.concatenate(unusual)
    rank = score - options.unusual * other_form
    order = np.argsort(-rank, kind="stable")[: options.beam]
    least = chance[order].max() - options.width
    floors = (
        max(least, best.of_usual - options.finished_width),
        max(least, best.of_all - options.finished_width),
    )
    kept, rows = [], []
    for i in order:
        if chance[i] < floors[int(other_form[i])]:
            continue
        row, step = origins[i]
        one, steps = live[row], tree.steps(live[row].place)
        word = steps.words[step]
        kept.append(
            _Live(
                float(score[i]),
                float(chance[i]),
                steps.targets[step],
                one.words if word is None else (*one.words, word),
                (*one.tokens, int(tree.vocabulary[steps.tokens[step]])),
                tree.usual_step(one.usual, word),
            )
        )
        rows.append(row)
    return kept, rows
