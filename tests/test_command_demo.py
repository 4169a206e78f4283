"""The demonstration through the whole program: real sound in, a log and a report out.

Nothing about the outcome is stored beside the recordings; here it is held against what the script
says was spoken.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from datetime import datetime
from decimal import Decimal
from pathlib import Path

import pytest

from companion.grammar.compiled import load_grammar
from companion.intent.decision import Listening
from companion.intent.intents import INTENT
from companion.intent.interpret import understand
from companion.job import events as ev
from companion.job import steps
from companion.job.folding.evolve import fold
from companion.log.check import check_log
from companion.log.reader import read_log
from companion.log.schema import record_schema
from companion.replay import load_replay
from companion.shelf.load import load_card, load_sheet
from companion.shelf.rules import shipped_rules
from companion.shelf.words import vocabulary_of
from companion.shipped import demonstration

GENERATOR, MOWER = "generator-load-check", "mower-autumn-service"


@pytest.fixture(scope="module", params=[GENERATOR, MOWER])
def demo(request: pytest.FixtureRequest) -> Path:
    """The folder of a demonstration session: its script and recordings."""
    return demonstration(request.param)


@pytest.fixture(scope="module")
def session(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that ``companion demo`` leaves."""
    base = tmp_path_factory.mktemp("demo")
    # The generator is what plays when no name is given.
    name = [] if demo.name == GENERATOR else [demo.name]
    run = subprocess.run(
        [sys.executable, "-m", "companion", "demo", *name, "--quiet", "--out", base / "first"],
        capture_output=True,
        text=True,
        env={**os.environ, "BENCH_COMPANION_DATA": str(base / "data")},
        check=False,
    )
    assert run.returncode == 0, run.stderr
    for folder in [base / "first", *([base / "first-last-week"] if demo.name == GENERATOR else [])]:
        assert f"Session: {folder}\n" in run.stdout
        assert f"Report:  {folder / 'report.html'}\n" in run.stdout
    return base / "first"


@pytest.fixture(scope="module")
def events(session: Path) -> list[ev.AnyEvent]:
    return events_of(session)


def events_of(session: Path) -> list[ev.AnyEvent]:
    return [record.event for record in read_log(session).records]


@pytest.fixture(scope="module")
def spoken(demo: Path) -> list[str]:
    return spoken_in(demo)


def spoken_in(folder: Path) -> list[str]:
    script = tomllib.loads((folder / "script.toml").read_text(encoding="utf-8"))
    lines = [line for recording in script["recording"] for line in recording["line"]]
    return [line["call"] for line in lines if "call" in line]


def test_every_call_is_heard_as_it_was_spoken(
    demo: Path, session: Path, events: list[ev.AnyEvent], spoken: list[str]
) -> None:
    assert_heard_as_spoken(demo, events, spoken)
    if demo.name == GENERATOR:
        before = session.with_name("first-last-week")
        assert_heard_as_spoken(demo / "last-week", events_of(before), spoken_in(demo / "last-week"))


def assert_heard_as_spoken(folder: Path, events: list[ev.AnyEvent], spoken: list[str]) -> None:
    plan = load_replay(folder)
    card = None if plan.job is None else load_card(plan.job)
    grammar = load_grammar(vocabulary_of(card, load_sheet(str(plan.machine)), plan.call_sign))
    listening = Listening(answer_awaited=True)

    def meaning(text: str) -> str:
        intents = understand(text, grammar, listening).intents
        return INTENT.dump_json(intents[0]).decode() if intents else text

    heard = [
        meaning(event.text)
        for event in events
        if isinstance(event, ev.Heard) and event.outcome != "ignore" and "note" not in event.text
    ]
    assert heard == [meaning(call) for call in spoken]


def test_talk_and_noise_leave_no_words_and_no_sound(demo: Path, events: list[ev.AnyEvent]) -> None:
    ignored = [e for e in events if isinstance(e, ev.Heard) and e.outcome == "ignore"]
    # With a key held nobody else is heard.
    assert bool(ignored) == (load_replay(demo).mode == "open-mic")
    for event in ignored:
        assert (event.text, event.clip, event.draft, event.rivals) == ("", None, None, ())


def test_what_every_scenario_is_there_to_show_happens(events: list[ev.AnyEvent]) -> None:
    readings = [e for e in events if isinstance(e, ev.ReadingRecorded)]
    assert any(reading.corrects is not None for reading in readings)
    assert any(reading.verdict in ("low", "high") for reading in readings)
    assert any(isinstance(e, ev.TimerRang) for e in events)
    notes = [e for e in events if isinstance(e, ev.NoteKept)]
    assert notes
    assert all(note.draft and note.clip and note.text for note in notes)
    checks = [e for e in events if isinstance(e, ev.StartChecked)]
    assert checks[0].standing
    assert checks[0].reasons
    assert not checks[-1].standing
    affirmed = next(i for i, e in enumerate(events) if isinstance(e, ev.StartAffirmed))
    cleared = {
        e.tag: i for i, e in enumerate(events) if isinstance(e, ev.TagCleared) and i < affirmed
    }
    assert set(checks[0].standing) <= set(cleared), "a start with a tag that was told to hang"


def test_what_one_scenario_is_there_to_show_happens(demo: Path, events: list[ev.AnyEvent]) -> None:
    kinds = [event.kind for event in events]
    if demo.name == GENERATOR:
        assert "disregarded" in kinds
        # "Forty" for "fourteen": asked about, denied, said again.
        asked = next(e for e in events if isinstance(e, ev.Heard) and e.outcome == "ask")
        assert "charging voltage forty volts" in asked.text
        charging = [
            e
            for e in events
            if isinstance(e, ev.ReadingRecorded) and e.measure == "charging voltage"
        ]
        assert [e.value for e in charging] == [Decimal(14)]
        answers = [e for e in events if isinstance(e, ev.StepAnswered) and e.answer == "negative"]
        assert [e.step for e in answers] == ["frequency"], "a branch of the card is taken"
        return
    # The whole card from the first step to the last, parked and taken up again.
    assert kinds.count("job.parked") == 1
    assert kinds.index("job.parked") < kinds.index("resumed") < kinds.index("start.checked")
    running = [e for e in events if isinstance(e, ev.EngineRunning)]
    assert any(e.against or e.reasons for e in running), "told to stop with a bolt left loose"


def test_a_timer_rings_at_its_own_time(session: Path) -> None:
    due: dict[str, datetime] = {}
    rings = 0
    for record in read_log(session).records:
        if isinstance(record.event, ev.TimerStarted):
            due[record.event.name] = record.event.due
        elif isinstance(record.event, ev.TimerRang) and record.event.count == 1:
            assert record.at == due[record.event.name]
            rings += 1
    assert rings


def test_the_log_is_whole_fits_its_schema_and_folds_to_a_closed_job(
    demo: Path, session: Path
) -> None:
    import json

    import jsonschema

    assert check_log(session).problems == ()
    validator = jsonschema.Draft202012Validator(record_schema())
    for line in (session / "log.jsonl").read_text(encoding="utf-8").splitlines():
        validator.validate(json.loads(line))
    state = fold(read_log(session).records, shipped_rules())
    assert state.closed
    assert state.tags == ()
    assert steps.steps_left(state) == ()


def test_a_danger_of_an_earlier_job_is_told_at_once_and_holds_the_start(
    demo: Path, session: Path, events: list[ev.AnyEvent]
) -> None:
    if load_replay(demo).before is None:
        return
    before = fold(read_log(session.with_name("first-last-week")).records, shipped_rules())
    assert before.closed
    assert [tag.tag for tag in before.tags] == ["fuel off"]
    first_heard = next(i for i, e in enumerate(events) if isinstance(e, ev.Heard))
    opening = " ".join(e.text for e in events[:first_heard] if isinstance(e, ev.Said))
    assert "fuel line was called cracked" in opening
    checks = [e for e in events if isinstance(e, ev.StartChecked)]
    against = [{reason.name for reason in check.reasons} for check in checks]
    assert [{"fuel line", "fuel valve"} <= parts for parts in against] == [True, False]
    assert checks[-1].reasons == ()


def test_the_report_stands_alone_and_holds_every_clip(
    session: Path, events: list[ev.AnyEvent]
) -> None:
    page = (session / "report.html").read_text(encoding="utf-8")
    clips = {e.clip for e in events if isinstance(e, ev.Heard) and e.clip}
    assert page.count("data:audio/flac") >= len(clips)
    for outside in ('src="http', "src='http", 'href="http', "@import", "url(http"):
        assert outside not in page
