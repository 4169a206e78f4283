"""Nothing is understood by its opposite: typed or heard, what denies or reverses a call is never
recorded as that call, nor offered as it."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.intent.decision import Decision, Listening, decide_utterance
from companion.intent.intents import Work
from companion.intent.interpret import understand
from companion.intent.match import EXACT_WORDS, SAYING_NOTHING, nearest
from companion.intent.meaning import meanings
from companion.intent.opposites import (
    GROUPS,
    NEGATIONS,
    OPPOSED,
    TURNING,
    crosses,
    opposites,
)
from companion.intent.text import respelled, typed_words
from companion.recognize.protocol import Hypothesis, Recognition
from companion.shelf.load import load_card, load_sheet
from companion.shelf.words import vocabulary_of
from companion.speak.wording import word_not_understood

BENCH = load_grammar()
JOB = load_grammar(vocabulary_of(load_card("four-stroke-service"), load_sheet("quillmoor-tiller")))
LISTENING = Listening(answer_awaited=True)
GRAMMARS = {"no job": BENCH, "with a job": JOB}

ASSERTING = {
    "work", "finding", "level", "tag.hang", "tag.clear", "engine.running", "engine.stopped",
    "start.check", "fluid", "affirm", "negative", "step.done", "step.next", "step.back",
    "step.skip", "reading", "timer.start", "timer.cancel", "part.need", "part.used", "acknowledge",
    "correction", "disregard", "followup", "resume", "standby", "job.park", "job.close",
}  # fmt: skip
"""Intents that record or decide."""

DENIALS = (
    "not", "no", "never", "without", "none", "nothing", "hardly", "isn't", "wasn't", "don't",
    "didn't", "can't", "isnt", "wasnt", "dont", "didnt", "cant", "cannot", "nor", "neither",
    "no longer", "not yet", "failed to", "forgot to", "should", "will", "if", "almost", "nearly",
    "half", "haven't", "wouldn't", "unable to", "refused to", "supposedly", "tomorrow",
)  # fmt: skip
PREFIXES = ("un", "dis", "de", "in", "im", "mis", "non", "non-", "un-", "over", "under", "half-",
            "not", "quasi")  # fmt: skip


def asserting(grammar: CallGrammar, seed: int) -> tuple[str, ...]:
    """A sentence of the grammar that records or decides."""
    random = Random(seed)
    while True:
        words = grammar.generate(random)
        if any(intent.intent in ASSERTING for intent in meanings(words, grammar)):
            return words


def is_a_call(text: str, grammar: CallGrammar) -> bool:
    """Whether a text is letter for letter a sentence of the grammar, which then means itself."""
    return any(
        meanings(words, grammar)
        for typed in typed_words(text)
        for words in respelled(typed, grammar.words)
    )


def typed(text: str, grammar: CallGrammar = BENCH) -> Decision:
    return understand(text, grammar, LISTENING)


def assert_not_taken(text: str, grammar: CallGrammar) -> None:
    if is_a_call(text, grammar):
        return
    decision = typed(text, grammar)
    assert decision.outcome not in ("record", "ask"), (text, decision)


def assert_not_the_same_word(
    words: tuple[str, ...], at: int, other: str, grammar: CallGrammar
) -> None:
    text = " ".join((*words[:at], other, *words[at + 1 :]))
    if is_a_call(text, grammar):
        return
    decision = typed(text, grammar)
    assert not decision.intents or words[at] not in decision.text.split(), (text, decision)
    assert not set(decision.intents) & set(meanings(words, grammar)), (text, decision)


@pytest.mark.parametrize("grammar", GRAMMARS.values(), ids=GRAMMARS)
@given(seed=st.integers(0, 2**32), denial=st.sampled_from(DENIALS))
def test_a_denial_anywhere_in_a_call_is_never_passed_over(
    grammar: CallGrammar, seed: int, denial: str
) -> None:
    words = asserting(grammar, seed)
    for at in range(len(words) + 1):
        assert_not_taken(" ".join((*words[:at], denial, *words[at:])), grammar)


@pytest.mark.parametrize("grammar", GRAMMARS.values(), ids=GRAMMARS)
@given(seed=st.integers(0, 2**32), prefix=st.sampled_from(PREFIXES))
def test_a_word_with_a_reversing_prefix_is_never_taken_for_the_word(
    grammar: CallGrammar, seed: int, prefix: str
) -> None:
    words = asserting(grammar, seed)
    for at in range(len(words)):
        if words[at] not in EXACT_WORDS:
            assert_not_taken(" ".join((*words[:at], prefix + words[at], *words[at + 1 :])), grammar)


@pytest.mark.parametrize("grammar", GRAMMARS.values(), ids=GRAMMARS)
@given(seed=st.integers(0, 2**32), data=st.data())
def test_a_word_swapped_for_its_opposite_is_never_taken_for_the_word(
    grammar: CallGrammar, seed: int, data: st.DataObject
) -> None:
    words = asserting(grammar, seed)
    places = [at for at, word in enumerate(words) if word in OPPOSED]
    if not places:
        return
    at = data.draw(st.sampled_from(places))
    for other in sorted(opposites(words[at])):
        # "Draining" for "added" may be asked about as "drained", never as "added".
        assert_not_the_same_word(words, at, other, grammar)


@pytest.mark.parametrize("grammar", GRAMMARS.values(), ids=GRAMMARS)
@given(seed=st.integers(0, 2**32), slip=st.sampled_from("aeioustrnl"), data=st.data())
def test_a_slip_in_a_reversed_word_does_not_undo_the_reversal(
    grammar: CallGrammar, seed: int, slip: str, data: st.DataObject
) -> None:
    words = asserting(grammar, seed)
    places = [at for at, word in enumerate(words) if word not in EXACT_WORDS and len(word) > 4]
    if not places:
        return
    at = data.draw(st.sampled_from(places))
    prefix = data.draw(st.sampled_from(("un", "dis", "de", "mis", "non")))
    turned = prefix + words[at]
    place = data.draw(st.integers(len(prefix) + 1, len(turned) - 1))
    turned = turned[:place] + slip + turned[place + 1 :]
    assert_not_the_same_word(words, at, turned, grammar)


@pytest.mark.parametrize("grammar", GRAMMARS.values(), ids=GRAMMARS)
@given(
    seed=st.integers(0, 2**32),
    word=st.sampled_from(("hydraulic", "upstairs", "other", "neighbour's", "shiny", "second hand")),
)
def test_an_unknown_word_is_never_left_out_of_what_is_recorded(
    grammar: CallGrammar, seed: int, word: str
) -> None:
    words = asserting(grammar, seed)
    for at in range(len(words) + 1):
        assert_not_taken(" ".join((*words[:at], word, *words[at:])), grammar)


@given(
    seed=st.integers(0, 2**32),
    denial=st.sampled_from([*(denial for denial in DENIALS if "'" not in denial), "[unk]"]),
    share=st.floats(0.1, 0.9),
    data=st.data(),
)
def test_what_an_engine_heard_with_a_denial_is_neither_recorded_nor_asked_about(
    seed: int, denial: str, share: float, data: st.DataObject
) -> None:
    words = asserting(BENCH, seed)
    at = data.draw(st.integers(0, len(words)))
    turned = " ".join((*words[:at], denial, *words[at:]))
    if is_a_call(turned, BENCH) or (denial == "[unk]" and words[0] == "bench" and at == 0):
        return
    plain = " ".join(words)
    for heard in (
        ((turned, 1.0),),
        ((turned, share), (plain, 1 - share)),
        ((plain, 1 - share), (turned, share)),
    ):
        ranked = tuple(Hypothesis(text, -float(at), sure) for at, (text, sure) in enumerate(heard))
        decision = decide_utterance(Recognition("test", ranked, 1.0, None, 0.0), BENCH, LISTENING)
        assert decision.outcome not in ("record", "ask"), (heard, decision)


@pytest.mark.parametrize(
    ("draft", "taken_for"),
    [
        ("The handle bolt is not loose.", "handle bolt loose"),
        ("Haven't tightened handle bolt.", "tightened handle bolt"),
        ("Uninstalled blade", "installed blade"),
        ("Oil level isn't full", "oil level full"),
        ("Engine no longer running.", "engine running"),
    ],
)
def test_a_free_transcript_with_a_denial_keeps_the_call_from_being_taken(
    draft: str, taken_for: str
) -> None:
    recognition = Recognition("test", (Hypothesis(taken_for, 0.0, 1.0),), 1.0, draft, 0.0)
    decision = decide_utterance(recognition, BENCH, LISTENING)
    assert (decision.outcome, decision.intents) == ("say-again", ())
    assert "turns it around" in decision.reasons[0]


@pytest.mark.parametrize(
    "draft", ["Tag, no oil.", "Do not start.", "Tag do not start", "Gap 30", ""]
)
def test_a_transcript_that_denies_no_more_than_the_call_changes_nothing(draft: str) -> None:
    said = "tag do not start" if "start" in draft else "tag no oil"
    recognition = Recognition("test", (Hypothesis(said, 0.0, 1.0),), 1.0, draft, 0.0)
    assert decide_utterance(recognition, BENCH, LISTENING).outcome == "record"


def of_sound(
    *heard: tuple[str, float], draft: str | None = None, otherwise: tuple[str, str] | None = None
) -> Decision:
    hypotheses = tuple(Hypothesis(text, -float(at), sure) for at, (text, sure) in enumerate(heard))
    recognition = Recognition("test", hypotheses, 1.0, draft, 0.0, otherwise)
    return decide_utterance(recognition, BENCH, LISTENING)


def test_of_opposites_the_one_that_was_heard_freely_is_asked_about_first() -> None:
    """The calls have "hooked up" and no "connected": by their words alone it sounds like its
    opposite, which would let a hand near a blade that can turn."""
    decision = of_sound(("disconnected spark plug wire", 0.97), draft="Connected spark plug wire.")
    assert decision.outcome == "ask"
    first, second = decision.intents
    assert isinstance(first, Work)
    assert isinstance(second, Work)
    assert (first.action, second.action) == ("connected", "disconnected")
    assert decision.reasons == ("'connected' was heard as well, the opposite of 'disconnected'",)


@pytest.mark.parametrize("draft", ["Oil lever low", "Oil level low."])
def test_an_opposite_that_is_no_call_or_was_listened_for_is_not_guessed_at(draft: str) -> None:
    decision = of_sound(("oil level full", 0.99), draft=draft)
    assert (decision.outcome, decision.intents) == ("say-again", ())


@pytest.mark.parametrize("draft", ["Dis connected spark plug wire", "This can I just spark wire"])
def test_a_call_in_two_pieces_or_spelled_oddly_is_taken(draft: str) -> None:
    assert of_sound(("disconnected spark plug wire", 0.97), draft=draft).outcome == "record"


def test_an_opposite_needs_less_of_a_share_to_be_asked_about() -> None:
    rival = ("oil level low", 0.006)
    assert of_sound(("oil level full", 0.99), rival).outcome == "ask"
    # What is needed or used stands in no danger.
    assert of_sound(("used three bolts", 0.99), ("need three bolts", 0.006)).outcome == "record"


def test_a_word_that_sounds_better_than_the_calls_own_is_asked_about_or_turns_it_around() -> None:
    asked = of_sound(("replaced muffler", 0.99), otherwise=("replaced", "released"))
    assert (asked.outcome, asked.reasons) == ("ask", ("sounds like: released",))
    # "Yes" without thinking would record that it is not flat.
    turned = of_sound(("inflated left tire", 0.99), otherwise=("inflated", "deflated"))
    assert (turned.outcome, turned.intents) == ("say-again", ())
    assert turned.reasons == ("'deflated' turns it around: call what is so",)


@pytest.mark.parametrize(
    ("heard", "rival", "outcome"),
    [
        # All of them: what is known of every one that was left loose would end.
        ("tightened handle bolts", ("tightened handle bolt", 0.05), "ask"),
        ("tightened handle bolts", ("tightened handle bolt", 0.01), "record"),
        ("tightened handle bolt", ("tightened handle bolts", 0.05), "record"),
        ("tightened handle bolt", ("tightened handle bolts", 0.4), "ask"),
        # All of them loose holds the start, and so takes nothing away.
        ("handle bolts loose", ("handle bolt loose", 0.05), "record"),
    ],
)
def test_work_on_all_of_a_kind_is_asked_about_sooner_than_on_one(
    heard: str, rival: tuple[str, float], outcome: str
) -> None:
    decision = of_sound((heard, 0.99 - rival[1]), rival)
    assert decision.outcome == outcome
    assert len(decision.intents) == (2 if outcome == "ask" else 1)


def test_a_sound_before_the_call_sign_belongs_to_no_call() -> None:
    heard = (Hypothesis("[unk] bench gap thirty thou", 0.0, 1.0),)
    open_mic = Listening(call_sign_needed=True)
    recognition = Recognition("test", heard, 1.0, None, 0.0)
    assert decide_utterance(recognition, BENCH, open_mic).outcome == "record"


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("uninstalled blade", "'uninstalled' turns it around: call what is so"),
        ("untightened handle bolt", "'untightened' turns it around: call what is so"),
        ("oil level not full", "'not' turns it around: call what is so"),
        ("handle bolt isn't loose", "'isnt' turns it around: call what is so"),
        ("forgot to tighten handle bolt", "'forgot' turns it around: call what is so"),
        ("gap almost 30 thou", "'almost' turns it around: call what is so"),
        ("gap not 30", "'not' turns it around: call what is so"),
        ("handle bolt !loose", "'not' turns it around: call what is so"),
        ("ring gap thirty thou", "'ring gap' is not a measure of this job"),
        ("ring gap thirty", "'ring gap' is not a measure of this job"),
        ("valve lash 6 thou", "'valve lash' is not a measure of this job"),
        ("spec for ring gap", "'ring gap' is not a measure of this job"),
        ("added 20 ounces of thick oil", "'thick oil' is not a fluid of this job"),
        ("handle big bolt loose", "'handle big bolt' is not a part of this job"),
        ("clear tag oil", "understood only as far as 'clear tag'"),
        ("is engine running", "no call is like this"),
    ],
)
def test_the_reason_says_what_turns_a_call_around_or_is_not_known(text: str, reason: str) -> None:
    decision = typed(text, JOB)
    assert (decision.outcome, decision.intents, decision.reasons) == ("say-again", (), (reason,))


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        ("'not' turns it around: call what is so", "Not turns it around: call what is so."),
        (
            "'ring gap' is not a measure of this job",
            "Ring gap is not a measure of this job. Say help.",
        ),
        (
            "a word in it is not known: call it without that word",
            "A word in it is not known: call it without that word.",
        ),
    ],
)
def test_the_reason_is_spoken(reason: str, said: str) -> None:
    assert word_not_understood((reason,)).text == f"Say again. {said}"


@pytest.mark.parametrize(
    "text",
    [
        "unlubricated auger shaft", "un-greased auger shaft", "misadjusted carburetor",
        "overtightened handle bolt", "half tightened handle bolt", "notloosened handle bolt",
        "unistalled blade", "uninstaled blade", "degreased auger shaft", "connected plug wires off",
        "oil level nto full", "oil level nver full", "oil level high", "oil level dry",
        "engine never running", "engine not stopped", "not clear to start", "unclear to start",
        "don't clear tag no oil", "step undone", "step not done", "will skip step",
        "closed fuel line", "open job", "hang tag no oil now not", "fuel level now",
        "drained no oil", "added hydraulic 20 ounces of oil", "exhaust gap 30 thou",
        "shear pin unbroken", "shear pin never broken", "drive belt hardly worn",
        "driven belt worn", "no shear pin broken", "isnt spark plug fouled", "handle bolt tight",
    ],
)  # fmt: skip
def test_what_is_not_so_is_not_taken_for_what_is(text: str) -> None:
    for grammar in GRAMMARS.values():
        assert_not_taken(text, grammar)


@pytest.mark.parametrize(
    ("text", "taken_for"),
    [
        ("tightend handle bolt", "tightened handle bolt"),
        ("loosend handle bolt", "loosened handle bolt"),
        ("instaled blade", "installed blade"),
        ("reinstalled blade", "reinstalled blade"),
        ("oil levl full", "oil level full"),
        ("engin runing", "engine running"),
        ("tga no oil", "tag no oil"),
        ("claer tag no oil", "clear tag no oil"),
        ("drianed 20 ounces of oil", "drained twenty ounces of oil"),
        ("shear pin brokn", "shear pin broken"),
        ("tighten handle bolt", "tightened handle bolt"),
    ],
)
def test_an_honest_slip_is_still_understood(text: str, taken_for: str) -> None:
    decision = typed(text)
    assert decision.outcome in ("record", "ask")
    assert decision.text == taken_for


def test_the_table_holds_both_ways() -> None:
    for group in GROUPS:
        assert len(group) >= 2
        for side in group:
            assert side
    for word in OPPOSED:
        assert word not in opposites(word)
        for other in opposites(word):
            assert word in opposites(other)


@given(st.sampled_from(sorted(OPPOSED)), st.booleans())
def test_no_word_of_the_table_is_taken_for_an_opposite(word: str, own: bool) -> None:
    for other in opposites(word):
        assert crosses(word, other, own=own)
        assert crosses(other, word, own=own)


def test_no_word_that_may_be_left_out_denies() -> None:
    assert not SAYING_NOTHING & (TURNING | OPPOSED)
    assert {denial for denial in DENIALS if denial.isalpha()} <= TURNING
    assert {"isnt", "wasnt", "dont", "didnt", "cant"} <= NEGATIONS


@given(st.integers(0, 2**32), st.data())
def test_a_near_match_keeps_every_word_that_denies_or_has_an_opposite(
    seed: int, data: st.DataObject
) -> None:
    words = list(BENCH.generate(Random(seed)))
    at = data.draw(st.integers(0, len(words)))
    words.insert(at, data.draw(st.sampled_from(sorted(TURNING | OPPOSED))))
    written = tuple(words)
    for match in nearest(written, BENCH):
        if match.words == written:
            continue
        kept = [word for word in written if word in TURNING]
        assert [word for word in match.words if word in TURNING] == kept
