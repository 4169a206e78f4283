"""Ways of one's own: which are taken, what they mean, where they are kept."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.enroll.ways_file import WaysFile
from companion.errors import CompanionError
from companion.grammar.compiled import CallGrammar, load_grammar, load_rules
from companion.grammar.own_phrases import Way, is_never, with_own_phrases
from companion.intent.learned import way_between
from companion.intent.meaning import meanings
from companion.intent.opposites import TURNING
from companion.intent.own_ways import against, as_way, examine, load_with
from companion.job.mending import mending_actions
from companion.shelf.rules import shipped_rules

GRAMMAR = load_grammar()
MENDING = mending_actions(shipped_rules().dangers)

TAKEN = (
    Way("fed her", "added"),
    Way("return to", "follow up"),
    Way("gasoline", "gas"),
    Way("mag coil", "ignition coil"),
    Way("spark lead", "plug wire"),
    Way("purchase", "need"),
    Way("speak louder", "say again"),
)
OWN = load_grammar(None, TAKEN)


# --- what is taken ------------------------------------------------------------------------------


@pytest.mark.parametrize("way", TAKEN, ids=str)
def test_ways_that_nothing_speaks_against(way: Way) -> None:
    examined = examine(way, GRAMMAR, MENDING)
    assert examined.refusal is None
    assert examined.grammar is not None
    assert examined.grammar.ways == (way,)


@pytest.mark.parametrize(
    ("own", "plain", "reason"),
    [
        ("emptied", "added", "'emptied' is the opposite of 'added'"),
        ("not added", "added", "'not' turns a call around"),
        ("loose", "worn", "'loose' means something else already"),
        ("topped up", "added", "'topped up' means the same already"),
        ("poured in", "added", "'poured in' means the same already"),
        ("left wheel", "blade", "means something else already"),
        ("follow up", "need", "means something else already"),
        ("oil added", "added", "'oil' in it means something already"),
        ("drowned", "added", "it sounds like 'drained'"),
        ("xqzt", "added", "nobody knows how 'xqzt' is pronounced"),
        ("twenty", "added", "'twenty' belongs to numbers and units"),
        ("ounces", "added", "'ounces' belongs to numbers and units"),
        ("filled", "twenty", "'twenty' belongs to numbers and units"),
        ("the lot", "added", "'the' says nothing"),
        ("bench oil", "oil", "'bench' is the call sign"),
        ("poured", "decanted", "'decanted' is no phrase of the calls that can be made now"),
        ("fixed", "repaired", "can end a danger"),
        ("bolted on", "installed", "can end a danger"),
        ("good to go", "clear to start", "is always called as it is"),
        ("yup", "yes", "is always called as it is"),
        ("bare", "no oil", "turns a call around"),
        ("bled dry", "fuel off", "is always called as it is"),
        ("brimming", "full", "is always called as it is"),
        ("job finished", "step done", "is always called as it is"),
        ("humming along", "engine running", "is always called as it is"),
        ("one two three four five", "added", "more than 4 words"),
    ],
)
def test_ways_that_are_refused_with_their_reason(own: str, plain: str, reason: str) -> None:
    refusal = examine(as_way(own, plain, GRAMMAR.words), GRAMMAR, MENDING).refusal
    assert refusal is not None
    assert reason in refusal


def test_one_way_cannot_mean_two_things() -> None:
    again = examine(Way("fed her", "drained"), OWN, MENDING)
    assert again.refusal is not None
    assert "taken as 'added' already" in again.refusal


@given(
    own=st.lists(st.sampled_from(sorted(TURNING | {"fed", "poured", "in"})), min_size=1),
    plain=st.sampled_from(("added", "drained", "follow up", "ignition coil")),
)
def test_no_way_ever_holds_a_word_that_turns_a_call_around(own: list[str], plain: str) -> None:
    way = Way(" ".join(own), plain)
    refusal = against(way, GRAMMAR.phrases, GRAMMAR.call_sign, MENDING)
    assert refusal is not None or not TURNING & set(own)


def test_every_action_that_mends_is_always_called_as_it_is() -> None:
    for action in sorted(MENDING):
        said = "hooked up" if action == "connected" else action
        refusal = against(Way("brought round", said), GRAMMAR.phrases, (), MENDING)
        assert refusal is not None, action
        assert "can end a danger" in refusal


# --- what it means ------------------------------------------------------------------------------


@given(seed=st.integers(0, 2**32))
@settings(max_examples=300)
def test_a_call_said_in_ones_own_way_means_what_the_plain_call_means(seed: int) -> None:
    said = OWN.generate(Random(seed))
    plain = " ".join(said)
    for way in TAKEN:
        plain = f" {plain} ".replace(f" {way.own} ", f" {way.plain} ").strip()
    assert meanings(said, OWN) == meanings(plain.split(), GRAMMAR)


@given(seed=st.integers(0, 2**32))
@settings(max_examples=200)
def test_ways_take_nothing_away(seed: int) -> None:
    said = GRAMMAR.generate(Random(seed))
    assert meanings(said, OWN) == meanings(said, GRAMMAR)


def test_what_is_always_called_as_it_is_stays_so_even_if_somebody_adds_it() -> None:
    forced = CallGrammar(
        load_rules(), (Way("good to go", "clear to start"), Way("dry sump", "no oil"))
    )
    assert forced.fingerprint == GRAMMAR.fingerprint
    assert is_never(("intent=start.check",))


def test_without_ways_the_rules_are_the_same_ones() -> None:
    rules = load_rules()
    assert with_own_phrases(rules, ()) is rules


def test_a_way_kept_by_hand_is_looked_at_like_any_other() -> None:
    ways = (Way("emptied", "added"), Way("fed her", "added"), Way("flux tube", "no such part"))
    grammar, left_out = load_with(load_rules(), ways, ("bench",), MENDING)
    assert grammar.ways[0] == Way("fed her", "added")
    assert len(left_out) == 1
    assert "'emptied' is the opposite of 'added'" in left_out[0]


def test_a_way_that_means_something_in_this_job_is_left_out_of_it() -> None:
    grammar, left_out = load_with(load_rules(), (Way("left wheel", "blade"),), ("bench",), MENDING)
    assert grammar.ways == ()
    assert "means something else in this job" in left_out[0]


# --- what is learned ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("failed", "recorded", "own", "plain"),
    [
        ("fed her twenty ounces of oil", "added twenty ounces of oil", "fed her", "added"),
        ("mag coil cracked", "ignition coil cracked", "mag coil", "ignition coil"),
        (
            "bench return to carburator",
            "bench follow up carburetor",
            "return to",
            "follow up",
        ),
        ("please show me the gap", "read back gap", "show me", "read back"),
    ],
)
def test_one_stretch_that_differs_is_a_way(
    failed: str, recorded: str, own: str, plain: str
) -> None:
    way = way_between(failed.split(), recorded.split(), GRAMMAR, MENDING)
    assert way == Way(own, plain)


@pytest.mark.parametrize(
    ("failed", "recorded"),
    [
        ("fed her ten ounces of oil", "added twenty ounces of oil"),  # two stretches
        ("fed it", "added twenty ounces of oil"),  # nothing shared
        ("fixed carburetor", "repaired carburetor"),  # mends
        ("carby repaired", "repaired carburetor"),
        ("hang bare sump", "tag no oil"),
        ("take tag down no oil", "clear tag no oil"),
        ("fine to start", "clear to start"),
        ("engine humming", "engine running"),
        ("step finished", "step done"),
        ("make that thirty one thou", "correction thirty one thou"),
        ("emptied twenty ounces of oil", "added twenty ounces of oil"),  # the opposite
        ("not drained twenty ounces of oil", "added twenty ounces of oil"),
        ("gap forty thou", "gap thirty thou"),  # a number
        ("gap thirty mils", "gap thirty thou"),  # a unit
        ("oil level brimming", "oil level full"),
    ],
)
def test_no_way_is_found(failed: str, recorded: str) -> None:
    assert way_between(failed.split(), recorded.split(), GRAMMAR, MENDING) is None


# --- where they are kept ------------------------------------------------------------------------


def test_ways_are_kept_by_name_and_everyones_are_everyones(tmp_path: Path) -> None:
    path = tmp_path / "voices" / "ways.toml"
    rosa, everyone = WaysFile("Rosa", path), WaysFile(None, path)
    everyone.keep(Way("purchase", "need"))
    rosa.keep(Way("fed her", "added"))
    assert everyone.read() == (Way("purchase", "need"),)
    assert rosa.read() == (Way("fed her", "added"), Way("purchase", "need"))
    assert WaysFile("rosa", path).read() == rosa.read()
    assert rosa.remove("fed her")
    assert not rosa.remove("fed her")
    assert rosa.read() == everyone.read()


def test_the_file_can_be_read_and_mended_by_hand(tmp_path: Path) -> None:
    path = tmp_path / "ways.toml"
    kept = WaysFile(None, path)
    kept.keep(Way("fed her", "added"))
    text = path.read_text()
    assert 'say = "fed her"\nas = "added"' in text
    path.write_text(text.replace("fed her", "brought up"))
    assert kept.read() == (Way("brought up", "added"),)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[[way]\n", "line 1"),
        ('[[way]]\nsay = "fed her"\n', "way.1.as: is missing"),
        ('[[way]]\nsay = "FED"\nas = "added"\n', "lower-case words"),
        ('[[way]]\nsay = "fed"\nas = "added"\nwhy = "so"\n', "is not known"),
    ],
)
def test_a_damaged_file_is_told_of_and_never_written_over(
    tmp_path: Path, text: str, told: str
) -> None:
    path = tmp_path / "ways.toml"
    path.write_text(text)
    kept = WaysFile(None, path)
    with pytest.raises(CompanionError, match=r"way") as error:
        kept.keep(Way("purchase", "need"))
    assert told in str(error.value)
    assert "\n" not in str(error.value)
    assert path.read_text() == text
