"""Cautions are spoken once a job, unless what calls for them comes about anew."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from companion.job.tags import TAGS

from companion.cli import main
from companion.errors import CompanionError
from companion.grammar.compiled import load_grammar
from companion.intent.intents import Finding, TagClear, TagHang
from companion.job import events as ev
from companion.job.caution_table import TABLE, load_cautions
from companion.job.cautions import CAUTIONS
from companion.job.load import load_card, shipped_cards
from companion.speak.speakable import speakable
from tests.bench_job import (
    AFFIRM,
    CARD,
    CLEAR_TO_START,
    RUNNING,
    STOPPED,
    Job,
    added,
    drained,
    reading,
    step,
    work,
)


def spoken(job: Job) -> list[str]:
    return [event.caution for event in job.events if isinstance(event, ev.CautionSpoken)]


def test_draining_within_half_an_hour_of_running_warns_of_hot_oil() -> None:
    job = Job().call(RUNNING, STOPPED).wait(minutes=29).call(drained("20"))
    assert "hot oil" in spoken(job)
    job = Job().call(RUNNING, STOPPED).wait(minutes=31).call(drained("20"))
    assert "hot oil" not in spoken(job)
    assert "hot oil" not in spoken(Job().call(drained("20")))


def test_an_engine_never_called_stopped_counts_as_hot() -> None:
    assert "hot oil" in spoken(Job().call(RUNNING).wait(hours=9).call(drained("20")))


def test_hot_oil_is_said_again_only_when_the_engine_ran_again() -> None:
    job = Job().call(RUNNING, STOPPED, drained("10")).call(drained("9"))
    assert "hot oil" not in spoken(job)
    job.call(RUNNING, STOPPED, drained("8"))
    assert "hot oil" in spoken(job)


def test_a_step_that_drains_warns_before_the_draining() -> None:
    job = Job(None, CARD).open().call(RUNNING, STOPPED, step("done"))
    assert job.state.step == "drain-oil"
    assert "hot oil" in spoken(job)


def test_running_warns_of_exhaust_and_of_what_turns_once_a_job() -> None:
    job = Job().call(RUNNING)
    assert spoken(job) == ["carbon monoxide", "rotating parts"]
    assert spoken(job.call(STOPPED, RUNNING)) == []


def test_a_start_is_warned_of_before_the_engine_runs() -> None:
    job = Job().call(CLEAR_TO_START, AFFIRM)
    assert spoken(job) == ["carbon monoxide", "eyes and ears"]
    assert spoken(job.call(RUNNING)) == ["rotating parts"]


def test_hands_near_a_drive_with_the_plug_wire_on() -> None:
    jam = Finding(part="auger", condition="worn")
    assert "hands near" in spoken(Job().call(jam))
    assert spoken(Job().call(TagHang(tag="plug wire off"), jam)) == []
    # Once the wire is on again the danger is there anew.
    job = Job().call(jam, TagHang(tag="plug wire off"), TagClear(tag="plug wire off"), AFFIRM)
    assert "hands near" in spoken(job.call(work("greased", "auger shaft")))
    assert spoken(job.call(work("greased", "auger shaft"))) == []


def test_the_other_usual_ones() -> None:
    for call, name in (
        (added("1", "gallon", "fuel"), "fuel vapor"),
        (drained("20"), "waste"),
        (work("replaced", "recoil rope"), "springs"),
        (work("cleaned", "battery"), "battery"),
        (TagHang(tag="blocked up"), "support"),
        (work("soaked", "axle"), "solvents"),
        (work("sharpened", "blade"), "grinding"),
    ):
        assert name in spoken(Job().call(call)), name


def test_a_job_begins_with_where_the_companions_word_ends() -> None:
    job = Job().open()
    assert spoken(job) == ["limits"]
    assert "maker's manual" in job.last(ev.CautionSpoken).text.lower()
    assert spoken(job.resume()) == []


def test_ordinary_readings_call_for_none() -> None:
    assert spoken(Job().call(reading("gap", "30", "thou"))) == []


# --- before the hands go in ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("step_of_card", "caution"),
    [
        ({"say": "Take the deck blade off."}, "hands near"),
        ({"say": "Grease it.", "points": ["auger shaft"]}, "hands near"),
        ({"say": "Clear the jam with a bar."}, "stored force"),
        ({"say": "Set it up.", "hangs": ["blocked up"]}, "support"),
        ({"say": "Take off the recoil cover."}, "springs"),
        ({"say": "Look at it.", "points": ["battery"]}, "battery"),
        ({"say": "Put penetrant on it."}, "solvents"),
        ({"say": "Sharpen both edges."}, "grinding"),
        ({"say": "Drain the tank.", "hangs": ["no fuel"]}, "fuel vapor"),
        ({"say": "Call it.", "expects": ["compression"]}, "spark test"),
        ({"say": "Outdoors, start it."}, "carbon monoxide"),
        ({"say": "Blow dirt away."}, "compressed air"),
        ({"say": "Check the nozzle."}, "injection"),
        ({"say": "Call output voltage."}, "mains voltage"),
    ],
)
def test_a_step_warns_before_the_hands_go_in(step_of_card: dict, caution: str) -> None:
    first = {"name": "look", "say": "Look it over."}
    card = {"name": "x", "title": "X", "step": [first, {"name": "work", **step_of_card}]}
    job = Job(None, card).open()
    assert caution not in spoken(job)
    job.call(step("done"))
    assert job.state.step == "work"
    assert caution in spoken(job)
    # Stepping back and forth says nothing twice.
    assert caution not in spoken(job.call(step("back"), step("next")))


def test_a_word_inside_another_calls_for_nothing() -> None:
    card = {"name": "x", "title": "X", "step": [{"name": "a", "say": "Springtime, jamb, blades."}]}
    assert spoken(Job(None, card).open()) == ["limits"]


def test_a_jammed_drive_is_warned_of_with_the_plug_wire_off_as_well() -> None:
    job = Job().call(work("removed", "plug wire"), Finding(part="auger", condition="seized"))
    assert spoken(job) == ["stored force"]


def test_a_hot_muffler_is_warned_of_again_after_another_run() -> None:
    job = Job().call(RUNNING, STOPPED, work("removed", "muffler"))
    assert "hot exhaust" in spoken(job)
    assert "hot exhaust" not in spoken(job.call(work("installed", "muffler")))
    assert "hot exhaust" in spoken(job.call(RUNNING, STOPPED, work("removed", "muffler")))
    assert "hot exhaust" not in spoken(Job().call(work("removed", "muffler")))


@pytest.mark.parametrize("name", shipped_cards())
def test_no_step_of_a_shipped_card_buries_its_words_under_cautions(name: str) -> None:
    job = Job(None, load_card(name).model_dump(mode="json")).open()
    for _ in range(2 * len(job.state.card.step if job.state.card else ())):
        assert len(spoken(job)) <= 4, (job.state.step, spoken(job))
        job.call(step("skip"))


# --- the table ----------------------------------------------------------------------------------


def test_every_caution_has_a_name_of_its_own_a_text_and_a_source() -> None:
    assert len({caution.name for caution in CAUTIONS}) == len(CAUTIONS)
    assert all(caution.text and caution.source for caution in CAUTIONS)
    # What is written is what is heard.
    assert all(speakable(caution.text) == caution.text.replace(";", ",") for caution in CAUTIONS)


def test_the_usual_dangers_are_all_there() -> None:
    names = {caution.name for caution in CAUTIONS}
    assert {
        "limits", "hot oil", "hot exhaust", "fuel vapor", "spark test", "carbon monoxide",
        "hands near", "stored force", "support", "springs", "battery", "solvents",
        "eyes and ears", "rotating parts", "waste", "injection", "mains voltage",
        "compressed air",
    } <= names  # fmt: skip


def test_what_the_triggers_name_can_happen() -> None:
    grammar = load_grammar()
    for caution in CAUTIONS:
        for trigger in caution.trigger:
            assert set(trigger.tags) <= set(TAGS), caution.name
            for action in trigger.actions:
                what = "machine" if action == "raised" else "plug wire"
                assert grammar.parse((action, *what.split())), action
            for condition in trigger.conditions:
                assert grammar.parse(("plug", "wire", condition)), condition


@pytest.mark.parametrize(
    ("broken", "reason"),
    [
        ('trigger = [{ on = "sneeze" }]', "'on' is 'sneeze' but must be one of"),
        ('trigger = [{ on = "step" }]', "every step would call for it"),
        ('trigger = [{ on = "drained", parts = ["x"] }]', "'drained' is narrowed by fluids"),
        ('trigger = [{ on = "drained", when = ["wet"] }]', "must be one of"),
        ("trigger = []", "nothing calls for 'a'"),
        ('trigger = [{ on = "drained" }]\nagain = "often"', "'again' is 'often'"),
        ('trigger = [{ on = "drained" }]\ncolor = "red"', "unknown key 'color'"),
        ('trigger = [{ on = "work", parts = ["Blade"] }]', "must be in lower case"),
    ],
)
def test_a_wrong_table_is_refused_with_its_line(tmp_path: Path, broken: str, reason: str) -> None:
    path = tmp_path / "cautions.toml"
    head = '[[caution]]\nname = "a"\ntext = "Look out."\nsource = "common practice"\n'
    path.write_text(f"{head}{broken}\n", encoding="utf-8")
    with pytest.raises(CompanionError, match=rf"cautions\.toml:\d+: .*{reason}"):
        load_cautions(path)


def test_a_text_too_long_to_take_in_is_refused(tmp_path: Path) -> None:
    text = TABLE.read_text(encoding="utf-8").replace("Hair, sleeves", "Hair, " * 20 + "sleeves")
    path = tmp_path / "cautions.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CompanionError, match="more than 14 words"):
        load_cautions(path)


def test_the_command_lists_text_trigger_and_source(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["cautions"]) == 0
    out = capsys.readouterr().out
    assert "hot oil (again once engine started): Hot oil, coolant" in out
    assert "  on step: hangs no oil or no coolant; while hot\n  on drained; while hot\n" in out
    assert "  source: NIOSH publication 96-118\n" in out
    assert main(["cautions", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    assert [each["name"] for each in listed] == [caution.name for caution in CAUTIONS]
    assert listed[1]["trigger"][1] == {"on": "drained", "when": ["hot"]}


def test_an_engine_to_be_stopped_is_talked_over_by_no_caution() -> None:
    job = Job().call(TagHang(tag="fuel off"), RUNNING)
    assert spoken(job) == []
    assert spoken(job.call(STOPPED, TagClear(tag="fuel off"), AFFIRM, RUNNING)) != []
