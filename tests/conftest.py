"""Whole commands in their own processes, each with a data folder of its own."""

from __future__ import annotations

import gc
import os
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import settings

from tests.ffmpeg import path_with_ffmpeg
from tests.kept_grammars import KeptGrammars
from tests.program import Program

# How long an example takes says more about the machine than about the program. The same examples
# are tried at every run, so that what passes here passes there; --hypothesis-profile=search looks
# for new ones.
settings.register_profile("bench", deadline=None, derandomize=True, database=None)
settings.register_profile("search", deadline=None, print_blob=True)
settings.load_profile("bench")

# The grammars, models and sessions of a test file live as long as it runs: to go through them all
# at every seven hundredth new object costs a tenth of the time.
gc.set_threshold(50_000, 20, 20)


def pytest_collection_finish() -> None:
    """What the collected tests are made of stays to the end: it need not be gone through again."""
    gc.freeze()


LONG = (
    "test_code_style.py",
    "test_said_freely.py",
    "test_surroundings.py",
    "test_cards_words.py",
    "test_hearing_hour.py",
    "test_recognize_whisper.py",
    "test_enroll.py",
    "test_grammar_independent_reader.py",
    "test_hearing_subset.py",
    "test_hearing_people.py",
    "test_grammar_spoken.py",
)
"""Files that take longest, of those that need no quiet machine: they begin first, so that at the
end no worker is left with one of them alone."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the long files first; all others stay in their order."""
    items.sort(key=lambda item: LONG.index(name) if (name := item.path.name) in LONG else len(LONG))


MEMORY = Path("/dev/shm")
"""Where Linux has files that are in no place but memory."""

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="session", autouse=True)
def programs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The programs that tests run beside the program itself are found."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PATH", path_with_ffmpeg(tmp_path_factory.mktemp("programs")))
        yield


@pytest.fixture
def shop(tmp_path: Path) -> dict[str, str]:
    """The environment of an empty shop: no sessions, nothing set."""
    (tmp_path / "settings.toml").touch()
    return {
        **os.environ,
        "BENCH_COMPANION_DATA": str(tmp_path / "data"),
        "BENCH_COMPANION_SETTINGS": str(tmp_path / "settings.toml"),
    }


@pytest.fixture
def memory_path(tmp_path: Path) -> Iterator[Path]:
    """A folder in memory, where the machine has one: for tests of many records that ask nothing of
    the disk, since each record is synced, and a busy disk takes longer for that than all else."""
    if not os.access(MEMORY, os.W_OK):
        yield tmp_path
        return
    with TemporaryDirectory(dir=MEMORY) as folder:
        yield Path(folder)


@pytest.fixture(scope="session")
def program() -> Iterator[Program]:
    """The program, loaded once."""
    loaded = Program()
    yield loaded
    loaded.close()


@pytest.fixture
def companion(program: Program, shop: dict[str, str], tmp_path: Path) -> Run:
    """Run ``companion`` as a user would and give back what it printed."""

    def run(
        *arguments: str | Path, typed: str | bytes | None = None
    ) -> subprocess.CompletedProcess[str]:
        return program.run([*map(str, arguments)], typed=typed or "", env=shop, cwd=tmp_path)

    return run


def one_sentence(run: subprocess.CompletedProcess[str], status: int) -> str:
    """The one line on standard error of a command that failed; anything else is a failed test."""
    assert run.returncode == status, run.stderr
    assert "Traceback" not in run.stderr
    lines = run.stderr.strip().splitlines()
    assert len(lines) == 1, run.stderr
    return lines[0]


@pytest.fixture(scope="session", autouse=True)
def grammars() -> Iterator[None]:
    """The grammars of jobs are compiled once for many tests."""
    kept = KeptGrammars()
    kept.begin()
    yield
    kept.end()
