"""``companion understand``: one typed call of every family, and the JSON it gives."""

from __future__ import annotations

import json
from typing import Any

import pytest

from companion.cli import main

FAMILIES: list[tuple[str, dict[str, Any]]] = [
    ("gap thirty thou", {"intent": "reading", "measure": "gap", "value": "30", "unit": "thou"}),
    (
        "compression one twenty p s i",
        {"intent": "reading", "measure": "compression", "value": "120", "unit": "psi"},
    ),
    (
        "intake clearance six thou",
        {"intent": "reading", "measure": "intake clearance", "value": "6", "unit": "thou"},
    ),
    (
        "tire pressure fifteen p s i",
        {"intent": "reading", "measure": "tire pressure", "value": "15", "unit": "psi"},
    ),
    (
        "engine hours one twenty four point five",
        {"intent": "reading", "measure": "engine hours", "value": "124.5", "unit": "hour"},
    ),
    (
        "engine speed thirty six hundred",
        {"intent": "reading", "measure": "engine speed", "value": "3600", "unit": "rpm"},
    ),
    (
        "battery twelve point six volts",
        {"intent": "reading", "measure": "battery", "value": "12.6", "unit": "volt"},
    ),
    (
        "air temperature minus five celsius",
        {"intent": "reading", "measure": "air temperature", "value": "-5", "unit": "celsius"},
    ),
    (
        "torque sixteen foot pounds",
        {"intent": "reading", "measure": "torque", "value": "16", "unit": "foot pound"},
    ),
    (
        "play one eighth inch",
        {"intent": "reading", "measure": "play", "value": "0.125", "unit": "inch"},
    ),
    (
        "added twenty ounces of oil",
        {"intent": "fluid", "action": "added", "fluid": "oil", "value": "20", "unit": "ounce"},
    ),
    (
        "drained half a liter of oil",
        {"intent": "fluid", "action": "drained", "fluid": "oil", "value": "0.5", "unit": "liter"},
    ),
    (
        "added one more ounce",
        {"intent": "fluid", "action": "added", "fluid": None, "value": "1", "unit": "ounce"},
    ),
    ("how much more oil", {"intent": "fluid.left", "fluid": "oil"}),
    ("how much more", {"intent": "fluid.left", "fluid": None}),
    ("gear oil grade", {"intent": "fluid.grade", "fluid": "gear oil"}),
    ("oil level full", {"intent": "level", "fluid": "oil", "level": "full"}),
    ("oil level low", {"intent": "level", "fluid": "oil", "level": "low"}),
    ("oil level over", {"intent": "level", "fluid": "oil", "level": "over"}),
    (
        "start soak timer two hours",
        {"intent": "timer.start", "name": "soak", "seconds": 7200},
    ),
    ("start timer fifteen minutes", {"intent": "timer.start", "name": "timer", "seconds": 900}),
    ("time left", {"intent": "timer.left", "name": None}),
    ("cancel soak timer", {"intent": "timer.cancel", "name": "soak"}),
    ("roger", {"intent": "acknowledge"}),
    ("tag no oil", {"intent": "tag.hang", "tag": "no oil"}),
    ("clear tag no oil", {"intent": "tag.clear", "tag": "no oil"}),
    ("read tags", {"intent": "tag.list"}),
    ("clear to start", {"intent": "start.check"}),
    ("step done", {"intent": "step.done"}),
    ("next step", {"intent": "step.next"}),
    ("step back", {"intent": "step.back"}),
    ("skip step", {"intent": "step.skip"}),
    ("skip step, no parts", {"intent": "step.skip", "reason": "no parts"}),
    ("skip step not needed", {"intent": "step.skip", "reason": "not needed"}),
    ("skip step later", {"intent": "step.skip", "reason": "later"}),
    ("go to step make safe", {"intent": "step.go", "step": "make-safe"}),
    ("what is left", {"intent": "steps.left"}),
    ("parts for this step", {"intent": "readback", "subject": "step parts"}),
    ("parts for job", {"intent": "readback", "subject": "job parts"}),
    (
        "greased six grease fittings",
        {"intent": "work", "action": "greased", "part": "grease fitting", "count": 6},
    ),
    ("start soak timer", {"intent": "timer.start", "name": "soak", "seconds": None}),
    ("say step", {"intent": "step.say"}),
    ("shear pin broken", {"intent": "finding", "part": "shear pin", "condition": "broken"}),
    ("drive belt worn", {"intent": "finding", "part": "drive belt", "condition": "worn"}),
    ("handle bolt loose", {"intent": "finding", "part": "handle bolt", "condition": "loose"}),
    ("greased auger shaft", {"intent": "work", "action": "greased", "part": "auger shaft"}),
    ("tightened handle bolt", {"intent": "work", "action": "tightened", "part": "handle bolt"}),
    ("replaced spark plug", {"intent": "work", "action": "replaced", "part": "spark plug"}),
    ("cleaned carburetor", {"intent": "work", "action": "cleaned", "part": "carburetor"}),
    ("disconnected battery", {"intent": "work", "action": "disconnected", "part": "battery"}),
    ("hooked up plug wire", {"intent": "work", "action": "connected", "part": "plug wire"}),
    ("reconnected battery", {"intent": "work", "action": "connected", "part": "battery"}),
    ("closed fuel valve", {"intent": "work", "action": "closed", "part": "fuel valve"}),
    ("raised machine", {"intent": "work", "action": "raised", "part": "machine"}),
    ("cleaned carburettor", {"intent": "work", "action": "cleaned", "part": "carburetor"}),
    ("need two shear pins", {"intent": "part.need", "part": "shear pin", "count": 2}),
    ("used one spark plug", {"intent": "part.used", "part": "spark plug", "count": 1}),
    ("follow up carburetor", {"intent": "followup", "part": "carburetor"}),
    ("note the owner wants it by Friday", {"intent": "note"}),
    ("correction thirty one thou", {"intent": "correction", "value": "31", "unit": "thou"}),
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
    (
        "convert thirty thou to millimeters",
        {"intent": "convert", "value": "30", "unit": "thou", "to": "millimeter"},
    ),
    (
        "torque for three eighths grade five",
        {"intent": "torque", "size": "0.375", "unit": "inch", "grade": "grade 5"},
    ),
    (
        "wrench for three eighths bolt",
        {"intent": "wrench", "size": "0.375", "unit": "inch"},
    ),
    (
        "mix fifty to one for two gallons",
        {"intent": "mix", "ratio": "50", "value": "2", "unit": "gallon"},
    ),
    ("engine running", {"intent": "engine.running"}),
    ("engine stopped", {"intent": "engine.stopped"}),
    ("stand by", {"intent": "standby"}),
    ("resume", {"intent": "resume"}),
    ("park job", {"intent": "job.park"}),
    ("close job", {"intent": "job.close"}),
    # Digits, symbols and British spelling, as they are typed.
    ("Gap 30 thou", {"intent": "reading", "measure": "gap", "value": "30", "unit": "thou"}),
    ("gap .030 in", {"intent": "reading", "measure": "gap", "value": "0.030", "unit": "inch"}),
    ("tyre pressure 15 psi", {"intent": "reading", "measure": "tire pressure", "value": "15"}),
    ("added 0.5 litres of oil", {"intent": "fluid", "value": "0.5", "unit": "liter"}),
    ("bench gap thirty thou", {"intent": "reading", "measure": "gap", "value": "30"}),
]

# Factors: NIST SP 811, appendix B.8.
SI: list[tuple[str, float, str]] = [
    ("gap thirty thou", 0.000762, "m"),
    ("compression one twenty p s i", 827370.9, "Pa"),
    ("torque sixteen foot pounds", 21.69309, "N.m"),
    ("air temperature minus five celsius", 268.15, "K"),
    ("battery twelve point six volts", 12.6, "V"),
    ("engine speed thirty six hundred", 3600.0, "1/min"),
    ("leak down twelve percent", 0.12, "1"),
    ("added twenty ounces of oil", 20 * 2.957353e-5, "m3"),
]


def understood(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert main(["understand", *arguments, "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


@pytest.mark.parametrize(("text", "expected"), FAMILIES, ids=[text for text, _ in FAMILIES])
def test_a_call_of_every_family(
    text: str, expected: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    found = understood(capsys, text)
    assert {key: found.get(key, "missing") for key in expected} == expected


@pytest.mark.parametrize(("text", "value", "unit"), SI, ids=[text for text, _, _ in SI])
def test_values_in_si(
    text: str, value: float, unit: str, capsys: pytest.CaptureFixture[str]
) -> None:
    si = understood(capsys, text)["si"]
    assert si["unit"] == unit
    assert si["value"] == pytest.approx(value, rel=1e-6)


@pytest.mark.parametrize(
    "text",
    [
        "the dog wants out",
        "gap thirty p s i",
        "gap thirty",
        "gap thou",
        "tag",
        "seven thirty seconds",
        "start timer seven thirty seconds",
        "hello bench how are you",
    ],
)
def test_what_is_no_call_or_could_mean_two_things_is_no_intent(
    text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    found = understood(capsys, text)
    assert found["intent"] is None
    assert found["outcome"] in ("ask", "say-again", "ignore")


def test_the_words_of_a_job_narrow_the_grammar(capsys: pytest.CaptureFixture[str]) -> None:
    job = ("--job", "four-stroke-service", "--machine", "quillmoor-tiller")
    assert understood(capsys, "gap thirty thou", *job)["intent"] == "reading"
    assert understood(capsys, "tine worn", *job)["intent"] == "finding"
    assert understood(capsys, "skid shoe worn", *job)["intent"] is None
