"""``companion log check``: everything that is wrong, and nothing that is not."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from companion.job import events as ev
from companion.log.check import check_log
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from tests.logs import MONDAY, invented_job, reading


def test_a_whole_job_has_no_problem_and_no_note(tmp_path: Path) -> None:
    invented_job(tmp_path)
    report = check_log(tmp_path)
    assert report.ok
    assert report.notes == ()
    records = read_log(tmp_path).records
    assert report.records == len(records)
    assert report.clips == len([r for r in records if isinstance(r.event, ev.Heard)])
    assert report.lines() == [
        f"{tmp_path}: whole; {report.records} records, {report.clips} clips",
    ]


def test_every_problem_is_told_not_only_the_first(tmp_path: Path) -> None:
    invented_job(tmp_path)
    log = tmp_path / "log.jsonl"
    lines = log.read_bytes().splitlines(keepends=True)
    lines[4] = lines[4].replace(b'"v":2', b'"v":"one"')
    lines[9] = b"{}\n"
    log.write_bytes(b"".join(lines[:-1]) + lines[-1][:20])
    problems = check_log(tmp_path).problems
    assert [p.split(" has")[0] for p in problems[:2]] == ["line 5", "line 10"]
    assert any("the last line is torn: 20 bytes" in problem for problem in problems)
    assert any("the log ends before record" in problem for problem in problems)


def test_missing_and_damaged_clips_are_told_with_their_record(tmp_path: Path) -> None:
    invented_job(tmp_path)
    clips = [
        (record.seq, record.event.clip)
        for record in read_log(tmp_path).records
        if isinstance(record.event, ev.Heard) and record.event.clip
    ]
    (tmp_path / clips[0][1]).unlink()
    (tmp_path / clips[1][1]).write_bytes(b"fLaC and then nothing")
    first, second = check_log(tmp_path).problems
    assert first.startswith(f"line {clips[0][0]} names a clip that cannot be heard")
    assert clips[0][1] in first
    assert second.startswith(f"line {clips[1][0]} names a clip that cannot be heard")
    assert clips[1][1] in second


def test_a_clip_that_no_record_names_is_noted(tmp_path: Path) -> None:
    invented_job(tmp_path, clips=False)
    (tmp_path / "audio" / "0099.flac").write_bytes(b"")
    report = check_log(tmp_path)
    assert report.ok
    assert report.notes == ("no record names the clip audio/0099.flac",)


def test_pointers_must_lead_back_to_what_they_name(tmp_path: Path) -> None:
    with LogWriter.create(tmp_path) as writer:
        writer.append(
            [
                reading("gap", "30", "thou", verdict="in", heard=2),
                reading("gap", "31", "thou", verdict="in", heard=1),
                reading("gap", "32", "thou", verdict="high", corrects=9),
                ev.Disregarded(record=4),
            ],
            MONDAY,
        )
    assert check_log(tmp_path).problems == (
        "line 1 points at 2, which is nothing heard before",
        "line 2 points at 1, which is nothing heard before",
        "line 3 points at 9, which is no earlier record",
        "line 4 points at 4, which is no earlier record",
    )


def test_a_clock_set_back_is_noted_and_no_problem(tmp_path: Path) -> None:
    with LogWriter.create(tmp_path) as writer:
        writer.append([ev.JobParked()], MONDAY)
        writer.append([ev.Resumed()], MONDAY - timedelta(minutes=2))
    report = check_log(tmp_path)
    assert report.ok
    assert report.notes == ("the clock went back by 120 s between records 1 and 2",)


def test_without_a_tip_the_last_line_cannot_be_vouched_for(tmp_path: Path) -> None:
    invented_job(tmp_path, clips=False)
    (tmp_path / "log.tip").write_text("what is this")
    report = check_log(tmp_path)
    assert report.ok
    assert report.notes == (
        "there is no log.tip that can be read, so a change to the very last line would not show",
    )
