"""The embedded recognizer: Whisper with constrained decoding, held to the grammar."""

from __future__ import annotations

import importlib.util
import math
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import ThreadpoolController

from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar
from companion.grammar.free_speech import is_free_speech, opens_free_speech
from companion.grammar.numbers_alone import SaidMost, WithNumbersAlone
from companion.recognize.call_sign import may_begin_with
from companion.recognize.clearness import doubt, falling, narrow
from companion.recognize.constrained_decoding import (
    ConstrainedDecoder,
    ScoredVocabulary,
    SearchOptions,
    Sentence,
)
from companion.recognize.decoder import Sound
from companion.recognize.evidence import call_confidence, evidence, said_once
from companion.recognize.free import decode_freely
from companion.recognize.free_memory import give_back
from companion.recognize.mel import FRAMES_PER_SECOND
from companion.recognize.model import (
    LONGEST_WINDOW,
    PACKAGE_SHA256,
    WhisperModel,
    how_to_get,
    packaged_folder,
)
from companion.recognize.other_words import better_word
from companion.recognize.phoneme_search import likeliest_sentences
from companion.recognize.phonemes import FRAMES_PER_SECOND as PHONEME_FRAMES
from companion.recognize.phonemes import LastLayer, PhonemeNetwork
from companion.recognize.prefix_tree import PrefixTree
from companion.recognize.prior import Prior
from companion.recognize.probabilities import softmax
from companion.recognize.pronunciation import ways_of, ways_to_say
from companion.recognize.protocol import Hypothesis, Recognition, RecognizerUnavailable
from companion.recognize.unlisted import unlisted
from companion.recognize.weighing import Weighed, weigh

SHORTEST_SPEECH = 0.1
"""Seconds; no word of any grammar is shorter."""
QUIETEST_PEAK = 1e-3
"""Of full scale (-60 dB): a clip that never gets louder holds no call."""
SHORTEST_WINDOW = 5 * FRAMES_PER_SECOND
"""Frames. The model was trained on 30 s; below about five it hears worse, above it only costs
time."""
WINDOW_STEP = FRAMES_PER_SECOND
"""Windows are whole seconds long."""
WINDOW_MARGIN = FRAMES_PER_SECOND // 2
"""Silence kept after the speech, in frames."""
NEAR_SILENCE_RMS = 1e-4
HYPOTHESES = 8
BY_PHONEMES = 6
"""Sentences of plain forms that the phonemes may add to what the search finds."""
OTHERS_BY_PHONEMES = 4
"""The same of other forms."""
SEARCHED = 18
"""Sentences of the search that are weighed; in most sounds it finds fewer."""
HEAD = 4 * SAMPLE_RATE
"""Samples in which the call sign is looked for; most talk is longer than that."""
TAIL_FRAMES = 4
"""Phoneme frames after the end of the sound, of 20 ms each: the last phoneme may lie there."""
TEMPERATURE = 1.62
"""Scores are divided by this before they become shares, where a sound falls as steeply as
``USUAL_FALL``: with echoes and in noise they are more confident than they are right."""
USUAL_FALL = 10.0
"""dB; see ``companion.recognize.clearness``."""
LESS_FOR_FALLING = 0.036
"""By how much the temperature's logarithm is less for each dB that a sound falls more."""
MORE_FOR_NARROW = 1.3
"""How many times as high the temperature is where a sound has nothing above a telephone's band: all
seven of 28,000 calls that were recorded wrong without it came through one
(``docs/hearing.md``)."""


@dataclass(frozen=True)
class _HeldTo:
    """A grammar, prepared.

    Attributes:
        grammar: The grammar.
        decoding: Whisper's decoder held to it.
        phonemes: The grammar spelled in phonemes.
        call_signs: Ways to pronounce the call sign.
        said_most: What is searched, and which forms of it are the usual ones.
    """

    grammar: CallGrammar
    decoding: ConstrainedDecoder
    phonemes: PrefixTree
    call_signs: tuple[tuple[int, ...], ...]
    said_most: SaidMost

    @cached_property
    def with_numbers_alone(self) -> _HeldTo:
        """The same, with numbers alone besides; made when the first is asked about."""
        wider = WithNumbersAlone(self.grammar)
        tree = self.decoding.tree
        return replace(
            self,
            decoding=replace(self.decoding, tree=PrefixTree(wider, tree.spelling)),
            phonemes=PrefixTree(wider, ways_of),
            said_most=wider,
        )


class HeldRecognizer:
    """Whisper held to a grammar, as a ``Recognizer``."""

    def __init__(self, folder: Path | None = None, options: SearchOptions | None = None) -> None:
        """Load the model.

        Args:
            folder: Of the model; the packaged one if None.
            options: How to search.

        Raises:
            RecognizerUnavailable: If the engine or the model is missing or damaged.
        """
        self._pools = ThreadpoolController()
        with self._on_one_thread():
            self._model = WhisperModel(folder)
            # Of the model alone: at the bench the words of the job are compiled meanwhile.
            self._near_silence = _near_silence(self._model)
        give_back()
        self._options = options or SearchOptions()
        # The network was fitted to the encoder of the packaged model and fits no other.
        fits = self._model.sha256 == PACKAGE_SHA256
        self._network = PhonemeNetwork() if fits else None
        self._person: str | None = None
        self._beside = ThreadPoolExecutor(1, thread_name_prefix="free decoding")
        self._held_to: _HeldTo | None = None

    @property
    def name(self) -> str:
        """The engine and its model, as the log names them."""
        person = f", fitted to {self._person}" if self._person else ""
        return f"whisper held to the grammar ({self._model.sha256[:12]}){person}"

    @property
    def model_sha256(self) -> str:
        """Of the model's weight file, in hex."""
        return self._model.sha256

    @property
    def last_layer(self) -> LastLayer | None:
        """The last layer of the phoneme network; None where there is none for this model."""
        return self._network.last_layer if self._network is not None else None

    def use_last_layer(self, layer: LastLayer, person: str) -> None:
        """Hear phonemes with a last layer that was fitted to this person."""
        if self._network is not None:
            self._network = self._network.with_last_layer(layer)
            self._person = person

    def phonemes(self, samples: NDArray[np.float32]) -> NDArray[np.float32] | None:
        """Log-probability of each phoneme in each frame of an utterance; None where there is no
        network for this model, or no sound."""
        if self._network is None or not _holds_sound(samples):
            return None
        encoded = self._model.encode(samples, window_frames(len(samples)))
        return self._phonemes_of(encoded, len(samples))

    def hidden(self, samples: NDArray[np.float32]) -> NDArray[np.float32] | None:
        """What the phoneme network's last layer is given of an utterance; None where there is no
        network for this model, or no sound."""
        if self._network is None or not _holds_sound(samples):
            return None
        encoded = self._model.encode(samples, window_frames(len(samples)))
        return self._network.hidden(encoded[0, : _phoneme_frames(encoded, len(samples))])

    def listen_for(self, grammar: CallGrammar) -> None:
        """Hold every later utterance to this grammar."""
        with self._on_one_thread():
            self._held_to = self._prepared(grammar)
        give_back()

    def _on_one_thread(self) -> AbstractContextManager[object]:
        """Matrices as small as these gain little on two, and beside another busy program the
        threads wait for each other (docs/hearing.md)."""
        limited: AbstractContextManager[object] = self._pools.limit(limits=1, user_api="blas")
        return limited

    def _prepared(self, grammar: CallGrammar) -> _HeldTo:
        model = self._model
        spelled = {word: self._spellings(word) for word in grammar.words}
        tokens = {token for ways in spelled.values() for way in ways for token in way}
        vocabulary = ScoredVocabulary(model.decoder, tokens, model.end)
        columns = {
            word: [[vocabulary.column_of(token) for token in way] for way in ways]
            for word, ways in spelled.items()
        }
        prior = Prior(model.decoder, self._near_silence, model.start, vocabulary.log_probabilities)
        return _HeldTo(
            grammar,
            ConstrainedDecoder(
                model.decoder,
                PrefixTree(grammar, columns.__getitem__),
                vocabulary,
                prior,
                model.start,
                self._options,
            ),
            PrefixTree(grammar, ways_of),
            ways_to_say(grammar.call_sign) if grammar.call_sign else (),
            grammar,
        )

    def recognize(
        self,
        samples: NDArray[np.float32],
        *,
        call_sign_needed: bool = False,
        number_alone: bool = False,
    ) -> Recognition:
        """Recognize one utterance.

        Args:
            samples: Shape (n,), mono, -1 to 1, at 16 kHz; of more than 30 s the first 30.
            call_sign_needed: Only a call that begins with the call sign counts.
            number_alone: A number by itself counts too: one is asked about.

        Returns:
            The ranked hypotheses; none for silence, for less than a tenth of a second, and for what
            plainly does not begin with the call sign that is needed.
        """
        if self._held_to is None:
            raise RuntimeError("listen_for comes before recognize")
        held_to = self._held_to.with_numbers_alone if number_alone else self._held_to
        with self._on_one_thread():
            return self._recognize(samples, held_to, call_sign_needed)

    def _recognize(
        self, samples: NDArray[np.float32], held_to: _HeldTo, call_sign_needed: bool
    ) -> Recognition:
        began = time.perf_counter()
        if not _holds_sound(samples):
            return Recognition(self.name, (), 0.0, None, time.perf_counter() - began)
        model = self._model
        head = samples[:HEAD] if call_sign_needed else samples
        encoded = model.encode(head, window_frames(len(head)))
        phonemes = self._phonemes_of(encoded, len(head))
        if (
            call_sign_needed
            and phonemes is not None
            and not may_begin_with(phonemes, held_to.call_signs)
        ):
            return Recognition(self.name, (), 0.0, None, time.perf_counter() - began)
        if len(head) < len(samples):
            encoded = model.encode(samples, window_frames(len(samples)))
            phonemes = self._phonemes_of(encoded, len(samples))
        sound = model.decoder.listen(encoded)
        # Beside the search: it waits for memory most of the time, and so does the search.
        freely = self._beside.submit(decode_freely, model.decoder, sound, model.start, model.end)
        sentences = held_to.decoding.search(sound)[:SEARCHED]
        if phonemes is not None:
            sentences += self._by_phonemes(phonemes, sound, sentences, held_to)
        free = freely.result()
        if not sentences:
            return Recognition(self.name, (), 0.0, None, time.perf_counter() - began)
        weighed = weigh(sentences, phonemes)
        transcript = said_once(model.text(free.tokens))
        found = evidence(weighed[0], free, transcript, doubt(phonemes))
        if is_free_speech(weighed[0].sentence.words, held_to.grammar) or opens_free_speech(
            transcript, held_to.grammar
        ):
            # A note is kept for reading, and is worth the slower decoding with the whole
            # vocabulary.
            transcript = self._written_well(encoded, transcript)
        temperature = temperature_of(falling(samples), narrow=narrow(samples))
        hypotheses = _confident(weighed, unlisted(found), temperature, held_to.grammar)
        otherwise = (
            None
            if phonemes is None
            else better_word(weighed[0].sentence.words, phonemes, held_to.grammar)
        )
        took = time.perf_counter() - began
        sure = call_confidence(found)
        return Recognition(self.name, hypotheses, sure, transcript, took, otherwise)

    def _written_well(self, encoded: NDArray[np.float32], transcript: str) -> str:
        """The better draft of a note; the quick one where there is none."""
        try:
            return said_once(self._model.transcribe(encoded))
        except RecognizerUnavailable:
            # The note itself was heard, and its sound is kept.
            return transcript

    def _phonemes_of(self, encoded: NDArray[np.float32], count: int) -> NDArray[np.float32] | None:
        """What the phoneme network hears, as long as the sound is; None where it does not fit the
        model."""
        if self._network is None:
            return None
        return self._network.log_probabilities(encoded[0, : _phoneme_frames(encoded, count)])

    def _by_phonemes(
        self,
        phonemes: NDArray[np.float32],
        sound: Sound,
        known: tuple[Sentence, ...],
        held_to: _HeldTo,
    ) -> tuple[Sentence, ...]:
        """Sentences that the phonemes suggest and that the search did not reach, scored as the
        search would have."""
        found = {sentence.words for sentence in known}
        left = {True: BY_PHONEMES, False: OTHERS_BY_PHONEMES}
        missed = []
        for words in likeliest_sentences(phonemes, held_to.phonemes):
            usual = held_to.said_most.is_usual(words)
            if left[usual]:
                left[usual] -= 1
                if words not in found:
                    missed.append(words)
        model = self._model
        spelled = [
            (words, model.tokens(f" {text}"))
            for words in missed
            for text in (" ".join(words), " ".join(words).capitalize())
        ]
        return held_to.decoding.score(sound, spelled)

    def transcribe(self, samples: NDArray[np.float32]) -> str | None:
        """Transcribe free speech of any length, in stretches of 30 s.

        Args:
            samples: Shape (n,), mono, -1 to 1, at 16 kHz.
        """
        longest = LONGEST_WINDOW // FRAMES_PER_SECOND * SAMPLE_RATE
        stretches = [samples[i : i + longest] for i in range(0, len(samples), longest)]
        texts = [
            self._model.transcribe(self._model.encode(stretch, window_frames(len(stretch))))
            for stretch in stretches
            if _holds_sound(stretch)
        ]
        return " ".join(text for text in texts if text)

    def _spellings(self, word: str) -> tuple[tuple[int, ...], ...]:
        """The ways in which the model may write a word: a text begins with a capital, mostly."""
        return (
            self._model.tokens(f" {word}"),
            self._model.tokens(f" {word.capitalize()}"),
        )


def load(model: Path | None) -> HeldRecognizer:
    """As ``RecognizerModule`` has it."""
    return HeldRecognizer(model)


def found() -> str:
    """As ``RecognizerModule`` has it."""
    if not (importlib.util.find_spec("ctranslate2") and importlib.util.find_spec("tokenizers")):
        raise RecognizerUnavailable(f"The Whisper recognizer is not installed; {how_to_get()}")
    return f"Whisper held to the grammar, with the model in '{packaged_folder()}'."


def is_model(folder: Path) -> bool:
    """As ``RecognizerModule`` has it."""
    return (folder / "model.bin").is_file()


def window_frames(count: int) -> int:
    """Frames of the encoder's window for so many samples."""
    speech = -(-count * FRAMES_PER_SECOND // SAMPLE_RATE)
    steps = -(-(speech + WINDOW_MARGIN) // WINDOW_STEP)
    return min(max(steps * WINDOW_STEP, SHORTEST_WINDOW), LONGEST_WINDOW)


def _near_silence(model: WhisperModel) -> Sound:
    """What a sound without any speech is to the decoder."""
    count = SHORTEST_WINDOW * SAMPLE_RATE // FRAMES_PER_SECOND
    noise = np.random.default_rng(0).standard_normal(count)
    quiet = np.asarray(noise * NEAR_SILENCE_RMS, dtype=np.float32)
    return model.decoder.listen(model.encode(quiet, SHORTEST_WINDOW))


def _phoneme_frames(encoded: NDArray[np.float32], count: int) -> int:
    """Frames of encoded sound that so many samples fill."""
    return min(int(encoded.shape[1]), -(-count * PHONEME_FRAMES // SAMPLE_RATE) + TAIL_FRAMES)


def _holds_sound(samples: NDArray[np.float32]) -> bool:
    long_enough = len(samples) >= SHORTEST_SPEECH * SAMPLE_RATE
    return bool(long_enough and np.max(np.abs(samples)) >= QUIETEST_PEAK)


def temperature_of(
    fall: float,
    usual: float = TEMPERATURE,
    less_for_falling: float = LESS_FOR_FALLING,
    *,
    narrow: bool = False,
) -> float:
    """What scores are divided by before they become shares.

    Args:
        fall: By how many dB the sound falls (``companion.recognize.clearness``).
        usual: See ``TEMPERATURE``.
        less_for_falling: See ``LESS_FOR_FALLING``.
        narrow: Whether the sound has nothing above a telephone's band; see ``MORE_FOR_NARROW``.
    """
    usual *= MORE_FOR_NARROW if narrow else 1.0
    return usual * math.exp(-less_for_falling * (fall - USUAL_FALL))


def shared(scores: Sequence[float], unlisted: float, temperature: float) -> NDArray[np.float64]:
    """Turn the scores of sentences into shares.

    Args:
        scores: Of the sentences, best first, at least one.
        unlisted: See ``companion.recognize.unlisted``.
        temperature: See ``temperature_of``.

    Returns:
        Of the same sentences; what lacks to one is the share of what is not listed.
    """
    heated = np.asarray(scores, dtype=np.float64) / temperature
    return softmax(np.append(heated, heated[0] + unlisted))[:-1]


def _confident(
    weighed: tuple[Weighed, ...],
    something_else: float,
    temperature: float,
    grammar: CallGrammar,
) -> tuple[Hypothesis, ...]:
    """Turn the scores of the sentences into confidences; they add up to one but for the share of
    what is not listed."""
    # The phonemes always count against a note, because of the words after it. It is kept all the
    # same, so that a free text that opens as a note can be taken for one.
    rest = weighed[HYPOTHESES:]
    notes = (each for each in rest if is_free_speech(each.sentence.words, grammar))
    kept = (*weighed[:HYPOTHESES], *islice(notes, 2))
    shares = shared([each.score for each in kept], something_else, temperature)
    return tuple(
        Hypothesis(" ".join(each.sentence.words), each.score, float(share))
        for each, share in zip(kept, shares, strict=True)
    )
