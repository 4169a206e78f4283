"""Whether a program works on a session, and a log that is followed while it grows."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.job import events as ev
from companion.log.following import FollowedLog
from companion.log.live_status import (
    BEAT,
    STATUS_NAME,
    LiveSign,
    LiveStatus,
    live_status,
)
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from tests.logs import MONDAY, Bench

NOW = datetime.now(UTC).replace(microsecond=0)


def note(text: str) -> ev.NoteKept:
    return ev.NoteKept(text=text, draft=False)


def test_a_running_program_tells_what_it_does_until_it_ends(tmp_path: Path) -> None:
    assert live_status(tmp_path) is None
    writer = LogWriter.create(tmp_path)
    sign = LiveSign(tmp_path)
    assert live_status(tmp_path) == LiveStatus()
    sign.show("listening", NOW)
    status = live_status(tmp_path)
    assert status is not None
    assert (status.mode, status.since) == ("listening", NOW)
    sign.show("no microphone", NOW + timedelta(seconds=3))
    status = live_status(tmp_path)
    assert status is not None
    assert status.mode == "no microphone"
    sign.close()
    sign.close()
    assert live_status(tmp_path) == LiveStatus()
    writer.close()
    assert live_status(tmp_path) is None
    assert not (tmp_path / STATUS_NAME).exists()


def test_the_same_again_is_only_a_sign_of_life_now_and_then(tmp_path: Path) -> None:
    sign = LiveSign(tmp_path)
    sign.show("typed", NOW)
    before = (tmp_path / STATUS_NAME).stat()
    os.utime(tmp_path / STATUS_NAME, (0, 0))
    sign.show("typed", NOW + timedelta(seconds=1))
    assert (tmp_path / STATUS_NAME).stat().st_mtime == 0
    sign.show("typed", NOW + BEAT)
    after = (tmp_path / STATUS_NAME).stat()
    assert after.st_mtime > 0
    assert after.st_ino == before.st_ino
    sign.close()


def test_a_program_that_was_killed_does_not_run_whatever_its_file_says(tmp_path: Path) -> None:
    program = (
        "import sys; from datetime import UTC, datetime; from pathlib import Path;"
        "from companion.log.live_status import LiveSign;"
        "from companion.log.writer import LogWriter;"
        "writer = LogWriter.create(Path(sys.argv[1]));"
        "sign = LiveSign(Path(sys.argv[1])); sign.show('listening', datetime.now(UTC));"
        "print('shown', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as running:
        assert running.stdout is not None
        assert running.stdout.readline() == "shown\n"
        assert live_status(tmp_path) is not None
        running.send_signal(signal.SIGKILL)
        running.wait()
    assert (tmp_path / STATUS_NAME).exists()
    assert live_status(tmp_path) is None


@pytest.mark.parametrize("text", ["", "{", "[]", '{"mode": "asleep", "at": "2026-01-01T00:00Z"}'])
def test_a_status_that_cannot_be_read_is_not_guessed(tmp_path: Path, text: str) -> None:
    with LogWriter.create(tmp_path):
        (tmp_path / STATUS_NAME).write_text(text, encoding="utf-8")
        status = live_status(tmp_path)
    assert status is not None
    assert status.mode is None


def test_a_folder_that_cannot_be_written_keeps_nothing_from_going_on(tmp_path: Path) -> None:
    sign = LiveSign(tmp_path / "nowhere")
    sign.show("listening", NOW)
    sign.close()
    assert live_status(tmp_path / "nowhere") is None


def test_a_log_is_followed_record_by_record(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "job", clips=False)
    bench.open()
    log = FollowedLog(tmp_path / "job")
    assert log.has_changed()
    anew, records = log.read()
    assert anew
    assert len(records) == 1
    assert not log.has_changed()
    assert log.read() == (False, ())
    bench.happen(note("one"), note("two"))
    assert log.has_changed()
    anew, fresh = log.read()
    assert not anew
    assert (*records, *fresh) == read_log(tmp_path / "job").records


def test_half_a_line_waits_for_its_end(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "job", clips=False)
    bench.open()
    log = FollowedLog(tmp_path / "job")
    log.read()
    bench.happen(note("one"))
    path = tmp_path / "job" / "log.jsonl"
    whole = path.read_bytes()
    path.write_bytes(whole[:-9])
    assert log.read() == (False, ())
    with path.open("ab") as end:
        end.write(whole[-9:])
    anew, fresh = log.read()
    assert not anew
    assert [record.event for record in fresh] == [note("one")]


def test_a_log_that_was_changed_is_read_anew_and_a_broken_one_told(tmp_path: Path) -> None:
    folder = tmp_path / "job"
    with LogWriter.create(folder) as writer:
        writer.append([note("one"), note("two"), note("three")], MONDAY)
    log = FollowedLog(folder)
    log.read()
    path = folder / "log.jsonl"
    lines = path.read_bytes().splitlines(keepends=True)
    (folder / "log.tip").unlink()
    path.write_bytes(b"".join(lines[:2]))
    anew, records = log.read()
    assert anew
    assert len(records) == 2
    path.write_bytes(b"dear diary\n")
    with pytest.raises(CompanionError, match="is not a log"):
        log.read()
    path.write_bytes(b"".join(lines))
    anew, records = log.read()
    assert anew
    assert len(records) == 3
