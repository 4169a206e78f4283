"""``companion log show``: a log as lines to read."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from hypothesis import HealthCheck, given, settings

from companion.job import events as ev
from companion.job.reason import Reason
from companion.job.record import Record
from companion.log.reader import read_log
from companion.report.log_lines import log_lines, record_line
from companion.speak.worded.table import event_line
from tests.logs import GAP, MONDAY, any_event, any_time, fluid, invented_job, reading

HUNG = Reason(about="tag", what="voice", name="no oil", tag="no oil")
CRACKED = Reason(about="finding", what="cracked", name="fuel line", back="replaced")
DRAINED = Reason(about="fluid", what="drained", name="oil", tag="no oil")


def test_a_line_a_record_and_a_line_a_day(tmp_path: Path) -> None:
    invented_job(tmp_path, clips=False)
    lines = log_lines(tmp_path)
    assert lines[0] == "Monday 2 March 2026"
    assert "Tuesday 3 March 2026" in lines
    numbers = [int(line.split()[0]) for line in lines if line.startswith(" ")]
    assert numbers == list(range(1, len(read_log(tmp_path).records) + 1))
    assert lines[1] == (
        "    1  09:15:00+01:00  session opened: Quillmoor tiller; Spring service; us ounces"
    )


def test_what_no_longer_counts_says_why(tmp_path: Path) -> None:
    invented_job(tmp_path, clips=False)
    lines = log_lines(tmp_path)
    (corrected,) = (line for line in lines if "gap 30 thou: in" in line)
    assert corrected.endswith("[corrected]")
    (disregarded,) = (line for line in lines if "finding: shear pin broken" in line)
    assert disregarded.endswith("[disregarded]")


def test_events_in_words() -> None:
    said = {
        ev.FindingRecorded(part="shear pin", condition="broken", count=2): (
            "finding: shear pin × 2 broken"
        ),
        ev.WorkRecorded(action="tightened", part="blade bolt", every=True): (
            "work: tightened all blade bolts"
        ),
        reading("gap", "30", "thou", verdict="in", window=GAP): (
            "gap 30 thou: in (wanted 28 to 31 thou)"
        ),
        reading("torque", "16", "foot pound", verdict="unknown"): (
            "torque 16 foot pounds: no figure to judge by"
        ),
        reading("play", "0.125", "inch", verdict="unknown"): (
            "play 0.125 inches: no figure to judge by"
        ),
        fluid("added", "1", "ounce", corrects=4): "added 1 ounce of oil; corrects 4",
        ev.TimerStarted(name="soak", seconds=7200, due=MONDAY): (
            "soak timer: 7200 s, due 2026-03-02 09:15:00"
        ),
        ev.StartChecked(standing=("no oil",), not_checked=("fuel",)): (
            "clear to start asked: tags hang: no oil; not checked: fuel"
        ),
        ev.StartChecked(standing=("no oil",), reasons=(HUNG, CRACKED)): (
            "clear to start asked: tags hang: no oil; do not start: tag no oil: hung by a call; "
            "fuel line was called cracked and not called mended"
        ),
        ev.TagHung(tag="no oil", by="implied", because=(DRAINED,)): (
            "tag hung: no oil (oil was drained)"
        ),
        ev.EngineRunning(against=("no oil",), reasons=(HUNG,)): (
            "engine running against the tags no oil; tag no oil: hung by a call"
        ),
        ev.EngineRunning(against=("no oil",)): "engine running against the tags no oil",
        ev.NoteKept(text=None, draft=True, clip="audio/0007.flac"): (
            "note (draft): sound only [audio/0007.flac]"
        ),
        ev.Disregarded(record=8, restores=6): "disregarded: record 8; 6 counts again",
    }
    assert {event: event_line(event) for event in said} == said


@given(event=any_event(), at=any_time())
@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_record_is_one_line(event: ev.AnyEvent, at: datetime) -> None:
    line = record_line(Record(12, at, event))
    assert len(line.splitlines()) == 1
    assert line.startswith("   12  ")


def test_a_torn_end_is_told(tmp_path: Path) -> None:
    invented_job(tmp_path, clips=False)
    log = tmp_path / "log.jsonl"
    log.write_bytes(log.read_bytes()[:-5])
    assert "was torn" in log_lines(tmp_path)[-1]
