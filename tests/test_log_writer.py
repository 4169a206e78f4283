"""One writer at a time; neither a failed write nor a kill loses what was acknowledged."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.files import disk
from companion.job import events as ev
from companion.log.check import check_log
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from tests.logs import MONDAY

NOTE = ev.NoteKept(text="the cable is frayed", draft=False)

WRITE_FOR_EVER = """
import itertools, sys
from datetime import datetime, timezone
from pathlib import Path
from companion.job.events import NoteKept, Trouble
from companion.log.reader import read_log
from companion.log.writer import LogWriter

folder, at = Path(sys.argv[1]), datetime(2026, 3, 2, tzinfo=timezone.utc)
if (folder / "log.jsonl").exists() and (folder / "log.jsonl").stat().st_size:
    writer = LogWriter.open(folder)
    recovered = read_log(folder).recovered
    if recovered:
        writer.append([Trouble(what=recovered)], at)
else:
    writer = LogWriter.create(folder)
for turn in itertools.count():
    notes = [NoteKept(text="x" * (turn * 977 % 20_000), draft=False) for _ in range(1 + turn % 3)]
    for record in writer.append(notes, at):
        print(record.seq, len(record.event.text), flush=True)
"""

FILL_A_SMALL_DISK = """
import resource, sys
from datetime import datetime, timezone
from pathlib import Path
from companion.errors import CompanionError
from companion.job.events import NoteKept
from companion.log.writer import LogWriter

at = datetime(2026, 3, 2, tzinfo=timezone.utc)
with LogWriter.create(Path(sys.argv[1])) as writer:
    _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (5_000, most))
    try:
        while True:
            print(writer.append([NoteKept(text="x" * 300, draft=False)], at)[0].seq, flush=True)
    except CompanionError as error:
        print(error)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    print(writer.append([NoteKept(text="there is room again", draft=False)], at)[0].seq)
"""


def test_killed_at_any_moment_every_acknowledged_record_is_found_again(tmp_path: Path) -> None:
    folder = tmp_path / "job"
    acknowledged: dict[int, int] = {}
    for turn in range(24):
        with subprocess.Popen(
            [sys.executable, "-c", WRITE_FOR_EVER, str(folder)], stdout=subprocess.PIPE, text=True
        ) as writer:
            assert writer.stdout is not None
            for told, line in enumerate(writer.stdout, start=1):
                seq, length = map(int, line.split())
                acknowledged[seq] = length
                if told == 1 + turn * 5 % 17:
                    os.kill(writer.pid, signal.SIGKILL)
        assert writer.returncode == -signal.SIGKILL
        found = {
            record.seq: len(record.event.text or "")
            for record in read_log(folder).records
            if isinstance(record.event, ev.NoteKept)
        }
        assert acknowledged.items() <= found.items()
    assert len(acknowledged) > 100


def test_a_full_disk_is_told_and_costs_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    # The system itself refuses the write here, after taking part of it: setrlimit(2), RLIMIT_FSIZE.
    run = subprocess.run(
        [sys.executable, "-c", FILL_A_SMALL_DISK, str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
    )
    *numbers, sentence, after = run.stdout.splitlines()
    assert numbers == [str(n) for n in range(1, len(numbers) + 1)]
    assert len(numbers) > 5
    assert str(tmp_path) in sentence
    assert "cannot be written" in sentence
    assert "free some space" in sentence
    assert int(after) == len(numbers) + 1
    assert len(read_log(tmp_path).records) == len(numbers) + 1
    assert check_log(tmp_path).ok


@pytest.mark.parametrize("taken", [0, 1, 50, 10_000])
def test_after_a_failed_write_the_log_ends_with_its_last_whole_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, taken: int
) -> None:
    with LogWriter.create(tmp_path) as writer:
        writer.append([NOTE], MONDAY)
        before = (tmp_path / "log.jsonl").read_bytes()

        def write_in_part(descriptor: int, data: bytes) -> None:
            os.write(descriptor, bytes(data)[:taken])
            raise OSError(errno.ENOSPC, "No space left on device")

        with monkeypatch.context() as patch:
            patch.setattr("companion.log.writer.write_all", write_in_part)
            with pytest.raises(CompanionError, match="No space left on device"):
                writer.append([NOTE, NOTE], MONDAY)
        assert (tmp_path / "log.jsonl").read_bytes() == before
        assert writer.append([NOTE], MONDAY)[0].seq == 2
    assert len(read_log(tmp_path).records) == 2


def test_a_record_is_synced_before_append_returns(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[bytes] = []

    def note_what_is_there(descriptor: int) -> None:
        synced.append((tmp_path / "log.jsonl").read_bytes())

    with LogWriter.create(tmp_path) as writer:
        monkeypatch.setattr("companion.log.writer.sync_file", note_what_is_there)
        writer.append([NOTE, NOTE, NOTE], MONDAY)
        assert synced == [(tmp_path / "log.jsonl").read_bytes()]
        assert synced[0].count(b"\n") == 3


def test_a_sync_that_fails_is_a_failed_write(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(descriptor: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    with LogWriter.create(tmp_path) as writer:
        writer.append([NOTE], MONDAY)
        with monkeypatch.context() as patch:
            patch.setattr("companion.log.writer.sync_file", fail)
            with pytest.raises(CompanionError, match="Input/output error"):
                writer.append([NOTE], MONDAY)
        assert len(read_log(tmp_path).records) == 1


def test_two_writers_never_have_one_log(tmp_path: Path) -> None:
    with LogWriter.create(tmp_path) as writer:
        writer.append([NOTE], MONDAY)
        for second in (LogWriter.open, LogWriter.create):
            with pytest.raises(CompanionError, match="in use by another program"):
                second(tmp_path)
        with pytest.raises(CompanionError, match="in use"):
            _in_another_process(tmp_path)
    assert "opened" in _in_another_process(tmp_path)


def _in_another_process(folder: Path) -> str:
    code = (
        "import sys; from pathlib import Path; from companion.log.writer import LogWriter; "
        "LogWriter.open(Path(sys.argv[1])); print('opened')"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(folder)], capture_output=True, text=True, check=False
    )
    if run.returncode:
        raise CompanionError(run.stderr)
    return run.stdout


def test_reading_needs_no_lock(tmp_path: Path) -> None:
    with LogWriter.create(tmp_path) as writer:
        writer.append([NOTE], MONDAY)
        assert len(read_log(tmp_path).records) == 1


def test_a_log_is_never_begun_over_another(tmp_path: Path) -> None:
    with LogWriter.create(tmp_path) as writer:
        writer.append([NOTE], MONDAY)
    with pytest.raises(CompanionError, match="already holds a log"):
        LogWriter.create(tmp_path)
    # Not even when the log was emptied by someone: the tip remembers that there was one.
    (tmp_path / "log.jsonl").write_bytes(b"")
    with pytest.raises(CompanionError, match="already holds a log"):
        LogWriter.create(tmp_path)
    with pytest.raises(CompanionError, match="has lost all its records"):
        LogWriter.open(tmp_path)


def test_begun_and_stopped_before_the_first_record_it_can_be_begun_again(tmp_path: Path) -> None:
    LogWriter.create(tmp_path).close()
    with LogWriter.create(tmp_path) as writer:
        assert writer.next_seq == 1


def test_a_folder_that_cannot_be_made_or_written_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(CompanionError, match="cannot be written"):
        LogWriter.create(tmp_path / "file" / "job")

    LogWriter.create(tmp_path / "job").close()

    def refuse(*_: object) -> int:
        raise OSError(errno.EROFS, "Read-only file system")

    with monkeypatch.context() as patch:
        patch.setattr(os, "open", refuse)
        with pytest.raises(CompanionError, match="Read-only file system"):
            LogWriter.create(tmp_path / "job")


def test_a_log_deleted_while_in_use_is_told(tmp_path: Path) -> None:
    with LogWriter.create(tmp_path) as writer:
        writer.append([NOTE], MONDAY)
        (tmp_path / "log.jsonl").unlink()
        with pytest.raises(CompanionError, match="deleted while in use"):
            writer.append([NOTE], MONDAY)


def test_a_closed_writer_writes_no_more(tmp_path: Path) -> None:
    writer = LogWriter.create(tmp_path)
    writer.close()
    writer.close()
    with pytest.raises(ValueError, match="closed"):
        writer.append([NOTE], MONDAY)


def test_a_write_that_the_system_takes_in_parts_is_written_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = os.write
    monkeypatch.setattr(disk.os, "write", lambda descriptor, data: write(descriptor, data[:7]))
    with LogWriter.create(tmp_path) as writer:
        writer.append([NOTE, NOTE], MONDAY)
    assert len(read_log(tmp_path).records) == 2


@pytest.mark.parametrize("year", [1899, 2226, 9999])
def test_a_time_that_could_not_be_read_again_is_never_written(tmp_path: Path, year: int) -> None:
    with LogWriter.create(tmp_path) as writer:
        writer.append([NOTE], MONDAY)
        before = (tmp_path / "log.jsonl").read_bytes()
        with pytest.raises(CompanionError, match=f"clock .* year {year}"):
            writer.append([NOTE], MONDAY.replace(year=year))
        assert (tmp_path / "log.jsonl").read_bytes() == before
        writer.append([NOTE], MONDAY)
    assert len(read_log(tmp_path).records) == 2
