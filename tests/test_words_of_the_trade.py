"""What a technician says besides, from the typed call to the record, the readback and the pages."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from companion.grammar.compiled import load_grammar
from companion.intent.interpret import understand
from companion.intent.outcome import Listening
from companion.job import events as ev
from companion.job import steps
from companion.job.answers import Nothing, SayAgain
from companion.report.handover import render_handover
from companion.report.page import render_report
from companion.shelf.load import load_card, load_sheet
from companion.shelf.words import vocabulary_of
from companion.speak.worded.table import event_line
from companion.speak.wording import word, word_not_understood
from tests.bench_job import AFFIRM, Job, step
from tests.logs import Bench

TILLER = load_sheet("quillmoor-tiller")
SERVICE = load_card("four-stroke-service")
GRAMMAR = load_grammar(vocabulary_of(SERVICE, TILLER))
BENCH = load_grammar()
ANSWERING = Listening(answer_awaited=True)


def service() -> Job:
    return Job(TILLER.model_dump(mode="json"), SERVICE.model_dump(mode="json")).open()


def tiller() -> Job:
    return Job(TILLER.model_dump(mode="json")).open()


def call(job: Job, *texts: str) -> Job:
    for text in texts:
        decision = understand(text, GRAMMAR, ANSWERING)
        assert decision.outcome == "record", f"{text}: {decision.reasons}"
        job.call(*decision.intents)
    return job


def said(job: Job) -> str:
    reply = word(job.state, job.events, job.answers)
    assert reply is not None
    return reply.whole


# --- how many -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "readback", "shown"),
    [
        ("tightened engine bolt", "Tightened engine bolt.", "work: tightened engine bolt"),
        (
            "tightened four engine bolts",
            "Engine bolt, four tightened.",
            "work: tightened engine bolt × 4",
        ),
        (
            "tightened engine bolts",
            "All engine bolts tightened.",
            "work: tightened all engine bolts",
        ),
        ("handle bolt loose", "Handle bolt loose.", "finding: handle bolt loose"),
        ("three handle bolts loose", "Handle bolt, three loose.", "finding: handle bolt × 3 loose"),
        ("handle bolts loose", "All handle bolts loose.", "finding: all handle bolts loose"),
        ("left wheel missing", "Left wheel missing.", "finding: left wheel missing"),
        ("no spark", "No spark.", "finding: no spark"),
        ("smells of gas", "Fuel leak suspected.", "finding: fuel leak suspected"),
        ("torqued head bolts", "All head bolts tightened.", "work: tightened all head bolts"),
        ("idle screw one and a half turns", "Idle screw, one point five turns.", "idle screw 1.5"),
        (
            "cylinder two compression ninety five p s i",
            "Cylinder two compression, ninety five p s i. In.",
            "cylinder two compression 95 psi: in",
        ),
    ],
)
def test_what_is_called_is_read_back_and_stands_in_the_log(
    text: str, readback: str, shown: str
) -> None:
    job = call(tiller(), text)
    assert said(job).startswith(readback)
    (event,) = (
        each
        for each in job.events
        if isinstance(each, ev.WorkRecorded | ev.FindingRecorded | ev.ReadingRecorded)
    )
    assert event_line(event).startswith(shown)


def test_all_of_them_tick_a_tally_off_and_so_does_the_number() -> None:
    for calls in (
        ["tightened engine bolts"],
        ["tightened four engine bolts"],
        ["tightened three engine bolts", "tightened engine bolt"],
    ):
        job = service()
        job.call(step("done"))
        fasteners = steps.step_named(job.state, "fasteners")
        assert fasteners is not None
        job.keep(ev.StepEntered(step="fasteners"))
        assert "4 engine bolts" in steps.left_of(job.state, fasteners)
        call(job, *calls)
        assert not any("engine bolt" in each for each in steps.left_of(job.state, fasteners))


def test_the_pages_say_how_many_and_which_side(tmp_path: Path) -> None:
    bench = Bench(tmp_path, clips=False)
    bench.open(machine=TILLER.model_dump(mode="json"))
    bench.call("a", ev.WorkRecorded(action="loosened", part="engine bolt", count=4))
    bench.call("b", ev.WorkRecorded(action="tightened", part="engine bolt", every=True))
    bench.call("c", ev.FindingRecorded(part="left wheel", condition="missing"))
    bench.call("d", ev.FindingRecorded(part="blade bolt", condition="loose", count=3))
    bench.writer.close()
    for page in (render_report(tmp_path), render_handover(tmp_path)):
        for line in ("4 engine bolts", "all engine bolts", "left wheel missing"):
            assert line in page.lower()
        assert "3 blade bolts loose" in page


# --- cylinders ----------------------------------------------------------------------------------


def test_each_cylinder_is_judged_by_the_sheet_and_beside_the_other() -> None:
    job = call(tiller(), "cylinder one compression one twenty p s i")
    assert job.last(ev.ReadingRecorded).verdict == "in"
    call(job, "compression cylinder two sixty p s i")
    second = job.last(ev.ReadingRecorded)
    assert (second.measure, second.verdict) == ("cylinder two compression", "low")
    # Common practice: cylinders within a tenth of one another.
    assert any(remark.about == "apart" for remark in second.remarks)
    call(job, "correction one fifteen")
    assert job.last(ev.ReadingRecorded).measure == "cylinder two compression"
    call(job, "read back compression")
    assert "cylinder one compression one hundred twenty p s i" in said(job)
    assert "cylinder two compression one hundred fifteen p s i" in said(job)


@pytest.mark.parametrize(
    ("text", "cylinder", "value"),
    [
        ("compression cylinder one ninety p s i", 1, "90"),
        ("compression cylinder one one ninety p s i", 1, "190"),
        ("compression cylinder 1 120 psi", 1, "120"),
        ("cylinder 2 compression 95 psi", 2, "95"),
        ("compression one ninety p s i", None, "190"),
    ],
)
def test_the_number_of_the_cylinder_is_no_part_of_the_value(
    text: str, cylinder: int | None, value: str
) -> None:
    (found,) = understand(text, BENCH, ANSWERING).intents
    kept = found.model_dump(mode="json")
    assert (kept.get("cylinder"), kept["value"]) == (cylinder, value)


# --- the machine and its owner ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "serial"),
    [
        ("serial number q t four four one seven", "QT4417"),
        ("serial number quebec tango dash four zero", "QT-40"),
        ("serial number x ray nine", "X9"),
        ("Serial number: QT-4417/b.", "QT-4417/B"),
        ("bench serial number is 0042", "0042"),
        ("serial number 12", "12"),
        ("serial number eight e", "8E"),
    ],
)
def test_a_serial_number_is_spelled_or_typed_as_it_stands(text: str, serial: str) -> None:
    decision = understand(text, BENCH, ANSWERING)
    assert decision.outcome == "record"
    assert [each.model_dump() for each in decision.intents] == [
        {"intent": "serial", "serial": serial}
    ]


def test_oh_may_be_the_digit_or_the_letter_and_is_asked_about() -> None:
    decision = understand("serial number a oh one", BENCH, ANSWERING)
    assert decision.outcome == "ask"
    assert [each.model_dump()["serial"] for each in decision.intents] == ["A01", "AO1"]
    assert understand("serial number", BENCH, ANSWERING).outcome != "record"


def test_a_serial_number_is_kept_read_back_by_its_characters_and_can_be_undone() -> None:
    job = call(tiller(), "serial number q t four four one seven")
    assert job.state.serial == "QT4417"
    assert said(job) == "Serial number, q t four, four one seven."
    call(job, "serial number QT-44")
    assert job.state.serial == "QT-44"
    call(job, "read back serial number")
    assert said(job) == "Serial number q t dash, four four."
    call(job, "undo")
    assert job.state.serial in ("QT-44", "QT4417")


def test_serial_number_and_complaint_stand_in_the_report_and_on_the_owners_sheet(
    tmp_path: Path,
) -> None:
    bench = Bench(tmp_path, clips=False)
    bench.open(machine=None, card=None)
    bench.call("a", ev.SerialRecorded(serial="QT-4417"))
    bench.call("b", ev.NoteKept(about="complaint", text="hard to start when hot", draft=True))
    bench.call("c", ev.NoteKept(text="owner calls on Friday", draft=False))
    bench.writer.close()
    report, owner = render_report(tmp_path), render_handover(tmp_path)
    for page in (report, owner):
        assert "QT-4417" in page
        assert "ard to start when hot" in page
    assert "The customer&#39;s complaint" in report or "The customer's complaint" in report
    assert "owner calls on Friday" not in owner


def test_a_complaint_is_kept_with_its_words() -> None:
    decision = understand("Complaint: stalls under load", BENCH, ANSWERING)
    assert decision.intents[0].model_dump() == {"intent": "complaint", "text": "stalls under load"}
    job = call(tiller(), "complaint stalls under load")
    assert job.last(ev.NoteKept).about == "complaint"
    assert said(job) == "Complaint kept."


# --- help and its like --------------------------------------------------------------------------


def test_help_says_what_fits_now_and_leaves_a_question_open() -> None:
    job = service()
    assert "step done" in said(call(job, "what can I say"))
    job.keep(ev.StepEntered(step="spark-plug"))
    help_at_step = said(call(job, "help"))
    assert "spark plug" in help_at_step
    assert "gap" in help_at_step
    assert "Then step done." in help_at_step
    job = call(tiller(), "removed drive belt", "installed drive belt")
    assert job.asked is not None
    assert "affirm, or negative" in said(call(job, "help"))
    job.call(AFFIRM)
    assert job.tags == []
    assert "reading" in said(call(job, "help"))


def test_help_takes_no_longer_than_eight_seconds() -> None:
    # 170 words a minute, the usual rate of speech here, is 22 words in eight seconds.
    job = service()
    for name in (each.name for each in SERVICE.step):
        job.keep(ev.StepEntered(step=name))
        spoken = said(call(job, "help"))
        assert timedelta(minutes=len(spoken.split()) / 170) <= timedelta(seconds=8), spoken


def test_undo_and_repeat_are_disregard_and_say_again() -> None:
    job = call(tiller(), "oil leak", "undo")
    assert said(job) == "Disregarded: oil leak found."
    assert not job.state.effective(job.state.findings)
    (answer,) = call(job, "repeat").answers
    assert isinstance(answer, SayAgain | Nothing)


@pytest.mark.parametrize(
    ("text", "reply"),
    [
        ("thou", "Say again. Which reading? Gap, play or coil gap."),
        ("bench, amps", "Say again. Which reading? Battery draw, output current or charging"),
        ("thirty five milliamps", "Say again. Which reading? Battery draw"),
        ("ounces", "Say again. Which reading? Added or drained."),
        ("gap thirty", "Say again. Which unit? Thou, inches or millimeters."),
    ],
)
def test_a_unit_without_its_reading_asks_which_one(text: str, reply: str) -> None:
    decision = understand(text, BENCH, ANSWERING)
    assert decision.outcome == "say-again"
    assert word_not_understood(decision.reasons).text.startswith(reply)
