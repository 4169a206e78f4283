"""A log that was cut short keeps every whole record; a log that was changed says where."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from companion.errors import CompanionError
from companion.job import events as ev
from companion.log.check import check_log
from companion.log.line import FORMAT_VERSION
from companion.log.reader import read_log, scan_log
from companion.log.scan import scan
from companion.log.tip import Tip, read_tip, write_tip
from companion.log.writer import LogWriter
from tests.logs import MONDAY, invented_job, reading

SMALL = (
    ev.Heard(
        text="gap thirty thou", engine="typed", confidence=1, call_confidence=1, outcome="record"
    ),
    reading("gap", "30", "thou", verdict="unknown", heard=1),
    ev.Said(text="Gap thirty, three zero, thou.", tone="recorded", heard=1),
)


@pytest.fixture
def small(tmp_path: Path) -> Path:
    folder = tmp_path / "small"
    with LogWriter.create(folder) as writer:
        for event in SMALL:
            writer.append([event], MONDAY)
    return folder


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("logs") / "job"
    invented_job(folder, clips=False)
    return folder


def log(folder: Path) -> Path:
    return folder / "log.jsonl"


def test_cut_at_any_byte_every_whole_record_stays(small: Path) -> None:
    data = log(small).read_bytes()
    records = read_log(small).records
    ends = [i for i, byte in enumerate(data) if byte == 0x0A]
    for length in range(1, len(data)):
        log(small).write_bytes(data[:length])
        kept = sum(length >= end for end in ends)
        if kept == 0:
            with pytest.raises(CompanionError):
                read_log(small)
            continue
        contents = read_log(small)
        assert contents.records == records[:kept]
        # Cut exactly at the end of a line, nothing is torn; the tip still knows of the rest.
        assert (contents.recovered is None) == (kept == len(records))


def test_cut_at_any_byte_a_log_without_a_tip_reads_the_same(small: Path) -> None:
    (small / "log.tip").unlink()
    data = log(small).read_bytes()
    records = read_log(small).records
    ends = [i for i, byte in enumerate(data) if byte == 0x0A]
    for length in range(ends[0], len(data)):
        log(small).write_bytes(data[:length])
        assert read_log(small).records == records[: sum(length >= end for end in ends)]


def test_a_torn_line_is_set_aside_once_and_the_log_goes_on(small: Path) -> None:
    data = log(small).read_bytes()
    end = data[:-1].rindex(b"\n") + 1
    for cut in (end + 1, end + 30, len(data) - 2):
        for torn in small.glob("log.torn-*"):
            torn.unlink()
        log(small).write_bytes(data[:cut])
        with LogWriter.open(small) as writer:
            assert (small / "log.torn-1").read_bytes() == data[end:cut]
            assert log(small).read_bytes() == data[:end]
            recovered = read_log(small).recovered
            assert recovered is not None
            assert "log.torn-1" in recovered
            assert writer.append([ev.Trouble(what=recovered)], MONDAY)[0].seq == 3
        # Told in the log, it is not told again.
        assert read_log(small).recovered is None
        assert check_log(small).ok


def test_each_torn_line_has_a_file_of_its_own(small: Path) -> None:
    for number in range(1, 12):
        with log(small).open("ab") as file:
            file.write(b'{"v":1,"seq":')
        with LogWriter.open(small) as writer:
            recovered = read_log(small).recovered
            assert recovered is not None
            assert f"log.torn-{number}," in recovered
            assert "log.torn-" not in recovered.replace(f"log.torn-{number}", "")
            writer.append([ev.Trouble(what=recovered)], MONDAY)


def test_torn_and_stopped_again_before_it_was_told_it_is_told_the_next_time(small: Path) -> None:
    with log(small).open("ab") as file:
        file.write(b'{"v":1')
    LogWriter.open(small).close()
    assert "log.torn-1" in (read_log(small).recovered or "")
    LogWriter.open(small).close()
    assert "log.torn-1" in (read_log(small).recovered or "")


def test_reading_changes_nothing_on_disk(small: Path) -> None:
    log(small).write_bytes(log(small).read_bytes()[:-9])
    before = {path.name: path.read_bytes() for path in small.iterdir() if path.is_file()}
    read_log(small)
    check_log(small)
    assert {path.name: path.read_bytes() for path in small.iterdir() if path.is_file()} == before


def test_zeros_after_a_power_cut_are_set_aside(small: Path) -> None:
    # Some file systems leave a block of zeros where a write had not reached the disk.
    with log(small).open("ab") as file:
        file.write(b"\0" * 4096)
    assert len(read_log(small).records) == 3
    with LogWriter.open(small) as writer:
        assert writer.next_seq == 4
    assert (small / "log.torn-1").stat().st_size == 4096


def test_whole_lines_missing_at_the_end_are_told(small: Path) -> None:
    lines = log(small).read_bytes().splitlines(keepends=True)
    log(small).write_bytes(b"".join(lines[:1]))
    contents = read_log(small)
    assert len(contents.records) == 1
    assert contents.recovered == "The log ends before records 2 to 3, which had been written."
    assert not check_log(small).ok
    with LogWriter.open(small) as writer:
        writer.append([ev.Trouble(what=contents.recovered)], MONDAY)
    assert read_log(small).recovered is None


def test_changing_any_byte_is_noticed(small: Path) -> None:
    data, tip = log(small).read_bytes(), read_tip(small)
    assert not scan(data, tip).problems
    for place in range(len(data)):
        for change in (0x01, 0x20, 0x80):
            changed = bytearray(data)
            changed[place] ^= change
            found = scan(bytes(changed), tip)
            assert found.problems or found.newer or found.torn or found.missing, (place, change)


@given(place=st.integers(0, 10**6), byte=st.integers(0, 255), tip_kept=st.booleans())
@settings(max_examples=150, deadline=None)
def test_changing_a_byte_of_a_long_log_is_noticed(
    whole: Path, place: int, byte: int, tip_kept: bool
) -> None:
    data, tip = log(whole).read_bytes(), read_tip(whole)
    last = data[:-1].rindex(b"\n")
    # Without a tip nothing vouches for the last line, so only what stands before it is held to.
    place %= len(data) if tip_kept else last
    changed = data[:place] + bytes([byte]) + data[place + 1 :]
    found = scan(changed, tip if tip_kept else None)
    noticed = bool(found.problems or found.newer or found.torn or found.missing)
    assert noticed == (changed != data)


@pytest.mark.parametrize("number", [1, 2, 20, 40])
def test_a_changed_line_is_named(whole: Path, tmp_path: Path, number: int) -> None:
    lines = log(whole).read_bytes().splitlines(keepends=True)
    # Still a valid event, so that only the hash can tell.
    lines[number - 1] = lines[number - 1].replace(b"T09:", b"T08:", 1)
    log(tmp_path).write_bytes(b"".join(lines))
    with pytest.raises(CompanionError, match=f"damaged: line {number} was changed"):
        read_log(tmp_path)
    assert check_log(tmp_path).problems[0] == f"line {number} was changed after it was written"


def test_a_changed_hash_in_a_line_names_that_line(whole: Path, tmp_path: Path) -> None:
    lines = log(whole).read_bytes().splitlines(keepends=True)
    line = json.loads(lines[10])
    line["prev"] = line["prev"][::-1]
    lines[10] = json.dumps(line, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
    log(tmp_path).write_bytes(b"".join(lines))
    assert check_log(tmp_path).problems == ("line 11 was changed after it was written",)


def test_missing_doubled_and_swapped_lines_are_named(whole: Path, tmp_path: Path) -> None:
    lines = log(whole).read_bytes().splitlines(keepends=True)
    cases = {
        "line 5 has the number 6 where 5 belongs": [*lines[:4], *lines[5:]],
        "line 6 has the number 5 where 6 belongs": [*lines[:5], *lines[4:]],
        "line 8 has the number 9 where 8 belongs": [*lines[:7], lines[8], lines[7], *lines[9:]],
        "line 1 has the number 2 where 1 belongs": lines[1:],
    }
    for sentence, changed in cases.items():
        log(tmp_path).write_bytes(b"".join(changed))
        with pytest.raises(CompanionError) as error:
            read_log(tmp_path)
        assert sentence in str(error.value)
        with pytest.raises(CompanionError):
            LogWriter.open(tmp_path)
        assert log(tmp_path).read_bytes() == b"".join(changed)


def test_a_log_from_a_newer_version_is_left_alone(small: Path) -> None:
    with log(small).open("ab") as file:
        newer = {"v": FORMAT_VERSION + 1, "seq": 4, "at": "…", "kind": "smell", "data": {}}
        file.write(json.dumps(newer).encode() + b"\n")
    before = log(small).read_bytes()
    for use in (read_log, LogWriter.open, check_log):
        with pytest.raises(CompanionError, match="newer Bench Companion; install that version"):
            use(small)
    assert log(small).read_bytes() == before
    assert not list(small.glob("log.torn-*"))


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "holds no record yet"),
        (b'{"v":1,"seq":1,"at":"2026-', "holds no record yet"),
        (b"dear diary\n", "is not a log of Bench Companion"),
        (b"dear diary", "is not a log of Bench Companion"),
        (b"[1, 2]\n", "is not a log of Bench Companion"),
        (b'{"v": true}\n', "is not a log of Bench Companion"),
        (b"\xff\xfe\x00\x01\n\x00", "is not a log of Bench Companion"),
        (b"[" * 100_000 + b"\n", "is not a log of Bench Companion"),
    ],
)
def test_what_is_no_log_is_refused_with_a_sentence_and_left_alone(
    tmp_path: Path, content: bytes, sentence: str
) -> None:
    log(tmp_path).write_bytes(content)
    for use in (read_log, LogWriter.open):
        with pytest.raises(CompanionError, match=sentence):
            use(tmp_path)
    assert log(tmp_path).read_bytes() == content
    assert not check_log(tmp_path).ok


def test_no_folder_no_log_and_a_folder_in_its_place(tmp_path: Path) -> None:
    with pytest.raises(CompanionError, match="is no session folder"):
        read_log(tmp_path / "nowhere")
    with pytest.raises(CompanionError, match="is no session folder"):
        LogWriter.open(tmp_path)
    log(tmp_path).mkdir()
    with pytest.raises(CompanionError, match="cannot be read"):
        read_log(tmp_path)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"extra": 1}, "must have the keys"),
        ({"seq": "2"}, "where a whole number from 1 belongs"),
        ({"at": {"date": "2026-03-02"}}, "not an RFC 3339 date-time"),
        ({"at": "2026-03-02T09:15:00"}, "not an RFC 3339 date-time"),
        ({"at": "2026-02-30T09:15:00Z"}, "on no calendar"),
        ({"kind": "smell"}, "does not hold a valid event"),
        ({"data": {"measure": "gap"}}, "does not hold a valid event"),
        ({"data": []}, "something else than an event"),
        ({"prev": "0"}, "no SHA-256"),
        ({"v": 0}, "no format version"),
    ],
)
def test_a_line_that_breaks_the_format_says_how(
    small: Path, change: dict[str, object], sentence: str
) -> None:
    lines = log(small).read_bytes().splitlines()
    lines[1] = json.dumps({**json.loads(lines[1]), **change}).encode()
    log(small).write_bytes(b"\n".join(lines) + b"\n")
    with pytest.raises(CompanionError, match=sentence):
        read_log(small)
    assert any(p.startswith("line 2 ") and sentence in p for p in check_log(small).problems)


def test_a_tip_that_was_written_in_part_accuses_no_log(small: Path) -> None:
    before = read_tip(small)
    assert before is not None
    write_tip(small, before)
    first = (small / "log.tip").read_bytes()
    plain = f"{before.seq:012d} {before.digest}\n".encode()
    write_tip(small, Tip(before.seq + 1, "f" * 64))
    second = (small / "log.tip").read_bytes()
    for old in (first, plain):
        for written in range(len(second) - 1):
            (small / "log.tip").write_bytes(second[:written] + old[written:])
            assert read_tip(small) in (before, None)
            assert not scan_log(small).problems


LONG = (
    ev.Heard(text="note", engine="typed", confidence=1, call_confidence=1, outcome="record"),
    ev.NoteKept(text="the cable is frayed at the lever " * 40, draft=False, heard=4),
    ev.Said(text="Note kept.", tone="recorded", heard=4),
)


@pytest.mark.parametrize("tip", ["of the write before", "gone"])
def test_sectors_of_the_last_write_that_never_came_cost_nothing_before_it(
    small: Path, tip: str
) -> None:
    before, first = read_tip(small), len(log(small).read_bytes())
    assert before is not None
    with LogWriter.open(small) as writer:
        writer.append(LONG, MONDAY)
    whole = log(small).read_bytes()
    write_tip(small, before)
    if tip == "gone":
        (small / "log.tip").unlink()
    sectors = range(first // 512, len(whole) // 512 + 1)
    for missing in range(1, 2 ** len(sectors)):
        data = bytearray(whole)
        for place, sector in enumerate(sectors):
            if missing >> place & 1:
                begin, end = max(first, 512 * sector), min(len(whole), 512 * (sector + 1))
                data[begin:end] = bytes(end - begin)
        log(small).write_bytes(data)
        found = scan_log(small)
        assert not found.problems
        assert len(found.records) >= len(SMALL)
        assert whole.startswith(bytes(data[: found.end]))
        assert data[: found.end].count(b"\n") == len(found.records) - found.unended


def test_zeros_in_what_was_acknowledged_are_damage(small: Path) -> None:
    with LogWriter.open(small) as writer:
        writer.append(LONG, MONDAY)
    whole = bytearray(log(small).read_bytes())
    for place in (10, len(whole) - 400):
        data = whole.copy()
        data[place : place + 100] = bytes(100)
        log(small).write_bytes(data)
        with pytest.raises(CompanionError, match="damaged"):
            read_log(small)


def test_no_number_of_a_line_is_without_end() -> None:
    # Written as a text, too: a reader that is lenient takes 400 nines for infinity.
    for endless in ("9" * 400, "inf", "nan", float("inf"), float("nan")):
        with pytest.raises(ValidationError):
            ev.TimerStarted.model_validate({"name": "soak", "seconds": endless, "due": MONDAY})
        with pytest.raises(ValidationError):
            ev.Rival.model_validate({"text": "gap", "confidence": endless})
    assert ev.TimerStarted.model_validate({"name": "soak", "seconds": 60, "due": MONDAY})
