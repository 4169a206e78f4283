"""What is spoken where something fails: of use to somebody who has no screen before them.

The sentences are taken from the source, by class: whatever is raised, or told as trouble, in a room
whose failures are spoken. Every value in them is once a path and once a word.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import companion
from companion.speak.aloud import NOTHING_LEFT, aloud
from companion.speak.speakable import sentence
from companion.speak.wording import word_not_understood, word_trouble

PACKAGE = Path(companion.__file__).parent
FAILING = ("audio", "recognize", "log", "live", "session", "enroll", "speak")
"""Rooms whose failures are printed, kept and spoken."""
ANSWERING = ("job", "handbook")
"""Rooms whose refusals are only spoken, as they stand."""
ROOMS = (*FAILING, *ANSWERING)

TOLD = {"Trouble", "Device", "word_trouble", "Nothing", "Refused", "_tell", "_only_say"}
VALUES = ("/home/rosa/.local/share/bench/sessions/2026-03-02/log.jsonl", "quillmoor")

SCREEN = re.compile(
    r"/|\\|--|\bcompanion (?!resume\b)[a-z]+\b|\bscreen\b|\bterminal\b|\bcommand line\b"
    r"|\bsettings file\b"
    r"|\bstandard (?:error|output)\b|\bCtrl|\.(?:toml|jsonl?|html|flac)\b|[(){}<>]"
)
"""What nobody can use at the bench; by "companion resume" alone a job is gone on with."""


def texts() -> Iterator[tuple[str, ast.expr]]:
    """Every sentence that is raised or told in the rooms, with where it stands."""
    for room in ROOMS:
        for source in sorted((PACKAGE / room).rglob("*.py")):
            for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
                call = node.exc if isinstance(node, ast.Raise) else node
                if not isinstance(call, ast.Call) or not (call.args or call.keywords):
                    continue
                name = getattr(call.func, "id", getattr(call.func, "attr", ""))
                if isinstance(node, ast.Raise) or name in TOLD:
                    given = [*call.args[:1], *(each.value for each in call.keywords)]
                    for each in given:
                        yield f"{source.relative_to(PACKAGE)}:{node.lineno}", each


def filled(text: ast.expr, value: str) -> str:
    """A text with every value in it replaced; empty where it is none."""
    if isinstance(text, ast.Constant) and isinstance(text.value, str):
        return text.value
    if isinstance(text, ast.JoinedStr):
        return "".join(
            str(part.value) if isinstance(part, ast.Constant) else value for part in text.values
        )
    return ""


SENTENCES = sorted(
    {
        (where, said)
        for where, text in texts()
        for value in VALUES
        if len((said := filled(text, value)).split()) > 2 and said.rstrip()[-1:] in ".?!"
    }
)


def test_there_are_many_sentences_of_every_kind() -> None:
    rooms = {where.split("/")[0] for where, _ in SENTENCES}
    assert rooms >= {"audio", "log", "live", "recognize", "job", "enroll"}
    assert len(SENTENCES) > 150


@pytest.mark.parametrize("room", FAILING)
def test_no_sentence_that_may_be_spoken_is_of_use_at_a_screen_only(room: str) -> None:
    for where, text in SENTENCES:
        if where.startswith(f"{room}/"):
            said = word_trouble(text).text
            assert not SCREEN.search(aloud(text)), f"{where}: {aloud(text)}"
            assert not SCREEN.search(said), f"{where}: {said}"
            assert len(said.split()) > 1, where


@pytest.mark.parametrize("room", ANSWERING)
def test_no_answer_is_of_use_at_a_screen_only(room: str) -> None:
    for where, text in SENTENCES:
        if where.startswith(f"{room}/") and VALUES[0] not in text:
            assert not SCREEN.search(sentence(text)), f"{where}: {sentence(text)}"


def test_most_of_them_say_what_happened() -> None:
    lost = [where for where, text in SENTENCES if aloud(text) == NOTHING_LEFT]
    assert len(lost) < len(SENTENCES) / 10, lost


@pytest.mark.parametrize(
    ("printed", "said"),
    [
        (
            "/data/job/log.jsonl: the log cannot be written (No space left on device); free some "
            "space, then say it again.",
            "The log cannot be written; free some space, then say it again.",
        ),
        (
            "The log in /data/job was removed while in use, and is left as it is.",
            "The log was removed while in use, and is left as it is.",
        ),
        (
            "No microphone was found; plug one in, or start with 'companion work --typed'.",
            "No microphone was found; plug one in.",
        ),
        ("No voice 'Rosa' is enrolled; enroll it with: companion enroll 'Rosa'",
         "No voice 'Rosa' is enrolled."),
        (
            "The disk is full (ENOSPC); free some space or mend the folder's permissions, then go "
            "on with 'companion resume'.",
            "The disk is full; free some space, then go on with companion resume.",
        ),
        ("Add --typed.", NOTHING_LEFT),
    ],
)  # fmt: skip
def test_what_is_for_the_screen_is_left_out(printed: str, said: str) -> None:
    assert aloud(printed) == said


def test_an_unknown_name_is_followed_by_what_can_be_said() -> None:
    reason = "'ring gap' is not a measure of this job"
    assert word_not_understood((reason,)).text.endswith("of this job. Say help.")
    assert word_not_understood((reason,), ("gap",)).text.endswith("of this job. I take: gap.")
