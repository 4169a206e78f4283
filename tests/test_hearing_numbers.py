"""Many calls with a number: always the same ones, none of them lost when a run is broken off."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from companion.errors import CompanionError
from companion.grammar.compiled import load_grammar
from companion.intent.interpret import understand
from companion.intent.outcome import Listening
from tests.people_folder import packages_in
from tools.hearing import number_calls, recordings
from tools.hearing.manifest import CLEAN, RECORDED, manifest, sound_of
from tools.hearing.material import OTHER_VOICES
from tools.hearing.number_calls import Became, Begun, NumberCall, drawn, taken_up
from tools.hearing.surroundings import MICROPHONES

GRAMMAR = load_grammar()
BEGUN = Begun(recognizer="whisper", program="a" * 64, recordings=0)


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return packages_in(tmp_path_factory.mktemp("packages"))


def became(number: int, outcome: str = "right") -> Became:
    call = drawn(number, (), GRAMMAR)
    return Became.model_validate(
        {"call": call, "outcome": outcome, "taken": call.said, "confidence": 0.9}
    )


# --- what is drawn -------------------------------------------------------------------------------
def test_every_kind_of_call_voice_microphone_and_noise_is_drawn(root: Path) -> None:
    kept = recordings.kept_back([root])
    calls = [drawn(number, kept, GRAMMAR) for number in range(400)]
    assert {call.voice for call in calls} == set(OTHER_VOICES)
    assert {call.microphone for call in calls} == set(MICROPHONES)
    assert {call.template for call in calls} == {text for text, _ in number_calls.TEMPLATES}
    noises = Counter(call.noise for call in calls)
    assert 0.1 < noises[CLEAN] / 400 < 0.3
    assert 0.3 < noises[RECORDED] / 400 < 0.5
    assert 0.15 < sum(call.away for call in calls) / 400 < 0.35
    assert calls == [drawn(number, kept, GRAMMAR) for number in range(400)]


def test_every_call_is_understood_when_typed_and_has_a_number() -> None:
    for number in range(200):
        said = drawn(number, (), GRAMMAR).said
        assert understand(said, GRAMMAR, Listening()).outcome == "record", said


def test_numbers_that_sound_alike_are_drawn_often() -> None:
    words = Counter(
        word for number in range(500) for word in drawn(number, (), GRAMMAR).said.split()
    )
    for teen, ten in (("thirteen", "thirty"), ("fifteen", "fifty"), ("seventeen", "seventy")):
        # Drawn evenly from 2 to 99, either would come up some five times.
        assert words[teen] >= 10
        assert words[ten] >= 10


def test_a_call_sounds_the_same_every_time(root: Path) -> None:
    kept = recordings.kept_back([root])
    call = next(one for one in (drawn(n, kept, GRAMMAR) for n in range(99)) if one.recording)
    one = number_calls.sound_of(call, kept)
    assert np.array_equal(one, number_calls.sound_of(call, kept))
    assert 0 < np.abs(one).max() <= 1


# --- a run that is broken off --------------------------------------------------------------------
def test_what_was_heard_is_taken_up_and_a_torn_line_heard_again(tmp_path: Path) -> None:
    file = tmp_path / "calls.jsonl"
    assert taken_up(file, BEGUN) == {}
    with file.open("a", encoding="utf-8") as begun:
        begun.write(became(0).model_dump_json() + "\n" + became(1).model_dump_json()[:40])
    assert taken_up(file, BEGUN) == {0: became(0)}
    assert file.read_text(encoding="utf-8").count("\n") == 2


def test_the_file_of_another_run_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "calls.jsonl"
    taken_up(file, BEGUN)
    other = Begun(recognizer="whisper", program="b" * 64, recordings=0)
    with pytest.raises(CompanionError, match="begun by another program"):
        taken_up(file, other)
    assert taken_up(file, BEGUN) == {}


def test_a_file_that_is_something_else_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    file = tmp_path / "notes.txt"
    file.write_text("buy milk\n", encoding="utf-8")
    with pytest.raises(CompanionError, match="no file of calls"):
        taken_up(file, BEGUN)
    assert file.read_text(encoding="utf-8") == "buy milk\n"
    with pytest.raises(CompanionError, match="cannot be"):
        taken_up(tmp_path, BEGUN)


def test_what_is_heard_is_kept_and_counted(
    tmp_path: Path, root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, kept = tmp_path / "calls.jsonl", recordings.kept_back([root])
    found = number_calls.heard(2, file, "whisper", kept)
    assert "0 of 2 calls were heard before" in capsys.readouterr().out
    assert [one.call for one in found] == [drawn(number, kept, GRAMMAR) for number in range(2)]
    assert len(file.read_text(encoding="utf-8").splitlines()) == 3
    assert number_calls.heard(2, file, "whisper", kept) == found
    assert "2 of 2 calls were heard before" in capsys.readouterr().out
    later = number_calls.heard(1, file, "whisper", kept, first=2)
    assert [one.call for one in later] == [drawn(2, kept, GRAMMAR)]


# --- how it is counted ---------------------------------------------------------------------------
def test_every_call_that_was_recorded_wrong_is_printed() -> None:
    found = [became(0), became(1, "asked"), became(2, "wrong")]
    printed = number_calls.text_of(found)
    assert "recorded wrong: 1 of 3, 1 in 3" in printed
    rows = [row for row in printed.splitlines() if row.startswith(f"| {found[2].call.said} ")]
    assert len(rows) == 1
    assert "recorded wrong: 0 of 2, fewer than 1 in 2" in number_calls.text_of(found[:2])


def test_levels_are_counted_in_steps() -> None:
    def call(noise: str, level: float) -> NumberCall:
        return NumberCall(0, "", "", "", 1, 1, False, "plain", noise, level, "", 0)

    level_of = number_calls.KEYS["speech over noise"]
    assert level_of(call("engine", 9.9)) == " 5 to 10 dB"
    assert level_of(call("engine", 10.0)) == "10 to 15 dB"
    assert level_of(call(CLEAN, 0.0)) == CLEAN


# --- the calls of the bench over real recordings -------------------------------------------------
def test_the_bench_has_its_calls_over_real_recordings_where_there_are_any(root: Path) -> None:
    kept = recordings.kept_back([root])
    without, clips = manifest(OTHER_VOICES), manifest(OTHER_VOICES, recordings=kept)
    recorded = [clip for clip in clips if clip.noise == RECORDED]
    assert clips[: len(without)] == without
    assert len(clips) == len(without) + len(recorded)
    assert {clip.condition for clip in recorded} == {f"{RECORDED} {dB} dB" for dB in (20, 10, 5)}
    assert {clip.recording for clip in recorded} == set(kept)
    assert {clip.voice for clip in recorded} == set(OTHER_VOICES)
    clip = recorded[0]
    assert np.array_equal(sound_of(clip), sound_of(clip))
