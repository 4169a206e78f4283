"""The ways to say the plain verbs and conditions, against WordNet; ``synonyms.toml`` lists them."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, product
from pathlib import Path
from typing import Any

import pytest

from companion.grammar.compiled import load_grammar
from companion.grammar.files import shipped_grammar
from companion.grammar.jsgf import Alternatives, Expansion, Optional, Sequence, Tagged, Word
from companion.grammar.pronounce import Phonemes, likeness, pronunciations
from companion.intent.decision import Listening
from companion.intent.interpret import understand
from companion.intent.opposites import TURNING, opposites
from companion.intent.own_ways import LONGEST
from tests.wordnet import PartOfSpeech, Synset, antonyms, has, related, synset

TABLE = tomllib.loads((Path(__file__).parent / "synonyms.toml").read_text(encoding="utf-8"))
BENCH = load_grammar()
ANSWERING = Listening(answer_awaited=True)

IRREGULAR = {
    "bend": ("bent", "bent"), "bind": ("bound", "bound"), "blow": ("blew", "blown"),
    "break": ("broke", "broken"), "draw": ("drew", "drawn"), "eat": ("ate", "eaten"),
    "fit": ("fitted", "fitted"), "get": ("got", "got"), "give": ("gave", "given"),
    "go": ("went", "gone"), "let": ("let", "let"), "lose": ("lost", "lost"), "put": ("put", "put"),
    "rip": ("ripped", "ripped"), "shear": ("sheared", "sheared"), "shred": ("shredded", "shredded"),
    "shut": ("shut", "shut"), "snap": ("snapped", "snapped"), "stick": ("stuck", "stuck"),
    "strip": ("stripped", "stripped"), "swap": ("swapped", "swapped"),
    "swell": ("swelled", "swollen"), "take": ("took", "taken"), "tear": ("tore", "torn"),
    "top": ("topped", "topped"), "wear": ("wore", "worn"), "bang": ("banged", "banged"),
    "jam": ("jammed", "jammed"), "plug": ("plugged", "plugged"), "clog": ("clogged", "clogged"),
    "free": ("freed", "freed"), "unclog": ("unclogged", "unclogged"), "undo": ("undid", "undone"),
}  # fmt: skip
"""Past and participle, where a final letter doubles or more changes."""

SAID_OF = {"fluid": "twenty ounces of oil", "machine": "the machine"}
"""What a call names that is not of a part."""

MENDING = ("repaired", "freed")
ENDING_DANGER = ("tightened", "installed", "closed", "hooked up")


@dataclass(frozen=True)
class Plain:
    """A plain verb or condition with its ways."""

    word: str
    of: str
    senses: tuple[tuple[PartOfSpeech, str, int, bool], ...]
    taken: tuple[str, ...]
    asked: dict[str, list[str]]
    never_of: dict[str, list[str]]
    left_out: dict[str, list[str]]

    def synsets(self) -> Iterator[tuple[PartOfSpeech, Synset]]:
        for part, word, number, _ in self.senses:
            yield part, synset(part, word, number)

    def synonyms(self) -> frozenset[str]:
        found: set[str] = set()
        for part, word, number, kinds in self.senses:
            sense = synset(part, word, number)
            found |= set(sense.words) | related(part, sense, "&")
            found |= related(part, sense, "~") if kinds else set()
        return frozenset(found)

    @property
    def reasons(self) -> dict[str, str]:
        return {word: why for why, words in self.left_out.items() for word in words}

    @property
    def asked_about(self) -> tuple[str, ...]:
        return tuple(way for ways in self.asked.values() for way in ways)

    @property
    def ways(self) -> tuple[str, ...]:
        return self.taken + self.asked_about


def plain(word: str, row: Mapping[str, Any], of: str) -> Plain:
    senses = []
    for sense in row["senses"]:
        part, lemma, number, *kinds = sense.split()
        senses.append((part, lemma, int(number), kinds == ["+"]))
    return Plain(
        word, row.get("of", of), tuple(senses), tuple(row["taken"]), row.get("asked", {}),
        row.get("never_of", {}), row["left_out"],
    )  # fmt: skip


VERBS = tuple(plain(word, row, "") for word, row in TABLE["verb"].items())
CONDITIONS = tuple(plain(word, row, "part") for word, row in TABLE["condition"].items())
ALL = VERBS + CONDITIONS
NOT_OPPOSED = {
    frozenset(pair): why for why, pairs in TABLE["not_opposed"].items() for pair in pairs
}

each = pytest.mark.parametrize("ours", ALL, ids=lambda ours: ours.word)


def forms(word: str) -> frozenset[str]:
    """A word of WordNet as it may be called: "put_in" as "put in", "rust" as "rusted"."""
    said = word.replace("_", " ")
    first, _, rest = said.partition(" ")
    past, participle = IRREGULAR.get(first, (_past(first), _past(first)))
    ing = first.removesuffix("e") + "ing"
    inflected = {f"{form} {rest}".strip() for form in (past, participle, ing, f"{first}ing")}
    return frozenset({said, said.replace("-", " ")} | inflected)


def _past(verb: str) -> str:
    if verb.endswith("e"):
        return f"{verb}d"
    if verb.endswith("y") and verb[-2] not in "aeiou":
        return f"{verb[:-1]}ied"
    return f"{verb}ed"


# --- against WordNet ------------------------------------------------------------------------------


@each
def test_every_synonym_of_wordnet_is_taken_or_left_out_with_a_reason(ours: Plain) -> None:
    missing = [
        word
        for word in sorted(ours.synonyms())
        if ours.word not in forms(word)
        and not forms(word) & {way.replace(" … ", " ") for way in ours.ways}
        and word.replace("_", " ") not in ours.reasons
    ]
    assert not missing


@each
def test_a_plain_word_without_senses_has_none_of_the_trade_in_wordnet(ours: Plain) -> None:
    # WordNet's "seized" takes by force, its "flat" has lost its fizz.
    assert ours.senses or ours.word in ("seized", "flat")


@each
def test_what_is_left_out_is_not_taken_and_is_left_out_once(ours: Plain) -> None:
    words = [word for words in ours.left_out.values() for word in words]
    assert len(words) == len(set(words))
    assert not set(words) & set(ours.ways)
    assert not set(ours.taken) & set(ours.asked_about)
    verb_forms = {
        form for word in words if has("verb", word.replace(" ", "_")) for form in forms(word)
    }
    assert not (verb_forms - {"broken", "burnt"}) & set(ours.ways)


@each
def test_every_antonym_of_wordnet_is_in_the_table_of_opposites(ours: Plain) -> None:
    for part, sense in ours.synsets():
        for word, other in antonyms(part, sense):
            if frozenset((word, other)) in NOT_OPPOSED:
                continue
            opposed = {rival for form in forms(word) for rival in opposites(form)}
            assert forms(other) & opposed, f"{word} | {other}"


def test_no_pair_is_excused_that_the_table_has() -> None:
    for pair in NOT_OPPOSED:
        one, other = sorted(pair)
        assert not forms(other) & {rival for form in forms(one) for rival in opposites(form)}


@each
def test_no_way_is_an_antonym_of_its_plain_word(ours: Plain) -> None:
    turned = {
        form
        for part, sense in ours.synsets()
        for _, other in antonyms(part, sense)
        for form in forms(other)
    }
    assert not turned & set(ours.ways)
    for way in ours.ways:
        assert not {*way.split()} & (opposites(ours.word) | TURNING), way


# --- the list itself ------------------------------------------------------------------------------


def test_what_mends_keeps_its_form_and_what_ends_a_danger_has_few() -> None:
    ways = {ours.word: ours.taken for ours in VERBS}
    assert not [way for word in MENDING for way in ways[word]]
    assert all(ours.asked_about for ours in VERBS if ours.word in MENDING)
    assert all(len(ways[word]) <= 4 for word in ENDING_DANGER)


def test_every_plain_verb_and_condition_of_the_calls_is_listed() -> None:
    for word in (ours.word for ours in CONDITIONS):
        text = f"spark plug {word}"
        assert understand(text, BENCH, ANSWERING).intents[0].intent == "finding", text
    for ours in VERBS:
        text = call_of(ours, ours.word)
        assert understand(text, BENCH, ANSWERING).outcome == "record", text


def test_a_way_says_one_thing_of_a_part_and_one_of_a_fluid() -> None:
    said: dict[tuple[str, str], str] = {}
    for ours in ALL:
        for way in (ours.word, *ours.ways):
            kind = "part" if ours in VERBS and ours.of != "fluid" else ours.of
            kind = kind if ours in VERBS else "condition"
            assert said.setdefault((kind, way), ours.word) == ours.word, way


@each
def test_every_way_can_be_said(ours: Plain) -> None:
    for way in ours.ways:
        assert len(way.split()) <= LONGEST
        for word in way.replace(" … ", " ").split():
            assert pronunciations(word) or word in BENCH.words, word


RULES = {
    "did": None, "condition-way": None, "poured": "added", "let-out": "drained"
}  # fmt: skip
"""Rules of the grammar that list ways, each with its plain word where the rule says it nowhere."""

RECORDED_AS = {"off": "removed", "on": "installed", "connected": "hooked up"}
"""What the grammar calls some actions, and the plain word; of a wire or a valve it is another."""

SAID_BESIDES = {"put back": ("on", "in"), "topped up": ("with",), "topped off": ("with",)}
"""Words that may end a way and make it no other."""


def spelled_out(expansion: Expansion, said: str | None) -> Iterator[tuple[str, str | None]]:
    """Every wording of an expansion, with the plain word that its tag stands for; none of those
    that refer to other rules."""
    match expansion:
        case Word(text):
            yield text, said
        case Optional(item):
            yield "", said
            yield from spelled_out(item, said)
        case Alternatives(choices, _):
            for choice in choices:
                yield from spelled_out(choice, said)
        case Tagged(item, tags):
            for tag in tags:
                value = tag.partition("=")[2]
                said = RECORDED_AS.get(value, value) or said
            yield from spelled_out(item, said)
        case Sequence(items):
            for pieces in product(*(tuple(spelled_out(item, said)) for item in items)):
                tagged = next((plain for _, plain in pieces if plain != said), said)
                yield " ".join(text for text, _ in pieces if text), tagged


IN_GRAMMAR = sorted(
    {
        (way, word)
        for rule, said in RULES.items()
        for way, word in spelled_out(shipped_grammar("ways").rules[rule].expansion, said)
    }
)


def test_the_rules_are_read() -> None:
    assert ("did up", "tightened") in IN_GRAMMAR
    assert ("freed up", "freed") in IN_GRAMMAR
    assert ("topped up with", "added") in IN_GRAMMAR
    assert len(IN_GRAMMAR) > 100


@pytest.mark.parametrize(("way", "word"), IN_GRAMMAR, ids=[" for ".join(it) for it in IN_GRAMMAR])
def test_every_way_of_the_grammar_is_listed(way: str, word: str) -> None:
    ways = {
        said
        for ours in ALL
        if ours.word == word
        for each in ours.ways
        for said in (each, *(f"{each} {besides}" for besides in SAID_BESIDES.get(each, ())))
    }
    # "Topped it up with" names nothing, and goes on as "topped up with" does.
    assert {way, way.replace(" it", ""), way.replace(" it", "").removesuffix(" with")} & ways


def sounds(way: str) -> list[Phonemes]:
    known = [pronunciations(word) or ((),) for word in way.replace(" … ", " ").split()]
    return [sum(words, ()) for words in product(*known)]


ALIKE = 2 / 3
"""Share of phonemes from which on two ways are too like; "removed" and "renewed" are."""

ALIKE_ALL_THE_SAME = {frozenset(("stripped", "ripped"))}
"""A thread is stripped and a belt is ripped; either is mended by the same calls."""


@pytest.mark.parametrize("of", ["fluid", "part", "machine", "condition"])
def test_no_way_sounds_much_like_another_call_of_the_same_things(of: str) -> None:
    rows = CONDITIONS if of == "condition" else [ours for ours in VERBS if ours.of == of]
    calls = [(ours, way) for ours in rows for way in (ours.word, *ours.taken)]
    for (ours, way), (other, rival) in combinations(calls, 2):
        plainly = way == ours.word and rival == other.word
        if ours.word == other.word or plainly or {way, rival} in ALIKE_ALL_THE_SAME:
            continue
        alike = max(likeness(one, two) for one, two in product(sounds(way), sounds(rival)))
        assert alike < ALIKE - 0.001, f"{way} ({ours.word}) | {rival} ({other.word})"


# --- what is understood ---------------------------------------------------------------------------


def call_of(ours: Plain, way: str, part: str = "handle bolt") -> str:
    """The call of a verb or a condition, with the way in the place of the plain word."""
    if ours in CONDITIONS:
        return f"{part} {way}"
    named = SAID_OF.get(ours.of, part)
    return way.replace("…", named) if "…" in way else f"{way} {named}"


WAYS = [(ours, way) for ours in ALL for way in ours.taken]


@pytest.mark.parametrize(
    ("ours", "way"), WAYS, ids=[f"{way} for {ours.word}" for ours, way in WAYS]
)
def test_every_way_is_understood_as_its_plain_word(ours: Plain, way: str) -> None:
    plainly = understand(call_of(ours, ours.word), BENCH, ANSWERING)
    decision = understand(call_of(ours, way), BENCH, ANSWERING)
    assert (decision.outcome, decision.intents) == ("record", plainly.intents), decision.reasons
    turned = f"handle bolt {ours.word}"
    if ours in VERBS and ours.of == "part":
        # Where the plain word may follow the part, so may the way; what is "off" was taken off.
        plainly = understand(turned, BENCH, ANSWERING)
        participle = way.replace("took", "taken")
        decision = understand(f"handle bolt {participle}", BENCH, ANSWERING)
        if plainly.outcome == "record":
            assert decision.intents == plainly.intents, participle


ASKED = [(ours, way) for ours in ALL for way in ours.asked_about]


@pytest.mark.parametrize(
    ("ours", "way"), ASKED, ids=[f"{way} for {ours.word}" for ours, way in ASKED]
)
def test_what_is_asked_about_is_never_acted_on_at_once(ours: Plain, way: str) -> None:
    plainly = understand(call_of(ours, ours.word), BENCH, ANSWERING)
    assert plainly.outcome == "record"
    for text in (call_of(ours, way), f"handle bolt {way}"):
        decision = understand(text, BENCH, ANSWERING)
        assert (decision.outcome, decision.intents[:1]) == ("ask", plainly.intents), text


NEVER = [
    (ours, way, part) for ours in ALL for way, parts in ours.never_of.items() for part in parts
]


@pytest.mark.parametrize(
    ("ours", "way", "part"), NEVER, ids=[f"{way} {part}" for _, way, part in NEVER]
)
def test_a_way_is_not_taken_of_a_part_of_which_it_means_something_else(
    ours: Plain, way: str, part: str
) -> None:
    plainly = understand(call_of(ours, ours.word, part), BENCH, ANSWERING)
    assert plainly.outcome == "record"
    decision = understand(call_of(ours, way, part), BENCH, ANSWERING)
    assert not set(decision.intents) & set(plainly.intents)


LEFT_OUT = [
    (ours, form)
    for ours in ALL
    for word, why in ours.reasons.items()
    if "danger" in why or "mends" in why or why.startswith("reads as its opposite")
    for form in sorted(forms(word))
]


@pytest.mark.parametrize(
    ("ours", "form"), LEFT_OUT, ids=[f"{form} for {ours.word}" for ours, form in LEFT_OUT]
)
def test_what_is_left_out_of_ending_a_danger_is_never_recorded_as_it(
    ours: Plain, form: str
) -> None:
    plainly = understand(call_of(ours, ours.word), BENCH, ANSWERING)
    decision = understand(call_of(ours, form), BENCH, ANSWERING)
    assert decision.outcome != "record" or not set(decision.intents) & set(plainly.intents)
