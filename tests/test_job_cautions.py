"""Cautions are spoken once a job, unless what calls for them comes about anew."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from companion.cli import main
from companion.errors import CompanionError
from companion.grammar.compiled import load_grammar
from companion.intent.intents import Finding, Plain, SpecAsk, TagClear, TagHang
from companion.job import events as ev
from companion.job.answers import Refused
from companion.job.cautions import called_for, opening_cautions
from companion.shelf.cautions import TABLE, load_cautions
from companion.shelf.load import load_card, load_sheet, shipped_cards, shipped_sheets
from companion.shelf.rules import shipped_rules
from companion.speak.speakable import speakable
from companion.speak.wording import word
from tests.bench_job import (
    AFFIRM,
    CARD,
    CLEAR_TO_START,
    DISREGARD,
    NEGATIVE,
    RUNNING,
    STOPPED,
    Job,
    added,
    correction,
    drained,
    go,
    reading,
    step,
    work,
)
from tests.full_service import full_service


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


# --- before the hands go in -----------------------------------------------------------------------


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
        ({"say": "Call it.", "expects": ["leak down"]}, "compressed air"),
        ({"say": "Blow it out."}, "compressed air"),
        ({"say": "Old mix into a can."}, "stale fuel"),
        ({"say": "Tip it back and block it."}, "tipping"),
        ({"say": "Pull the rope slowly."}, "starter rope"),
        ({"say": "Look at it.", "points": ["lithium battery"]}, "lithium battery"),
        ({"say": "Off with it.", "does": [{"action": "removed", "part": "blade"}]}, "hands near"),
        ({"say": "Off.", "does": [{"action": "removed", "part": "fuel line"}]}, "fuel vapor"),
        ({"say": "Up.", "does": [{"action": "raised", "part": "machine"}]}, "support"),
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


# --- each at its moment ---------------------------------------------------------------------------


def on_card(*steps_of_card: dict[str, Any], sheet: str | None = None) -> Job:
    """A job on a card of these steps, opened at the first."""
    named = [{"name": f"step-{place}", **each} for place, each in enumerate(steps_of_card)]
    kept = None if sheet is None else load_sheet(sheet).model_dump(mode="json")
    return Job(kept, {"name": "x", "title": "X", "step": named}).open()


def test_compressed_air_is_warned_of_when_its_figure_is_asked_for() -> None:
    job = Job().call(SpecAsk(measure="leak down"))
    assert spoken(job) == ["compressed air"]
    assert spoken(job.call(reading("leak down", "12", "percent"))) == []


def test_compressed_air_is_warned_of_late_rather_than_never() -> None:
    job = Job().call(reading("leak down", "12", "percent"))
    assert spoken(job) == ["compressed air"]


@pytest.mark.parametrize("fluid", ["fuel", "two stroke mix"])
@pytest.mark.parametrize("moved", [added, drained])
def test_fuel_near_a_hot_engine_is_warned_of_each_time(moved: Any, fluid: str) -> None:
    job = Job().call(RUNNING, STOPPED)
    for _ in range(3):
        assert "hot fueling" in spoken(job.call(moved("5", fluid=fluid)))
    assert "hot fueling" not in spoken(job.wait(hours=2).call(moved("5", fluid=fluid)))
    assert "hot fueling" not in spoken(Job().call(moved("5", fluid=fluid)))
    assert "hot fueling" not in spoken(Job().call(RUNNING, STOPPED, moved("5", fluid="oil")))


def test_correcting_an_amount_of_fuel_pours_none() -> None:
    job = Job().call(RUNNING, STOPPED, added("5", fluid="fuel"), correction("6", "ounce"))
    assert isinstance(job.events[0], ev.FluidMoved)
    assert spoken(job) == []


def test_a_step_that_fuels_a_hot_engine_warns_before_it_is_poured() -> None:
    job = on_card({"say": "Look."}, {"say": "Fill with fresh fuel."})
    assert "hot fueling" in spoken(job.call(RUNNING, STOPPED, step("done")))


@pytest.mark.parametrize("fluid", ["fuel", "two stroke mix"])
def test_fuel_added_while_the_engine_runs_stops_it_with_a_warning(fluid: str) -> None:
    job = Job().call(RUNNING)
    for _ in range(2):
        job.call(added("5", fluid=fluid))
        (warning,) = (each for each in job.answers if isinstance(each, Refused))
        assert warning.text.startswith("Stop the engine")
        reply = word(job.state, job.events, job.answers)
        assert reply is not None
        assert reply.tone == "warning"
        assert reply.text.startswith("Stop the engine")
    assert not any(isinstance(each, Refused) for each in job.call(added("5")).answers)
    job.call(STOPPED, added("5", fluid=fluid))
    assert not any(isinstance(each, Refused) for each in job.answers)


def test_mains_voltage_is_warned_of_at_each_load_and_once_within_it() -> None:
    job = on_card(
        {"say": "Look."},
        {"say": "No load.", "expects": ["output voltage"]},
        {"say": "Half load.", "hangs": ["load connected"], "expects": ["output voltage"]},
        {"say": "Full load.", "expects": ["output voltage"]},
        {"say": "Call follow ups."},
    )
    for _ in range(3):
        job.call(step("done"))
        if job.asked is not None:
            job.call(AFFIRM)
        assert "mains voltage" in spoken(job)
        job.call(reading("output voltage", "120", "volt"))
        assert "mains voltage" not in spoken(job)
    assert "mains voltage" not in spoken(job.call(step("done")))
    # Coming back to a load is coming to it again.
    again = on_card({"say": "Look."}, {"say": "Full load.", "expects": ["output voltage"]})
    again.call(step("done"), step("back"), step("next"))
    assert "mains voltage" in spoken(again)


@pytest.mark.parametrize(
    "warms",
    [
        {"say": "If it runs, warm it outdoors, then stop it."},
        {"say": "Stop it after a while.", "wait": {"timer": "warm up", "minutes": 10}},
        {"say": "Run it outside."},
        {"say": "Let it idle, then stop it."},
        {"say": "Run five minutes more, then stop."},
    ],
)
def test_a_step_that_warms_the_engine_makes_its_oil_hot(warms: dict[str, Any]) -> None:
    job = on_card(warms, {"say": "Drain the oil.", "hangs": ["no oil"]})
    job.wait(minutes=10).call(step("done"))
    assert job.state.step == "step-1"
    assert "hot oil" in spoken(job)
    skipped = on_card(warms, {"say": "Drain the oil.", "hangs": ["no oil"]}).call(step("skip"))
    assert skipped.state.step == "step-1"
    assert "hot oil" not in spoken(skipped)


@pytest.mark.parametrize(
    "say", ["Do not start it.", "Drain the warm oil.", "Never run it dry.", "Ask: clear to start."]
)
def test_a_step_that_runs_nothing_heats_nothing(say: str) -> None:
    job = on_card({"say": say}, {"say": "Drain the oil.", "hangs": ["no oil"]})
    assert "hot oil" not in spoken(job.call(step("done")))


def test_a_speed_that_was_read_tells_that_the_engine_ran() -> None:
    job = Job().call(reading("engine speed", "3600", "rpm")).wait(minutes=20)
    assert "hot oil" in spoken(job.call(drained("20")))
    job = Job().call(reading("engine speed", "3600", "rpm"), DISREGARD, drained("20"))
    assert "hot oil" not in spoken(job)


def test_a_make_safe_that_was_passed_by_leaves_the_wire_on() -> None:
    steps_of_card = (
        {"say": "Look."},
        {"say": "Plug wire off.", "does": [{"action": "removed", "part": "plug wire"}]},
        {"say": "Blade off.", "does": [{"action": "removed", "part": "blade"}]},
    )
    passed = on_card(*steps_of_card).call(go("step-2"))
    assert "hands near" in spoken(passed)
    safe = on_card(*steps_of_card).call(step("done"), work("removed", "plug wire"), step("done"))
    assert safe.state.step == "step-2"
    assert "hands near" not in spoken(safe)


def test_the_step_that_takes_the_wire_off_is_not_told_to() -> None:
    off = {"action": "removed", "part": "plug wire"}
    job = on_card({"say": "Look."}, {"say": "Plug wire off, blade out of gear.", "does": [off]})
    assert "hands near" not in spoken(job.call(step("done")))


def test_what_a_step_does_is_not_warned_of_again_once_it_is_done() -> None:
    job = Job()
    event = ev.WorkRecorded(action="removed", part="blade", by="step")
    job.keep(event)
    assert called_for(job.state, event, job.now, shipped_rules().cautions) == ()


# --- findings: each with all that it calls for, on a cold machine with the plug wire on -----------


FOUND: dict[tuple[str, str], set[str]] = {
    # No spark is the news of a stopped engine: nothing is within reach of the hand by it.
    ("spark", "none"): set(),
    ("spark", "weak"): set(),
    ("spark", "missing"): set(),
    ("spark", "good"): set(),
    ("compression", "low"): set(),
    ("spark plug", "fouled"): set(),
    ("spark plug", "seized"): set(),
    ("spark plug", "wet"): set(),
    ("plug wire", "loose"): set(),
    ("air filter", "dirty"): set(),
    ("air filter", "plugged"): set(),
    ("air filter", "missing"): set(),
    ("handle bolt", "loose"): set(),
    ("engine bolt", "missing"): set(),
    ("deck", "rusted"): set(),
    ("tire", "flat"): set(),
    ("throttle cable", "sticking"): set(),
    ("governor spring", "stretched"): set(),
    ("governor spring", "broken"): set(),
    ("fuel cap", "missing"): set(),
    ("fuel filter", "dirty"): set(),
    ("carburetor", "dirty"): set(),
    ("exhaust valve", "burnt"): set(),
    ("muffler", "rusted"): set(),
    ("muffler", "loose"): set(),
    ("oil seal", "leaking"): set(),
    ("drain plug", "seized"): set(),
    ("axle", "seized"): set(),
    ("starter cord", "frayed"): set(),
    ("breaker point", "burnt"): set(),
    ("belt guard", "bent"): set(),
    ("blade guard", "cracked"): set(),
    ("chain guard", "broken"): set(),
    ("guard", "bent"): set(),
    # Seen from two paces: nobody has a hand at it yet.
    ("blade", "rusted"): set(),
    ("drive belt", "missing"): set(),
    ("recoil rope", "dirty"): set(),
    ("battery", "dead"): set(),
    ("nozzle", "missing"): set(),
    ("outlet", "dirty"): set(),
    # What turns, felt with the hand; a jam only where something is jammed.
    ("drive belt", "worn"): {"hands near"},
    ("drive belt", "broken"): {"hands near"},
    ("blade", "bent"): {"hands near"},
    ("blade bolt", "seized"): {"hands near"},
    ("auger", "bent"): {"hands near"},
    ("shear pin", "broken"): {"hands near"},
    ("shear pin", "seized"): {"hands near"},
    ("drive belt", "seized"): {"hands near"},
    ("blade", "seized"): {"hands near", "stored force"},
    ("auger", "seized"): {"hands near", "stored force"},
    ("auger", "plugged"): {"hands near", "stored force"},
    ("tine", "jammed"): {"hands near", "stored force"},
    ("saw chain", "stuck"): {"hands near", "stored force"},
    ("impeller", "clogged"): {"hands near", "stored force"},
    ("knife drum", "jammed"): {"hands near", "stored force"},
    ("idler pulley", "seized"): {"hands near", "stored force"},
    ("gearbox", "seized"): {"stored force"},
    ("left wheel", "seized"): {"stored force"},
    ("wheel bolt", "seized"): set(),
    # What runs out, springs, gases and kills.
    ("fuel line", "leaking"): {"fuel vapor"},
    ("fuel tank", "cracked"): {"fuel vapor"},
    ("carburetor", "leaking"): {"fuel vapor"},
    ("fuel", "stale"): {"stale fuel"},
    ("carburetor", "gummed"): {"stale fuel"},
    ("recoil spring", "broken"): {"springs"},
    ("recoil rope", "frayed"): {"springs"},
    ("battery", "leaking"): {"battery"},
    ("battery cable", "corroded"): {"battery"},
    ("lithium battery", "swollen"): {"lithium battery"},
    ("battery pack", "cracked"): {"lithium battery"},
    ("pressure hose", "leaking"): {"injection"},
    ("nozzle", "plugged"): {"injection"},
    ("carburetor nozzle", "plugged"): set(),
    ("outlet", "burnt"): {"mains voltage"},
    ("pump outlet", "cracked"): set(),
    ("cord", "frayed"): {"mains voltage", "cord rating"},
}  # fmt: skip


@pytest.mark.parametrize(("part", "condition"), FOUND)
def test_what_a_finding_calls_for(part: str, condition: str) -> None:
    job = Job().call(Finding(part=part, condition=condition))
    assert set(spoken(job)) == FOUND[part, condition]


def test_a_hot_muffler_is_warned_of_where_a_hand_goes_to_it() -> None:
    hot = Job().call(RUNNING, STOPPED)
    assert spoken(hot.call(Finding(part="muffler", condition="rusted"))) == []
    assert spoken(hot.call(Finding(part="muffler", condition="loose"))) == ["hot exhaust"]


@pytest.mark.parametrize(
    ("say", "jam"),
    [
        ("Is the auger jammed? Clear it with a bar.", True),
        ("Clear the tines of wire and string.", True),
        ("It is jammed or seized. Call it.", True),
        ("If a pin is seized, wet it with penetrant.", False),
        ("Look whether the jet is clogged.", False),
        ("Loosen the jam nut.", False),
        ("Is the plug seized in the head?", False),
    ],
)
def test_a_step_speaks_of_a_jam_only_where_something_can_be_jammed(say: str, jam: bool) -> None:
    job = on_card({"say": "Look."}, {"say": say}).call(step("done"))
    assert ("stored force" in spoken(job)) is jam


def test_hands_near_says_nothing_of_a_jam() -> None:
    (hands,) = (each for each in shipped_rules().cautions if each.name == "hands near")
    assert "jam" not in hands.text.lower()


# --- machines with dangers of their own -----------------------------------------------------------


@pytest.mark.parametrize(
    ("sheet", "say", "caution"),
    [
        ("saltmere-washer", "Hose off at the pump.", "stored pressure"),
        ("saltmere-washer", "Pull the trigger. Call pump pressure.", "gun kicks"),
        ("saltmere-washer", "Let the trigger go. Feel the thermal valve.", "hot water"),
        ("saltmere-washer", "Look at the hose.", "injection"),
        ("oddlestone-chipper", "Turn the drum by hand.", "drum runs on"),
        ("oddlestone-chipper", "Feed one branch.", "wood kicks back"),
        ("oddlestone-chipper", "Clear the chute.", "never reach in"),
        ("brackwater-generator", "Outdoors, nothing plugged in.", "generator exhaust"),
        ("brackwater-generator", "Outdoors, nothing plugged in.", "backfeed"),
        ("brackwater-generator", "Half load.", "cord rating"),
        ("brackwater-generator", "Half load.", "wet"),
    ],
)
def test_a_machine_is_warned_of_its_own_dangers(sheet: str, say: str, caution: str) -> None:
    job = on_card({"say": "Look."}, {"say": say}, sheet=sheet).call(step("done"))
    assert caution in spoken(job)
    other = on_card({"say": "Look."}, {"say": say}, sheet="quillmoor-tiller").call(step("done"))
    assert caution not in spoken(other)


def test_running_a_machine_warns_of_what_only_it_does() -> None:
    for sheet, expected in (
        ("saltmere-washer", {"gun kicks", "hot water"}),
        ("oddlestone-chipper", {"never reach in", "wood kicks back"}),
        ("brackwater-generator", {"generator exhaust"}),
        ("quillmoor-tiller", set()),
    ):
        job = Job(load_sheet(sheet).model_dump(mode="json")).call(RUNNING)
        assert set(spoken(job)) == {"carbon monoxide", "rotating parts"} | expected


def test_a_stopped_chipper_still_turns() -> None:
    job = Job(load_sheet("oddlestone-chipper").model_dump(mode="json")).call(RUNNING, STOPPED)
    assert spoken(job) == ["drum runs on"]
    assert spoken(job.call(STOPPED)) == []
    assert spoken(job.call(RUNNING, STOPPED)) == ["drum runs on"]
    assert spoken(Job().call(RUNNING, STOPPED)) == []


def test_a_rope_that_kicks_is_warned_of_at_a_start_by_rope_only() -> None:
    for sheet, rope in (("tarnfield-mower", True), ("brackwater-generator", False)):
        job = Job(load_sheet(sheet).model_dump(mode="json")).call(CLEAR_TO_START, AFFIRM)
        assert ("starter rope" in spoken(job)) is rope, sheet


# --- never so often that they are tuned out -------------------------------------------------------


MOST_OF_A_SERVICE = 24
"""Cautions in a whole service, the card's own among them: our own figure. It leaves most steps of
the longest card without any."""


@pytest.mark.parametrize("answer", [AFFIRM, NEGATIVE], ids=["affirm", "negative"])
@pytest.mark.parametrize("name", shipped_cards())
def test_a_full_service_says_nothing_twice_that_did_not_come_about_anew(
    name: str, answer: Plain
) -> None:
    job, said = full_service(name, answer)
    assert job.state.step == load_card(name).step[-1].name
    assert len(said) <= MOST_OF_A_SERVICE
    rules = {
        each.name: {trigger.again or each.again for trigger in each.trigger}
        for each in shipped_rules().cautions
    }
    spoken_at: dict[str, int] = {}
    for place, record in enumerate(job.records):
        if not isinstance(record.event, ev.CautionSpoken):
            continue
        caution = record.event.caution
        if caution in spoken_at:
            between = {type(each.event) for each in job.records[spoken_at[caution] : place]}
            anew = (MAKES_ANEW[rule] & between for rule in rules.get(caution, {"once"}))
            assert any(anew), f"{caution} at {record.seq}"
        spoken_at[caution] = place


MAKES_ANEW: dict[str, set[type[ev.Event]]] = {
    "once": set(),
    "engine started": {ev.EngineRunning, ev.StepDone},
    "plug wire on": {ev.TagCleared, ev.EngineRunning, ev.StepDone},
    "each step": {ev.StepEntered},
    "each time": {ev.FluidMoved, ev.StepEntered},
}
"""What must have happened in between for a caution to be said again."""


# --- the table ------------------------------------------------------------------------------------


def test_every_caution_has_a_name_of_its_own_a_text_and_a_source() -> None:
    assert len({caution.name for caution in shipped_rules().cautions}) == len(
        shipped_rules().cautions
    )
    assert all(caution.text and caution.source for caution in shipped_rules().cautions)
    # What is written is what is heard.
    assert all(
        speakable(caution.text) == caution.text.replace(";", ",")
        for caution in shipped_rules().cautions
    )


def test_the_usual_dangers_are_all_there() -> None:
    names = {caution.name for caution in shipped_rules().cautions}
    assert {
        "limits", "hot oil", "hot exhaust", "fuel vapor", "spark test", "carbon monoxide",
        "hands near", "stored force", "support", "springs", "battery", "solvents",
        "eyes and ears", "rotating parts", "waste", "injection", "mains voltage",
        "compressed air",
    } <= names  # fmt: skip


LISTED_BY_SHOPS = {
    "clogged", "dented", "gummed", "hot", "jammed", "slipping", "sour", "stale", "stuck",
    "varnished", "wedged",
}  # fmt: skip
"""Words of the trade that a shop's own card or sheet may list as conditions."""


def test_what_the_triggers_name_can_happen() -> None:
    grammar = load_grammar()
    listed = {each.name for name in shipped_cards() for each in load_card(name).condition}
    listed |= {each.name for name in shipped_sheets() for each in load_sheet(name).condition}
    by_steps = {
        tag for name in shipped_cards() for each in load_card(name).step for tag in each.hangs
    }
    for caution in shipped_rules().cautions:
        for trigger in caution.trigger:
            assert set(trigger.tags) <= set(shipped_rules().dangers.why) | by_steps, caution.name
            for action in trigger.actions:
                said_of = ("machine", "plug wire", "fuel valve")
                assert any(grammar.parse((action, *of.split())) for of in said_of), action
            for condition in trigger.conditions:
                known = condition in listed or condition in LISTED_BY_SHOPS
                assert known or grammar.parse(("plug", "wire", condition)), condition


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


def test_a_text_with_digits_is_refused(tmp_path: Path) -> None:
    text = TABLE.read_text(encoding="utf-8").replace("twenty feet", "20 feet")
    path = tmp_path / "cautions.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CompanionError, match="write numbers as words"):
        load_cautions(path)


def test_another_table_is_followed_where_it_is_given(tmp_path: Path) -> None:
    path = tmp_path / "cautions.toml"
    path.write_text(
        '[[caution]]\nname = "a"\ntext = "Look out."\nsource = "common practice"\n'
        'trigger = [{ on = "job opened" }, { on = "drained" }]\n',
        encoding="utf-8",
    )
    own = load_cautions(path)
    assert [each.caution for each in opening_cautions(own)] == ["a"]
    assert [each.caution for each in opening_cautions(shipped_rules().cautions)] == ["limits"]
    job = Job().call(drained("20"))
    moved = job.last(ev.FluidMoved)
    assert [each.caution for each in called_for(job.state, moved, job.now, own)] == ["a"]


def test_nothing_is_read_before_it_is_needed() -> None:
    code = (
        "import companion.job.decide, companion.shelf.rules as rules;"
        "assert rules.shipped_rules.cache_info().currsize == 0"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_the_command_lists_text_trigger_and_source(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["cautions"]) == 0
    out = capsys.readouterr().out
    assert "hot oil (again once engine started): Hot oil, coolant" in out
    assert "  on tag hung: no oil or no coolant; while hot\n" in out
    assert "; again at each step\n" in out
    assert "running fueling (each time): Stop the engine" in out
    assert "  source: NIOSH publication 96-118\n" in out
    assert main(["cautions", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)["items"]
    assert [each["name"] for each in listed] == [
        caution.name for caution in shipped_rules().cautions
    ]
    (oil,) = (each for each in listed if each["name"] == "hot oil")
    assert {"on": "drained", "when": ["hot"]} in oil["trigger"]


def test_an_engine_to_be_stopped_is_talked_over_by_no_caution() -> None:
    job = Job().call(TagHang(tag="fuel off"), RUNNING)
    assert spoken(job) == []
    assert spoken(job.call(STOPPED, TagClear(tag="fuel off"), AFFIRM, RUNNING)) != []
