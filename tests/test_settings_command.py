"""Every setting is shown with its value, where that comes from and what it does, and set in one
line."""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path
from typing import Any

import pytest

from companion.cli import main
from companion.settings import Settings, load_settings


@pytest.fixture(autouse=True)
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the settings of an untouched shop would be."""
    monkeypatch.delenv("BENCH_COMPANION_SETTINGS", raising=False)
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "conf"))
    return tmp_path / "conf" / "bench-companion" / "settings.toml"


def printed(capsys: pytest.CaptureFixture[str], *arguments: str, status: int = 0) -> str:
    """What is printed; where it fails, the one sentence of standard error."""
    assert main(["settings", *arguments]) == status
    out, err = capsys.readouterr()
    if status:
        assert len(err.strip().splitlines()) == 1
        return err
    assert not err
    return out


def test_all_are_listed_with_their_value_and_what_they_do(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shown = printed(capsys)
    assert f"Settings file: {file} (not there yet)" in shown
    for name, field in Settings.model_fields.items():
        assert f"\n{name} = " in shown
        assert field.description, f"what {name} does is told in its docstring"
    printed(capsys, "ounce", "imperial")
    assert 'ounce = "imperial"  (from the file; else "us")' in printed(capsys, "ounce")
    told = json.loads(printed(capsys, "--json"))
    assert (told["file"], told["file_there"], told["file_from"]) == (str(file), True, "default")
    assert {each["name"]: each["from"] for each in told["items"]} == {
        name: "file" if name == "ounce" else "default" for name in Settings.model_fields
    }


@pytest.mark.parametrize(
    ("name", "typed", "value"),
    [
        ("speech_rate", "150", 150),
        ("air_temperature", "12,5", 12.5),
        ("end_pause", "0.8", 0.8),
        ("board", "yes", True),
        ("push_to_talk", "off", False),
        ("microphone", "3", 3),
        ("microphone", "head set", "head set"),
        ("shop_name", 'Rosa "R" & co', 'Rosa "R" & co'),
        ("shop_address", "1 Mill Lane\nUpper Reach", "1 Mill Lane\nUpper Reach"),
        ("keep_clips", "30", 30),
        ("call_sign", "shop", "shop"),
    ],
)
def test_one_is_set_and_unset(
    name: str, typed: str, value: Any, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert str(file) in printed(capsys, name, typed)
    read = getattr(load_settings(), name)
    assert (float(read) if isinstance(value, float) else read) == value
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert "taken out" in printed(capsys, name, "--unset")
    assert getattr(load_settings(), name) == Settings.model_fields[name].default
    assert "nothing was changed" in printed(capsys, name, "--unset")


def test_remarks_and_the_order_of_the_file_are_kept(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file.parent.mkdir(parents=True)
    file.write_text(
        "# Ours.\n\nspeech_rate = 140  # as Rosa likes it\r\n# the shop\nshop_name = 'Mill'",
        "utf-8",
    )
    printed(capsys, "speech_rate", "150")
    printed(capsys, "board", "true")
    lines = file.read_text("utf-8").splitlines()
    assert lines == [
        "# Ours.",
        "",
        "speech_rate = 150  # as Rosa likes it",
        "# the shop",
        "shop_name = 'Mill'",
        "board = true",
    ]


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("speech_rate", "1600"), "must be 300 or less"),
        (("speach_rate", "160"), "nearest are speech_rate"),
        (("ounce", "metric"), "must be one of 'us' or 'imperial'"),
        (("recognizer", "ears"), "must be one of 'auto', 'whisper' or 'vosk'"),
        (("board", "perhaps"), "must be true or false"),
        (("air_temperature", "hot"), "must be a number"),
        (("model", "nowhere"), "is no folder"),
        (("enrolled_voice", "Rosa"), "companion enroll"),
        (("shop_name", "x" * 81), "no more than 80 letters"),
        (("nothing",), "is not known"),
        (("--unset",), "which one"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(
    arguments: tuple[str, ...], why: str, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert why in printed(capsys, *arguments, status=2)
    assert not file.exists()


def test_a_named_file_that_is_missing_is_an_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    gone = tmp_path / "gone.toml"
    monkeypatch.setenv("BENCH_COMPANION_SETTINGS", str(gone))
    for arguments in ((), ("board", "true"), ("board", "--unset")):
        told = printed(capsys, *arguments, status=1)
        assert f"{gone}: this settings file cannot be read: it is not there" in told
        assert "BENCH_COMPANION_SETTINGS" in told
    assert not gone.exists()
    monkeypatch.setenv("BENCH_COMPANION_SETTINGS", os.devnull)
    assert "none is read, named by BENCH_COMPANION_SETTINGS" in printed(capsys)
    printed(capsys, "board", "true", status=1)


def test_a_fault_in_the_file_is_mended_by_setting_that_one(
    file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file.parent.mkdir(parents=True)
    file.write_text('ounce = "metric"\n', "utf-8")
    assert "settings.toml:1: 'ounce'" in printed(capsys, status=1)
    assert "settings.toml:1: 'ounce'" in printed(capsys, "board", "true", status=1)
    printed(capsys, "ounce", "us")
    assert (load_settings().ounce, load_settings().board) == ("us", True)


def test_a_link_to_where_settings_are_kept_stays_one(
    file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept = tmp_path / "kept.toml"
    kept.write_text("# kept\n", "utf-8")
    file.parent.mkdir(parents=True)
    file.symlink_to(kept)
    printed(capsys, "board", "true")
    assert file.is_symlink()
    assert kept.read_text("utf-8") == "# kept\nboard = true\n"


@pytest.mark.parametrize(
    "text", ["board = \n", "a = " + "[" * 5000, "board = true\nboard = false\n"]
)
def test_a_file_that_is_no_settings_file_is_told_of_and_left_as_it_is(
    text: str, file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file.parent.mkdir(parents=True)
    file.write_text(text, "utf-8")
    assert str(file) in printed(capsys, "board", "true", status=1)
    assert file.read_text("utf-8") == text
