"""Whether a person's own way to say something may be taken, and if not, why.

A way changes which words are heard, never what a call means; so it may not already mean something,
turn anything around, sound like another call, or stand for a call that opens or shuts the start.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from companion.grammar.compiled import CallGrammar
from companion.grammar.linking import LinkedRules
from companion.grammar.own_phrases import Way, is_never
from companion.grammar.own_sound import meant_twice, sounds_like
from companion.grammar.phrases import TaggedPhrase, Words, holds, tagged_phrases
from companion.grammar.pronounce import pronunciations
from companion.intent.letters import likeness
from companion.intent.match import EXACT_WORDS, SAYING_NOTHING
from companion.intent.opposites import TURNING, crosses, opposites, turned_forms, unturned
from companion.intent.text import respelled, typed_words

LONGEST = 4
"""Words of the longest way; a longer one is a sentence, and no name for anything."""

_NEAR = 0.6
"""From this share of letters in common on, two words are compared as a slip of one another."""

_DOING = frozenset({"intent", "action", "condition", "level", "reason"})
"""Tags of actions and conditions. A way that holds a phrase of one would say two things at once."""

_NAMING = frozenset({"fluid"})
"""Tags of names that must not be hidden inside a way for something done."""


@dataclass(frozen=True, slots=True)
class Examined:
    """What was found of a way.

    Attributes:
        way: In the words of the grammar.
        refusal: Why it is not taken, as the end of a sentence; None where it may be.
        grammar: With the way in it; None where it is refused.
    """

    way: Way
    refusal: str | None
    grammar: CallGrammar | None = None


def as_way(own: str, plain: str, words: Collection[str]) -> Way:
    """Put what somebody typed into a way.

    Args:
        own: What is to be said.
        plain: What it stands for.
        words: Of the grammar, by whose spelling ``plain`` is written.
    """
    spellings = respelled(typed_words(plain)[0], words)
    known = next((each for each in spellings if all(word in words for word in each)), spellings[0])
    return Way(" ".join(typed_words(own)[0]), " ".join(known))


def examine(way: Way, grammar: CallGrammar, mending: Collection[str]) -> Examined:
    """Examine a way in full; this takes a second or two, since the grammar is compiled with it.

    Args:
        way: To be taken beside those that the grammar has.
        grammar: The active one.
        mending: Actions that end a danger; they are always called in the words of the grammar.
    """
    others = tuple(other for other in grammar.ways if other.own != way.own)
    taken = next((other for other in grammar.ways if other.own == way.own), None)
    if taken is not None and taken.plain != way.plain:
        return Examined(way, f"'{way.own}' is taken as '{taken.plain}' already: remove that first")
    refusal = against(way, grammar.phrases, grammar.call_sign, mending)
    if refusal is not None:
        return Examined(way, refusal)
    before = grammar if taken is None else CallGrammar(grammar.shared, others)
    trial = CallGrammar(grammar.shared, (*others, way))
    sentence = meant_twice(trial, way)
    if sentence is not None:
        return Examined(way, f"'{sentence}' means something else already")
    other = sounds_like(trial, way, before)
    if other is not None:
        return Examined(way, f"it sounds like '{other}'")
    return Examined(way, None, trial)


def against(
    way: Way, phrases: Sequence[TaggedPhrase], call_sign: Words, mending: Collection[str]
) -> str | None:
    """Say what speaks against a way, as far as its words tell it; None where nothing does.

    Args:
        way: To be looked at.
        phrases: Of the grammar.
        call_sign: The words that open a call.
        mending: Actions that end a danger.

    Returns:
        The end of a sentence: "'not' turns it around".
    """
    own, plain = way.own_words, way.plain_words
    if not own or not plain:
        return "there is nothing to say in it"
    return (
        _of_its_words(own, plain, call_sign)
        or _turned(own, plain)
        or _of_its_call(plain, phrases, mending)
        or _means_something(own, plain, phrases)
    )


def _of_its_words(own: Words, plain: Words, call_sign: Words) -> str | None:
    if len(own) > LONGEST:
        return f"it has more than {LONGEST} words"
    for word in own:
        if not word.isascii() or not word.isalpha():
            return f"'{word}' is no word: use letters a to z"
        if word in SAYING_NOTHING:
            return f"'{word}' says nothing and may be left out of any call"
        if word in call_sign:
            return f"'{word}' is the call sign"
    exact = next((word for word in (*own, *plain) if word in EXACT_WORDS), None)
    if exact is not None:
        return f"'{exact}' belongs to numbers and units, which are always called as they are"
    unsayable = next((word for word in own if not pronunciations(word)), None)
    return None if unsayable is None else f"nobody knows how '{unsayable}' is pronounced"


def _turned(own: Words, plain: Words) -> str | None:
    """Say which word turns the call around or says the opposite."""
    denies = next((word for word in (*own, *plain) if word in TURNING), None)
    if denies is not None:
        return f"'{denies}' turns a call around"
    for word in own:
        for said in plain:
            if word in opposites(said) or word in turned_forms(said) or said in unturned(word):
                return f"'{word}' is the opposite of '{said}'"
            if word != said and likeness(word, said) >= _NEAR and crosses(word, said, own=False):
                return f"'{word}' is too near to the opposite of '{said}'"
    return None


def _of_its_call(
    plain: Words, phrases: Sequence[TaggedPhrase], mending: Collection[str]
) -> str | None:
    """Whether what it stands for is a phrase that may be said in another way."""
    said = " ".join(plain)
    meant = [phrase for phrase in phrases if plain in phrase.sayings]
    if not meant:
        return f"'{said}' is no phrase of the calls that can be made now"
    free = [phrase for phrase in meant if not is_never(phrase.tags)]
    if not free:
        return f"'{said}' is always called as it is"
    ends = {f"action={action}" for action in mending}
    if any(ends.intersection(phrase.tags) for phrase in free):
        return f"'{said}' can end a danger and is always called as it is"
    return None


def _means_something(own: Words, plain: Words, phrases: Sequence[TaggedPhrase]) -> str | None:
    """What a way, or words in it, mean already."""
    of_plain = [phrase for phrase in phrases if plain in phrase.sayings]
    meant = _keys(of_plain)
    # The grammar's other forms are phrases of their own, with the tags of the plain one.
    if any(own in phrase.sayings for phrase in phrases if _same_as(phrase, of_plain)):
        return f"'{' '.join(own)}' means the same already"
    in_names = {
        said[:end]
        for phrase in phrases
        if "part" in _keys((phrase,))
        for said in phrase.sayings
        for end in range(1, len(said))
    }
    for phrase in phrases:
        if plain in phrase.sayings:
            continue
        keys = _keys((phrase,))
        if own in phrase.sayings:
            return f"'{' '.join(own)}' means something else already"
        if keys & _DOING or (keys & _NAMING and meant & _DOING):
            inside = next((said for said in phrase.sayings if holds(own, said)), None)
            # "Spark" stands in a call and in names: "spark lead" does not say two things.
            in_name = not meant & _DOING and inside in in_names
            if inside is not None and not in_name:
                return f"'{' '.join(inside)}' in it means something already"
    return None


def _same_as(phrase: TaggedPhrase, others: Sequence[TaggedPhrase]) -> bool:
    return any(phrase.tags == other.tags for other in others)


def _keys(phrases: Iterable[TaggedPhrase]) -> set[str]:
    return {tag.partition("=")[0] for phrase in phrases for tag in phrase.tags}


def load_with(
    rules: LinkedRules, ways: Sequence[Way], call_sign: Words, mending: Collection[str]
) -> tuple[CallGrammar, tuple[str, ...]]:
    """Compile a grammar with those ways that fit it.

    Args:
        rules: Of the grammar.
        ways: As they were kept; whoever wrote them into the file by hand had nobody to check them.
        call_sign: The words that open a call.
        mending: Actions that end a danger.

    Returns:
        The grammar, and for each way that is left out although its phrase can be called, a sentence
        that says why.
    """
    if not ways:
        return CallGrammar(rules), ()
    phrases = tagged_phrases(rules)
    said = {words for phrase in phrases for words in phrase.sayings}
    fitting: list[Way] = []
    left_out: list[str] = []
    for way in ways:
        reason = against(way, phrases, call_sign, mending)
        if reason is None and not any(way.own == other.own for other in fitting):
            fitting.append(way)
        elif reason is not None and way.plain_words in said:
            left_out.append(_left_out(way, reason))
    grammar = CallGrammar(rules, fitting)
    clear = [way for way in fitting if meant_twice(grammar, way) is None]
    if len(clear) < len(fitting):
        left_out += [
            _left_out(way, "it means something else in this job")
            for way in fitting
            if way not in clear
        ]
        grammar = CallGrammar(rules, clear)
    return grammar, tuple(left_out)


def _left_out(way: Way, reason: str) -> str:
    return f"Your own way '{way.own}' for '{way.plain}' is left out: {reason}."
