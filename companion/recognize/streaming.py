"""Vosk, the streaming engine, for whoever has one of its English models.

A Vosk grammar is a list of phrases from which the engine makes a model of which word follows
which. It is given every pair of words that may follow each other in a call, and ``[unk]`` for all
else; so it holds an utterance to the words of the grammar but not to its sentences, and what it
hears is matched to a sentence afterwards.
"""

from __future__ import annotations

import importlib.util
import itertools
import json
import math
import os
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from platformdirs import user_cache_path, user_data_path

from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.other_numbers import WordStates
from companion.installed import to_add_extra
from companion.recognize.probabilities import softmax
from companion.recognize.protocol import Hypothesis, Recognition, RecognizerUnavailable

if TYPE_CHECKING:
    import vosk

UNKNOWN = "[unk]"
"""What Vosk writes for sound that is none of its words."""
ALTERNATIVES = 8
MODEL_VARIABLE = "VOSK_MODEL_PATH"
"""Environment variable that names the folder of a model, or a folder of models."""
_PIECE = SAMPLE_RATE // 4
_FULL_SCALE = 32767


def model_folders() -> tuple[Path, ...]:
    """Return the folders in which models are looked for, in order."""
    named = os.environ.get(MODEL_VARIABLE)
    return (
        *((Path(named),) if named else ()),
        _own_models(),
        user_cache_path("vosk"),
        Path("/usr/share/vosk"),
    )


def _own_models() -> Path:
    return user_data_path("bench-companion", appauthor=False) / "models"


def how_to_get() -> str:
    """What to do where there is no model that will do."""
    return f"put the folder of an English one into '{_own_models()}', or name it with --model."


def is_model(folder: Path) -> bool:
    """Whether a folder holds a Vosk model, by the files that every one has."""
    return (folder / "am" / "final.mdl").is_file() and (folder / "conf").is_dir()


def load(model: Path | None) -> StreamingRecognizer:
    """As ``RecognizerModule`` has it."""
    return StreamingRecognizer(model)


def found() -> str:
    """As ``RecognizerModule`` has it."""
    if not importlib.util.find_spec("vosk"):
        raise RecognizerUnavailable(
            f"Vosk is not installed; install it with: {to_add_extra('vosk')}"
        )
    return f"Vosk, with the model in '{find_model()}'."


def find_model(wanted: Path | None = None) -> Path:
    """Find the folder of a model; nothing is ever downloaded.

    Args:
        wanted: The folder itself, or the name of a model in one of ``model_folders``; any English
            one if None.

    Raises:
        RecognizerUnavailable: If there is none, or it is no Vosk model.
    """
    if wanted is not None:
        for folder in (wanted, *(place / wanted for place in model_folders())):
            if is_model(folder):
                return folder
        raise RecognizerUnavailable(f"'{wanted}' is no Vosk model; {how_to_get()}")
    for place in model_folders():
        if is_model(place):
            return place
        for pattern in ("vosk-model-small-en*", "vosk-model-en*"):
            for folder in sorted(place.glob(pattern)):
                if is_model(folder):
                    return folder
    raise RecognizerUnavailable(f"No English Vosk model was found; {how_to_get()}")


def word_pairs(grammar: WordStates) -> list[str]:
    """Return every pair of words that may follow each other, and every call of one word, sorted."""
    phrases: set[str] = set()
    seen = {grammar.start}
    waiting = [grammar.start]
    while waiting:
        state = waiting.pop()
        for word, target in grammar.arcs(state).items():
            if state == grammar.start and grammar.is_final(target):
                phrases.add(word)
            phrases.update(f"{word} {following}" for following in grammar.arcs(target))
            if target not in seen:
                seen.add(target)
                waiting.append(target)
    return sorted(phrases)


class StreamingRecognizer:
    """Vosk under a grammar, as a ``Recognizer``."""

    def __init__(self, model: Path | None = None) -> None:
        """Load a model.

        Args:
            model: See ``find_model``.

        Raises:
            RecognizerUnavailable: If the engine is not installed or the model is missing or broken.
        """
        try:
            import vosk
        except ModuleNotFoundError as error:
            raise RecognizerUnavailable(
                f"Vosk is not installed; install it with: {to_add_extra('vosk')}"
            ) from error
        folder = find_model(model)
        vosk.SetLogLevel(-1)
        try:
            self._model: vosk.Model = vosk.Model(model_path=str(folder))
        # The library raises plain Exception.
        except Exception as error:
            raise RecognizerUnavailable(
                f"The Vosk model '{folder}' is damaged or incomplete; {how_to_get()}"
            ) from error
        self._folder = folder
        self._ranked: vosk.KaldiRecognizer | None = None
        self._sure: vosk.KaldiRecognizer | None = None

    @property
    def name(self) -> str:
        """The engine and its model, as the log names them."""
        return f"vosk ({self._folder.name})"

    def listen_for(self, grammar: WordStates) -> None:
        """Hold every later utterance to the words of this grammar.

        Raises:
            RecognizerUnavailable: If the model knows none of them.
        """
        import vosk

        known = {word for word in grammar.words if self._model.vosk_model_find_word(word) >= 0}
        if not known:
            raise RecognizerUnavailable(
                f"The Vosk model '{self._folder}' knows no word of the calls: another language; "
                f"{how_to_get()}"
            )
        pairs = [pair for pair in word_pairs(grammar) if known.issuperset(pair.split())]
        phrases = json.dumps([*pairs, UNKNOWN], ensure_ascii=False)
        # One result holds either alternatives or the confidence of each word, so two listen.
        self._ranked = vosk.KaldiRecognizer(self._model, SAMPLE_RATE, phrases)
        self._ranked.SetMaxAlternatives(ALTERNATIVES)
        self._ranked.SetWords(True)
        self._sure = vosk.KaldiRecognizer(self._model, SAMPLE_RATE, phrases)
        self._sure.SetWords(True)

    def recognize(
        self,
        samples: NDArray[np.float32],
        *,
        call_sign_needed: bool = False,
        number_alone: bool = False,
    ) -> Recognition:
        """Recognize one utterance.

        Args:
            samples: Shape (n,), mono, -1 to 1, at 16 kHz.
            call_sign_needed: Makes no difference here: what is heard shows whether it was there.
            number_alone: Likewise: what is listened for are words that may follow each other.
        """
        if self._ranked is None or self._sure is None:
            raise RuntimeError("listen_for comes before recognize")
        began = time.perf_counter()
        hypotheses = ranked_hypotheses(_results(self._ranked, samples))
        sure = call_confidence(_results(self._sure, samples)) if hypotheses else 0.0
        return Recognition(self.name, hypotheses, sure, None, time.perf_counter() - began)

    def transcribe(self, samples: NDArray[np.float32]) -> str | None:
        """Transcribe free speech of any length, with the model's own language model.

        Args:
            samples: Shape (n,), mono, -1 to 1, at 16 kHz.
        """
        import vosk

        free = vosk.KaldiRecognizer(self._model, SAMPLE_RATE)
        texts = (result.get("text", "") for result in _results(free, samples))
        return " ".join(text for text in texts if text)


def _results(
    recognizer: vosk.KaldiRecognizer, samples: NDArray[np.float32]
) -> list[dict[str, Any]]:
    """Everything that a recognizer makes of an utterance: a result for each stretch between
    pauses."""
    data = np.round(np.clip(samples, -1.0, 1.0) * _FULL_SCALE).astype("<i2")
    results: list[dict[str, Any]] = []
    for begin in range(0, len(data), _PIECE):
        if recognizer.AcceptWaveform(data[begin : begin + _PIECE].tobytes()):
            results.append(json.loads(recognizer.Result()))
    results.append(json.loads(recognizer.FinalResult()))
    return results


@dataclass(frozen=True, slots=True)
class _Alternative:
    words: tuple[str, ...]
    score: float


def ranked_hypotheses(results: Sequence[dict[str, Any]]) -> tuple[Hypothesis, ...]:
    """Read the hypotheses out of results with alternatives.

    Args:
        results: As Vosk's JSON has them, one a stretch between pauses: ``alternatives``, each
            with ``text`` and
            ``confidence``, a log score on a scale of the engine's own.

    Returns:
        Best first. ``[unk]`` stands for a word that is not of the grammar: it may be the "not" that
        turns the rest around. A stretch of nothing else is left out.
    """
    stretches: list[list[_Alternative]] = []
    for result in results:
        found = [
            _Alternative(_words(alternative["text"]), float(alternative.get("confidence", 0.0)))
            for alternative in result.get("alternatives", ())
        ]
        if any(set(alternative.words) - {UNKNOWN} for alternative in found):
            stretches.append(found)
    if not stretches:
        return ()
    joined: dict[tuple[str, ...], float] = {}
    for combination in itertools.islice(itertools.product(*stretches), 4096):
        words = tuple(word for alternative in combination for word in alternative.words)
        score = sum(alternative.score for alternative in combination)
        if words:
            joined[words] = max(score, joined.get(words, -math.inf))
    best = sorted(joined.items(), key=lambda item: -item[1])[:ALTERNATIVES]
    shares = softmax(np.array([score for _, score in best]))
    return tuple(
        Hypothesis(" ".join(words), score, float(share))
        for (words, score), share in zip(best, shares, strict=True)
    )


def call_confidence(results: Iterable[dict[str, Any]]) -> float:
    """Estimate the probability of a call from results with word confidences.

    Args:
        results: As Vosk's JSON has them: ``result``, each word with ``conf``, ``start`` and
            ``end`` in seconds.

    Returns:
        Mean confidence over the time spoken, in which sound that was no word counts as none. Not
        calibrated: no English model was at hand.
    """
    spoken = believed = 0.0
    for result in results:
        for word in result.get("result", ()):
            length = float(word["end"]) - float(word["start"])
            spoken += length
            if word["word"] != UNKNOWN:
                believed += length * float(word["conf"])
    return min(1.0, believed / spoken) if spoken > 0 else 0.0


def _words(text: str) -> tuple[str, ...]:
    """Its words, several unknown ones in a row as one."""
    words: list[str] = []
    for word in text.split():
        if word != UNKNOWN or words[-1:] != [UNKNOWN]:
            words.append(word)
    return tuple(words)
