"""Bad input: one sentence that says what to do, the right exit status, and never a traceback."""

from __future__ import annotations

import os
import stat
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.conftest import Run, one_sentence


def test_wrong_use_exits_with_two(companion: Run) -> None:
    for arguments in (["work", "--nonsense"], ["fly"], ["hear"]):
        run = companion(*arguments)
        assert run.returncode == 2
        assert "Traceback" not in run.stderr


def test_a_job_card_that_is_not_there(companion: Run) -> None:
    sentence = one_sentence(companion("understand", "roger", "--job", "nowhere.toml"), 1)
    assert "nowhere.toml" in sentence


def test_a_job_card_that_is_not_toml_names_the_line(companion: Run, tmp_path: Path) -> None:
    card = tmp_path / "card.toml"
    card.write_text('name = "x"\ntitle = \n')
    sentence = one_sentence(companion("understand", "roger", "--job", card), 1)
    assert "card.toml:2" in sentence


def test_a_spec_sheet_with_an_unknown_unit_names_line_and_reason(
    companion: Run, tmp_path: Path
) -> None:
    sheet = tmp_path / "sheet.toml"
    sheet.write_text(
        'name = "trial"\nkind = "tiller"\n\n[[reading]]\nmeasure = "gap"\nunit = "furlong"\n'
    )
    sentence = one_sentence(companion("understand", "roger", "--machine", sheet), 1)
    assert "sheet.toml:6" in sentence
    assert "furlong" in sentence


def test_a_sound_file_that_is_not_there_costs_only_itself(companion: Run, tmp_path: Path) -> None:
    silence = tmp_path / "silence.wav"
    soundfile.write(silence, np.zeros(16000, np.float32), 16000)
    run = companion("hear", tmp_path / "gone.wav", silence, "--json")
    assert "gone.wav" in one_sentence(run, 1)
    assert '"outcome": "ignore"' in run.stdout


@pytest.mark.parametrize("kind", ["empty", "text", "truncated header"])
def test_files_that_hold_no_sound(companion: Run, tmp_path: Path, kind: str) -> None:
    path = tmp_path / "clip.wav"
    content = {"empty": b"", "text": b"gap thirty thou\n" * 40, "truncated header": b"RIFF\0\0"}
    path.write_bytes(content[kind])
    assert "clip.wav" in one_sentence(companion("hear", path, "--json"), 1)


def test_odd_but_readable_sound_is_heard_without_complaint(companion: Run, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "clipped.wav", np.ones(16000, np.float32), 16000)
    soundfile.write(tmp_path / "stereo.wav", np.zeros((48000, 2), np.float32), 48000)
    soundfile.write(tmp_path / "telephone.wav", np.zeros(8000, np.float32), 8000)
    soundfile.write(tmp_path / "blip.wav", np.zeros(3, np.float32), 16000)
    with wave.open(str(tmp_path / "nothing.wav"), "wb") as file:
        file.setparams((1, 2, 16000, 0, "NONE", ""))
    names = ["clipped.wav", "stereo.wav", "telephone.wav", "blip.wav"]
    run = companion("hear", *[tmp_path / name for name in names], "--json")
    assert run.returncode == 0, run.stderr
    assert run.stdout.count('"outcome"') == len(names)
    assert '"outcome": "record"' not in run.stdout
    assert "nothing.wav" in one_sentence(companion("hear", tmp_path / "nothing.wav"), 1)


def test_no_microphone_says_so_and_how_to_go_on(companion: Run) -> None:
    sentence = one_sentence(companion("work", "--quiet"), 1)
    assert "microphone" in sentence
    assert "--typed" in sentence


def test_a_recognizer_that_does_not_exist(companion: Run, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "clip.wav", np.zeros(16000, np.float32), 16000)
    sentence = one_sentence(companion("hear", "clip.wav", "--recognizer", "crystal"), 2)
    assert "whisper" in sentence
    assert "vosk" in sentence


def test_a_model_that_is_missing_or_broken(companion: Run, tmp_path: Path) -> None:
    soundfile.write(tmp_path / "clip.wav", np.zeros(16000, np.float32), 16000)
    broken = tmp_path / "model"
    broken.mkdir()
    (broken / "model.bin").write_bytes(b"not a model")
    for recognizer in ("whisper", "vosk"):
        for folder in (broken, tmp_path / "gone"):
            run = companion("hear", "clip.wav", "--recognizer", recognizer, "--model", folder)
            assert "model" in one_sentence(run, 1)


def test_settings_that_do_not_fit(companion: Run, shop: dict[str, str]) -> None:
    Path(shop["BENCH_COMPANION_SETTINGS"]).write_text('ounce = "metric"\n')
    assert "ounce" in one_sentence(companion("understand", "roger"), 1)


def test_a_data_folder_that_cannot_be_written(companion: Run, shop: dict[str, str]) -> None:
    # A file in the way stops root too, whom no permission stops.
    data = Path(shop["BENCH_COMPANION_DATA"])
    data.write_text("in the way")
    sentence = one_sentence(companion("work", "--typed", "--quiet", typed="gap thirty thou\n"), 1)
    assert str(data) in sentence
    if os.geteuid() != 0:
        data.unlink()
        data.mkdir(mode=stat.S_IRUSR | stat.S_IXUSR)
        one_sentence(companion("work", "--typed", "--quiet", typed="gap thirty thou\n"), 1)


def test_a_log_from_a_newer_version_is_left_alone(
    companion: Run, shop: dict[str, str], tmp_path: Path
) -> None:
    assert companion("work", "--typed", "--quiet", "--out", "job", typed="roger\n").returncode == 0
    log = tmp_path / "job" / "log.jsonl"
    newer = log.read_text().replace('"v":1', '"v":99').replace('"v": 1', '"v": 99')
    log.write_text(newer)
    for command in (["resume", "job", "--typed"], ["report", "job"], ["log", "show", "job"]):
        assert "newer" in one_sentence(companion(*command), 1)
    assert log.read_text() == newer


def test_a_session_that_is_not_there(companion: Run) -> None:
    for command in (["resume", "nowhere", "--typed"], ["report", "nowhere"], ["review", "nowhere"]):
        assert "nowhere" in one_sentence(companion(*command), 1)
    one_sentence(companion("resume", "--typed"), 1)


def test_a_folder_that_is_no_replay(companion: Run, tmp_path: Path) -> None:
    assert "session.toml" in one_sentence(companion("replay", tmp_path), 1)
    (tmp_path / "session.toml").write_text('title = "x"\n')
    assert "recording" in one_sentence(companion("replay", tmp_path), 1)
