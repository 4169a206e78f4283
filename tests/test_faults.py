"""What was read back stays on the disk: the fault runs in short, and what they are judged by."""

from __future__ import annotations

import hashlib
import json
import random
from pathlib import Path

import pytest

from tools.faults import outside
from tools.faults.__main__ import run
from tools.faults.disk_model import WAYS, Disk, emptied
from tools.faults.kinds import KINDS
from tools.faults.layer import R_MKDIR, R_OPEN, R_SYNC, R_WRITE, Done
from tools.faults.running import Tally
from tools.faults.table import BEGIN, END, KINDS_IN_ORDER, write_into

ROOT = Path("/shop")


def test_nothing_acknowledged_is_lost_in_the_short_form(capsys: pytest.CaptureFixture[str]) -> None:
    tallies = run(list(KINDS), short=True, seed=7)
    notes = [note for tally in tallies for note in tally.notes]
    with capsys.disabled():
        print(*notes, sep="\n", end="\n" if notes else "")
    assert [told for tally in tallies for told in tally.told] == []
    for tally in tallies:
        assert (tally.lost, tally.tracebacks) == (0, 0)
        assert tally.runs or tally.notes
        assert tally.acknowledged > tally.runs or tally.notes


# --- what they are judged by ----------------------------------------------------------------------
def log_of(folder: Path, *said: str) -> Path:
    """A log written without the program."""
    prev, lines = "0" * 64, b""
    for number, text in enumerate(said, start=1):
        line = {
            "v": 1,
            "seq": number,
            "at": "2026-03-02T09:15:00+01:00",
            "kind": "said",
            "data": {"text": text},
            "prev": prev,
        }
        raw = json.dumps(line).encode()
        prev = hashlib.sha256(raw).hexdigest()
        lines += raw + b"\n"
    folder.mkdir(exist_ok=True)
    (folder / "log.jsonl").write_bytes(lines)
    return folder


PRINTED = "09:15:00  said    Gap, thirty.\n          said    Note kept.\n"


def test_what_is_missing_in_a_log_is_seen(tmp_path: Path) -> None:
    read_back = outside.printed(PRINTED)
    whole = outside.read(log_of(tmp_path / "whole", "Good morning.", "Gap, thirty.", "Note kept."))
    assert outside.lost(read_back, whole.entries) == []
    short = outside.read(log_of(tmp_path / "short", "Good morning.", "Gap, thirty."))
    assert outside.lost(read_back, short.entries) == [("said", "Note kept.")]
    turned = outside.read(log_of(tmp_path / "turned", "Note kept.", "Gap, thirty."))
    assert outside.lost(read_back, turned.entries) == [("said", "Note kept.")]


def test_only_what_was_printed_to_its_end_counts_as_read_back() -> None:
    assert outside.printed(PRINTED[:-1]) == [("said", "Gap, thirty.")]


@pytest.mark.parametrize("place", [10, 200, -3])
def test_a_log_counts_only_as_far_as_its_chain_holds(tmp_path: Path, place: int) -> None:
    path = log_of(tmp_path, "One.", "Two.", "Three.") / "log.jsonl"
    data = bytearray(path.read_bytes())
    data[place] ^= 1
    path.write_bytes(data)
    log = outside.read(tmp_path)
    assert len(log.entries) < 3
    assert log.why
    assert log.rest


def test_no_line_but_a_sentence_passes_on_standard_error() -> None:
    assert outside.untidy("companion: the disk is full.\n") == []
    assert outside.untidy("Traceback (most recent call last):\n  …\nOSError\n") != []


# --- the model of a disk --------------------------------------------------------------------------
def done(op: int, path: str = "", file: int = 0, data: bytes = b"", made: bool = False) -> Done:
    return Done(op, file, 0, int(made) if op == R_OPEN else len(data), 0.0, path, "", data)


MADE = (
    done(R_MKDIR, "/shop/job"),
    done(R_OPEN, "/shop/job/log", 1, made=True),
    done(R_WRITE, file=1, data=b"x" * 700),
)
SYNCED = (
    done(R_SYNC, file=1),
    done(R_OPEN, "/shop/job", 2),
    done(R_SYNC, file=2),
    done(R_OPEN, "/shop", 3),
    done(R_SYNC, file=3),
)


def disks(into: Path, *all_done: Done) -> set[bytes | None]:
    """What the log may hold after a cut; None where it may not be there."""
    disk = Disk(ROOT)
    for each in all_done:
        disk.do(each)
    found = set()
    for seed in range(30):
        for way in WAYS:
            put = emptied(into / "disk")
            disk.put(put, way, way, random.Random(seed))
            # Torn at a byte is more than the model says: sectors come whole.
            assert way == "torn" or disk.may_hold(put) is None
            log = put / "job" / "log"
            found.add(log.read_bytes() if log.exists() else None)
    return found


def test_what_was_never_synced_may_be_gone_torn_or_zeros(tmp_path: Path) -> None:
    found = disks(tmp_path, *MADE)
    assert {None, b"x" * 700, b"\0" * 700} < found
    assert any(each and 0 < len(each) < 700 for each in found)
    assert any(each and b"\0" in each and b"x" in each for each in found)


def test_what_was_synced_with_its_folders_is_there(tmp_path: Path) -> None:
    assert disks(tmp_path, *MADE, *SYNCED) == {b"x" * 700}


@pytest.mark.parametrize("left_out", range(len(SYNCED)))
def test_each_missing_sync_shows(tmp_path: Path, left_out: int) -> None:
    rest = [each for place, each in enumerate(SYNCED) if place != left_out]
    kept = [
        each
        for each in rest
        if each.op != R_SYNC
        or any(other.op == R_OPEN and other.file == each.file for other in (*MADE, *rest))
    ]
    assert disks(tmp_path, *MADE, *kept) != {b"x" * 700}


def test_a_row_of_the_table_takes_the_place_of_the_one_before(tmp_path: Path) -> None:
    page = tmp_path / "measurements.md"
    page.write_text(f"# Page\n\n{BEGIN}\n{END}\n\nThe rest.\n")
    write_into(
        [Tally("power-cuts", runs=7), Tally("kills", runs=3, told=["kills: odd"])], page=page
    )
    write_into([Tally("kills", runs=1000, acknowledged=9000)], page=page)
    text = page.read_text()
    assert text.startswith("# Page\n")
    assert text.endswith(f"{END}\n\nThe rest.\n")
    rows = [line for line in text.splitlines() if line.startswith("| ")][2:]
    assert [row.split(" | ")[:5] for row in rows] == [
        ["| kills", "1,000", "9,000", "0", "0"],
        ["| power-cuts", "7", "0", "0", "0"],
    ]
    assert "odd" not in text


def test_every_kind_has_its_place_in_the_table() -> None:
    assert set(KINDS_IN_ORDER) == set(KINDS)
