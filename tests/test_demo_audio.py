"""Demonstration sessions: their recordings are whole, and what is called in them can be said."""

from __future__ import annotations

import itertools
import tomllib
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.job.load import load_card, load_sheet
from companion.job.words import vocabulary_of
from companion.replay import ReplaySession, load_replay
from companion.shipped import demonstration, shipped

SESSIONS = sorted(path.parent for path in shipped("demo_sessions").glob("*/session.toml"))
RECORDINGS = [folder / each.file for folder in SESSIONS for each in load_replay(folder).recording]
LONGEST_SESSION = 300.0
"""Seconds of sound in one demonstration: a newcomer waits for it."""
LARGEST_SESSION = 5_000_000
"""Bytes of its recordings: they travel with every installation."""


@pytest.fixture(params=SESSIONS, ids=lambda folder: folder.name)
def folder(request: pytest.FixtureRequest) -> Path:
    found: Path = request.param
    return found


@pytest.fixture
def plan(folder: Path) -> ReplaySession:
    return load_replay(folder)


@pytest.fixture
def script(folder: Path) -> dict[str, Any]:
    return script_of(folder.name)


def script_of(name: str) -> dict[str, Any]:
    path = demonstration(name) / "script.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


@pytest.fixture
def grammar(plan: ReplaySession) -> CallGrammar:
    assert plan.job is not None
    assert plan.machine is not None
    return load_grammar(
        vocabulary_of(load_card(plan.job), load_sheet(plan.machine), plan.call_sign)
    )


def lines(script: dict[str, Any]) -> list[dict[str, Any]]:
    return [line for recording in script["recording"] for line in recording["line"]]


def test_a_session_is_shipped_and_says_that_it_is_invented() -> None:
    assert SESSIONS
    assert all(load_replay(folder).invented for folder in SESSIONS)


@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.name)
def test_a_recording_is_clean_mono_flac_at_16_khz(path: Path) -> None:
    info = soundfile.info(path)
    assert (info.format, info.samplerate, info.channels) == ("FLAC", 16_000, 1)
    samples, _ = soundfile.read(path, dtype="float32")
    assert len(samples) == info.frames
    peak = float(np.abs(samples).max())
    assert 0.1 < peak < 0.97, "too quiet to be a person, or clipped"


def test_recordings_are_the_ones_of_the_script(
    plan: ReplaySession, script: dict[str, Any], folder: Path
) -> None:
    named = [recording.file for recording in plan.recording]
    assert named == [recording["file"] for recording in script["recording"]]
    there = {path.relative_to(folder).as_posix() for path in (folder / "audio").glob("*.flac")}
    assert there == set(named)
    assert (folder / "audio" / "LICENCE.md").is_file()


def test_recordings_follow_one_another_in_time(plan: ReplaySession, folder: Path) -> None:
    for earlier, later in itertools.pairwise(plan.recording):
        length = timedelta(seconds=soundfile.info(folder / earlier.file).duration)
        assert earlier.at + length <= later.at, f"{later.file} starts before {earlier.file} ends"


def test_a_session_is_short_and_small(plan: ReplaySession, folder: Path) -> None:
    paths = [folder / recording.file for recording in plan.recording]
    assert sum(soundfile.info(path).duration for path in paths) <= LONGEST_SESSION
    assert sum(path.stat().st_size for path in paths) <= LARGEST_SESSION


def test_every_call_of_the_script_is_a_sentence_of_its_grammar(
    script: dict[str, Any], grammar: CallGrammar
) -> None:
    calls = [line["call"] for line in lines(script) if "call" in line]
    assert len(calls) >= 30
    assert [call for call in calls if not grammar.parse(call.split())] == []


def test_every_note_opens_as_a_note_and_goes_on_freely(
    script: dict[str, Any], grammar: CallGrammar
) -> None:
    notes = [line["note"].split() for line in lines(script) if "note" in line]
    assert notes
    for note in notes:
        opening = note[: note.index("note") + 1]
        rest = note[len(opening) :]
        parses = grammar.parse(opening)
        assert [parse.first("intent").value for parse in parses if parse.first("intent")] == [
            "note"
        ]
        assert rest


def test_talk_in_the_script_is_no_call(
    plan: ReplaySession, script: dict[str, Any], grammar: CallGrammar
) -> None:
    talk = [line["talk"].replace(",", "") for line in lines(script) if "talk" in line]
    if plan.mode == "open-mic":
        assert any("gap" in words.split() for words in talk), "some talk holds trade words"
    for words in talk:
        assert not words.startswith("bench")
        assert not grammar.parse(words.split())


def test_a_person_leaves_time_to_listen(script: dict[str, Any]) -> None:
    """At least a second and a half to the next call; a file may end sooner after its last."""
    for recording in script["recording"]:
        for line in recording["line"][:-1]:
            if "call" in line or "note" in line:
                index = recording["line"].index(line)
                wait = line.get("pause", 2.4) + recording["line"][index + 1].get("seconds", 0.0)
                assert wait >= 1.5, line


def test_the_tiller_shows_what_can_go_otherwise() -> None:
    """A correction, a disregard, a blocked start, a timer of hours, noise alone, free speech."""
    script = script_of("tiller-spring-service")
    calls = " / ".join(line.get("call", "") for line in lines(script))
    for part in ("correction", "disregard", "clear to start", "soak timer two hours", "close job"):
        assert part in calls
    assert calls.count("clear to start") == 2
    assert any("noise" in line for line in lines(script))


def test_the_mower_shows_a_whole_service() -> None:
    """Step by step to the last, parked and taken up again, the start asked for at every stage."""
    calls = [line.get("call", "") for line in lines(script_of("mower-autumn-service"))]
    for part in ("park job", "resume", "what's left", "skip step not needed", "close job"):
        assert part in calls
    assert calls.count("clear to start") == 4
    assert calls.index("park job") < calls.index("resume") < calls.index("clear to start")
