"""The embedded recognizer on real sound: synthetic voices, a human voice, noise, talk, silence."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from statistics import median

import numpy as np
import pytest

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.files import read_rules
from companion.intent.thresholds import DEFAULT
from companion.recognize.held import HeldRecognizer, window_frames
from companion.recognize.mel import BANDS, log_mel
from companion.recognize.model import PACKAGE_SHA256, packaged_folder, sha256_of
from companion.recognize.protocol import Recognition, RecognizerUnavailable
from tests.ffmpeg import ffmpeg
from tests.sounds import NOISES, Samples, mix, pause, speak, with_pauses
from tools.hearing.human import FOLDER
from tools.hearing.measure import ears_of

CALLS = [
    "gap thirty thou",
    "compression one twenty p s i",
    "added twenty ounces of oil",
    "drained half a liter of oil",
    "start soak timer two hours",
    "tag no oil",
    "clear to start",
    "oil level full",
    "battery twelve point six volts",
    "engine speed thirty six hundred",
    "torque sixteen foot pounds",
    "replaced spark plug",
    "need two shear pins",
    "affirm",
    "disregard",
]
TALK = [
    "did you see the game last night",
    "could you close the door please it is cold in here",
    "we should order some more of those before winter",
    "my brother bought a new truck",
    "that one is going to cost about thirty dollars",
    "he has been working here for eight years",
]


def recognizer() -> HeldRecognizer:
    """The one that other files hear by as well."""
    ears, _ = ears_of("whisper")
    assert isinstance(ears, HeldRecognizer)
    return ears


@cache
def heard(said: str, voice: str) -> Recognition:
    """What it makes of words in a quiet place: once, for all that is asked about it."""
    return recognizer().recognize(with_pauses(speak(said, voice)))


def best_of(recognition: Recognition) -> str:
    return recognition.hypotheses[0].text if recognition.hypotheses else ""


def best(samples: Samples) -> str:
    return best_of(recognizer().recognize(samples))


@pytest.mark.parametrize("voice", ["slt", "rms", "gb"])
def test_clean_calls_are_heard(voice: str) -> None:
    wrong = [call for call in CALLS if best_of(heard(call, voice)) != call]
    assert len(wrong) <= 1, wrong


@pytest.mark.parametrize("noise", ["engine", "compressor"])
def test_calls_are_heard_over_shop_noise_at_20_db(noise: str) -> None:
    wrong = []
    for number, call in enumerate(CALLS):
        speech = with_pauses(speak(call, "rms"))
        sound = NOISES[noise](len(speech) / 16_000 + 0.1, seed=number)[: len(speech)]
        if best(mix(speech, sound, 20.0)) != call:
            wrong.append(call)
    assert len(wrong) <= 2, wrong


def test_hypotheses_are_ranked_sentences_of_the_grammar() -> None:
    recognition = heard("gap fifteen thou", "rms")
    scores = [hypothesis.score for hypothesis in recognition.hypotheses]
    assert scores == sorted(scores, reverse=True)
    assert sum(h.confidence for h in recognition.hypotheses) < 1.0
    for hypothesis in recognition.hypotheses:
        assert load_grammar().parse(hypothesis.text.split())
    assert recognition.decode_seconds > 0


def test_of_clear_calls_little_is_left_for_what_is_not_listed() -> None:
    """Little enough of each to record it, and less than a hundredth of most."""
    listed = [sum(h.confidence for h in heard(call, "rms").hypotheses) for call in CALLS]
    assert DEFAULT.number < min(listed)
    assert median(listed) > 0.99
    assert max(listed) < 1.0


def test_calls_are_believed_to_be_calls_and_talk_is_not() -> None:
    sure = [heard(call, "rms").call_confidence for call in CALLS]
    talk = [heard(said, "rms").call_confidence for said in TALK]
    assert min(sure) > 0.5
    assert max(talk) < 0.5
    assert sum(confidence < 0.35 for confidence in talk) >= len(TALK) - 1


@pytest.mark.parametrize("noise", sorted(NOISES))
def test_noise_alone_is_hardly_believed_to_be_a_call(noise: str) -> None:
    for seed in range(3):
        recognition = recognizer().recognize(NOISES[noise](2.0, seed=seed))
        assert recognition.call_confidence < 0.7


def test_a_note_is_heard_as_one_with_a_draft_of_its_words() -> None:
    recognition = heard("note the muffler guard is loose", "slt-hts")
    assert recognition.hypotheses[0].text == "note"
    assert recognition.transcript is not None
    assert "muffler" in recognition.transcript.lower()


def test_the_draft_of_a_note_does_not_repeat_itself() -> None:
    draft = heard("note the muffler guard is loose", "rms").transcript
    assert draft is not None
    assert draft.lower().count("muffler") == 1


@pytest.mark.parametrize("seconds", [0.0, 0.01, 0.05, 1.0])
def test_silence_and_scraps_are_nothing(seconds: float) -> None:
    recognition = recognizer().recognize(pause(seconds))
    assert recognition.hypotheses == ()
    assert recognition.call_confidence == 0.0


def test_sound_of_any_length_and_level_gives_an_answer() -> None:
    random = np.random.default_rng(1)
    for count in (1601, 7000, 16_000 * 31):
        recognizer().recognize(random.uniform(-1, 1, count).astype(np.float32))
    recognizer().recognize(np.ones(16_000, np.float32))


def test_speech_longer_than_the_usual_window_is_not_cut() -> None:
    speech = np.concatenate([pause(5.0), speak("gap thirty thou", "rms"), pause(0.5)])
    assert window_frames(len(speech)) * 160 >= len(speech)
    assert best(speech) == "gap thirty thou"


# --- a human voice ---------------------------------------------------------------------------
# Single words spoken by a person: Debian's package asterisk-core-sounds-en-g722 (G.722, 16 kHz).
HUMAN = FOLDER / "digits"
_SMALL = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
    "fifteen sixteen seventeen eighteen nineteen twenty"
)
_TENS = "thirty forty fifty sixty seventy eighty ninety"
HUMAN_WORDS = {
    **dict(enumerate(_SMALL.split())),
    **dict(zip(range(30, 100, 10), _TENS.split(), strict=True)),
}


def human_word(number: int) -> Samples:
    clip = HUMAN / f"{number}.g722"
    assert clip.is_file(), "Install it with: apt-get install asterisk-core-sounds-en-g722."
    # The raw format's own name; 16 kHz is its only rate.
    decoded = ffmpeg("-f", "g722", "-i", clip, "-f", "f32le", "-ac", "1", "-")
    return with_pauses(np.frombuffer(decoded, dtype=np.float32).copy())


def test_number_words_of_a_human_voice(tmp_path: Path) -> None:
    rules = " | ".join(HUMAN_WORDS.values())
    (tmp_path / "words.gram").write_text(
        f"#JSGF V1.0 UTF-8 en;\ngrammar words;\npublic <word> = {rules};\n"
    )
    ears = HeldRecognizer()
    ears.listen_for(CallGrammar(read_rules(tmp_path, "words", "word")))
    heard = {n: ears.recognize(human_word(n)).hypotheses[0].text for n in HUMAN_WORDS}
    wrong = {word: heard[n] for n, word in HUMAN_WORDS.items() if heard[n] != word}
    assert 1 - len(wrong) / len(HUMAN_WORDS) >= 0.93, wrong


# --- the model ---------------------------------------------------------------------------------
def test_the_packaged_weights_are_the_expected_ones() -> None:
    assert sha256_of(packaged_folder() / "model.bin") == PACKAGE_SHA256


@pytest.mark.parametrize("damage", ["missing", "cut short", "no model"])
def test_a_damaged_model_is_refused_in_one_sentence(tmp_path: Path, damage: str) -> None:
    for source in packaged_folder().iterdir():
        if damage == "missing" and source.name == "model.bin":
            continue
        data = source.read_bytes()
        if source.name == "model.bin":
            data = data[:200_000] if damage == "cut short" else b"nothing of the kind"
        (tmp_path / source.name).write_bytes(data)
    with pytest.raises(RecognizerUnavailable) as refused:
        HeldRecognizer(tmp_path)
    assert "\n" not in str(refused.value)
    assert str(tmp_path) in str(refused.value)


def test_features_are_those_of_their_definition() -> None:
    # The definition, step by step and without any of the shortcuts: a periodic Hann window of 400
    # samples every 160, the power spectrum, triangles on Slaney's mel scale with unit area, log10,
    # at most 8 (80 dB) below the loudest, scaled by (x + 4) / 4.
    random = np.random.default_rng(3)
    samples = random.uniform(-0.5, 0.5, 16_000).astype(np.float32)
    frames = 100
    # Mirrored before its start; after its end comes the silence that fills the window.
    padded = np.concatenate([samples[200:0:-1], samples, np.zeros(400, np.float32)])
    window = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(400) / 400)

    def hertz(mel: float) -> float:
        return mel * 200 / 3 if mel < 15 else 1000 * np.exp((mel - 15) * np.log(6.4) / 27)

    top = 15 + 27 * np.log(8) / np.log(6.4)
    corners = [hertz(top * i / (BANDS + 1)) for i in range(BANDS + 2)]
    expected = np.zeros((BANDS, frames))
    bins = np.arange(201) * 40.0
    for frame in range(frames):
        power = np.abs(np.fft.rfft(padded[frame * 160 : frame * 160 + 400] * window)) ** 2
        for band in range(BANDS):
            low, middle, high = corners[band : band + 3]
            rise, fall = (bins - low) / (middle - low), (high - bins) / (high - middle)
            triangle = np.maximum(0, np.minimum(rise, fall)) * 2 / (high - low)
            expected[band, frame] = np.log10(max(triangle @ power, 1e-10))
    expected = (np.maximum(expected, expected.max() - 8) + 4) / 4
    assert log_mel(samples, frames) == pytest.approx(expected, abs=2e-3)


def test_a_sentence_is_scored_alike_whether_the_search_or_the_phonemes_came_to_it() -> None:
    ears = recognizer()
    assert ears._held_to is not None
    decoding, model = ears._held_to.decoding, ears._model
    samples = with_pauses(speak("gap fifteen thou", "rms"))
    sound = model.decoder.listen(model.encode(samples, window_frames(len(samples))))
    found = decoding.search(sound)
    again = decoding.score(sound, [(s.words, s.tokens) for s in found[:6]])
    by_words = {sentence.words: sentence for sentence in again}
    for sentence in found[:6]:
        assert by_words[sentence.words].score == pytest.approx(sentence.score, abs=1e-2)
        alone = by_words[sentence.words].log_probability
        assert alone == pytest.approx(sentence.log_probability, abs=1e-2)
