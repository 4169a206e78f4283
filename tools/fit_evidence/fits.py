"""The fits themselves: how much the phonemes weigh, the temperature, and what is believed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np

from companion.recognize.evidence import Evidence
from tools.fit_evidence.judging import Figures, Floats, Ranked, matrix

DECAY = 0.003
"""Of the weights: they are few and the clips many."""
PHONEME_WEIGHTS = (0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.85, 1.0)
TEMPERATURES = tuple(np.arange(0.6, 4.01, 0.1).round(2))
WORSE = (0.0, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0)
PEOPLE = ("person",)
SURE = 0.9


def surprise(items: Sequence[Ranked], figures: Figures) -> float:
    """Mean surprise at what was said, in nats, where it is among what was found; people and
    synthetic voices count alike, however many sounds there are of each."""
    means = []
    for people in (True, False):
        found = [
            -np.log(max(1e-12, each.shares(figures)[each.true]))
            for each in items
            if each.true is not None and (each.heard.kind in PEOPLE) == people
        ]
        if found:
            means.append(float(np.mean(found)))
    return float(np.mean(means))


def best_temperature(items: Sequence[Ranked], phoneme_weight: float) -> tuple[Figures, float]:
    """The temperature that surprises least, and how much it does."""
    known = [each for each in items if each.true is not None]
    tried = (
        (figures := Figures(phoneme_weight, temperature, worse), surprise(known, figures))
        for temperature, worse in product(TEMPERATURES, WORSE)
    )
    return min(tried, key=lambda each: each[1])


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
    from dataclasses import astuple

    return np.asarray(1 / (1 + np.exp(-(matrix(items) @ np.array([*astuple(weights), constant])))))
