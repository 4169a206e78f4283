"""``companion calls``: what can be called, and ways of one's own added, taken and removed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.conftest import Run, one_sentence

JOB = ("--job", "four-stroke-service", "--machine", "quillmoor-tiller")


def test_it_lists_the_plain_calls_and_the_names_of_the_job(companion: Run) -> None:
    printed = companion("calls", *JOB)
    assert printed.returncode == 0, printed.stderr
    assert "record fluid: added … · drained … · FLUID level full" in printed.stdout
    assert "shear pin" in printed.stdout
    listed = json.loads(companion("calls", *JOB, "--json").stdout)
    assert "belt deflection" in listed["names"]["measure"]
    assert listed["ways"] == []


def test_a_way_is_added_understood_listed_and_removed(companion: Run, tmp_path: Path) -> None:
    assert "from now on" in companion("calls", "--add", "Fed her", "--as", "added").stdout
    understood = companion("understand", "fed her 20 ounces of oil", "--json")
    assert json.loads(understood.stdout)["action"] == "added"
    assert "your own: fed her → added" in companion("calls").stdout
    printed = companion("work", "--typed", "--quiet", "--out", "job", typed="fed her a quart\n")
    assert printed.returncode == 0, printed.stderr
    assert 'say = "fed her"' in (tmp_path / "data" / "voices" / "ways.toml").read_text()
    assert companion("calls", "--remove", "fed her").returncode == 0
    understood = companion("understand", "fed her 20 ounces of oil", "--json")
    line = json.loads(understood.stdout)
    assert line["outcome"] == "say-again"
    assert line["take"] == ["added"]


def test_a_way_of_one_voice_is_not_everyones(companion: Run) -> None:
    companion("calls", "--voice", "Rosa", "--add", "purchase", "--as", "need")
    theirs = companion("understand", "--voice", "Rosa", "--json", "purchase two shear pins")
    assert json.loads(theirs.stdout)["intent"] == "part.need"
    assert (
        json.loads(companion("understand", "--json", "purchase two shear pins").stdout)["intent"]
        is None
    )


@pytest.mark.parametrize(
    ("arguments", "status", "told"),
    [
        (("--add", "fixed", "--as", "repaired"), 2, "can end a danger"),
        (("--add", "emptied", "--as", "added"), 2, "opposite"),
        (("--add", "drowned", "--as", "added"), 2, "sounds like 'drained'"),
        (("--add", "fed her"), 2, "--as"),
        (("--as", "added"), 2, "--add"),
        (("--remove", "fed her"), 1, "no way of your own"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(
    companion: Run, arguments: tuple[str, ...], status: int, told: str
) -> None:
    assert told in one_sentence(companion("calls", *arguments), status)


def test_a_damaged_file_costs_one_sentence_and_nothing_else(companion: Run, tmp_path: Path) -> None:
    ways = tmp_path / "data" / "voices" / "ways.toml"
    ways.parent.mkdir(parents=True)
    ways.write_text("[[way]\n")
    printed = companion(
        "work", "--typed", "--quiet", "--out", "job", typed="added twenty ounces of oil\n"
    )
    assert printed.returncode == 0
    assert printed.stderr.count("ways.toml") == 1
    assert "Traceback" not in printed.stderr
    assert "Added twenty ounces of oil." in printed.stdout
    assert "ways.toml" in one_sentence(companion("calls", "--add", "purchase", "--as", "need"), 1)
    assert ways.read_text() == "[[way]\n"


def test_a_grammar_of_ones_own_is_told_of_with_its_line(companion: Run, tmp_path: Path) -> None:
    own = tmp_path / "mine.gram"
    own.write_text("#JSGF V1.0;\ngrammar mine;\npublic <call> = gap <more>;\n<more> = <call>;\n")
    told = one_sentence(companion("grammar", "check", own), 1)
    assert "line 4" in told
    assert "refers to itself" in told
    own.write_text("#JSGF V1.0;\ngrammar mine;\n// xqzt\npublic <call> = gap\n  | xqzt;\n")
    checked = companion("grammar", "check", own)
    assert checked.returncode == 1
    assert "mine.gram, line 5: nobody knows how 'xqzt' is pronounced" in checked.stdout
