"""The project's list of ways to say the calls: each is taken as ``tools/ways`` has it.

The plain call is read back. What ``python -m tools.ways`` measures is measured here too.
"""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import get_args

import pytest

from companion.intent.call import Call
from companion.intent.handbook_calls import HandbookCall
from companion.intent.intents import Intent
from companion.intent.text import typed_words
from companion.speak.calls import call_words
from tests.conftest import one_sentence
from tools.ways import Way, job_of, outcome_of, own_ways

WAYS = own_ways()
TAKEN = tuple(way for way in WAYS if way.kind != "left-out")
CHECKOUT = Path(__file__).resolve().parent.parent

AT_LEAST = 700
"""Ways that are understood, over all jobs."""
EACH_FAMILY = 5
"""Ways of each family."""
FEW_WAYS: dict[str, str] = {}
"""Families that have fewer, each with the reason."""

KEEPS_ITS_FORM = {"tag.clear": "clear tag", "repaired": "repaired", "freed": "freed"}
"""What takes down a tag or ends a danger, with its own words: any other is only asked about."""


def taken_by_job() -> dict[tuple[str, str], list[Way]]:
    jobs: dict[tuple[str, str], list[Way]] = {}
    for way in WAYS:
        jobs.setdefault((way.card, way.sheet), []).append(way)
    return jobs


BY_JOB = taken_by_job()
each_job = pytest.mark.parametrize("job", BY_JOB, ids=".".join)


# --- what becomes of each -------------------------------------------------------------------------


@each_job
def test_each_way_is_taken_as_the_list_has_it(job: tuple[str, str]) -> None:
    bench = job_of(*job)
    expected = {"at-once": "at once", "asked": "right question", "left-out": "say again"}
    otherwise = []
    for way in BY_JOB[job]:
        decision = bench.understand(way.said)
        outcome = outcome_of(decision, bench.meant_by(way.plain))
        if outcome != expected[way.kind]:
            otherwise.append(f"{way.said!r} for {way.plain!r}: {outcome} {decision.reasons}")
    assert not otherwise, "\n".join(otherwise)


@each_job
def test_the_plain_calls_of_the_list_are_taken_at_once(job: tuple[str, str]) -> None:
    bench = job_of(*job)
    for plain in {way.plain for way in BY_JOB[job]}:
        assert bench.understand(plain).outcome == "record", plain


def test_what_takes_down_a_tag_or_mends_is_only_asked_about_in_other_words() -> None:
    asked = Counter[str]()
    for way in TAKEN:
        own = KEEPS_ITS_FORM.get(_form(_meant(way)))
        if own is not None and own not in way.said:
            assert way.kind == "asked", way.said
            asked[own] += 1
    assert asked.keys() == set(KEEPS_ITS_FORM.values())


# --- what is read back ----------------------------------------------------------------------------


@each_job
def test_what_is_read_back_of_a_way_is_the_plain_call(job: tuple[str, str]) -> None:
    bench = job_of(*job)
    for way in BY_JOB[job]:
        if way.kind == "at-once":
            (intent,) = bench.understand(way.said).intents
            assert call_words(intent) == call_words(bench.meant_by(way.plain)), way.said


@pytest.mark.parametrize(
    ("card", "said", "read"),
    [
        ("drive-service", "took the belt guard off", "removed belt guard"),
        ("drive-service", "pulled the plug wire off", "disconnected plug wire"),
        ("drive-service", "shut the fuel valve off", "closed fuel valve"),
        ("drive-service", "pumped up the left tire", "inflated left tire"),
        ("drive-service", "the pull rope's gone bad", "recoil rope failed"),
        ("drive-service", "hang the plug wire off tag", "tag plug wire off"),
        ("drive-service", "what'd i get for play", "read back play"),
        ("drive-service", "gonna need a drive belt", "drive belt, one needed"),
        ("four-stroke-service", "shot some grease in the front fitting", "greased front fitting"),
        ("four-stroke-service", "what should i gap this plug at", "spec for gap"),
        ("four-stroke-service", "dipstick says full", "oil level full"),
        ("four-stroke-service", "leaks down twelve percent", "leak down, twelve percent"),
    ],
)
def test_the_readback_names_the_call_as_it_is_called(card: str, said: str, read: str) -> None:
    decision = job_of(card, "quillmoor-tiller").understand(said)
    assert decision.outcome == "record", decision.reasons
    assert call_words(decision.intents[0]) == read


# --- the list itself ------------------------------------------------------------------------------


def test_there_are_enough_ways_and_none_twice() -> None:
    assert len(TAKEN) >= AT_LEAST
    said = Counter((_meant(way).intent, typed_words(way.said)[0]) for way in WAYS)
    assert not [each for each, times in said.items() if times > 1]


def test_every_family_has_its_ways() -> None:
    counted = Counter(_meant(way).intent for way in TAKEN)
    few = {family for family in _families() if counted[family] < EACH_FAMILY}
    assert few == FEW_WAYS.keys()
    assert counted.keys() <= set(_families())


def test_whatever_is_left_out_has_a_reason() -> None:
    assert all(way.reason for way in WAYS if way.kind == "left-out")


def _meant(way: Way) -> Call:
    return job_of(way.card, way.sheet).meant_by(way.plain)


def _form(call: Call) -> str:
    """What keeps its form: the verb of work, else the name of the call."""
    return str(getattr(call, "action", call.intent))


def _families() -> Iterator[str]:
    """Every name that an intent can have."""
    union, _ = get_args(Intent)
    for kind in {*get_args(union), *get_args(HandbookCall)}:
        yield from get_args(kind.model_fields["intent"].annotation)


# --- the command that measures lists --------------------------------------------------------------


def measure(*files: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "tools.ways", *map(str, files), "--each"],
        capture_output=True, text=True, cwd=CHECKOUT, timeout=300, check=False,
    )  # fmt: skip


def test_a_list_is_measured_by_family(tmp_path: Path) -> None:
    listed = tmp_path / "list.toml"
    listed.write_text(
        "[drive-service.quillmoor-tiller]\n"
        '"gear oil level full" = ["gear oil\'s full", "gear oil level is low", "gear oil swims"]\n'
        '"clear tag no gear oil" = ["take down the no gear oil tag"]\n'
        '"drive belt worn" = ["take down the plug wire off tag"]\n',
        encoding="utf-8",
    )
    printed = measure(listed)
    assert printed.returncode == 0, printed.stderr
    rows = {line[:16].strip(): line[16:].split() for line in printed.stdout.splitlines()}
    assert rows["in all"] == ["5", "1", "1", "1", "1", "1"]
    assert rows["level"] == ["3", "1", "0", "0", "1", "1"]
    assert rows["tag.clear"] == ["1", "0", "1", "0", "0", "0"]
    assert "at once 20.0%; at once or with the right question 40.0%" in printed.stdout
    assert "say again: 'gear oil swims' for 'gear oil level full'" in printed.stdout


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (None, "cannot be read"),
        ("[drive-service", "is no TOML"),
        ('[drive-service]\n"step done" = ["done"]\n', "[CARD.SHEET]"),
        ('[drive-service.quillmoor-tiller]\n"step dne by" = ["x"]\n', "is no call"),
        ('[no-such-card.quillmoor-tiller]\n"step done" = ["done"]\n', "no-such-card"),
    ],
)
def test_a_list_that_is_wrong_is_told_in_one_sentence(
    tmp_path: Path, text: str | None, told: str
) -> None:
    listed = tmp_path / "list.toml"
    if text is not None:
        listed.write_text(text, encoding="utf-8")
    assert told in one_sentence(measure(listed), 1)
