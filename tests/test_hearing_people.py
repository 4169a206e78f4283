"""Sentences that people say to each other: how a folder of them is read, played and counted."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
import soxr

from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE
from tests.conftest import one_sentence
from tests.sounds import Samples, pause, speak, with_pauses
from tools.hearing import people, tables
from tools.hearing.measure import JobNames

CHECKOUT = Path(__file__).resolve().parent.parent
SAID = ("oil level full", "watch your fingers", "bench oil level full", "yes")
"""Calls stand among the talk: what is to count them must see them."""
Measure = Callable[..., subprocess.CompletedProcess[str]]


def listed(folder: Path, lines: Sequence[dict[str, Any] | str]) -> Path:
    """A folder with these lines; a text stands as it is."""
    texts = (line if isinstance(line, str) else json.dumps(line) for line in lines)
    (folder / people.SEGMENTS).write_text("".join(f"{text}\n" for text in texts), encoding="utf-8")
    return folder


def line(text: str, file: str = "a.opus", start: float = 0.0, end: float = 1.0) -> dict[str, Any]:
    return {"file": file, "start": start, "end": end, "text": text, "speaker": "a", "age": 30}


@pytest.fixture(scope="module")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two people: one file of Ogg Opus, one of FLAC at another rate, 0.3 s between sentences."""
    folder = tmp_path_factory.mktemp("people")
    lines = []
    for file, voice, texts in (("a.opus", "rms", SAID[:2]), ("b.flac", "slt", SAID[2:])):
        parts: list[Samples] = []
        for text in texts:
            start = sum(map(len, parts)) / SAMPLE_RATE
            parts += [speak(text, voice), pause(0.3)]
            lines.append(line(text, file, start, start + len(parts[-2]) / SAMPLE_RATE))
        whole = np.concatenate(parts)
        if file.endswith("opus"):
            soundfile.write(folder / file, whole, SAMPLE_RATE, format="OGG", subtype="OPUS")
        else:
            soundfile.write(folder / file, soxr.resample(whole, SAMPLE_RATE, 44_100), 44_100)
    return listed(folder, lines)


@pytest.fixture
def measure(tmp_path: Path) -> Measure:
    """Run the command as a developer would."""

    def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "tools.hearing", *map(str, arguments)],
            capture_output=True,
            text=True,
            env={**os.environ, "BENCH_COMPANION_DATA": str(tmp_path / "data")},
            cwd=CHECKOUT,
            timeout=300,
            check=False,
        )

    return run


def found(taken: Sequence[people.Taken]) -> dict[tuple[str, str], str]:
    """The outcome by what was said and mode."""
    return {(one.sentence.text, one.mode): one.decision.outcome for one in taken}


# --- typed ---------------------------------------------------------------------------------------
def test_talk_that_is_typed_is_no_call_and_a_call_is_found_out(tmp_path: Path) -> None:
    outcomes = found(people.typed(listed(tmp_path, [line(text) for text in SAID])))
    for mode in people.TYPED_MODES:
        assert outcomes["watch your fingers", mode] == "say-again"
        assert outcomes["oil level full", mode] == "record"
    assert outcomes["yes", "key held"] == "ignore"
    assert outcomes["yes", "question open"] == "record"


def test_the_words_of_a_job_are_listened_for(tmp_path: Path) -> None:
    sentence = "go to step oil cylinder"
    folder = listed(tmp_path, [line(sentence)])
    job = JobNames("season-lay-up", "tarnfield-mower")
    assert not any(one.let_in for one in people.typed(folder))
    assert all(one.let_in for one in people.typed(folder, job.grammar()))


def test_outcomes_are_counted_by_source_and_mode(tmp_path: Path) -> None:
    taken = people.typed(listed(tmp_path, [line(text) for text in SAID]))
    assert people.outcomes(taken) == {
        ("typed", "key held"): {"record": 2, "say-again": 1, "ignore": 1},
        ("typed", "question open"): {"record": 3, "say-again": 1},
    }
    row = tables.no_calls(people.outcomes(taken)).splitlines()[-1]
    cells = [cell.strip() for cell in row.split("|")[1:-1]]
    assert cells == ["typed", "question open", "4", "3", "0", "1", "0"]


def test_what_was_recorded_is_listed_before_what_was_asked_with_what_it_was_taken_for(
    tmp_path: Path,
) -> None:
    folder = listed(tmp_path, [line("remove the no oil tag"), line("roger"), line("hello there")])
    every = [one for one in people.typed(folder) if one.mode == "key held"]
    rows = [row.split("|")[1:-1] for row in tables.let_in(people.let_in(every)).splitlines()[2:]]
    assert [[cell.strip() for cell in row][1:6] for row in rows] == [
        ["record", "a", "roger", "roger", "acknowledge"],
        ["ask", "a", "remove the no oil tag", "remove the no oil tag", "tag.clear"],
    ]
    assert tables.let_in([]) == "nothing was recorded or asked about"


# --- heard ---------------------------------------------------------------------------------------
def test_a_sentence_is_cut_from_its_file_whatever_its_form_and_rate(spoken: Path) -> None:
    for sentence, voice in zip(people.sentences(spoken), ("rms", "rms", "slt", "slt"), strict=True):
        sound = people.sound_of(sentence, spoken)
        said = with_pauses(speak(sentence.text, voice))
        assert len(sound) == pytest.approx(len(said), abs=2)
        assert np.corrcoef(sound[: len(said)], said[: len(sound)])[0, 1] > 0.9


def test_calls_are_heard_in_the_modes_in_which_they_count(spoken: Path) -> None:
    taken = people.heard(spoken, "whisper")
    assert {one.source for one in taken} == {"heard"}
    outcomes = found(taken)
    assert len(outcomes) == len(SAID) * len(people.HEARD_MODES)
    assert outcomes["oil level full", "key held"] == "record"
    assert outcomes["oil level full", "open microphone"] == "ignore"
    assert outcomes["bench oil level full", "open microphone"] == "record"
    assert outcomes["yes", "question open"] == "record"
    assert outcomes["yes", "open microphone"] == "ignore"
    assert outcomes["watch your fingers", "key held"] == "say-again"
    assert outcomes["watch your fingers", "question open"] == "ignore"


def test_only_every_so_many_are_played_and_all_are_typed(spoken: Path, measure: Measure) -> None:
    run = measure("--people", spoken, "--everybody", "--every", "2", "--recognizer", "whisper")
    assert run.returncode == 0, run.stderr
    rows = [[cell.strip() for cell in row.split("|")[1:-1]] for row in run.stdout.splitlines()]
    clips = {tuple(row[:2]): row[2] for row in rows if len(row) == 7 and row[2].isdecimal()}
    assert clips == {
        **{("typed", mode): "4" for mode in people.TYPED_MODES},
        **{("heard", mode): "2" for mode in people.HEARD_MODES},
    }
    assert "recorded, where none may be: 5 typed, " in run.stdout


def test_nobody_is_played_whom_something_was_fitted_on(spoken: Path, measure: Measure) -> None:
    sentence = one_sentence(measure("--people", spoken, "--tables", "slots"), 1)
    assert "was fitted on every speaker" in sentence
    assert "--everybody" in sentence


# --- a folder that is not as it must be ----------------------------------------------------------
def test_a_folder_that_is_not_there(tmp_path: Path, measure: Measure) -> None:
    sentence = one_sentence(measure("--people", tmp_path / "nowhere"), 1)
    assert "nowhere/segments.jsonl" in sentence
    assert "name a folder with segments.jsonl" in sentence


def test_a_job_card_that_is_not_there(tmp_path: Path, measure: Measure) -> None:
    folder = listed(tmp_path, [line("hello")])
    sentence = one_sentence(measure("--people", folder, "--typed-only", "--job", "none"), 1)
    assert "There is no job card 'none'" in sentence


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ("{", "line 2: "),
        ("{}", "line 2: file: "),
        (json.dumps(line("hello", end=-1.0)), "ends before it begins"),
    ],
)
def test_a_line_that_is_wrong_is_named(tmp_path: Path, wrong: str, told: str) -> None:
    folder = listed(tmp_path, [line("hello"), wrong])
    with pytest.raises(CompanionError, match=told):
        people.typed(folder)


def test_a_list_without_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(CompanionError, match="lists no sentence"):
        people.typed(listed(tmp_path, []))


def test_a_list_that_is_no_text(tmp_path: Path) -> None:
    (tmp_path / people.SEGMENTS).write_bytes(b"\xff\xfe\x00")
    with pytest.raises(CompanionError, match="UTF-8"):
        people.typed(tmp_path)


def test_a_sound_file_that_is_missing_or_too_short_is_named(tmp_path: Path) -> None:
    folder = listed(tmp_path, [line("hello", "gone.opus")])
    with pytest.raises(CompanionError, match=r"gone\.opus, which is not in that folder"):
        people.heard(folder)
    soundfile.write(tmp_path / "short.wav", pause(1.0), SAMPLE_RATE)
    listed(tmp_path, [line("hello", "short.wav", 0.0, 9.0)])
    with pytest.raises(CompanionError, match=r"short\.wav end at 9 s, but that file ends at 1\.0"):
        people.sound_of(people.sentences(folder)[0], folder)


@pytest.mark.parametrize(
    "arguments",
    [
        ("--typed-only",),
        ("--job", "x"),
        ("--tables", "slots"),
        ("--everybody",),
        ("--people", "x", "--calls-only"),
        ("--people", "x", "--tables", "none"),
        ("--every", "0"),
        ("--numbers", "10"),
        ("--to", "x"),
    ],
)
def test_options_that_do_not_go_together(arguments: tuple[str, ...], measure: Measure) -> None:
    run = measure(*arguments)
    assert run.returncode == 2
    assert "Traceback" not in run.stderr
    assert "error: " in run.stderr
