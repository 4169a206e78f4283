"""The companion's ears for programs of one's own: a sound and a small grammar in, words out.

``docs/library.md`` shows how it is used. Everything else in this package is internal and may change
with any version.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.audio.one_call import OneCall, find_one_call, read_one_call
from companion.audio.resample import LOWEST_RATE, mono, resample
from companion.audio.utterance import Trouble
from companion.errors import CompanionError
from companion.files.limits import HIGHEST_RATE, MOST_CHANNELS
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar
from companion.grammar.compiled import load_grammar as load_shipped
from companion.grammar.files import own_rules_of, read_own_rules
from companion.recognize.attempt import HearingFailed, attempt
from companion.recognize.choose import choose
from companion.recognize.protocol import Hypothesis, Recognizer

_JSGF = "#JSGF"
"""How every grammar begins, and no name of a file."""


@dataclass(frozen=True, slots=True)
class HeardCall:
    """What one sound was heard as.

    Attributes:
        text: The likeliest sentence of the grammar, lower-case words separated by single spaces;
            empty where nothing was heard.
        tags: Name and value of each tag of the grammar that the sentence has, in the order of its
            words: of ``{light=on}`` "light" and "on", of ``{amount}`` "amount" and the words it
            stands at.
        confidence: 0 to 1: the lower of two estimates, that the sound was a sentence of the grammar
            at all, and that of those it was this one. Fitted on the companion's own calls; with
            another grammar, try it on recordings before deciding by it.
        hypotheses: Everything that it may have been, best first, each with ``text`` and
            ``confidence`` (given that it was a sentence of the grammar).
        troubles: What is wrong with the sound: "silent", "clipped", "too-long" (more than 30
            seconds of speech are not heard) or "truncated".
    """

    text: str
    tags: tuple[tuple[str, str], ...]
    confidence: float
    hypotheses: tuple[Hypothesis, ...]
    troubles: tuple[Trouble, ...]


def load_grammar(source: str | Path | None = None) -> CallGrammar:
    """Compile a grammar in JSGF (W3C note of 5 June 2000).

    Args:
        source: The grammar itself, a text that begins with "#JSGF", or the file that holds it. A
            whole sentence is its public rule ``<call>``; the last public rule, where there is none.
            Left out, the companion's own calls.

    Raises:
        CompanionError: If the file cannot be read or the grammar is wrong, with line and reason.
    """
    if source is None:
        return load_shipped()
    if isinstance(source, str) and source.lstrip().startswith(_JSGF):
        return CallGrammar(own_rules_of(source))
    return CallGrammar(read_own_rules(Path(source)))


def hear(
    sound: str | Path | NDArray[Any],
    grammar: CallGrammar,
    *,
    rate: int = SAMPLE_RATE,
    recognizer: str = "auto",
) -> HeardCall:
    """Hear one sound as one sentence of a grammar.

    The first call loads the recognizer, which takes some seconds, and the first with another
    grammar than before prepares it. Calls from several threads wait for each other.

    Args:
        sound: A sound file (WAV, FLAC, Ogg, MP3), or samples: floats from -1 to 1, shape (n,) or
            (n, channels).
        grammar: From ``load_grammar``.
        rate: Samples per second of samples, 8,000 to 768,000 Hz; a file says its own.
        recognizer: One that ``--recognizer`` takes; "auto" for the first that is installed.

    Raises:
        CompanionError: With one sentence: if the sound cannot be used, or no recognizer is
            installed or it fails.
    """
    found = _one_call_of(sound, rate)
    if found.samples is None:
        return HeardCall("", (), 0.0, (), found.troubles)
    with _ONE_AT_A_TIME:
        ears = _ears(recognizer)
        ears.listen_for(grammar)
        try:
            recognition = attempt(ears.recognizer, found.samples, call_sign_needed=False)
        except HearingFailed as error:
            raise CompanionError(f"{error} ({error.reason})") from error
    if not recognition.hypotheses:
        return HeardCall("", (), 0.0, (), found.troubles)
    best = recognition.hypotheses[0]
    return HeardCall(
        best.text,
        _tags_of(best.text, grammar),
        min(recognition.call_confidence, best.confidence),
        recognition.hypotheses,
        found.troubles,
    )


_ONE_AT_A_TIME = Lock()
"""A recognizer works on one sound at a time, and for one grammar."""


@dataclass(slots=True)
class _Ears:
    """A recognizer, and the grammar that it listens for now."""

    recognizer: Recognizer
    grammar: CallGrammar | None = None

    def listen_for(self, grammar: CallGrammar) -> None:
        if grammar is not self.grammar:
            self.recognizer.listen_for(grammar)
            self.grammar = grammar


@cache
def _ears(name: str) -> _Ears:
    return _Ears(choose(name))


def _one_call_of(sound: str | Path | NDArray[Any], rate: int) -> OneCall:
    if isinstance(sound, str | Path):
        return read_one_call(sound)
    samples = np.asarray(sound)
    if not np.issubdtype(samples.dtype, np.floating):
        raise CompanionError(
            f"The samples are {samples.dtype}; give floats from -1 to 1 "
            "(of 16-bit ones, samples / 32768)."
        )
    if samples.ndim not in (1, 2) or (samples.ndim == 2 and samples.shape[1] > MOST_CHANNELS):
        raise CompanionError(
            f"The samples have the shape {samples.shape}; give (n,) or (n, channels)."
        )
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise CompanionError(
            f"A rate of {rate} samples a second cannot be used; "
            f"give {LOWEST_RATE} to {HIGHEST_RATE}."
        )
    return find_one_call([resample(mono(samples.astype(np.float32)), rate)])


def _tags_of(text: str, grammar: CallGrammar) -> tuple[tuple[str, str], ...]:
    parses = grammar.parse(text.split())
    if not parses:
        return ()
    return tuple(
        (node.key, parses[0].text(node) if node.value is None else node.value)
        for node in parses[0].walk()
    )
