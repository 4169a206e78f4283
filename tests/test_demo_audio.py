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
from companion.replay import ReplaySession, load_replay
from companion.shelf.load import load_card, load_sheet
from companion.shelf.words import vocabulary_of
from companion.shipped import demonstration, shipped

SESSIONS = sorted(path.parent for path in shipped("demo_sessions").glob("**/session.toml"))
"""Those that a name plays, and the earlier jobs in their folders."""
DEMONSTRATIONS = sorted(path.parent for path in shipped("demo_sessions").glob("*/session.toml"))
RECORDINGS = [folder / each.file for folder in SESSIONS for each in load_replay(folder).recording]
LONGEST = 360.0
"""Seconds of sound in one demonstration, its earlier jobs too: a newcomer waits for it."""
LARGEST = 6_000_000
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
    return script_in(folder)


def script_in(folder: Path) -> dict[str, Any]:
    return tomllib.loads((folder / "script.toml").read_text(encoding="utf-8"))


@pytest.fixture
def grammar(plan: ReplaySession) -> CallGrammar:
    card = None if plan.job is None else load_card(plan.job)
    assert plan.machine is not None
    return load_grammar(vocabulary_of(card, load_sheet(plan.machine), plan.call_sign))


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


@pytest.mark.parametrize("folder", DEMONSTRATIONS, ids=lambda folder: folder.name)
def test_a_demonstration_is_short_and_small(folder: Path) -> None:
    paths = list(folder.rglob("*.flac"))
    assert sum(soundfile.info(path).duration for path in paths) <= LONGEST
    assert sum(path.stat().st_size for path in paths) <= LARGEST


def test_an_earlier_job_is_of_the_same_machine_and_is_over_when_the_next_begins() -> None:
    chained = [(each, load_replay(each)) for each in SESSIONS]
    chained = [(folder, plan) for folder, plan in chained if plan.before is not None]
    assert chained
    for folder, plan in chained:
        source = folder / str(plan.before)
        earlier = load_replay(source)
        assert earlier.machine == plan.machine
        last = earlier.recording[-1]
        length = timedelta(seconds=soundfile.info(source / last.file).duration)
        assert last.at + length < plan.recording[0].at


def test_every_call_of_the_script_is_a_sentence_of_its_grammar(
    plan: ReplaySession, script: dict[str, Any], grammar: CallGrammar
) -> None:
    calls = [line["call"] for line in lines(script) if "call" in line]
    assert len(calls) >= (30 if plan.job else 1)
    assert [call for call in calls if not grammar.parse(call.split())] == []


def test_every_note_opens_as_a_note_and_goes_on_freely(
    script: dict[str, Any], grammar: CallGrammar
) -> None:
    notes = [line["note"].split() for line in lines(script) if "note" in line]
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
    if plan.mode == "open-mic" and plan.job is not None:
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


def test_the_generator_shows_what_can_go_otherwise() -> None:
    """A danger from an earlier job, a correction, a disregard, a slip, a "no", noise, notes."""
    folder = demonstration("generator-load-check")
    before = [line.get("call", "") for line in lines(script_in(folder / "last-week"))]
    assert "bench fuel line cracked" in before
    script = script_in(folder)
    calls = [line.get("call", "") for line in lines(script)]
    both = " / ".join(calls)
    for part in ("correction", "disregard", "forty volts", "fourteen volts", "negative"):
        assert part in both
    assert calls.count("bench clear to start") == 2
    held = calls.index("bench clear to start")
    assert held < calls.index("bench replaced fuel line") < calls.index("bench engine running")
    assert calls[-1] == "bench close job", "closed without being asked about what is left"
    assert any("note" in line for line in lines(script))
    assert any("noise" in line for line in lines(script))
    assert {each["under"]["noise"] for each in script["recording"]} >= {"engine", "compressor"}


def test_the_mower_shows_a_whole_service() -> None:
    """Step by step to the last, parked and taken up again, the start asked for at every stage."""
    calls = [
        line.get("call", "") for line in lines(script_in(demonstration("mower-autumn-service")))
    ]
    for part in ("park job", "resume", "what's left", "skip step not needed", "close job"):
        assert part in calls
    assert calls.count("clear to start") == 4
    assert calls.index("park job") < calls.index("resume") < calls.index("clear to start")
