"""What the recognizer would have made of what was found, with other figures than it has now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass, replace

import numpy as np
from numpy.typing import NDArray

from companion.recognize import held, unlisted
from companion.recognize.evidence import evidence
from companion.recognize.protocol import Hypothesis, Recognition
from companion.recognize.weighing import Weighed
from tools.fit_evidence.collect import Heard

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Figures:
    """What is fitted.

    Attributes:
        phoneme_weight: See ``companion/recognize/weighing.py``.
        temperature: See ``companion/recognize/held.py``.
        less_for_falling: Likewise.
        unlisted: The figures of ``companion/recognize/unlisted.py``, in their order.
    """

    phoneme_weight: float
    temperature: float
    less_for_falling: float
    unlisted: unlisted.Figures


class Ranked:
    """One sound's sentences, ranked with a weight of the phonemes.

    Attributes:
        heard: What was found.
        weighed: The sentences, best first, as many as are kept.
        evidence: For the best.
        scores: Of the sentences.
        true: The place of what was said among them; None where it is not there.
    """

    def __init__(self, heard: Heard, phoneme_weight: float) -> None:
        rescored = sorted(
            (_rescored(each, phoneme_weight) for each in heard.weighed),
            key=lambda each: -each.score,
        )
        self.heard = heard
        self.weighed: Sequence[Weighed] = rescored[: held.HYPOTHESES]
        self.evidence = evidence(rescored[0], heard.free, heard.transcript, heard.doubt)
        self.scores: Floats = np.array([each.score for each in self.weighed])
        texts = [" ".join(each.sentence.words) for each in self.weighed]
        self.texts = texts
        known = heard.called and heard.said in texts
        self.true: int | None = texts.index(heard.said) if known else None

    @property
    def right(self) -> bool:
        """Whether the best sentence is what was said."""
        return self.true == 0

    def shares(self, figures: Figures) -> Floats:
        """Of the sentences."""
        something_else = unlisted.unlisted(self.evidence, figures.unlisted)
        temperature = held.temperature_of(
            self.heard.fall,
            figures.temperature,
            figures.less_for_falling,
            narrow=self.heard.narrow,
        )
        return held.shared([*self.scores], something_else, temperature)

    def recognition(self, figures: Figures, call_confidence: float) -> Recognition:
        """As the program would have it."""
        hypotheses = tuple(
            Hypothesis(text, float(score), float(share))
            for text, score, share in zip(
                self.texts, self.scores, self.shares(figures), strict=True
            )
        )
        return Recognition("whisper", hypotheses, call_confidence, self.heard.transcript, 0.0)


def ranked(heard: Sequence[Heard], phoneme_weight: float) -> list[Ranked]:
    """Rank all."""
    return [Ranked(each, phoneme_weight) for each in heard]


def matrix(items: Sequence[Ranked]) -> Floats:
    """Evidence of each and a constant, shape (n, 10)."""
    return np.array([(*astuple(each.evidence), 1.0) for each in items])


def _rescored(weighed: Weighed, phoneme_weight: float) -> Weighed:
    return replace(weighed, score=weighed.sentence.score + phoneme_weight * weighed.phonemes)
