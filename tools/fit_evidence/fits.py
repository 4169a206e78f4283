"""The fits themselves: how much the phonemes weigh, the temperature, and what is believed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import astuple

import numpy as np

from companion.recognize import held
from companion.recognize.evidence import Evidence
from tools.fit_evidence.judging import Figures, Floats, Ranked, matrix
from tools.fit_evidence.material import Kind

DECAY = 0.003
"""Of the weights: they are few and the clips many."""
PHONEME_WEIGHTS = (0.1, 0.15, 0.2, 0.25, 0.3, 0.4)
WEIGHTS_OF_KINDS: Mapping[Kind, float] = {
    "call": 1.0,
    "person": 2.0,
    "person's words": 1.0,
    "person's talk": 0.3,
    "talk": 0.3,
    "noise": 0.3,
}
"""How much a sound counts when it is fitted how sure the best sentence may be: people are who is
heard, and there are fewer sounds of theirs. Words cut out of sentences are no way to speak. Of
talk and noise no sentence found is ever right."""
CALLED: tuple[Kind, ...] = ("call", "person", "person's words")
SURE = 0.9
AS_GOOD = 0.005
"""Share of best sentences that are right, by which two weights of the phonemes may differ and count
as equally good."""


def right_share(items: Sequence[Ranked]) -> float:
    """How often the best sentence is right, each kind of sound counting as it does in the fit."""
    shares = {
        kind: np.mean([each.right for each in items if each.heard.kind == kind]) for kind in CALLED
    }
    weights = sum(WEIGHTS_OF_KINDS[kind] for kind in CALLED)
    return float(sum(WEIGHTS_OF_KINDS[kind] * share for kind, share in shares.items()) / weights)


def best_figures(items: Sequence[Ranked], phoneme_weight: float) -> tuple[Figures, float]:
    """Fit the temperature, also by how steeply a sound falls, and the share of what is not listed,
    so that the best sentence is as often right as it is said to be.

    Args:
        items: What was heard.
        phoneme_weight: That they are ranked with.

    Returns:
        The figures, and the mean surprise at whether the best sentence is right, in nats.
    """
    from scipy.optimize import minimize

    right = np.array([each.right for each in items])
    weights = np.array([WEIGHTS_OF_KINDS[each.heard.kind] for each in items])
    weights /= weights.sum()
    behind = np.full((len(items), held.HYPOTHESES), -np.inf)
    for row, each in zip(behind, items, strict=True):
        row[: len(each.scores) - 1] = each.scores[1:] - each.scores[0]
    fits = np.array(
        [
            (
                1.0,
                each.evidence.score_each,
                each.evidence.phonemes_each,
                each.evidence.free_better,
                each.evidence.doubt,
            )
            for each in items
        ]
    )
    falls = np.array([each.heard.fall - held.USUAL_FALL for each in items])
    band = np.array([held.MORE_FOR_NARROW if each.heard.narrow else 1.0 for each in items])

    def surprise(parameters: Floats) -> float:
        heat = band * np.exp(parameters[-2] - parameters[-1] * falls)
        rivals = np.logaddexp.reduce(behind / heat[:, None], axis=1)
        against = np.logaddexp(rivals, fits @ parameters[:-2])
        chance = np.where(right, -np.logaddexp(0, against), -np.logaddexp(0, -against))
        return float(-np.sum(weights * chance))

    start = np.array([-4.0, -1.0, -1.0, 1.0, 0.0, 0.3, 0.0])
    *for_each, heat, less = (float(each) for each in minimize(surprise, start, method="BFGS").x)
    always, for_tokens, for_phonemes, for_free, for_doubt = for_each
    figures = Figures(
        phoneme_weight,
        float(np.exp(heat)),
        less,
        (always, for_tokens, for_phonemes, for_free, for_doubt),
    )
    return figures, surprise(np.array([*for_each, heat, less]))


def best_weights(items: Sequence[Ranked]) -> tuple[Evidence, float]:
    """Fit a logistic regression by Newton's method; return its weights and its constant."""
    found = matrix(items)
    right = np.array([each.right for each in items], dtype=np.float64)
    weights = np.zeros(found.shape[1])
    decay = DECAY * len(items) * np.eye(len(weights))
    decay[-1, -1] = 0
    for _ in range(50):
        chance = 1 / (1 + np.exp(-found @ weights))
        slope = found.T @ (chance - right) + decay @ weights
        bend = (found * (chance * (1 - chance))[:, None]).T @ found + decay
        weights -= np.linalg.solve(bend, slope)
    return Evidence(*weights[:-1]), float(weights[-1])


def told(items: Sequence[Ranked], figures: Figures) -> Iterator[str]:
    """Of each kind of sound: how many, how often the best sentence is right, and how often it is
    taken for certain and wrong."""
    for kind in dict.fromkeys(each.heard.kind for each in items if each.heard.called):
        some = [each for each in items if each.heard.kind == kind]
        for noisy in (False, True):
            part = [each for each in some if (each.heard.noise != "clean") == noisy]
            sure = [each for each in part if each.shares(figures)[0] > SURE]
            wrong = sum(not each.right for each in sure)
            yield (
                f"  {kind}, {'in noise' if noisy else 'clean'}: {len(part)}, right "
                f"{sum(each.right for each in part) / len(part):.3f}, right and sure "
                f"{sum(each.right for each in sure) / len(part):.3f}, wrong and sure {wrong} "
                f"({wrong / len(part):.4f})"
            )


def chances(items: Sequence[Ranked], weights: Evidence, constant: float) -> Floats:
    """How far each is believed."""
    return np.asarray(1 / (1 + np.exp(-(matrix(items) @ np.array([*astuple(weights), constant])))))
