"""``companion grammar check``: what is reported, and that the shipped grammars pass."""

from __future__ import annotations

from itertools import combinations

import pytest

from companion.grammar.ambiguity import ambiguities, describe
from companion.grammar.check import ACCEPTED, UNIT_MUST_FIT, Report, check_grammar
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.jsgf import parse_jsgf
from companion.grammar.linking import link
from companion.grammar.near_pairs import near_pairs
from companion.grammar.nearness import nearness
from companion.grammar.pronounce import distance, likeness, pronunciations
from companion.grammar.vocabulary import Term, Vocabulary
from companion.handbook.units import dimension
from companion.intent.same import meaning_of


def grammar(rules: str) -> CallGrammar:
    text = f"#JSGF V1.0;\ngrammar toys;\n{rules}"
    return CallGrammar(link(parse_jsgf(text, "toys.gram"), "call", lambda name: None))


def alike(report: Report) -> set[frozenset[str]]:
    return {frozenset([pair.one, pair.other]) for pair in report.alike}


# --- the shipped grammars -----------------------------------------------------------------------


@pytest.fixture(scope="module")
def shipped_report() -> Report:
    return check_grammar(load_grammar(), meaning=meaning_of)


@pytest.fixture(scope="module")
def faulty_job() -> Report:
    """Of a job with a word that nobody can say, two parts said nearly alike, and two conditions of
    which one begins as a part ends."""
    parts = ("xqzt", "inner race", "inner brace", "guard", "guard bent")
    job = Vocabulary(
        parts=tuple(Term(name, (name,)) for name in parts),
        conditions=(Term("loose"), Term("bent loose", ("bent loose",))),
    )
    return check_grammar(load_grammar(job))


def test_shipped_grammars_pass(shipped_report: Report) -> None:
    assert shipped_report.ok, "\n".join(shipped_report.lines)
    assert shipped_report.lines[-1] == "Nothing is wrong."


def test_every_acceptance_is_still_needed(shipped_report: Report) -> None:
    needed = {frozenset([pair.one, pair.other]) for pair, _ in shipped_report.accepted}
    assert needed == set(ACCEPTED)


def test_units_accepted_because_they_must_fit_are_of_different_dimensions() -> None:
    pairs = [pair for pair, reason in ACCEPTED.items() if reason == UNIT_MUST_FIT]
    assert pairs
    for pair in pairs:
        one, other = (dimension(word.removesuffix("s")) for word in pair)
        assert one != other


def test_numbers_that_sound_alike_are_listed_for_information(shipped_report: Report) -> None:
    listed = {frozenset([pair.one, pair.other]) for pair in shipped_report.numbers}
    for teen, ten in [
        ("thirteen", "thirty"),
        ("fourteen", "forty"),
        ("fifteen", "fifty"),
        ("sixteen", "sixty"),
        ("seventeen", "seventy"),
        ("eighteen", "eighty"),
        ("nineteen", "ninety"),
    ]:
        assert frozenset([teen, ten]) in listed


# --- pronunciations -----------------------------------------------------------------------------


def test_trade_pronunciation_stands_in_place_of_the_dictionary() -> None:
    # The dictionary has only the pronoun "thou", DH AW; the trade's begins like "thousandth".
    assert pronunciations("thou") == (("TH", "AW"),)
    assert pronunciations("thousandth")[0][:2] == ("TH", "AW")


def test_letters_are_pronounced_as_letters() -> None:
    assert [pronunciations(letter)[0] for letter in "psi"] == [("P", "IY"), ("EH", "S"), ("AY",)]


@pytest.mark.parametrize(
    ("word", "last"), [("flywheels", "Z"), ("dipsticks", "S"), ("gearboxes", "Z"), ("sheaves", "Z")]
)
def test_plurals_that_no_dictionary_has_end_as_english_plurals_do(word: str, last: str) -> None:
    assert pronunciations(word)[0][-1] == last


def test_word_with_no_pronunciation_is_reported(faulty_job: Report) -> None:
    assert faulty_job.unpronounceable == ("xqzt", "xqzts")
    assert not faulty_job.ok
    assert any("'xqzt' is pronounced" in line for line in faulty_job.lines)


def test_distance_of_phonemes() -> None:
    fifty, fifteen = pronunciations("fifty")[0], pronunciations("fifteen")[0]
    assert distance(fifty, fifty) == 0
    assert distance(fifty, fifteen) == distance(fifteen, fifty) == 1
    assert distance((), fifty) == len(fifty)
    assert likeness(("B", "EH", "L", "T"), ("B", "OW", "L", "T")) == 0.75


def test_comparing_many_at_once_finds_what_comparing_each_with_each_finds() -> None:
    words = sorted(load_grammar().words)[::4]
    phrases = [(word,) for word in words]
    phrases += [(one, other) for one, other in zip(words, words[7:], strict=False)]
    assert list(near_pairs(phrases)) == [
        (one, other)
        for one, other in combinations(sorted(phrases), 2)
        if set(one).isdisjoint(other) and nearness(one, other) is not None
    ]


# --- ambiguities --------------------------------------------------------------------------------


def test_one_example_for_each_kind_of_ambiguity() -> None:
    found = ambiguities(
        grammar(
            "public <call> = (half {number} an | (half an) {number}) hour | red {color}"
            " | (red | blue) {paint};"
        ).rules
    )
    assert {case.text for case in found} == {"half an hour", "red"}
    (red,) = (case for case in found if case.text == "red")
    assert {describe(red.one), describe(red.other)} == {'color "red"', 'paint "red"'}


def test_ambiguity_behind_a_loop_is_found() -> None:
    (case,) = ambiguities(
        grammar("public <call> = a+ (b {one} c d | (b c) {other} (d | e));").rules
    )
    assert case.text == "a b c d"


def test_two_trees_of_one_meaning_are_no_ambiguity_and_hide_none() -> None:
    # All of them end in one pair of states; the first two trees of "r p m is eight" mean the same.
    rules = grammar("public <call> = (a b | a {x} b | c b {x} | c {y} b) d;").rules
    found = {case.text for case in ambiguities(rules, lambda tree: tree.first("y") is not None)}
    assert found == {"c b d"}


def test_shipped_trees_of_one_meaning_are_known_for_the_same() -> None:
    trees = load_grammar().parse(["r", "p", "m", "is", "eight"])
    assert len(trees) > 1
    assert len({meaning_of(tree) for tree in trees}) == 1


def test_words_that_a_job_makes_ambiguous_are_reported(faulty_job: Report) -> None:
    assert not faulty_job.ok
    assert "guard bent loose" in {case.text for case in faulty_job.ambiguous}


# --- calls that sound too alike -----------------------------------------------------------------


def test_homophones_across_word_boundaries_are_found() -> None:
    report = check_grammar(
        grammar(
            "public <call> = timer [for] <digit> {minutes} | timer <digit> <digit> {seconds};"
            "<digit> = four | five;"
        )
    )
    assert frozenset(["for five", "four five"]) in alike(report)


def test_near_words_in_one_place_are_found() -> None:
    report = check_grammar(
        grammar("public <call> = check (hose {part=hose} | nose {part=nose} | muffler {part=x});")
    )
    assert alike(report) == {frozenset(["hose", "nose"])}


def test_near_words_of_the_same_meaning_are_no_trouble() -> None:
    report = check_grammar(grammar("public <call> = check (hose | hoses) {part=hose};"))
    assert report.ok


def test_near_words_that_no_sentence_can_swap_are_no_trouble() -> None:
    report = check_grammar(grammar("public <call> = hose (cut) {a=1} | nose (torn) {b=1};"))
    assert report.ok


def test_carriers_of_two_calls_are_compared_without_their_slots() -> None:
    report = check_grammar(
        grammar(
            "public <call> = (add <n> water) {intent=one} | (odd <n> waters) {intent=two};"
            "<n> = (five | nine) {number};"
        )
    )
    assert alike(report) == {frozenset(["add … water", "odd … waters"])}


def test_phrases_of_several_words_that_are_near_are_found() -> None:
    report = check_grammar(
        grammar(
            "public <call> = (stop that timer) {intent=one} | (stopped the trimmer) {intent=two}"
            " | (go home) {intent=three};"
        )
    )
    assert alike(report) == {frozenset(["stop that timer", "stopped the trimmer"])}


def test_carriers_whose_slots_differ_are_not_compared() -> None:
    report = check_grammar(
        grammar(
            "public <call> = (stop that <n> timer) {intent=one}"
            " | (stopped the <p> trimmer) {intent=two};"
            "<n> = (five | nine) {number}; <p> = (hose | muffler) {part=x};"
        )
    )
    assert report.ok


def test_near_phrases_that_are_both_always_asked_about_are_no_trouble() -> None:
    both = "public <call> = (<n> (loose {action=a} | lose {action=b}){mark}) {intent=work};"
    hose = "<n> = hose {part=hose};"
    assert check_grammar(grammar(both.replace("{mark}", " {asked}") + hose)).ok
    assert alike(check_grammar(grammar(both.replace("{mark}", "") + hose))) == {
        frozenset(["loose", "lose"])
    }


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("engine on", "engine off"),
        ("turned the fuel valve on", "turned the fuel valve off"),
        ("tightened up the head bolt", "loosened up the head bolt"),
        ("machine is on blocks", "machine is off blocks"),
    ],
)
def test_opposites_that_sound_alike_are_only_ever_asked_about(one: str, other: str) -> None:
    for said in (one, other):
        trees = load_grammar().parse(said.split())
        assert trees, said
        assert all(tree.first("asked") for tree in trees), said


def test_what_holds_the_start_is_taken_at_once_and_its_opposite_asked_about() -> None:
    # "Off" heard for "on" holds the start until the part is called back; not so the other way.
    (off,) = load_grammar().parse(["guard", "is", "off"])
    (on,) = load_grammar().parse(["guard", "is", "on"])
    assert off.first("asked") is None
    assert on.first("asked") is not None


def test_ways_that_sound_like_their_opposite_are_left_out() -> None:
    for said in (
        "correct",
        "guard on",
        "unplugged the ignition coil",
        "got the guard off",
        "pull the tag guard off",
    ):
        assert not load_grammar().parse(said.split()), said


def test_a_job_with_parts_said_nearly_alike_is_told_so(faulty_job: Report) -> None:
    assert not faulty_job.ok
    assert frozenset(["race", "brace"]) in alike(faulty_job)
    assert any("'brace' and 'race'" in line for line in faulty_job.lines)
