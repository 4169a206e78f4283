"""Logs as earlier programs wrote them: read, folded, shown, reported, checked and gone on with by
this one."""

from __future__ import annotations

import json
import shutil
from datetime import timedelta
from pathlib import Path

import pytest

from companion.job import events as ev
from companion.job.folding.evolve import fold
from companion.log.check import check_log
from companion.log.line import decode, encode
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from companion.report.handover import render_handover
from companion.report.log_lines import log_lines
from companion.report.page import render_report
from companion.session.opening import resume_session
from companion.shelf.rules import shipped_rules

HERE = Path(__file__).parent / "golden_logs"
GOLDEN = sorted(path.name for path in HERE.iterdir() if path.is_dir())
SAME_ORDER = ("6-before-clip-hashes", "7-clip-hashes", "8-questions-about-a-figure")
"""Since then the keys of an event stand in the order of today."""


@pytest.fixture(params=GOLDEN)
def golden(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A copy of one of them; its name is that of the folder that it was written in."""
    return Path(shutil.copytree(HERE / request.param, tmp_path / "job"))


def test_there_is_one_of_every_form() -> None:
    assert [name[0] for name in GOLDEN] == ["1", "2", "3", "4", "5", "6", "7", "8"]


def test_it_is_read_folded_shown_and_reported(golden: Path) -> None:
    checked = check_log(golden)
    assert checked.whole
    contents = read_log(golden)
    assert contents.recovered is None
    state = fold(contents.records, shipped_rules())
    assert [fact.event.value for fact in state.effective(state.readings)]
    assert any(tag.tag == "no oil" for tag in state.tags)
    assert "soak" in state.timers
    assert state.parked
    assert len(log_lines(golden)) >= len(contents.records)
    page, sheet = render_report(golden), render_handover(golden)
    assert contents.anchor.full in page
    assert contents.anchor.short in sheet


def test_it_is_gone_on_with_and_stays_what_it_was(golden: Path) -> None:
    before = (golden / "log.jsonl").read_bytes()
    at = read_log(golden).records[-1].at + timedelta(hours=1)
    session = resume_session(golden, at=at)
    assert session.writer.kept().startswith(before)
    session.typed("gap thirty thou", at)
    session.close()
    assert (golden / "log.jsonl").read_bytes().startswith(before)
    assert check_log(golden).whole


def test_encoded_again_it_is_the_same(golden: Path, request: pytest.FixtureRequest) -> None:
    name = request.node.callspec.params["golden"]
    for raw in (golden / "log.jsonl").read_bytes().splitlines():
        record, prev = decode(raw)
        again = encode(record, prev)
        if name in SAME_ORDER:
            assert again == raw
        elif record.event.kind == "start.checked":
            # The reasons were plain sentences then, and are read as reasons in words.
            assert json.loads(again)["data"].keys() == json.loads(raw)["data"].keys()
        else:
            # Nothing is added that the program of then did not know; one key stood elsewhere.
            assert json.loads(again) == json.loads(raw)
            assert len(again) == len(raw)


def test_it_is_kept_byte_for_byte_in_memory(golden: Path) -> None:
    with LogWriter.open(golden) as writer:
        assert writer.kept() == (golden / "log.jsonl").read_bytes()


def test_what_a_program_writes_new_has_every_key(tmp_path: Path) -> None:
    with LogWriter.create(tmp_path / "job") as writer:
        at = read_log(HERE / GOLDEN[0]).records[0].at
        (made,) = writer.append([ev.Heard(**HEARD)], at)
    (read,) = read_log(tmp_path / "job").records
    line = json.loads((tmp_path / "job" / "log.jsonl").read_bytes())
    assert {"rivals", "take", "draft", "decode_seconds"} <= set(line["data"])
    assert "clip_sha256" not in line["data"]
    assert encode(made, line["prev"]) == encode(read, line["prev"])


HEARD = {
    "text": "gap thirty thou",
    "engine": "typed",
    "confidence": 1.0,
    "call_confidence": 1.0,
    "outcome": "record",
}
