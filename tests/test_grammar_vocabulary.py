"""The words of a job, written as a grammar in place of ``bench.gram``."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.grammar.compiled import load_grammar
from companion.grammar.files import shipped_grammar
from companion.grammar.jsgf import Grammar, Reference, parse_jsgf
from companion.grammar.plural import plural
from companion.grammar.vocabulary import Term, Vocabulary, bench_grammar

JOB = Vocabulary(
    measures={
        "length": (Term("gap"), Term("tappet gap", ("tappet gap", "valve gap"))),
        "pressure": (Term("fuel pressure"),),
    },
    parts=(
        Term("o-ring", ("o ring",)),
        Term("spark plug", ("spark plug", "plug")),
        Term("gearbox"),
        Term("pulley"),
        Term("battery"),
        Term("ratchet foot", plural=("ratchet feet",)),
        Term("brake shoes"),
    ),
    points=(Term("grease point 3", ("grease point three",)),),
    fluids=(Term("gear oil"),),
    conditions=(Term("torn"),),
    tags=(Term("chain off"),),
    timers=(Term("glue"),),
    call_sign="workshop",
)


def read(vocabulary: Vocabulary) -> Grammar:
    return parse_jsgf(bench_grammar(vocabulary), "job")


def tagged(text: str, key: str) -> str | None:
    (parse,) = load_grammar(JOB).parse(text.split())
    node = parse.first(key)
    assert node is not None
    return node.value


def test_same_rules_as_the_shipped_file_all_public() -> None:
    made, shipped = read(JOB), shipped_grammar("bench")
    assert set(made.rules) == {name for name, rule in shipped.rules.items() if rule.public}
    assert all(rule.public for rule in made.rules.values())


USUAL = {"part", "parts", "several", "condition", "sided-part", "sided-parts", "sided-several"}
USUAL |= {"tag-alone", "bare-reading", "short-reading", "longer-measure", "short-torque"}
"""Rules that hold the usual words of any machine too."""


def test_rules_without_words_of_their_own_refer_to_the_common_ones() -> None:
    for name, rule in read(Vocabulary()).rules.items():
        if name != "call-sign" and name not in USUAL:
            assert isinstance(rule.expansion, Reference)
            assert rule.expansion.name == f"common.{name}"


def test_what_any_machine_may_have_is_listened_for_with_every_job() -> None:
    assert tagged("disconnected stop wire", "part") == "stop wire"
    assert tagged("brake failed", "condition") == "failed"
    assert tagged("three head bolts sheared", "count") is None  # its words are the number


def test_a_word_of_the_job_stands_in_place_of_a_usual_one() -> None:
    job = load_grammar(Vocabulary(parts=(Term("engine switch", ("stop switch", "switch")),)))
    for words in ("stop switch failed", "left stop switch failed", "opened stop switches"):
        parts = {node.value for parse in job.parse(words.split()) for node in parse.all("part")}
        assert parts == {"engine switch"}


def test_a_part_with_a_side_in_its_name_is_meant_before_a_part_with_a_side() -> None:
    job = load_grammar(
        Vocabulary(
            parts=(
                Term("front fitting", ("front fitting", "front grease fitting")),
                Term("grease fitting"),
                Term("rear guard"),
            )
        )
    )
    for text, side, part in [
        ("front grease fitting broken", None, "front fitting"),
        ("left grease fitting broken", "left", "grease fitting"),
        ("left front fitting broken", "left", "front fitting"),
        ("rear guard missing", None, "rear guard"),
        ("front guard missing", "front", "guard"),
    ]:
        (parse,) = job.parse(text.split())
        node = parse.first("side")
        assert (node and node.value) == side
        (found,) = parse.all("part")
        assert found.value == part


def test_a_name_that_is_its_own_plural_is_not_taken_for_all_of_them() -> None:
    (parse,) = load_grammar(JOB).parse(["brake", "shoes", "worn"])
    assert parse.first("every") is None
    (parse,) = load_grammar(JOB).parse(["pulleys", "worn"])
    assert parse.first("every") is not None


def test_words_of_the_job_are_calls() -> None:
    assert tagged("workshop tappet gap six thou", "measure") == "tappet gap"
    assert tagged("valve gap six thou", "measure") == "tappet gap"
    assert tagged("need two o rings", "part") == "o-ring"
    assert tagged("greased grease point three", "part") == "grease point 3"
    assert tagged("added a pint of gear oil", "fluid") == "gear oil"
    assert tagged("o ring torn", "condition") == "torn"
    assert tagged("tag chain off", "tag") == "chain off"
    assert tagged("start glue timer two hours", "timer") == "glue"


def test_words_of_no_job_are_gone() -> None:
    found = load_grammar(JOB)
    assert not found.parse(["bench", "gap", "thirty", "thou"])
    assert not found.parse(["shear", "pin", "broken"])


def test_what_the_common_grammar_has_is_not_repeated() -> None:
    text = bench_grammar(JOB)
    assert "(gap) {measure=gap}" not in text
    # Only the new way to say it is added.
    assert "(plug) {part=spark plug}" in text
    assert "(plugs) {part=spark plug}" in text


def test_plurals_by_rule_and_as_given() -> None:
    for text, part in [
        ("need two gearboxes", "gearbox"),
        ("need two pulleys", "pulley"),
        ("need two batteries", "battery"),
        ("need two ratchet feet", "ratchet foot"),
        ("need two brake shoes", "brake shoes"),
    ]:
        assert tagged(text, "part") == part
    assert not load_grammar(JOB).parse(["need", "two", "ratchet", "foots"])
    assert not load_grammar(JOB).parse(["need", "two", "grease", "point", "threes"])


@pytest.mark.parametrize(
    ("singular", "several"),
    [
        ("handle bolt", "handle bolts"),
        ("brush", "brushes"),
        ("gearbox", "gearboxes"),
        ("brass", "brasses"),
        ("battery", "batteries"),
        ("pulley", "pulleys"),
        ("knife", "knives"),
        ("brake pads", "brake pads"),
        ("cylinder two", None),
        ("point sixteen", None),
        ("", None),
    ],
)
def test_usual_english_plurals(singular: str, several: str | None) -> None:
    assert plural(singular) == several


def test_plural_by_rule_gives_way_to_a_name_that_was_given() -> None:
    found = load_grammar(Vocabulary(parts=(Term("brake"), Term("brakes"))))
    (parse,) = found.parse(["need", "two", "brakes"])
    node = parse.first("part")
    assert node is not None
    assert node.value == "brakes"


@pytest.mark.parametrize("spoken", ["o-ring", "Point", "point 3", "", " gap", "gap  two", "größe"])
def test_words_that_cannot_be_listened_for(spoken: str) -> None:
    with pytest.raises(CompanionError) as refused:
        bench_grammar(Vocabulary(parts=(Term("thing", (spoken,)),)))
    message = str(refused.value)
    assert f"'{spoken}' for the part 'thing'" in message
    assert "spoken form" in message
    assert "\n" not in message


def test_a_name_with_a_digit_needs_a_spoken_form() -> None:
    with pytest.raises(CompanionError, match="numbers as words"):
        bench_grammar(Vocabulary(points=(Term("grease point 3"),)))


def test_a_name_must_be_lower_case() -> None:
    with pytest.raises(CompanionError, match="lower case"):
        bench_grammar(Vocabulary(parts=(Term("Shear pin", ("shear pin",)),)))


def test_two_names_said_alike_are_refused() -> None:
    with pytest.raises(CompanionError, match="'ring' is given for the part 'snap ring'"):
        bench_grammar(
            Vocabulary(parts=(Term("o-ring", ("ring",)), Term("snap ring", ("snap ring", "ring"))))
        )
    with pytest.raises(CompanionError, match="means 'fuel' already"):
        bench_grammar(Vocabulary(fluids=(Term("two stroke", ("gas",)),)))


def test_names_may_hold_what_tags_must_escape() -> None:
    found = load_grammar(Vocabulary(parts=(Term(r"pin {a} \ b=2", ("pin",)),)))
    (parse,) = found.parse(["pin", "broken"])
    node = parse.first("part")
    assert node is not None
    assert node.value == r"pin {a} \ b=2"


names = st.text("abcdefgh'", min_size=1, max_size=5).filter(lambda word: word[0] != "'")
phrases = st.lists(names, min_size=1, max_size=3).map(" ".join)


@given(st.dictionaries(phrases, st.lists(phrases, max_size=2, unique=True), max_size=4))
@settings(deadline=None, max_examples=30)
def test_round_trip_of_any_parts(parts: dict[str, list[str]]) -> None:
    terms = tuple(Term(name, tuple(spoken)) for name, spoken in parts.items())
    meant: dict[str, set[str]] = {}
    for term in terms:
        for words in term.spoken or (term.name,):
            meant.setdefault(words, set()).add(term.name)
    vocabulary = Vocabulary(parts=terms)
    if any(len(each) > 1 for each in meant.values()):
        with pytest.raises(CompanionError):
            bench_grammar(vocabulary)
        return
    found = load_grammar(vocabulary)
    for words, (name,) in meant.items():
        values = {
            node.value
            for parse in found.parse(["greased", *words.split()])
            for node in parse.all("part")
        }
        assert values == {name}
