"""What is appended is read back: same events, same times, numbered without a gap."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.job import events as ev
from companion.log import line
from companion.log.line import LineProblem, decode, encode
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from tests.counted import times_called
from tests.logs import MONDAY, any_event, any_time, events_of, invented_job

SOME_EVENTS = st.lists(any_event(), min_size=1, max_size=4)


@given(appends=st.lists(st.tuples(SOME_EVENTS, any_time()), min_size=1, max_size=4))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_events_come_back_as_they_were_appended(
    appends: list[tuple[list[ev.AnyEvent], datetime]],
) -> None:
    with TemporaryDirectory() as place:
        written = []
        with LogWriter.create(Path(place)) as writer:
            for events, at in appends:
                written += writer.append(events, at)
        contents = read_log(Path(place))
    assert list(contents.records) == written
    assert events_of(written) == [event for events, _ in appends for event in events]
    assert [record.seq for record in written] == list(range(1, len(written) + 1))
    assert contents.recovered is None


@given(event=any_event(), at=any_time())
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_a_line_is_one_line_and_says_the_offset(event: ev.AnyEvent, at: datetime) -> None:
    from companion.job.record import Record

    raw = encode(Record(7, at, event), "a" * 64)
    assert b"\n" not in raw
    record, prev = decode(raw)
    assert record == Record(7, at, event)
    assert record.at.utcoffset() == at.utcoffset()
    assert prev == "a" * 64


def test_lines_are_as_the_format_says(tmp_path: Path) -> None:
    invented_job(tmp_path)
    lines = (tmp_path / "log.jsonl").read_bytes().splitlines()
    before = b""
    for number, raw in enumerate(lines, start=1):
        line = json.loads(raw)
        assert list(line) == ["v", "seq", "at", "kind", "data", "prev"]
        assert (line["v"], line["seq"]) == (2 if "clip_sha256" in line["data"] else 1, number)
        assert line["at"].endswith("+01:00")
        assert line["prev"] == (hashlib.sha256(before).hexdigest() if before else "0" * 64)
        before = raw


def test_reopening_goes_on_with_the_next_number(tmp_path: Path) -> None:
    with LogWriter.create(tmp_path / "new" / "session") as writer:
        assert writer.next_seq == 1
        writer.append([ev.JobParked(), ev.Standby()], MONDAY)
    for expected in (3, 4, 5):
        with LogWriter.open(tmp_path / "new" / "session") as writer:
            assert writer.next_seq == expected
            assert writer.append([ev.Resumed()], MONDAY)[0].seq == expected
    assert len(read_log(tmp_path / "new" / "session").records) == 5


def test_nothing_appended_writes_nothing(tmp_path: Path) -> None:
    with LogWriter.create(tmp_path) as writer:
        assert writer.append([], MONDAY) == []
    assert (tmp_path / "log.jsonl").read_bytes() == b""


def test_a_time_without_offset_is_refused(tmp_path: Path) -> None:
    with LogWriter.create(tmp_path) as writer:
        with pytest.raises(ValueError, match="no offset"):
            writer.append([ev.JobParked()], datetime(2026, 3, 2, 9, 15))
        assert writer.append([ev.JobParked()], datetime(2026, 3, 2, tzinfo=UTC))[0].seq == 1


def test_an_offset_with_seconds_becomes_one_that_rfc_3339_can_write(tmp_path: Path) -> None:
    # Amsterdam kept UTC+00:19:32 until 1937 (IANA time-zone database, Europe/Amsterdam).
    at = datetime(1930, 5, 1, 12, 0, tzinfo=timezone(timedelta(minutes=19, seconds=32)))
    with LogWriter.create(tmp_path) as writer:
        writer.append([ev.JobParked()], at)
    assert read_log(tmp_path).records[0].at == at
    assert b"+00:20" in (tmp_path / "log.jsonl").read_bytes()


def test_a_number_that_json_cannot_hold_is_refused_before_anything_is_written(
    tmp_path: Path,
) -> None:
    bad = ev.TimerStarted.model_construct(name="soak", seconds=float("inf"), due=MONDAY)
    with LogWriter.create(tmp_path) as writer:
        with pytest.raises(ValueError, match="JSON"):
            writer.append([ev.JobParked(), bad], MONDAY)
        assert (tmp_path / "log.jsonl").read_bytes() == b""


ODD_PARTS = (
    b"\xff", b"\xed\xa0\x80", b"\xef\xbb\xbf", b"\0", b"\t", b"\\ud800", b"\\u00e9", b"NaN",
    b"Infinity", b"1e999", b"-0", b"01", b"1.", b"9" * 19, b"-" + b"9" * 21, b"1" + b"0" * 18, b"{",
    b"}", b"[[", b',"seq":2', b'"kind":"said"', b"true", b"null", b"0.1", b"1E5", b"e400",
    b"E+999", b".5e-400",
)  # fmt: skip
"""What a disk, a hand or an enemy may put into a line."""


def told(raw: bytes, before: str | None = None) -> object:
    """What becomes of a line, after a known one or alone: its record, or what is wrong with it."""
    try:
        record, prev = decode(raw, before)
    except LineProblem as problem:
        return type(problem), str(problem)
    return repr(record), prev


@given(event=any_event(), at=any_time(), data=st.data())
@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_the_quick_reader_of_lines_takes_and_refuses_the_same(
    event: ev.AnyEvent, at: datetime, data: st.DataObject
) -> None:
    """Python's own reader alone must give every record and every problem that both give."""
    from companion.job.record import Record

    raw = encode(Record(7, at, event), "a" * 64)
    for _ in range(data.draw(st.integers(0, 3))):
        place = data.draw(st.integers(0, len(raw)))
        raw = raw[:place] + data.draw(st.sampled_from(ODD_PARTS)) + raw[place:]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(line, "LONG_LINE", 0)
        alone = told(raw)
    assert told(raw) == told(raw, "a" * 64) == told(raw, "b" * 64) == alone


def test_of_a_line_that_follows_the_one_before_the_link_is_not_read(tmp_path: Path) -> None:
    invented_job(tmp_path)
    assert times_called(line._of_line, lambda: read_log(tmp_path)) == 0
    log = tmp_path / "log.jsonl"
    log.write_bytes(log.read_bytes().replace(b'"v":1,', b'"v": 1,', 1))
    with pytest.raises(CompanionError, match="was changed after it was written"):
        read_log(tmp_path)
