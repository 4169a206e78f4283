"""PocketSphinx as a second pair of ears for numbers.

Its acoustic model has nothing in common with Whisper's, so that the two seldom make the same
mistake. Held to every call there is, it hears too little in a shop to be relied on alone; held to
one call with its number open it is quick, and in a quiet shop it is right.
"""

from __future__ import annotations

import importlib.resources
import math
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from companion.grammar.other_numbers import WordStates
from companion.grammar.pronounce import pronunciations
from companion.installed import to_add_extra, to_mend
from companion.recognize.protocol import Hypothesis, Recognition, RecognizerUnavailable
from companion.recognize.whole_files import Release

if TYPE_CHECKING:
    import pocketsphinx

RELEASE = Release(
    "PocketSphinx",
    "pocketsphinx==5.1.1",
    {
        "feat.params": "c982c5f75e2a30c34d2c9ef1f6b129a5a00e67e3e927565076b58664cc2404c9",
        "mdef": "2360f9a86889c1cfee8bd618a0269387911e5fb2920a594f506b18b8c79683b0",
        "means": "832019e32cac12eb318964f96f469034acb12d0348eeddc3831831a100cb4dd4",
        "noisedict": "7295b07df2c204c4f87c6782b6be1a3859d7006d4e3864181c955d6dab105a33",
        "sendump": "8c9564c0d5bef69ca9d9bf1014abe162f071644cf02cf1fa8a483c3dc165a7a8",
        "transition_matrices": "c1f7f28ea43177be734be1f88bd7f1b9a853d0e660f8599c67c6eaeca8bb539a",
        "variances": "b00d696f85e96834fc10f8e5f06428d8c4db6bffdbe5845b6f69bf6efbc48fa5",
    },
)
"""The English model of that version, computed from its files as pip installs it."""
_FULL_SCALE = 32767
_SEARCH = "calls"

Arc = tuple[int, int, float] | tuple[int, int, float, str]
"""From, to, probability, and the word; without a word it is followed silently."""


class SphinxEars:
    """PocketSphinx with its own English model, held to a grammar."""

    name = "pocketsphinx (en-us)"

    def __init__(self) -> None:
        """Load the model.

        Raises:
            RecognizerUnavailable: If the engine is not installed, or its model is damaged.
        """
        try:
            import pocketsphinx
        except ModuleNotFoundError as error:
            raise RecognizerUnavailable(
                f"PocketSphinx is not installed; install it with: {to_add_extra('sphinx')}"
            ) from error
        folder = Path(str(importlib.resources.files("pocketsphinx") / "model" / "en-us" / "en-us"))
        RELEASE.check(folder)
        try:
            self._decoder: pocketsphinx.Decoder = pocketsphinx.Decoder(
                hmm=str(folder),
                lm=None,
                dict=None,
                # The logarithm of digital silence is not finite: a little noise is added, or
                # nothing is heard.
                dither=True,
                loglevel="FATAL",
            )
        except (RuntimeError, ValueError) as error:
            raise RecognizerUnavailable(
                "The model of PocketSphinx cannot be loaded; reinstall it with: "
                f"{to_mend(RELEASE.package)}"
            ) from error
        self._known: set[str] = set()
        self._grammar: WordStates | None = None

    def listen_for(self, grammar: WordStates) -> None:
        """Hold every later utterance to this grammar; words that nobody can pronounce are left
        out of it."""
        for word in sorted(grammar.words - self._known):
            for turn, way in enumerate(pronunciations(word), start=1):
                named = word if turn == 1 else f"{word}({turn})"
                self._decoder.add_word(named, " ".join(way), False)
                self._known.add(word)
        arcs, end = transitions(grammar, self._known)
        model = self._decoder.create_fsg(_SEARCH, grammar.start, end, arcs)
        self._decoder.add_fsg(_SEARCH, model)
        self._decoder.activate_search(_SEARCH)
        self._grammar = grammar

    def recognize(self, samples: NDArray[np.float32]) -> Recognition:
        """Recognize one utterance.

        Args:
            samples: Shape (n,), mono, -1 to 1, at 16 kHz.

        Returns:
            The likeliest sentence; none where the sound ended within one.
        """
        if self._grammar is None:
            raise RuntimeError("listen_for comes before recognize")
        began = time.perf_counter()
        data = np.round(np.clip(samples, -1.0, 1.0) * _FULL_SCALE).astype("<i2")
        self._decoder.start_utt()
        self._decoder.process_raw(data.tobytes(), full_utt=True)
        self._decoder.end_utt()
        found = self._decoder.hyp()
        heard: tuple[Hypothesis, ...] = ()
        if found is not None and is_sentence(found.hypstr.split(), self._grammar):
            share = min(1.0, float(found.prob))
            heard = (Hypothesis(found.hypstr, math.log(max(share, 1e-300)), share),)
        sure = heard[0].confidence if heard else 0.0
        return Recognition(self.name, heard, sure, None, time.perf_counter() - began)


def transitions(grammar: WordStates, known: set[str]) -> tuple[list[Arc], int]:
    """Every arc of a grammar whose word is known, and the one state in which all sentences end."""
    found: list[Arc] = []
    finals: list[int] = []
    highest = grammar.start
    for state in _reached(grammar, known):
        highest = max(highest, state)
        if grammar.is_final(state):
            finals.append(state)
        found += (
            (state, target, 1.0, word)
            for word, target in grammar.arcs(state).items()
            if word in known
        )
    end = highest + 1
    return [*found, *((state, end, 1.0) for state in finals)], end


def _reached(grammar: WordStates, known: set[str]) -> Iterator[int]:
    seen = {grammar.start}
    waiting = [grammar.start]
    while waiting:
        state = waiting.pop()
        yield state
        for word, target in grammar.arcs(state).items():
            if word in known and target not in seen:
                seen.add(target)
                waiting.append(target)


def is_sentence(words: list[str], grammar: WordStates) -> bool:
    """Whether these words are a whole sentence: where the engine reaches no end it gives its best
    beginning."""
    state = grammar.start
    for word in words:
        target = grammar.arcs(state).get(word)
        if target is None:
            return False
        state = target
    return grammar.is_final(state)
