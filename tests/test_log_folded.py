"""A log read again and again: as if read anew each time, whatever happens to it meanwhile."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.job.events import StepEntered, Trouble
from companion.job.folding.evolve import fold
from companion.log.folded import Folded, folded_log
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from companion.shelf.rules import shipped_rules
from tests.logs import MONDAY, invented_job


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("folded") / "job"
    invented_job(folder, clips=False)
    return folder


@pytest.fixture
def job(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "job"))


def as_read_anew(folder: Path) -> Folded:
    """What is kept, held against the log on the disk."""
    kept, contents = folded_log(folder), read_log(folder)
    assert kept.records == contents.records
    assert kept.state == fold(contents.records, shipped_rules())
    assert kept.recovered == contents.recovered
    return kept


def test_what_was_appended_is_folded_on_and_the_rest_is_kept(job: Path) -> None:
    before = as_read_anew(job)
    assert folded_log(job) is before
    with LogWriter.beside(job) as writer:
        for step in ("test-run", "set-gap"):
            with writer.turn():
                writer.append([StepEntered(step=step), StepEntered(step=step)], MONDAY)
            grown = as_read_anew(job)
            assert grown.state.step == step
            assert grown.records[0] is before.records[0]


def test_a_line_that_is_torn_or_changed_is_never_passed_over(job: Path) -> None:
    as_read_anew(job)
    log = job / "log.jsonl"
    whole = log.read_bytes()
    log.write_bytes(whole + whole.splitlines()[-1][:40])
    with LogWriter.beside(job) as writer, writer.turn():
        recovered = as_read_anew(job).recovered
        assert recovered is not None
        writer.append([Trouble(what=recovered)], MONDAY)
    assert as_read_anew(job).recovered is None
    log.write_bytes(log.read_bytes().replace(b'"drive belt"', b'"drive bolt"'))
    with pytest.raises(CompanionError, match="is damaged"):
        folded_log(job)
    log.unlink()
    with pytest.raises(CompanionError, match="is no session folder"):
        folded_log(job)
    log.write_bytes(whole)
    (job / "log.tip").unlink()
    as_read_anew(job)
