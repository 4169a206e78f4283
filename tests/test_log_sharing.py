"""Several programs write one log: in turns, each after what the others wrote, and nothing lost."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.files.disk import is_locked, lock_for_writing
from companion.job import events as ev
from companion.log.cannot_record import LogBusy
from companion.log.check import check_log
from companion.log.in_use import LIVE_NAME, is_live
from companion.log.line import FORMAT_VERSION
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from tests.logs import MONDAY, events_of


def note(text: str) -> ev.NoteKept:
    return ev.NoteKept(text=text, draft=False)


def texts(folder: Path) -> list[str | None]:
    return [e.text for e in events_of(read_log(folder).records) if isinstance(e, ev.NoteKept)]


@pytest.fixture
def live(tmp_path: Path) -> Iterator[LogWriter]:
    """The bench, with one record written."""
    with LogWriter.create(tmp_path / "job") as writer:
        writer.append([note("the bench began")], MONDAY)
        yield writer


# --- two writers of one log -----------------------------------------------------------------------
def test_a_page_writes_beside_the_bench_and_each_sees_what_the_other_wrote(live: LogWriter) -> None:
    with LogWriter.beside(live.folder) as page:
        assert page.append([note("from the page")], MONDAY)[0].seq == 2
        with live.turn() as news:
            assert [(r.seq, r.event) for r in news] == [(2, note("from the page"))]
            assert live.append([note("and the bench again")], MONDAY)[0].seq == 3
        with page.turn() as news:
            assert [r.event for r in news] == [note("and the bench again")]
        with page.turn() as news:
            assert news == []
    assert check_log(live.folder).ok


def test_outside_of_a_turn_numbers_are_right_too_and_no_news_is_passed_over(
    live: LogWriter,
) -> None:
    with LogWriter.beside(live.folder) as page:
        page.append([note("one"), note("two")], MONDAY)
        assert live.append([note("three")], MONDAY)[0].seq == 4
        with live.turn() as news:
            assert [r.event for r in news] == [note("one"), note("two")]
        page.append([note("four")], MONDAY)
    assert texts(live.folder)[1:] == ["one", "two", "three", "four"]
    assert check_log(live.folder).ok


def test_a_turn_within_a_turn_is_the_same_turn(live: LogWriter) -> None:
    with LogWriter.beside(live.folder) as page, live.turn():
        with live.turn() as news:
            assert news == []
        # The inner one has not given the log back.
        with pytest.raises(LogBusy), page.turn(patience=0.0):
            pass
    assert not live.grown


def test_whether_a_log_has_grown_is_known_without_a_turn(live: LogWriter) -> None:
    assert not live.grown
    with LogWriter.beside(live.folder) as page:
        page.append([note("one")], MONDAY)
    assert live.grown
    with live.turn():
        pass
    assert not live.grown


def test_a_log_that_does_not_come_free_is_told_and_written_once_it_is(live: LogWriter) -> None:
    with LogWriter.beside(live.folder) as page, page.turn():
        with pytest.raises(LogBusy, match="does not come free; end that program"):
            live.turn(patience=0.01).__enter__()
        with pytest.raises(LogBusy):
            LogWriter.beside(live.folder, patience=0.01)
    assert live.append([note("now")], MONDAY)[0].seq == 2


# --- who works at it ------------------------------------------------------------------------------
def test_a_session_is_live_while_the_bench_has_it_and_not_for_a_page(tmp_path: Path) -> None:
    folder = tmp_path / "job"
    assert not is_live(folder)
    with LogWriter.create(folder) as writer:
        writer.append([note("begun")], MONDAY)
        assert is_live(folder)
    assert not is_live(folder)
    with LogWriter.beside(folder):
        assert not is_live(folder)
        with LogWriter.open(folder):
            assert is_live(folder)
    assert not is_live(folder)


def test_two_benches_never_have_one_session(live: LogWriter) -> None:
    for second in (LogWriter.open, LogWriter.create):
        with pytest.raises(CompanionError, match="is in use by another program; end the session"):
            second(live.folder)
    with LogWriter.beside(live.folder) as page:
        assert page.next_seq == 2


def test_a_page_makes_no_log_and_opens_none_that_is_empty(tmp_path: Path) -> None:
    with pytest.raises(CompanionError, match="no session folder"):
        LogWriter.beside(tmp_path)
    assert list(tmp_path.iterdir()) == []
    with LogWriter.create(tmp_path), pytest.raises(CompanionError, match="holds no record yet"):
        LogWriter.beside(tmp_path)


# --- any order ------------------------------------------------------------------------------------
STEPS = st.lists(
    st.tuples(st.integers(0, 2), st.sampled_from(["append", "turn", "again"]), st.integers(1, 3)),
    max_size=25,
)


@given(STEPS)
def test_in_whatever_order_they_write_the_chain_holds_and_each_sees_everything_once(
    steps: list[tuple[int, str, int]],
) -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "job"
        writers = [LogWriter.create(folder)]
        first = writers[0].append([note("begun")], MONDAY)
        writers += [LogWriter.beside(folder), LogWriter.beside(folder)]
        seen = [list(first), list(first), list(first)]
        for who, how, count in steps:
            notes = [note(f"{who} {how}")] * count
            if how == "again":
                # Closed and opened again, it has read everything.
                writers[who].close()
                writers[who] = LogWriter.open(folder) if who == 0 else LogWriter.beside(folder)
                seen[who] = list(read_log(folder).records)
            elif how == "turn":
                with writers[who].turn() as news:
                    seen[who] += [*news, *writers[who].append(notes, MONDAY)]
            else:
                seen[who] += writers[who].append(notes, MONDAY)
        for who, writer in enumerate(writers):
            with writer.turn() as news:
                seen[who] += news
            writer.close()
        records = list(read_log(folder).records)
        assert [record.seq for record in records] == list(range(1, len(records) + 1))
        assert len(records) == 1 + sum(count for _, how, count in steps if how != "again")
        for each in seen:
            assert sorted(each, key=lambda record: record.seq) == records
        assert check_log(folder).ok


WRITE_BESIDE = """
import sys
from datetime import datetime, timezone
from pathlib import Path
from companion.job.events import NoteKept
from companion.log.writer import LogWriter

folder, who, times = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
at = datetime(2026, 3, 2, tzinfo=timezone.utc)
with LogWriter.beside(folder) as writer:
    print("ready", flush=True)
    sys.stdin.readline()
    for number in range(times):
        if number % 2:
            with writer.turn(patience=60) as news:
                records = writer.append([NoteKept(text=f"{who} {number}", draft=False)], at)
        else:
            records = writer.append([NoteKept(text=f"{who} {number}", draft=False)], at)
        print(records[0].seq, flush=True)
"""


def beside(folder: Path, who: str, times: int) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-c", WRITE_BESIDE, str(folder), who, str(times)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    return process


def test_programs_that_write_at_the_same_time_lose_nothing(live: LogWriter) -> None:
    programs = [beside(live.folder, who, 60) for who in ("a", "b")]
    for program in programs:
        assert program.stdin is not None
        program.stdin.write("\n")
        program.stdin.flush()
    seen = [1]
    while any(program.poll() is None for program in programs):
        with live.turn(patience=60) as news:
            seen += [r.seq for r in (*news, *live.append([note("the bench")], MONDAY))]
    told = [int(line) for program in programs for line in program.communicate()[0].split()]
    assert [program.returncode for program in programs] == [0, 0]
    assert len(set(told)) == 120
    with live.turn() as news:
        seen += [r.seq for r in news]
    records = read_log(live.folder).records
    assert seen == [r.seq for r in records] == list(range(1, len(records) + 1))
    for who in ("a", "b"):
        assert [t for t in texts(live.folder) if t and t.startswith(who)] == [
            f"{who} {number}" for number in range(60)
        ]
    assert check_log(live.folder).ok


# --- programs that are killed ---------------------------------------------------------------------
HOLD_FOR_EVER = """
import sys, os
from pathlib import Path
from companion.log.writer import LogWriter

with LogWriter.beside(Path(sys.argv[1])) as writer, writer.turn():
    os.lseek(writer._descriptor, 0, os.SEEK_END)
    os.write(writer._descriptor, b'{"v":1,"seq":2,"at":"2026')
    print("held", flush=True)
    sys.stdin.read()
"""


def test_whoever_is_killed_in_a_turn_gives_the_log_back_and_what_it_left_torn_is_set_aside(
    live: LogWriter,
) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", HOLD_FOR_EVER, str(live.folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(LogBusy):
            live.turn(patience=0.05).__enter__()
        os.kill(holder.pid, signal.SIGKILL)
    with live.turn() as news:
        assert news == []
        recovered = live.recovered()
        assert recovered is not None
        assert "log.torn-1" in recovered
        assert live.append([ev.Trouble(what=recovered)], MONDAY)[0].seq == 2
    # Told once.
    assert live.recovered() is None
    assert (live.folder / "log.torn-1").read_bytes() == b'{"v":1,"seq":2,"at":"2026'
    assert check_log(live.folder).ok
    assert read_log(live.folder).recovered is None


def test_killed_while_they_all_write_every_acknowledged_record_is_found_again(
    live: LogWriter,
) -> None:
    acknowledged: set[int] = {1}
    for turn in range(4):
        program = beside(live.folder, f"page {turn}", 10_000)
        assert program.stdin is not None
        assert program.stdout is not None
        program.stdin.write("\n")
        program.stdin.flush()
        for told, line in enumerate(program.stdout, start=1):
            acknowledged.add(int(line))
            acknowledged.add(live.append([note("the bench")], MONDAY)[0].seq)
            if told == 1 + turn * 3:
                program.kill()
        program.wait()
        with live.turn():
            pass
    records = read_log(live.folder).records
    assert acknowledged <= {record.seq for record in records}
    report = check_log(live.folder)
    assert report.problems == ()


def test_a_line_whose_writer_was_killed_before_its_line_feed_counts(live: LogWriter) -> None:
    with LogWriter.beside(live.folder) as page:
        page.append([note("whole but for its end")], MONDAY)
    log = live.folder / "log.jsonl"
    os.truncate(log, log.stat().st_size - 1)
    with live.turn() as news:
        assert [r.event for r in news] == [note("whole but for its end")]
        assert live.append([note("after it")], MONDAY)[0].seq == 3
    assert check_log(live.folder).ok


@pytest.mark.parametrize("taken", [1, 60, 10_000])
def test_what_a_full_disk_left_behind_is_no_news(
    live: LogWriter, monkeypatch: pytest.MonkeyPatch, taken: int
) -> None:
    before = (live.folder / "log.jsonl").read_bytes()

    def write_in_part(descriptor: int, data: bytes) -> None:
        os.write(descriptor, bytes(data)[:taken])
        raise OSError(errno.ENOSPC, "No space left on device")

    def refuse(*_: object) -> None:
        raise OSError(errno.EIO, "Input/output error")

    with monkeypatch.context() as patch:
        patch.setattr("companion.log.writer.write_all", write_in_part)
        patch.setattr("companion.log.writer.os.ftruncate", refuse)
        with pytest.raises(CompanionError, match="No space left"):
            live.append([note("too much"), note("by far")], MONDAY)
    assert (live.folder / "log.jsonl").stat().st_size > len(before)
    with live.turn() as news:
        assert news == []
    assert (live.folder / "log.jsonl").read_bytes() == before
    assert live.append([note("there is room")], MONDAY)[0].seq == 2


# --- a log that is no longer the one that was opened ----------------------------------------------
def test_a_log_put_in_its_place_is_never_written(live: LogWriter, tmp_path: Path) -> None:
    log = live.folder / "log.jsonl"
    other = tmp_path / "other"
    shutil.copy(log, other)
    os.replace(other, log)
    before = log.read_bytes()
    for _ in range(2):
        with pytest.raises(CompanionError, match="moved or replaced while in use"):
            live.append([note("lost?")], MONDAY)
    assert log.read_bytes() == before


def test_a_log_moved_away_is_told(live: LogWriter, tmp_path: Path) -> None:
    live.folder.rename(tmp_path / "archive")
    assert live.grown
    with pytest.raises(CompanionError, match="moved or replaced while in use"):
        live.append([note("lost?")], MONDAY)
    assert len(read_log(tmp_path / "archive").records) == 1


def test_a_log_cut_short_or_changed_in_place_is_never_written_over(live: LogWriter) -> None:
    live.append([note("two"), note("six")], MONDAY)
    log = live.folder / "log.jsonl"
    whole = log.read_bytes()
    for changed in (
        whole[:-40],
        b"",
        whole.replace(b"six", b"tin"),
        whole.replace(b"six", b"m" * 9),
    ):
        log.write_bytes(changed)
        with pytest.raises(CompanionError, match="cut short or changed while in use"):
            live.append([note("over it?")], MONDAY)
        assert log.read_bytes() == changed
    # Put back as it was, it is written again.
    log.write_bytes(whole)
    assert live.append([note("four")], MONDAY)[0].seq == 4


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        (b'{"v":%d,"seq":2}\n' % (FORMAT_VERSION + 1), "A newer Bench Companion writes"),
        (b"not a line\n", "was damaged while in use: line 2 is not JSON"),
    ],
)
def test_what_is_no_line_of_this_log_is_told_and_left_as_it_is(
    live: LogWriter, line: bytes, sentence: str
) -> None:
    log = live.folder / "log.jsonl"
    with log.open("ab") as file:
        file.write(line)
    before = log.read_bytes()
    with pytest.raises(CompanionError, match=sentence):
        live.append([note("after it?")], MONDAY)
    assert log.read_bytes() == before


def test_a_line_that_does_not_go_on_from_the_one_before_is_told(
    live: LogWriter, tmp_path: Path
) -> None:
    with LogWriter.create(tmp_path / "other") as other:
        other.append([note("elsewhere"), note("elsewhere")], MONDAY)
    foreign = (tmp_path / "other" / "log.jsonl").read_bytes().splitlines(keepends=True)[1]
    with (live.folder / "log.jsonl").open("ab") as file:
        file.write(foreign)
    with pytest.raises(CompanionError, match="line 2 does not go on from the line before"):
        live.append([note("after it?")], MONDAY)


def test_an_empty_lock_file_says_nothing(live: LogWriter) -> None:
    # A killed bench leaves the file, and the lock with it is gone.
    live.close()
    assert (live.folder / LIVE_NAME).read_bytes() == b""
    assert not is_live(live.folder)
    with (live.folder / LIVE_NAME).open("rb+") as file:
        # Whoever only looks is not taken for the bench, nor in its way.
        assert not is_locked(file.fileno())
        assert lock_for_writing(file.fileno())
        assert is_live(live.folder)
