"""Constrained decoding: a beam search that lets the decoder say nothing but sentences of a grammar,
scored by the decoder less its own bias."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.recognize.decoder import Decoder, Floats, Sound
from companion.recognize.prefix_tree import Place, PrefixTree
from companion.recognize.prior import Prior
from companion.recognize.probabilities import log_sum_exp

LONGEST_SENTENCE = 48
"""Tokens; no call of the grammar comes near."""


@dataclass(frozen=True, slots=True)
class SearchOptions:
    """How wide to search, and how to score; the figures did best on tuning voices.

    Attributes:
        beam: Prefixes kept at every step.
        prior_weight: How much of the logarithm of a prefix's probability on near-silence is
            subtracted; without it short words win, since the decoder expects them before it has
            heard anything.
        width: A prefix this much less probable than the most probable one (natural logarithm) is
            dropped.
        finished_width: The same, against the most probable whole sentence.
        unusual: Taken off the score of a prefix of a less usual form when the best are chosen, so
            that the many other forms of a call never crowd out the plain ones; the scores
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
        log_probability: Of the sentence given the sound alone, a natural logarithm.
    """

    words: tuple[str, ...]
    tokens: tuple[int, ...]
    score: float
    log_probability: float


@dataclass(frozen=True, slots=True)
class _Live:
    """A prefix of sentences, as it is lengthened."""

    score: float
    log_probability: float
    place: Place
    words: tuple[str, ...]
    tokens: tuple[int, ...]
    usual: int = 0


@dataclass(slots=True)
class _Best:
    """The most probable whole sentence so far, of any form and of the plain one.

    Prefixes of plain forms are only compared with plain sentences: the other forms have many short
    ones ("done", "right"), which are probable in any noise before a longer call is half heard.
    """

    of_all: float = -np.inf
    of_usual: float = -np.inf

    def take(self, log_probability: float, *, usual: bool) -> None:
        self.of_all = max(self.of_all, log_probability)
        if usual:
            self.of_usual = max(self.of_usual, log_probability)


class ScoredVocabulary:
    """The columns of the decoder's output that a search looks at.

    Those of the grammar are what it needs; the most common others stand for all that it does not,
    so that the probabilities are nearly those over the whole vocabulary, of which there are twelve
    times as many.
    """

    COMMON = 4000
    """Byte-pair tokens are numbered by frequency of merging: the first are the commonest."""

    def __init__(self, decoder: Decoder, tokens: Iterable[int], end: int) -> None:
        """Gather the columns.

        Args:
            decoder: Whose output.
            tokens: Ids of the grammar's tokens.
            end: Id of the token that ends a text; it follows the grammar's.
        """
        first = [*sorted(set(tokens)), end]
        others = np.setdiff1d(np.arange(self.COMMON), first)
        self.end = len(first) - 1
        self._tokens = first
        self._column = {token: column for column, token in enumerate(first)}
        self._columns = np.ascontiguousarray(decoder.embeddings.of([*first, *others]).T)

    def column_of(self, token: int) -> int:
        """Return the column of a token of the grammar."""
        return self._column[token]

    def token_of(self, column: int) -> int:
        """Return the token of a column."""
        return self._tokens[column]

    def log_probabilities(self, states: Floats) -> Floats:
        """Log-probabilities of each next token.

        Args:
            states: Shape (…, width).

        Returns:
            Shape (…, columns): the grammar's tokens, then the end.
        """
        scores = states @ self._columns
        return scores[..., : self.end + 1] - log_sum_exp(scores)


@dataclass(frozen=True, slots=True)
class ConstrainedDecoder:
    """A decoder held to a grammar.

    Attributes:
        decoder: The decoder.
        tree: The grammar, spelled in columns of ``vocabulary``.
        vocabulary: Made for this grammar.
        prior: Made for this vocabulary.
        start: Tokens that come before the text.
        options: How to search and score.
    """

    decoder: Decoder
    tree: PrefixTree
    vocabulary: ScoredVocabulary
    prior: Prior
    start: tuple[int, ...]
    options: SearchOptions

    def search(self, sound: Sound) -> tuple[Sentence, ...]:
        """Find the sentences of the grammar that a sound most probably is.

        Args:
            sound: The utterance.

        Returns:
            Best first, each sentence once.
        """
        prefixes = self.decoder.begin(sound)
        states = self.decoder.read(sound, prefixes, np.array([self.start]))[0, :, -1]
        self.prior.begin()
        live = [_Live(0.0, 0.0, self.tree.root, (), ())]
        finished: dict[tuple[str, ...], Sentence] = {}
        best = _Best()
        for _ in range(LONGEST_SENTENCE):
            log_probabilities = self.vocabulary.log_probabilities(states)
            expected = self.prior.after([one.tokens for one in live])
            gains = log_probabilities - self.options.prior_weight * expected
            for row, one in enumerate(live):
                ending = self.tree.steps(one.place).ending
                if ending is not None:
                    sentence = Sentence(
                        (*one.words, ending),
                        one.tokens,
                        one.score + float(gains[row, self.vocabulary.end]),
                        one.log_probability + float(log_probabilities[row, self.vocabulary.end]),
                    )
                    _keep_best(finished, sentence)
                    usual = self.tree.usual_step(one.usual, ending) >= 0
                    best.take(sentence.log_probability, usual=usual)
            live, rows = self._extended(live, gains, log_probabilities, best)
            if not live:
                break
            prefixes = prefixes.select(np.array(rows))
            tokens = np.array([[one.tokens[-1]] for one in live])
            states = self.decoder.read(sound, prefixes, tokens)[0, :, 0]
        return tuple(sorted(finished.values(), key=lambda sentence: -sentence.score))

    def score(
        self, sound: Sound, spelled: Sequence[tuple[tuple[str, ...], tuple[int, ...]]]
    ) -> tuple[Sentence, ...]:
        """Score sentences of the grammar that a search did not come to, as it would have.

        Args:
            sound: The utterance.
            spelled: Each sentence with the ids of its tokens; a sentence may come in two spellings.

        Returns:
            Best first, each sentence once, in its better spelling.
        """
        if not spelled:
            return ()
        texts = [tokens for _, tokens in spelled]
        longest = max(map(len, texts))
        padded = [(*self.start, *text, *text[-1:] * (longest - len(text))) for text in texts]
        prefixes = self.decoder.begin(sound).select(np.zeros(len(texts), dtype=np.int64))
        states = self.decoder.read(sound, prefixes, np.array(padded))[0, :, len(self.start) - 1 :]
        log_probabilities = self.vocabulary.log_probabilities(states)
        found = np.zeros(len(texts))
        expected = np.zeros(len(texts))
        for place in range(longest + 1):
            rows = [row for row, text in enumerate(texts) if len(text) >= place]
            columns = [
                self.vocabulary.column_of(texts[row][place])
                if place < len(texts[row])
                else self.vocabulary.end
                for row in rows
            ]
            found[rows] += log_probabilities[rows, place, columns]
            before = self.prior.after([texts[row][:place] for row in rows])
            expected[rows] += before[np.arange(len(rows)), columns]
        finished: dict[tuple[str, ...], Sentence] = {}
        for row, (words, tokens) in enumerate(spelled):
            total = float(found[row] - self.options.prior_weight * expected[row])
            _keep_best(finished, Sentence(words, tokens, total, float(found[row])))
        return tuple(sorted(finished.values(), key=lambda sentence: -sentence.score))

    def _extended(
        self, live: list[_Live], gains: Floats, log_probabilities: Floats, best: _Best
    ) -> tuple[list[_Live], list[int]]:
        """Lengthen every prefix by every token that may follow and keep the best.

        Args:
            live: The prefixes.
            gains: What each token adds to a prefix's score, shape (prefixes, columns).
            log_probabilities: The same given the sound alone.
            best: The most probable whole sentences so far.

        Returns:
            The longer prefixes, and the row of ``live`` that each came from.
        """
        tree, options = self.tree, self.options
        scores: list[NDArray[np.float32]] = []
        unusual: list[NDArray[np.bool_]] = []
        alone: list[NDArray[np.float32]] = []
        origins: list[tuple[int, int]] = []
        for row, one in enumerate(live):
            columns = tree.steps(one.place).columns
            scores.append(one.score + gains[row, columns])
            unusual.append(tree.to_other_forms(one.place, one.usual))
            alone.append(one.log_probability + log_probabilities[row, columns])
            origins += [(row, step) for step in range(len(columns))]
        if not origins:
            return [], []
        score, probable = np.concatenate(scores), np.concatenate(alone)
        other_form = np.concatenate(unusual)
        rank = score - options.unusual * other_form
        order = np.argsort(-rank, kind="stable")[: options.beam]
        least = probable[order].max() - options.width
        floors = (
            max(least, best.of_usual - options.finished_width),
            max(least, best.of_all - options.finished_width),
        )
        kept, rows = [], []
        for i in order:
            if probable[i] < floors[int(other_form[i])]:
                continue
            row, step = origins[i]
            one, steps = live[row], tree.steps(live[row].place)
            word = steps.words[step]
            kept.append(
                _Live(
                    float(score[i]),
                    float(probable[i]),
                    steps.targets[step],
                    one.words if word is None else (*one.words, word),
                    (*one.tokens, self.vocabulary.token_of(steps.symbols[step])),
                    tree.usual_step(one.usual, word),
                )
            )
            rows.append(row)
        return kept, rows


def _keep_best(finished: dict[tuple[str, ...], Sentence], sentence: Sentence) -> None:
    """Keep the better of two spellings of the same words."""
    known = finished.get(sentence.words)
    if known is None or known.score < sentence.score:
        finished[sentence.words] = sentence
