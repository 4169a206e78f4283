"""What the end of a log is known by: a tip that is there, is missing, or stayed behind."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from companion.job import events as ev
from companion.log.check import check_log
from companion.log.reader import read_log
from companion.log.tip import TIP_NAME, Tip, write_tip
from companion.log.writer import LogWriter
from companion.session.opening import resume_session
from tests.conftest import Run
from tests.logs import MONDAY, events_of, invented_job


@pytest.fixture
def job(tmp_path: Path) -> Path:
    invented_job(tmp_path / "job", clips=False)
    return tmp_path / "job"


def lines_of(job: Path) -> list[bytes]:
    return (job / "log.jsonl").read_bytes().splitlines(keepends=True)


def digest_of(line: bytes) -> str:
    import hashlib

    return hashlib.sha256(line.removesuffix(b"\n")).hexdigest()


def stale(job: Path, seq: int) -> None:
    """Leave the tip behind, as a power cut may."""
    write_tip(job, Tip(seq, digest_of(lines_of(job)[seq - 1])))


# --- missing --------------------------------------------------------------------------------------
def test_the_last_thirty_records_and_the_tip_removed_is_not_called_whole(
    job: Path, companion: Run
) -> None:
    assert companion("log", "check", job).stdout.startswith(f"{job}: whole; ")
    kept = lines_of(job)[:-30]
    (job / "log.jsonl").write_bytes(b"".join(kept))
    (job / TIP_NAME).unlink()
    run = companion("log", "check", job)
    assert run.returncode == 1
    verdict, why = run.stdout.splitlines()[:2]
    assert verdict.startswith(f"{job}: unbroken, but its end cannot be vouched for; ")
    assert why == (
        f"  not vouched for: no log.tip: records cut off after record {len(kept)}, or a change to "
        "it, would not show"
    )


@pytest.mark.parametrize("data", [b"", b"garbage", b"tip 000000000081 ba09"])
def test_a_tip_that_cannot_be_read_is_not_said_to_be_missing(job: Path, data: bytes) -> None:
    (job / TIP_NAME).write_bytes(data)
    checked = check_log(job)
    assert checked.unvouched.startswith("no log.tip that can be read: records cut off after")
    assert checked.notes == (
        "there is no log.tip that can be read, so a change to the very last line would not show",
    )


def test_a_session_that_goes_on_without_its_tip_keeps_that_in_the_log(job: Path) -> None:
    (job / TIP_NAME).unlink()
    before = len(lines_of(job))
    resume_session(job, at=MONDAY).close()
    told = [event.what for event in events_of(read_log(job).records) if event.kind == "trouble"]
    # From now on there is a tip again, so that only this record still says it.
    assert told[-1] == (
        "There is no log.tip beside the log, so nobody can tell whether there were records after "
        f"record {before}."
    )
    assert check_log(job).whole


# --- behind ---------------------------------------------------------------------------------------
def test_a_tip_one_write_behind_says_nothing(job: Path) -> None:
    with LogWriter.open(job) as writer:
        last = writer.next_seq - 1
        writer.append([ev.Standby(), ev.Resumed()], MONDAY + timedelta(days=9))
    stale(job, last)
    assert check_log(job).whole
    assert read_log(job).recovered is None


def test_a_tip_far_behind_vouches_for_nothing_after_it(job: Path) -> None:
    stale(job, 5)
    checked = check_log(job)
    assert checked.ok
    assert not checked.whole
    assert "log.tip is of record 5, and several writes came after it" in checked.unvouched
    # Cut off after it, nothing can show; it is not called whole either.
    (job / "log.jsonl").write_bytes(b"".join(lines_of(job)[:-30]))
    assert not check_log(job).whole


@pytest.mark.parametrize("harm", ["last line spoiled", "cut in the last line"])
def test_what_is_acknowledged_is_never_said_to_have_been_torn_because_the_tip_is_old(
    job: Path, harm: str
) -> None:
    stale(job, 5)
    lines = lines_of(job)
    last = lines[-1]
    spoiled = b"\0" * 40 + last[40:] if harm == "last line spoiled" else last[:-30]
    (job / "log.jsonl").write_bytes(b"".join(lines[:-1]) + spoiled)
    (problem,) = check_log(job).problems
    assert problem.endswith("the tip is older, so nobody can tell whether it had been acknowledged")
    told = read_log(job).recovered
    assert told is not None
    assert "nobody can tell whether that had been acknowledged" in told
    assert "stopped while writing it" not in told
    resume_session(job, at=MONDAY + timedelta(days=9)).close()
    kept = [event.what for event in events_of(read_log(job).records) if event.kind == "trouble"]
    assert "nobody can tell whether that had been acknowledged" in kept[-1]
    assert "log.torn-1" in kept[-1]
    assert (job / "log.torn-1").read_bytes() == spoiled
