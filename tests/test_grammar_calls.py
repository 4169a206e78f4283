"""Every family of calls that the shipped grammars hold, spoken as the manual writes them."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.files import shipped_grammar
from companion.grammar.jsgf import parse_jsgf
from companion.grammar.linking import link
from companion.grammar.parse_tree import Parse
from companion.grammar.vocabulary import Vocabulary
from companion.shipped import shipped


@pytest.fixture(scope="module")
def grammar() -> CallGrammar:
    return load_grammar()


def parse(grammar: CallGrammar, text: str) -> Parse:
    parses = grammar.parse(text.split())
    assert len(parses) == 1, f"{text!r} has {len(parses)} trees"
    return parses[0]


CALLS = {
    "reading": [
        "gap thirty thou",
        "compression one twenty p s i",
        "intake clearance six thou",
        "tire pressure fifteen p s i",
        "engine speed thirty six hundred",
        "battery twelve point six volts",
        "air temperature minus five celsius",
        "torque sixteen foot pounds",
        "play one eighth inch",
        "cylinder two compression ninety p s i",
        "compression cylinder one ninety p s i",
        "output frequency sixty hertz",
        "output power two kilowatts",
        "charging current three amps",
        "idle screw one and a half turns out",
    ],
    "serial": ["serial number q t four four one seven"],
    "complaint": ["complaint"],
    "help": ["help", "what can i say"],
    "fluid": [
        "added twenty ounces of oil",
        "drained half a liter of oil",
        "added one more ounce",
    ],
    "fluid.left": ["how much more oil", "how much more"],
    "fluid.grade": ["oil grade"],
    "level": ["oil level full", "oil level low", "oil level over"],
    "timer.start": [
        "start soak timer two hours",
        "start timer fifteen minutes",
        "start soak timer",
    ],
    "timer.left": ["time left"],
    "timer.cancel": ["cancel soak timer"],
    "acknowledge": ["roger"],
    "tag.hang": ["tag no oil"],
    "tag.clear": ["clear tag no oil"],
    "tag.list": ["read tags"],
    "start.check": ["clear to start"],
    "step.done": ["step done"],
    "step.next": ["next step"],
    "step.back": ["step back"],
    "step.skip": ["skip step", "skip step no parts", "skip step not needed", "skip step later"],
    "step.go": ["go to step make safe"],
    "steps.left": ["what's left"],
    "step.say": ["say step"],
    "finding": ["shear pin broken", "drive belt worn", "handle bolt loose"],
    "work": [
        "greased auger shaft",
        "tightened handle bolt",
        "replaced spark plug",
        "cleaned carburetor",
        "greased six grease fittings",
    ],
    "part.need": ["need two shear pins"],
    "part.used": ["used one spark plug"],
    "followup": ["follow up carburetor"],
    "note": ["note"],
    "correction": ["correction thirty one thou"],
    "disregard": ["disregard"],
    "affirm": ["affirm", "yes"],
    "negative": ["negative", "no"],
    "say.again": ["say again"],
    "readback": [
        "read back gap",
        "read back oil",
        "read back parts",
        "parts for this step",
        "parts for job",
    ],
    "spec": ["spec for gap"],
    "convert": ["convert thirty thou to millimeters"],
    "torque": ["torque for three eighths grade five"],
    "wrench": ["wrench for three eighths bolt"],
    "mix": ["mix fifty to one for two gallons"],
    "drill": ["drill for three eighths sixteen", "drill for ten twenty four", "drill for m eight"],
    "oil.grade": ["oil grade for minus ten celsius"],
    "pulley": ["pulley three inches to nine inches at thirty six hundred"],
    "tip.speed": ["tip speed for twenty one inches at thirty one hundred"],
    "frequency": ["frequency at thirty six hundred"],
    "charge": ["charge for twelve point four volts"],
    "displacement": ["displacement sixty eight by fifty four millimeters"],
    "advice": ["advice on compression", "advice on leak down at exhaust"],
    "say.source": ["say source"],
    "plug.torque": [
        "torque for m fourteen plug",
        "torque for m ten spark plug gasket seat aluminum",
    ],
    "engine.running": ["engine running"],
    "engine.stopped": ["engine stopped"],
    "standby": ["stand by"],
    "resume": ["resume"],
    "job.park": ["park job"],
    "job.close": ["close job"],
}
EXAMPLES = [(intent, text) for intent, texts in CALLS.items() for text in texts]


@pytest.mark.parametrize(("intent", "text"), EXAMPLES, ids=[text for _, text in EXAMPLES])
def test_call_has_its_intent_with_and_without_the_call_sign(
    grammar: CallGrammar, intent: str, text: str
) -> None:
    without = parse(grammar, text)
    assert [node.value for node in without.all("intent")] == [intent]
    assert without.first("call-sign") is None

    called = parse(grammar, f"bench {text}")
    assert [node.value for node in called.all("intent")] == [intent]
    sign = called.first("call-sign")
    assert sign is not None
    assert called.text(sign) == "bench"


def test_no_other_intents(grammar: CallGrammar) -> None:
    random = Random(11)
    drawn = {
        node.value
        for _ in range(6000)
        for node in grammar.parse(grammar.generate(random))[0].all("intent")
    }
    # "What's the gap" may be two calls.
    assert drawn == {*CALLS, "ask.measure"}


def test_tree_of_a_reading(grammar: CallGrammar) -> None:
    found = parse(grammar, "bench intake clearance twelve point five thou")
    measure, number, unit = (found.first(key) for key in ("measure", "number", "unit"))
    assert measure is not None
    assert number is not None
    assert unit is not None
    assert (measure.value, found.text(measure)) == ("intake clearance", "intake clearance")
    assert (number.value, found.text(number)) == (None, "twelve point five")
    assert (unit.value, found.text(unit)) == ("thou", "thou")


def test_a_measure_takes_units_of_its_own_dimension_only(grammar: CallGrammar) -> None:
    assert not grammar.parse(["gap", "thirty", "p", "s", "i"])
    assert not grammar.parse(["compression", "thirty", "thou"])


def test_what_is_not_a_call(grammar: CallGrammar) -> None:
    for text in ("", "bench", "gap", "thirty thou", "gap thirty thou please", "oil", "tag"):
        assert not grammar.parse(text.split())


def test_time_is_called_without_digit_by_digit(grammar: CallGrammar) -> None:
    # "for five minutes" and "four five minutes" are the same sounds: only one may be a call.
    assert grammar.parse(["start", "timer", "for", "five", "minutes"])
    assert not grammar.parse(["start", "timer", "four", "five", "minutes"])
    assert not grammar.parse(["start", "timer", "four", "fifteen", "minutes"])


@given(st.randoms(use_true_random=False))
@settings(deadline=None, max_examples=300)
def test_every_sentence_that_can_be_drawn_parses_in_one_way(random: Random) -> None:
    grammar = SHIPPED
    sentence = grammar.generate(random)
    assert len(grammar.parse(sentence)) == 1


SHIPPED = load_grammar()


def test_bare_correction_cannot_be_a_unit_misheard(grammar: CallGrammar) -> None:
    # A quart or a quarter, eight thousandths or eight thousand: either would fit what is corrected.
    for bare, unit in [
        ("a quarter", "a quart"),
        ("three quarters", "three quarts"),
        ("eight thousand", "eight thousandths"),
    ]:
        assert not grammar.parse(f"correction {bare}".split())
        assert grammar.parse(f"correction {unit}".split())
    for other in ("thirty one", "three zero", "minus five", "thirty six hundred", "three eighths"):
        assert grammar.parse(f"correction {other}".split())
    assert grammar.parse(["correction", "three", "thousand", "r", "p", "m"])
    assert grammar.parse(["correction", "three", "quarters", "of", "an", "inch"])


def test_words_of_the_automaton(grammar: CallGrammar) -> None:
    assert {"thou", "gap", "bench", "sixteenths"} <= grammar.words
    assert all(word == word.lower() for word in grammar.words)


def test_walk_from_any_state(grammar: CallGrammar) -> None:
    state = grammar.walk(["gap", "thirty"])
    assert state is not None
    assert not grammar.is_final(state)
    end = grammar.walk(["thou"], state)
    assert end is not None
    assert grammar.is_final(end)
    assert grammar.walk(["volts"], state) is None


def test_states_stay_few(grammar: CallGrammar) -> None:
    # Numbers stand in some dozen places; a copy of all their alternatives in each would be tens
    # of thousands of states, and recognizers walk every one.
    assert len(grammar.automaton.arcs) < 12_000


def test_without_a_job_only_common_words_stand_beside_the_calls() -> None:
    bare = load_grammar(Vocabulary())
    assert bare.parse(["gap", "thirty", "thou"])
    assert not bare.parse(["intake", "clearance", "six", "thou"])
    assert "tine" not in bare.words


def test_every_shipped_rule_is_linked() -> None:
    linked = link(shipped_grammar("calls"), "call", shipped_grammar)
    for name in ("bench", "calls", "common", "numbers", "units"):
        for rule in shipped_grammar(name).rules:
            assert f"{name}.{rule}" in linked.expansions


def test_shipped_files_are_named_for_their_grammars() -> None:
    for file in shipped("grammars").glob("*.gram"):
        assert parse_jsgf(file.read_text(encoding="utf-8"), file.name).name == file.stem
