"""A machine named by a call at take-in: it is known from then on, and a sheet is left for it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from companion.called_machine import leave_sheet
from companion.grammar.compiled import load_grammar
from companion.intent.intents import Serial
from companion.intent.interpret import understand
from companion.intent.outcome import Listening
from companion.log.identity import Identity
from companion.log.machine_before import machine_before
from companion.log.machine_watch import MachineWatch
from companion.log.summaries import machine_of
from companion.session.opening import open_session
from companion.session.session import Session
from companion.shelf.load import load_sheet
from tests.conftest import Run

NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty data folder."""
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def worked(folder: Path, *calls: str, at: datetime = NOON) -> Session:
    """A session without a sheet in which these were typed, a minute apart."""
    session = open_session(folder, at=at)
    for number, call in enumerate(calls, start=1):
        session.typed(call, at + timedelta(minutes=number))
    return session


@pytest.mark.parametrize(
    ("said", "serial", "machine"),
    [
        ("mower serial number q t four four one seven", "QT4417", "mower"),
        ("Tiller, serial number QT-44/17", "QT-44/17", "tiller"),
        ("bench generator serial number is 0042", "0042", "generator"),
        ("serial number q t four", "QT4", None),
    ],
)
def test_the_kind_may_be_said_before_the_serial_number(
    said: str, serial: str, machine: str | None
) -> None:
    decision = understand(said, load_grammar(), Listening())
    assert decision.outcome == "record"
    assert decision.intents == (Serial(serial=serial, machine=machine),)


def test_what_is_no_kind_of_machine_is_not_taken_for_one() -> None:
    decision = understand("sofa serial number 12", load_grammar(), Listening())
    assert decision.outcome != "record"


def test_the_machine_has_a_name_from_then_on_until_the_call_is_disregarded(tmp_path: Path) -> None:
    session = worked(tmp_path / "job", "mower serial number QT-4417")
    assert session.state.machine == "mower QT-4417"
    # A plain one later corrects the number; it is a mower still.
    session.typed("serial number QT-4418", NOON + timedelta(hours=1))
    assert session.state.machine == "mower QT-4418"
    session.typed("disregard", NOON + timedelta(hours=2))
    assert session.state.machine == "mower QT-4417"
    session.close()
    other = worked(tmp_path / "other", "mower serial number QT-4417", "disregard")
    assert other.state.machine is None
    other.close()


def test_a_sheet_is_left_with_the_measures_that_were_called(tmp_path: Path, own: Path) -> None:
    session = worked(
        tmp_path / "job",
        "tiller serial number QT-4417",
        "gap 33 thou",
        "gap 30 thou",
        "cylinder two compression 90 psi",
        "air temperature 12 celsius",
        "torque 18 foot pounds",
    )
    session.close()
    left = leave_sheet(session.state)
    assert left is not None
    assert left.new
    assert left.path == own / "sheets" / "tiller-qt-4417.toml"
    sheet = load_sheet(left.path)
    assert (sheet.name, sheet.kind, sheet.invented) == ("tiller QT-4417", "tiller", False)
    assert sheet.identification.serial == "QT-4417"
    # What it read is not what it should read: no window is made of it.
    assert [(r.measure, r.unit, r.low, r.high) for r in sheet.reading] == [
        ("gap", "thou", None, None),
        ("compression", "psi", None, None),
        ("torque", "foot pound", None, None),
    ]
    text = left.path.read_text(encoding="utf-8")
    assert "# Called at the bench: 33 thou, 30 thou." in text
    assert "# Called at the bench: cylinder two 90 psi." in text
    # It is made once: what was filled in since stays.
    left.path.write_text(text.replace("#low = 28 ", "low = 29 "), encoding="utf-8")
    again = leave_sheet(session.state)
    assert again is not None
    assert not again.new
    assert load_sheet(left.path).reading[0].low == Decimal(29)


def test_without_such_a_call_no_sheet_is_left(tmp_path: Path, own: Path) -> None:
    session = worked(tmp_path / "job", "serial number QT-4417", "gap 33 thou")
    session.close()
    assert leave_sheet(session.state) is None
    assert not own.exists()


def test_the_next_job_finds_what_the_first_one_left(tmp_path: Path) -> None:
    first = tmp_path / "first"
    worked(first, "mower serial number QT-4417", "gap 33 thou", "tag no oil", "park job").close()
    assert machine_of(first) == (Identity("mower QT-4417", "QT-4417"), NOON)
    later = NOON + timedelta(days=7)
    before = machine_before("Mower QT-4417", later, lambda: [first], serial="QT-4417")
    assert [reading.measure for reading in before.readings] == ["gap"]
    watch = MachineWatch(
        Identity("mower QT-4417", "QT-4417"), tmp_path / "second", lambda: [first], gone=dict
    )
    assert [fact.event.kind for fact in watch.known().facts] == ["tag.hung"]


def test_a_tag_of_an_earlier_job_holds_the_start_as_soon_as_the_machine_is_named(
    tmp_path: Path,
) -> None:
    first = tmp_path / "first"
    worked(first, "mower serial number QT-4417", "tag no oil", "park job").close()
    second = open_session(tmp_path / "second", at=NOON + timedelta(days=1))
    second.watch_when_named(
        lambda state: (
            None
            if state.machine is None
            else MachineWatch(
                Identity(state.machine, state.serial), second.folder, lambda: [first], gone=dict
            )
        )
    )
    at = NOON + timedelta(days=1, minutes=1)
    before = second.typed("clear to start", at).reply
    assert before is not None
    assert "no oil" not in before.text.lower()
    second.typed("mower serial number QT-4417", at)
    after = second.typed("clear to start", at).reply
    assert after is not None
    assert after.text.startswith("Do not start. Tag no oil: hung by a call")
    second.close()


def test_the_program_leaves_the_sheet_and_the_next_job_takes_it(
    companion: Run, tmp_path: Path
) -> None:
    made = companion(
        *("work", "--typed", "--quiet", "--out", tmp_path / "job"),
        typed="mower serial number QT-4417\ngap 33 thou\npark job\n",
    )
    assert made.returncode == 0, made.stderr
    path = tmp_path / "data" / "sheets" / "mower-qt-4417.toml"
    assert f"Sheet:   {path} (new" in made.stdout
    assert "companion work --machine mower-qt-4417" in made.stdout
    assert "mower-qt-4417: mower QT-4417 (mower), your own" in companion("sheets").stdout
    history = companion("history", "mower-qt-4417").stdout
    assert "mower QT-4417: 1 session" in history
