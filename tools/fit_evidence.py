"""Fits what makes a call confident, on the voices that may be tuned on: ``python -m
tools.fit_evidence``.

Prints the weights for ``companion/recognize/evidence.py``, the temperature for
``companion/recognize/held.py`` and the thresholds for ``companion/intent/thresholds.py``, these by
what each mistake costs. A quarter of an hour on two cores.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, astuple, dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from companion.grammar.compiled import load_grammar
from companion.intent.thresholds import DEFAULT
from companion.recognize import held
from companion.recognize.evidence import Evidence, call_confidence
from companion.recognize.held import TEMPERATURE, HeldRecognizer
from companion.recognize.protocol import Recognition
from tests.sounds import NOISES, Samples, speak, with_pauses
from tools.fit_thresholds import GRID, cheapest, cost_of
from tools.hearing.manifest import in_noise
from tools.hearing.material import CALLS, FITTED_NOISES, TALK, TUNING_VOICES

CONDITIONS = (
    ("clean", 0.0),
    ("engine", 20.0),
    ("engine", 10.0),
    ("engine", 5.0),
    ("pink", 8.0),
    ("clanks", 8.0),
)
"""Noise, and dB of speech over it."""
DECAY = 0.003
"""Of the weights: they are few and the clips many."""


@dataclass(frozen=True)
class Tried:
    """One clip, and what was found in it.

    Attributes:
        said: What was said; empty where nobody spoke.
        evidence: For the best sentence.
        recognition: Of the recognizer as it is.
    """

    said: str
    evidence: Evidence
    recognition: Recognition

    @property
    def true(self) -> int | None:
        """The place of the call that was said among the sentences found, or None."""
        texts = [each.text for each in self.recognition.hypotheses]
        called = self.said in CALLS
        return texts.index(self.said) if called and self.said in texts else None

    @property
    def right(self) -> bool:
        """Whether the best sentence was what was said."""
        return self.true == 0

    @property
    def scores(self) -> NDArray[np.float64]:
        """Of the sentences, best first."""
        return np.array([each.score for each in self.recognition.hypotheses])

    def judged(
        self, weights: NDArray[np.float64], constant: float, temperature: float
    ) -> Recognition:
        """The recognition as it would be with other weights."""
        shares = held.shared([*self.scores], temperature)
        hypotheses = tuple(
            replace(each, confidence=float(share))
            for each, share in zip(self.recognition.hypotheses, shares, strict=True)
        )
        sure = call_confidence(self.evidence, Evidence(*weights), constant)
        return replace(self.recognition, hypotheses=hypotheses, call_confidence=sure)


def main() -> None:
    """Collect, fit and print."""
    tried = list(_tried())
    weights, constant = fit(tried)
    print(f"{len(tried)} clips, {sum(one.right for one in tried)} right")
    for name, weight in asdict(Evidence(*weights)).items():
        print(f"    {name}={weight:.2f},")
    print(f"CONSTANT = {constant:.2f}")
    best = min(np.arange(0.5, 6.01, 0.1), key=lambda warm: _surprise(tried, float(warm)))
    print(f"TEMPERATURE = {best:.1f}  (now {TEMPERATURE})")
    judged = [(one.said, one.judged(weights, constant, float(best))) for one in tried]
    found, cost = cheapest(judged)
    before = cost_of(judged, DEFAULT)
    print(
        f"cost of a clip {cost / len(tried):.3f}, with the thresholds as they are now "
        f"{before / len(tried):.3f}"
    )
    for name in GRID:
        print(f"    {name}: float = {getattr(found, name)}")


def fit(tried: list[Tried]) -> tuple[NDArray[np.float64], float]:
    """Fit a logistic regression by Newton's method; return its weights and its constant."""
    found = np.array([(*astuple(one.evidence), 1.0) for one in tried])
    right = np.array([one.right for one in tried], dtype=np.float64)
    weights = np.zeros(found.shape[1])
    decay = DECAY * len(tried) * np.eye(len(weights))
    decay[-1, -1] = 0
    for _ in range(50):
        chance = 1 / (1 + np.exp(-found @ weights))
        slope = found.T @ (chance - right) + decay @ weights
        bend = (found * (chance * (1 - chance))[:, None]).T @ found + decay
        weights -= np.linalg.solve(bend, slope)
    return weights[:-1], float(weights[-1])


def _surprise(tried: list[Tried], temperature: float) -> float:
    """Mean surprise at the true sentence, where it is among the hypotheses."""
    surprises = []
    for one in tried:
        if one.true is not None:
            scores = one.scores / temperature
            surprises.append(np.logaddexp.reduce(scores) - scores[one.true])
    return float(np.mean(surprises))


@dataclass(frozen=True)
class Sound:
    """What is heard: ``said`` by ``voice`` over a noise; a noise alone where no voice speaks."""

    said: str
    voice: str | None
    noise: str
    level: float
    seed: int

    @property
    def samples(self) -> Samples:
        """Shape (n,), 16 kHz."""
        if self.voice is None:
            return NOISES[self.noise](2.5, seed=self.seed)
        speech = with_pauses(speak(self.said, self.voice))
        return in_noise(speech, self.noise, self.level, self.seed)


def _tried() -> Iterator[Tried]:
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        yield from (one for one in pool.map(_try, _sounds(), chunksize=16) if one is not None)


@cache
def _ears() -> tuple[HeldRecognizer, list[Evidence]]:
    """This process's recognizer, and where it leaves its evidence."""
    ears = HeldRecognizer()
    ears.listen_for(load_grammar())
    kept: list[Evidence] = []
    judge = call_confidence

    def keep(found: Evidence) -> float:
        kept.append(found)
        return judge(found)

    vars(held)["call_confidence"] = keep
    return ears, kept


def _try(sound: Sound) -> Tried | None:
    ears, kept = _ears()
    kept.clear()
    recognition = ears.recognize(sound.samples)
    if not recognition.hypotheses:
        return None
    return Tried(sound.said, kept[0], recognition)


def _sounds() -> list[Sound]:
    found = []
    for number, voice in enumerate(TUNING_VOICES):
        for place, said in enumerate(CALLS):
            seed = 10_000 + place * 7 + number
            found += [Sound(said, voice, noise, level, seed) for noise, level in CONDITIONS]
        for place, line in enumerate(TALK):
            seed = 20_000 + place * 7 + number
            for noise, level in (("clean", 0.0), ("engine", 12.0)):
                found.append(Sound(line, voice, noise, level, seed))
    for noise in sorted(FITTED_NOISES):
        found += [Sound("", None, noise, 0.0, seed) for seed in range(100, 125)]
    return found


if __name__ == "__main__":
    main()
