"""The line of the README that runs the tests brings what they need, whoever runs it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.prepare import NEEDS, Surroundings, missing, must_ask, refusal
from tests.sound_server import PROGRAMS
from tests.sounds import PACKAGES

ROOT = Path(__file__).parent.parent
BARE = Surroundings(apt=True, root=False, sudo=True, no_password=False, terminal=True)
ASKED_FOR = {need.package for need in NEEDS}


def prepare(*arguments: str, path: str) -> subprocess.CompletedProcess[str]:
    """The script as the line runs it, with an interpreter that has nothing installed."""
    return subprocess.run(
        [sys.executable, "-S", ROOT / "tests" / "prepare.py", *arguments],
        env={"PATH": path},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )


def test_where_all_is_there_it_does_nothing_and_says_nothing() -> None:
    assert missing() == []
    run = prepare(path=os.environ["PATH"])
    assert (run.returncode, run.stdout, run.stderr) == (0, "", "")


def test_where_nothing_is_there_and_it_cannot_install_it_says_what_is_missing(
    tmp_path: Path,
) -> None:
    run = prepare(path=str(tmp_path))
    assert run.returncode == 1
    for package in ("flite", "chromium", "pulseaudio"):
        assert f"  {package} " in run.stdout
    assert "there is no apt-get here" in run.stderr
    assert "Traceback" not in run.stderr


def test_the_list_names_every_package_with_its_purpose() -> None:
    run = prepare("--list", path=os.environ["PATH"])
    assert run.stdout.splitlines() == [f"{need.package:30}{need.purpose}" for need in NEEDS]


def test_what_it_does_not_know_is_told() -> None:
    run = prepare("--lst", path=os.environ["PATH"])
    assert (run.returncode, run.stderr) == (2, "prepare.py takes --list or nothing.\n")


@pytest.mark.parametrize("terminal", [True, False])
@pytest.mark.parametrize("sudo", [True, False])
def test_root_is_neither_asked_nor_refused(sudo: bool, terminal: bool) -> None:
    root = Surroundings(apt=True, root=True, sudo=sudo, no_password=False, terminal=terminal)
    assert refusal("flite", root) is None
    assert not must_ask(root)


def test_a_person_is_asked_before_sudo_is_used_and_nobody_is_where_nobody_is_there() -> None:
    assert refusal("flite", BARE) is None
    assert must_ask(BARE)
    alone = Surroundings(apt=True, root=False, sudo=True, no_password=True, terminal=False)
    assert refusal("flite", alone) is None
    assert not must_ask(alone)


@pytest.mark.parametrize(
    ("around", "says"),
    [
        (
            Surroundings(apt=True, root=False, sudo=True, no_password=False, terminal=False),
            "again: sudo apt-get install --no-install-recommends flite chromium",
        ),
        (
            Surroundings(apt=True, root=False, sudo=False, no_password=False, terminal=True),
            "there is no sudo. Have somebody who may run this, then run this line again: "
            "apt-get install --no-install-recommends flite chromium",
        ),
        (
            Surroundings(apt=False, root=True, sudo=True, no_password=True, terminal=True),
            "there is no apt-get here: install what your system has in their place",
        ),
    ],
)
def test_who_may_not_install_is_told_which_command_would(around: Surroundings, says: str) -> None:
    assert says in (refusal("flite chromium", around) or "")


def test_it_has_every_package_that_a_test_asks_for() -> None:
    named = {package for packages in PACKAGES.values() for package in packages.split()}
    named |= set(PROGRAMS.values())
    for path in (ROOT / "tests").rglob("*.py"):
        for words in re.findall(r"apt-get install ([a-z0-9 -]+)", path.read_text("utf-8")):
            named |= {word for word in words.split() if not word.startswith("-")}
    assert named - ASKED_FOR == set()


def test_the_tests_are_run_by_the_line_that_the_readme_has() -> None:
    pattern = re.search(r"grep -E '(.*)' README\.md", (ROOT / ".ci" / "run").read_text("utf-8"))
    assert pattern is not None
    lines = [
        line
        for line in (ROOT / "README.md").read_text("utf-8").splitlines()
        if re.search(pattern[1], line)
    ]
    assert len(lines) == 1
    assert lines[0].startswith("python3 tests/prepare.py && python3 -m venv .venv && ")
    assert "apt-get" not in (ROOT / ".ci" / "run").read_text("utf-8")
    assert lines[0] in (ROOT / "DEVELOPERS.md").read_text("utf-8")
