"""The words a card and a sheet add to the grammar, so that what they ask for can be called."""

from __future__ import annotations

import pytest

from companion.errors import CompanionError
from companion.grammar.check import check_grammar
from companion.grammar.compiled import load_grammar, load_rules
from companion.grammar.parsing import Parser
from companion.grammar.vocabulary import Term
from companion.intent.same import meaning_of
from companion.job.card import CardMeasure, CardStep, JobCard, Wait
from companion.job.sheet import SpecFluid, SpecReading, SpecSheet, SpecTerm
from companion.shelf.common import common_measures
from companion.shelf.load import load_card, load_sheet, shipped_cards, shipped_sheets
from companion.shelf.words import vocabulary_of

CARD = JobCard(
    name="trial",
    title="Trial",
    step=(
        CardStep(
            name="one",
            say="Begin.",
            hangs=("chain off",),
            clears=("no oil",),
            wait=Wait(timer="glue", minutes=5),
            points=("left pin", "tine"),
        ),
    ),
    measure=(CardMeasure(name="coil gap", dimension="length"),),
    part=(SpecTerm(name="tine", spoken=("tine", "blade")),),
    condition=(SpecTerm(name="glazed"),),
    tag=(SpecTerm(name="bolts loose"),),
    timer=(SpecTerm(name="cure"),),
)

SHEET = SpecSheet(
    name="Trial",
    kind="tiller",
    reading=(
        SpecReading(measure="oil pressure", unit="psi"),
        SpecReading(measure="coil gap", unit="millimeter", spoken=("air gap",)),
    ),
    fluid=(SpecFluid(name="gear oil"),),
    part=(SpecTerm(name="tine", plural=("tines",)), SpecTerm(name="wheel")),
    condition=(SpecTerm(name="glazed"), SpecTerm(name="torn")),
)


def test_card_and_sheet_are_put_together_each_name_once():
    words = vocabulary_of(CARD, SHEET, "shop")
    assert words.call_sign == "shop"
    assert words.measures == {
        "length": (Term("coil gap", ("coil gap", "air gap")),),
        "pressure": (Term("oil pressure"),),
    }
    assert words.parts == (Term("tine", ("tine", "blade"), ("tines",)), Term("wheel"))
    assert words.points == (Term("left pin"),)
    assert [term.name for term in words.fluids] == ["gear oil"]
    assert [term.name for term in words.conditions] == ["glazed", "torn"]
    # Those after "no oil" hang by themselves: a drive belt removed, a pin out, fluid drained.
    tags = [term.name for term in words.tags]
    assert tags[:3] == ["bolts loose", "chain off", "no oil"]
    assert {"belt off", "drive open", "no gear oil", "no fuel"} < set(tags[3:])
    assert len(set(tags)) == len(tags)
    assert [term.name for term in words.timers] == ["cure", "glue"]


def test_card_and_sheet_must_measure_alike():
    sheet = SpecSheet(name="x", kind="x", reading=(SpecReading(measure="coil gap", unit="ohm"),))
    with pytest.raises(CompanionError, match="measures 'coil gap' in units of length but"):
        vocabulary_of(CARD, sheet)


def test_without_a_job_the_usual_words_are_listened_for():
    assert load_grammar(vocabulary_of(None, None)).fingerprint == load_grammar().fingerprint
    assert load_grammar(vocabulary_of(None, None, "shop")).parse(["shop", "gap", "thirty", "thou"])


def test_with_a_job_the_grammar_is_narrow():
    usual, narrow = load_grammar(), load_grammar(vocabulary_of(CARD, SHEET))
    assert usual.parse(["impeller", "torn"])
    assert not narrow.parse(["impeller", "torn"])
    assert narrow.parse(["blade", "torn"])


def test_measures_always_listened_for_are_known_with_their_dimension():
    assert common_measures()["gap"] == "length"
    assert common_measures()["idle speed"] == "speed"
    assert common_measures()["leak down"] == "percent"


CALLED_IN = {
    "length": "thou",
    "pressure": "p s i",
    "torque": "foot pounds",
    "temperature": "celsius",
    "voltage": "volts",
    "resistance": "ohms",
    "speed": "r p m",
    "percent": "percent",
}


def said_as(action: str) -> str:
    """What work is called by: "connected" is said otherwise, it sounds like its opposite."""
    return "hooked up" if action == "connected" else action


@pytest.mark.parametrize("sheet_name", [None, *shipped_sheets()])
@pytest.mark.parametrize("card_name", shipped_cards())
def test_whatever_a_shipped_card_asks_for_can_be_called(card_name, sheet_name):
    card = load_card(card_name)
    words = vocabulary_of(card, None if sheet_name is None else load_sheet(sheet_name))
    grammar = Parser(load_rules(words))
    dimensions = dict(common_measures()) | {
        term.name: kind for kind, terms in words.measures.items() for term in terms
    }
    for step in card.step:
        calls = [f"checked {point}" for point in step.points]
        calls += [f"{said_as(work.action)} {work.part}" for work in step.does]
        calls += [f"{found.part} {found.condition}" for found in step.finds]
        calls += [f"clear tag {tag}" for tag in (*step.hangs, *step.clears)]
        calls += [f"{each} twelve {CALLED_IN[dimensions[each]]}" for each in step.expects]
        if step.wait is not None:
            calls.append(f"cancel {step.wait.timer} timer")
        for call in calls:
            assert grammar.parse(call.split()), call


@pytest.mark.parametrize("name", shipped_sheets())
def test_whatever_a_shipped_sheet_lists_can_be_called(name):
    sheet = load_sheet(name)
    words = vocabulary_of(None, sheet)
    grammar = Parser(load_rules(words))
    for kind, terms in words.measures.items():
        for term in terms:
            for spoken in term.spoken or (term.name,):
                assert grammar.parse(f"{spoken} twelve {CALLED_IN[kind]}".split()), spoken
                assert grammar.parse(f"spec for {spoken}".split())
    for fluid in sheet.fluid:
        assert grammar.parse(f"{fluid.name} level full".split())
    for part in sheet.part:
        assert grammar.parse(
            f"need two {part.plural[0] if part.plural else part.name}".split()
        ) or (grammar.parse(f"need one {part.name}".split()))
        for condition in sheet.condition:
            assert grammar.parse(f"{part.name} {condition.name}".split())


@pytest.mark.parametrize(
    ("card_name", "sheet_name"),
    [
        ("four-stroke-service", "quillmoor-tiller"),
        ("four-stroke-service", "oddlestone-chipper"),
        ("generator-load-check", "brackwater-generator"),
        ("blade-service", "tarnfield-mower"),
        ("chipper-service", "oddlestone-chipper"),
        ("drive-service", "quillmoor-tiller"),
        ("no-start-diagnosis", "quillmoor-tiller"),
        ("pressure-washer-service", "saltmere-washer"),
        ("season-lay-up", "brackwater-generator"),
        ("two-stroke-service", "wrenlow-trimmer"),
    ],
)
def test_shipped_words_can_be_pronounced_and_told_apart(card_name, sheet_name):
    words = vocabulary_of(load_card(card_name), load_sheet(sheet_name))
    checked = check_grammar(load_grammar(words), meaning=meaning_of)
    assert checked.ok, "\n".join(checked.lines)
