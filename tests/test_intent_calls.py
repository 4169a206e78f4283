"""Every family of calls, as words and as the JSON that it becomes."""

from __future__ import annotations

from decimal import Decimal
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.vocabulary import Term, Vocabulary
from companion.intent.intents import INTENT, SI, Reading
from companion.intent.interpret import understand
from companion.intent.meaning import PLAIN, interpret, manner, meanings
from companion.intent.outcome import Listening

SHIPPED = load_grammar()
INVENTED_JOB = load_grammar(
    Vocabulary(
        measures={
            "length": (Term("valve lash", ("valve lash", "tappet gap")),),
            "voltage": (Term("output voltage"),),
            "speed": (Term("governed speed"),),
        },
        parts=(Term("tyre"), Term("brush holder"), Term("fuse")),
        points=(Term("grease point one"),),
        fluids=(Term("engine oil"),),
        conditions=(Term("chafed"),),
        tags=(Term("cover off"),),
        timers=(Term("bake"),),
        call_sign="workshop",
    )
)
ANSWERING = Listening(answer_awaited=True)


def si(value: float, unit: str) -> dict[str, Any]:
    # NIST gives its factors to seven digits.
    return {"value": pytest.approx(value, rel=1e-6), "unit": unit}


# Factors by hand from NIST SP 811, appendix B.8: inch 0.0254 m; psi 6894.757 Pa; bar 100 000 Pa;
# foot pound-force 1.355818 N.m; inch pound-force 0.1129848 N.m; US fluid ounce 2.957353 E-5 m3;
# US gallon 3.785412 E-3 m3.
FAMILIES: list[tuple[str, dict[str, Any]]] = [
    ("gap thirty thou",
     {"intent": "reading", "measure": "gap", "value": "30", "unit": "thou",
      "si": {"value": 0.000762, "unit": "m"}}),
    ("compression one twenty p s i",
     {"intent": "reading", "measure": "compression", "value": "120", "unit": "psi",
      "si": si(120 * 6894.757, "Pa")}),
    ("intake clearance six thou",
     {"intent": "reading", "measure": "intake clearance", "value": "6", "unit": "thou",
      "si": si(0.0001524, "m")}),
    ("tire pressure fifteen p s i",
     {"intent": "reading", "measure": "tire pressure", "value": "15", "unit": "psi",
      "si": si(15 * 6894.757, "Pa")}),
    ("tire pressure one point oh bar",
     {"intent": "reading", "measure": "tire pressure", "value": "1.0", "unit": "bar",
      "si": si(100_000, "Pa")}),
    ("engine speed thirty six hundred",
     {"intent": "reading", "measure": "engine speed", "value": "3600", "unit": "rpm",
      "si": si(3600, "1/min")}),
    ("idle speed fourteen fifty r p m",
     {"intent": "reading", "measure": "idle speed", "value": "1450", "unit": "rpm",
      "si": si(1450, "1/min")}),
    ("battery twelve point six volts",
     {"intent": "reading", "measure": "battery", "value": "12.6", "unit": "volt",
      "si": si(12.6, "V")}),
    ("battery twelve point six oh",
     {"intent": "reading", "measure": "battery", "value": "12.60", "unit": "volt",
      "si": si(12.6, "V")}),
    ("air temperature minus five celsius",
     {"intent": "reading", "measure": "air temperature", "value": "-5", "unit": "celsius",
      "si": si(268.15, "K")}),
    ("torque sixteen foot pounds",
     {"intent": "reading", "measure": "torque", "value": "16", "unit": "foot pound",
      "si": si(16 * 1.355818, "N.m")}),
    ("torque ninety inch pounds",
     {"intent": "reading", "measure": "torque", "value": "90", "unit": "inch pound",
      "si": si(90 * 0.1129848, "N.m")}),
    ("play one eighth inch",
     {"intent": "reading", "measure": "play", "value": "0.125", "unit": "inch",
      "si": si(0.003175, "m")}),
    ("play three eighths of an inch",
     {"intent": "reading", "measure": "play", "value": "0.375", "unit": "inch",
      "si": si(0.009525, "m")}),
    ("gap zero point seven six millimeters",
     {"intent": "reading", "measure": "gap", "value": "0.76", "unit": "millimeter",
      "si": si(0.00076, "m")}),
    ("gap point oh three oh inch",
     {"intent": "reading", "measure": "gap", "value": "0.030", "unit": "inch",
      "si": si(0.000762, "m")}),
    ("coil resistance three point two kilohms",
     {"intent": "reading", "measure": "coil resistance", "value": "3.2", "unit": "kilohm",
      "si": si(3200, "ohm")}),
    ("cylinder two compression ninety five p s i",
     {"intent": "reading", "measure": "compression", "cylinder": 2, "value": "95", "unit": "psi",
      "si": si(95 * 6894.757, "Pa")}),
    ("compression cylinder one ninety p s i",
     {"intent": "reading", "measure": "compression", "cylinder": 1, "value": "90", "unit": "psi",
      "si": si(90 * 6894.757, "Pa")}),
    ("compression cylinder one one twenty p s i",
     {"intent": "reading", "measure": "compression", "cylinder": 1, "value": "120", "unit": "psi",
      "si": si(120 * 6894.757, "Pa")}),
    ("cylinder one leak down eight percent",
     {"intent": "reading", "measure": "leak down", "cylinder": 1, "value": "8", "unit": "percent",
      "si": si(0.08, "1")}),
    ("output frequency sixty one point five hertz",
     {"intent": "reading", "measure": "output frequency", "value": "61.5", "unit": "hertz",
      "si": si(61.5, "Hz")}),
    ("output frequency sixty",
     {"intent": "reading", "measure": "output frequency", "value": "60", "unit": "hertz",
      "si": si(60, "Hz")}),
    ("load fifteen hundred watts",
     {"intent": "reading", "measure": "load", "value": "1500", "unit": "watt",
      "si": si(1500, "W")}),
    ("output power two point four kilowatts",
     {"intent": "reading", "measure": "output power", "value": "2.4", "unit": "kilowatt",
      "si": si(2400, "W")}),
    ("charging current three point five amps",
     {"intent": "reading", "measure": "charging current", "value": "3.5", "unit": "amp",
      "si": si(3.5, "A")}),
    ("battery draw thirty five milliamps",
     {"intent": "reading", "measure": "battery draw", "value": "35", "unit": "milliamp",
      "si": si(0.035, "A")}),
    ("idle screw one and a half turns out",
     {"intent": "reading", "measure": "idle screw", "value": "1.5", "unit": "turn",
      "si": si(1.5, "1")}),
    ("mixture screw two and one eighth turns",
     {"intent": "reading", "measure": "mixture screw", "value": "2.125", "unit": "turn",
      "si": si(2.125, "1")}),
    ("idle screw half a turn",
     {"intent": "reading", "measure": "idle screw", "value": "0.5", "unit": "turn",
      "si": si(0.5, "1")}),
    ("idle screw a quarter turn",
     {"intent": "reading", "measure": "idle screw", "value": "0.25", "unit": "turn",
      "si": si(0.25, "1")}),
    ("leak down twelve percent",
     {"intent": "reading", "measure": "leak down", "value": "12", "unit": "percent",
      "si": si(0.12, "1")}),
    ("added twenty ounces of oil",
     {"intent": "fluid", "action": "added", "fluid": "oil", "value": "20", "unit": "ounce",
      "si": si(20 * 2.957353e-5, "m3")}),
    ("drained half a liter of oil",
     {"intent": "fluid", "action": "drained", "fluid": "oil", "value": "0.5", "unit": "liter",
      "si": si(0.0005, "m3")}),
    ("drained a quart of oil",
     {"intent": "fluid", "action": "drained", "fluid": "oil", "value": "1", "unit": "quart",
      "si": si(3.785412e-3 / 4, "m3")}),
    ("added one more ounce",
     {"intent": "fluid", "action": "added", "fluid": None, "value": "1", "unit": "ounce",
      "si": si(2.957353e-5, "m3")}),
    ("added another ounce of oil",
     {"intent": "fluid", "action": "added", "fluid": "oil", "value": "1", "unit": "ounce",
      "si": si(2.957353e-5, "m3")}),
    ("oil level full", {"intent": "level", "fluid": "oil", "level": "full"}),
    ("oil level low", {"intent": "level", "fluid": "oil", "level": "low"}),
    ("oil level over", {"intent": "level", "fluid": "oil", "level": "over"}),
    ("start soak timer two hours", {"intent": "timer.start", "name": "soak", "seconds": 7200}),
    ("start timer fifteen minutes", {"intent": "timer.start", "name": "timer", "seconds": 900}),
    ("start timer an hour and a half",
     {"intent": "timer.start", "name": "timer", "seconds": 5400}),
    ("start timer one hour twenty minutes",
     {"intent": "timer.start", "name": "timer", "seconds": 4800}),
    ("start timer half an hour", {"intent": "timer.start", "name": "timer", "seconds": 1800}),
    ("start timer two and a half hours",
     {"intent": "timer.start", "name": "timer", "seconds": 9000}),
    ("time left", {"intent": "timer.left", "name": None}),
    ("time left on soak timer", {"intent": "timer.left", "name": "soak"}),
    ("cancel soak timer", {"intent": "timer.cancel", "name": "soak"}),
    ("cancel timer", {"intent": "timer.cancel", "name": "timer"}),
    ("roger", {"intent": "acknowledge"}),
    ("tag no oil", {"intent": "tag.hang", "tag": "no oil"}),
    ("clear tag no oil", {"intent": "tag.clear", "tag": "no oil"}),
    ("read tags", {"intent": "tag.list"}),
    ("clear to start", {"intent": "start.check"}),
    ("step done", {"intent": "step.done"}),
    ("next step", {"intent": "step.next"}),
    ("step back", {"intent": "step.back"}),
    ("skip step", {"intent": "step.skip"}),
    ("say step", {"intent": "step.say"}),
    ("shear pin broken", {"intent": "finding", "part": "shear pin", "condition": "broken"}),
    ("drive belt worn", {"intent": "finding", "part": "drive belt", "condition": "worn"}),
    ("handle bolts loose",
     {"intent": "finding", "part": "handle bolt", "condition": "loose", "every": True}),
    ("three blade bolts loose",
     {"intent": "finding", "part": "blade bolt", "condition": "loose", "count": 3}),
    ("left wheel missing", {"intent": "finding", "part": "left wheel", "condition": "missing"}),
    ("two front tires flat",
     {"intent": "finding", "part": "front tire", "condition": "flat", "count": 2}),
    ("brake failed", {"intent": "finding", "part": "brake", "condition": "failed"}),
    ("flywheel key sheared",
     {"intent": "finding", "part": "flywheel key", "condition": "sheared"}),
    ("fuel line swollen", {"intent": "finding", "part": "fuel line", "condition": "swollen"}),
    ("oil leak", {"intent": "finding", "part": "oil leak", "condition": "found"}),
    ("gas leak", {"intent": "finding", "part": "fuel leak", "condition": "found"}),
    ("smells of gas", {"intent": "finding", "part": "fuel leak", "condition": "suspected"}),
    ("smell of fuel", {"intent": "finding", "part": "fuel leak", "condition": "suspected"}),
    ("serial number q t four four one seven", {"intent": "serial", "serial": "QT4417"}),
    ("complaint", {"intent": "complaint", "text": None}),
    ("help", {"intent": "help"}),
    ("what can i say", {"intent": "help"}),
    ("undo", {"intent": "disregard"}),
    ("repeat", {"intent": "say.again"}),
    ("read back serial number", {"intent": "readback", "subject": "serial number"}),
    ("spark strong", {"intent": "finding", "part": "spark", "condition": "strong"}),
    ("spark weak", {"intent": "finding", "part": "spark", "condition": "weak"}),
    ("no spark", {"intent": "finding", "part": "spark", "condition": "none"}),
    ("greased auger shaft", {"intent": "work", "action": "greased", "part": "auger shaft"}),
    ("tightened handle bolt", {"intent": "work", "action": "tightened", "part": "handle bolt"}),
    ("tightened handle bolts",
     {"intent": "work", "action": "tightened", "part": "handle bolt", "every": True}),
    ("loosened four blade bolts",
     {"intent": "work", "action": "loosened", "part": "blade bolt", "count": 4}),
    ("torqued twelve head bolts",
     {"intent": "work", "action": "tightened", "part": "head bolt", "count": 12}),
    ("removed left front guards",
     {"intent": "work", "action": "removed", "part": "left front guard", "every": True}),
    ("disconnected stop wire", {"intent": "work", "action": "disconnected", "part": "stop wire"}),
    ("hooked up stop wire", {"intent": "work", "action": "connected", "part": "stop wire"}),
    ("opened drain valve", {"intent": "work", "action": "opened", "part": "drain valve"}),
    ("closed choke", {"intent": "work", "action": "closed", "part": "choke"}),
    ("freed recoil", {"intent": "work", "action": "freed", "part": "recoil"}),
    ("inflated right rear tire",
     {"intent": "work", "action": "inflated", "part": "right rear tire"}),
    ("repaired oil leak", {"intent": "work", "action": "repaired", "part": "oil leak"}),
    ("need two left wheels", {"intent": "part.need", "part": "left wheel", "count": 2}),
    ("used one rear tire", {"intent": "part.used", "part": "rear tire", "count": 1}),
    ("follow up upper bearing", {"intent": "followup", "part": "upper bearing"}),
    ("replaced spark plug", {"intent": "work", "action": "replaced", "part": "spark plug"}),
    ("cleaned carburetor", {"intent": "work", "action": "cleaned", "part": "carburetor"}),
    ("need two shear pins", {"intent": "part.need", "part": "shear pin", "count": 2}),
    ("need a shear pin", {"intent": "part.need", "part": "shear pin", "count": 1}),
    ("used one spark plug", {"intent": "part.used", "part": "spark plug", "count": 1}),
    ("follow up carburetor", {"intent": "followup", "part": "carburetor"}),
    ("note", {"intent": "note", "text": None}),
    ("correction thirty one thou",
     {"intent": "correction", "value": "31", "unit": "thou", "si": si(0.0007874, "m")}),
    ("correction thirty one", {"intent": "correction", "value": "31", "unit": None, "si": None}),
    ("correction minus five", {"intent": "correction", "value": "-5", "unit": None, "si": None}),
    ("disregard", {"intent": "disregard"}),
    ("affirm", {"intent": "affirm"}),
    ("yes", {"intent": "affirm"}),
    ("negative", {"intent": "negative"}),
    ("no", {"intent": "negative"}),
    ("say again", {"intent": "say.again"}),
    ("read back gap", {"intent": "readback", "subject": "gap"}),
    ("read back oil", {"intent": "readback", "subject": "oil"}),
    ("read back parts", {"intent": "readback", "subject": "parts"}),
    ("spec for gap", {"intent": "spec", "measure": "gap"}),
    ("convert thirty thou to millimeters",
     {"intent": "convert", "value": "30", "unit": "thou", "si": si(0.000762, "m"),
      "to": "millimeter"}),
    ("convert minus five celsius to fahrenheit",
     {"intent": "convert", "value": "-5", "unit": "celsius", "si": si(268.15, "K"),
      "to": "fahrenheit"}),
    ("torque for three eighths grade five",
     {"intent": "torque", "size": "0.375", "unit": "inch", "grade": "grade 5",
      "condition": "dry", "series": "coarse"}),
    ("torque for three eighths fine grade five",
     {"intent": "torque", "size": "0.375", "unit": "inch", "grade": "grade 5",
      "condition": "dry", "series": "fine"}),
    ("torque for half inch grade eight with anti seize",
     {"intent": "torque", "size": "0.5", "unit": "inch", "grade": "grade 8",
      "condition": "anti seize", "series": "coarse"}),
    ("torque for m eight class eight point eight oiled",
     {"intent": "torque", "size": "8", "unit": "millimeter", "grade": "class 8.8",
      "condition": "oiled", "series": "coarse"}),
    ("wrench for three eighths bolt", {"intent": "wrench", "size": "0.375", "unit": "inch"}),
    ("wrench for m ten bolt", {"intent": "wrench", "size": "10", "unit": "millimeter"}),
    ("mix fifty to one for two gallons",
     {"intent": "mix", "ratio": "50", "value": "2", "unit": "gallon",
      "si": si(2 * 3.785412e-3, "m3")}),
    ("drill for three eighths sixteen",
     {"intent": "drill", "size": "0.375", "unit": "inch", "pitch": "16"}),
    ("drill for a quarter twenty eight",
     {"intent": "drill", "size": "0.25", "unit": "inch", "pitch": "28"}),
    ("drill for ten twenty four",
     {"intent": "drill", "size": "0.190", "unit": "inch", "pitch": "24"}),
    ("drill for m eight",
     {"intent": "drill", "size": "8", "unit": "millimeter", "pitch": None}),
    ("oil grade for minus ten celsius",
     {"intent": "oil.grade", "value": "-10", "unit": "celsius", "si": si(263.15, "K")}),
    ("pulley three inches to nine inches at thirty six hundred",
     {"intent": "pulley", "value": "3600", "unit": "rpm", "si": si(3600, "1/min"),
      "driver": "3", "driven": "9", "size_unit": "inch"}),
    ("tip speed for twenty one inches at thirty one hundred",
     {"intent": "tip.speed", "value": "21", "unit": "inch", "si": si(0.5334, "m"),
      "rpm": "3100"}),
    ("frequency at thirty six hundred",
     {"intent": "frequency", "value": "3600", "unit": "rpm", "si": si(3600, "1/min"), "poles": 2}),
    ("frequency at fifteen hundred on four poles",
     {"intent": "frequency", "value": "1500", "unit": "rpm", "si": si(1500, "1/min"), "poles": 4}),
    ("charge for twelve point four volts",
     {"intent": "charge", "value": "12.4", "unit": "volt", "si": si(12.4, "V")}),
    ("displacement sixty eight by fifty four millimeters",
     {"intent": "displacement", "bore": "68", "stroke": "54", "unit": "millimeter",
      "cylinders": 1}),
    ("displacement two and a half by two and a quarter inches two cylinders",
     {"intent": "displacement", "bore": "2.5", "stroke": "2.25", "unit": "inch", "cylinders": 2}),
    ("advice on compression", {"intent": "advice", "measure": "compression", "heard": None}),
    ("advice on leak down", {"intent": "advice", "measure": "leak down", "heard": None}),
    ("advice on leak down at exhaust",
     {"intent": "advice", "measure": "leak down", "heard": "exhaust"}),
    ("say source", {"intent": "say.source"}),
    (
        "torque for m fourteen spark plug taper seat cast iron",
        {
            "intent": "plug.torque",
            "size": "14",
            "unit": "millimeter",
            "seat": "taper",
            "head": "cast iron",
        },
    ),
    (
        "wrench for m ten small head bolt",
        {"intent": "wrench", "size": "10", "unit": "millimeter", "head": "small"},
    ),
    ("engine running", {"intent": "engine.running"}),
    ("engine stopped", {"intent": "engine.stopped"}),
    ("stand by", {"intent": "standby"}),
    ("resume", {"intent": "resume"}),
    ("park job", {"intent": "job.park"}),
    ("close job", {"intent": "job.close"}),
]  # fmt: skip


@pytest.mark.parametrize(("call", "json"), FAMILIES)
def test_each_family_becomes_exactly_this_json(call: str, json: dict[str, Any]) -> None:
    for words in (call.split(), f"bench {call}".split()):
        (intent,) = meanings(words, SHIPPED)
        assert intent.model_dump(mode="json") == json
        assert next(iter(intent.model_dump(mode="json"))) == "intent"


@pytest.mark.parametrize(
    ("call", "seconds"),
    [
        ("start timer forty five seconds", 45),
        ("start timer a minute and a half", 90),
        ("start timer two minutes thirty seconds", 150),
        ("start timer an hour", 3600),
        ("start timer an hour and twenty minutes", 4800),
        ("start timer three quarters of an hour", 2700),
        ("start timer a quarter of an hour", 900),
        ("start timer one point five hours", 5400),
        ("start timer for one hundred and twenty minutes", 7200),
    ],
)
def test_a_duration_is_added_up_in_seconds(call: str, seconds: int) -> None:
    (intent,) = meanings(call.split(), SHIPPED)
    assert intent.model_dump()["seconds"] == seconds


@pytest.mark.parametrize(
    ("call", "us", "imperial"),
    [
        # NIST SP 811, appendix B.8: fluid ounce (US) and (Canadian and U.K.); gallon likewise.
        ("added one more ounce", 2.957353e-5, 2.841306e-5),
        ("added a gallon of oil", 3.785412e-3, 4.54609e-3),
    ],
)
def test_an_ounce_is_the_one_of_the_shop(call: str, us: float, imperial: float) -> None:
    for ounce, size in (("us", us), ("imperial", imperial)):
        (parse,) = SHIPPED.parse(call.split())
        (intent,) = interpret(parse, ounce)  # type: ignore[arg-type]
        assert intent.model_dump()["si"]["value"] == pytest.approx(size, rel=1e-6)


@pytest.mark.parametrize(
    ("call", "values"),
    [
        ("play five three eighths inch", ["5.375", "6.625"]),
        ("convert one five sixteenths inch to millimeters", ["1.3125", "0.9375"]),
        ("correction twenty five thirty seconds", ["0.78125", "20.15625"]),
        # In volts, pairs of digits may well be hundredths; "one twenty" is no such pair.
        ("battery twelve sixty", ["12.60", "1260"]),
        ("battery one twenty volts", ["120"]),
        ("charge for twelve forty volts", ["12.40", "1240"]),
        ("engine speed fourteen fifty", ["1450"]),
    ],
)
def test_a_number_that_may_mean_two_gives_an_intent_for_each(call: str, values: list[str]) -> None:
    found = meanings(call.split(), SHIPPED)
    assert [intent.model_dump(mode="json")["value"] for intent in found] == values


def test_a_value_is_never_written_with_an_exponent() -> None:
    metres = SI(value=0.09144, unit="m")
    reading = Reading(measure="gap", value=Decimal("3.6E+3"), unit="thou", si=metres)
    assert reading.model_dump(mode="json")["value"] == "3600"
    assert (
        '"value":"0.000000125"'
        in reading.model_copy(update={"value": Decimal("1.25E-7")}).model_dump_json()
    )


@pytest.mark.parametrize(
    ("call", "key", "value"),
    [
        ("workshop tappet gap six thou", "measure", "valve lash"),
        ("governed speed three thousand", "unit", "rpm"),
        ("output voltage two thirty", "value", "230"),
        ("greased grease point one", "part", "grease point one"),
        ("start bake timer one hour", "name", "bake"),
        ("clear tag cover off", "tag", "cover off"),
        ("engine oil level full", "fluid", "engine oil"),
    ],
)
def test_words_of_the_loaded_job_carry_its_names(call: str, key: str, value: str) -> None:
    (intent,) = meanings(call.split(), INVENTED_JOB)
    assert intent.model_dump(mode="json")[key] == value


def test_typing_american_meets_a_job_in_british_spelling() -> None:
    decision = understand("Workshop: tire chafed", INVENTED_JOB, ANSWERING)
    found = decision.intents[0].model_dump()
    assert found == {"intent": "finding", "part": "tyre", "condition": "chafed"}


@given(st.sampled_from([SHIPPED, INVENTED_JOB]), st.integers(0, 2**32))
def test_whatever_can_be_said_means_something_and_typing_it_means_the_same(
    grammar: CallGrammar, seed: int
) -> None:
    words = grammar.generate(Random(seed))
    intents = meanings(words, grammar)
    assert intents
    for intent in intents:
        assert INTENT.validate_json(INTENT.dump_json(intent)) == intent
    decision = understand(" ".join(words), grammar, ANSWERING)
    # Some forms are acted on only after a question, whatever they mean.
    asked = len(intents) > 1 or manner(words, grammar) != PLAIN
    assert decision.outcome == ("ask" if asked else "record")
    assert decision.intents == intents
    assert decision.text == " ".join(words)
