"""What a person seems to mean by a phrase: found by comparing words that failed with the call that
was then recorded."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from difflib import SequenceMatcher

from companion.grammar.compiled import CallGrammar
from companion.grammar.own_phrases import Way, is_never
from companion.grammar.parse_tree import Parse
from companion.grammar.phrases import Words
from companion.intent.letters import likeness
from companion.intent.match import SAYING_NOTHING
from companion.intent.meaning import call_sign_length
from companion.intent.own_ways import against
from companion.intent.plain_calls import frames_of

_SPELLED_ALIKE = 0.8
"""Share of letters from which on a word of no grammar is another spelling; own figure."""

_MOST_SHARED = 2
"""Words on either side that may belong to the phrase as well: "mag coil" of "ignition coil"."""


def spoken_words(words: Sequence[str], grammar: CallGrammar) -> Words:
    """Words without the call sign and without those that say nothing: "the" may stand in many
    calls, but makes none."""
    needed = {word for frame in frames_of(grammar) for word in frame.parts}
    said = tuple(word for word in words if word not in SAYING_NOTHING or word in needed)
    return said[call_sign_length(said, grammar) :]


def way_between(
    failed: Sequence[str],
    recorded: Sequence[str],
    grammar: CallGrammar,
    mending: Collection[str],
) -> Way | None:
    """Find the way in which words that failed differ from a call that was recorded.

    Args:
        failed: What was typed, or the free transcript of what was heard.
        recorded: The sentence of the grammar.
        grammar: The active one.
        mending: Actions that end a danger.

    Returns:
        The way, if exactly one stretch differs, something stands on both sides of it, and nothing
        speaks against it; None otherwise, and of every call that is always made in its own words.
    """
    plain = spoken_words(recorded, grammar)
    said = tuple(_spelled(word, plain, grammar) for word in spoken_words(failed, grammar))
    matcher = SequenceMatcher(None, said, plain, autojunk=False)
    differing = [each for each in matcher.get_opcodes() if each[0] != "equal"]
    if len(differing) != 1 or differing[0][0] != "replace":
        return None
    _, start, end, plain_start, plain_end = differing[0]
    if end - start == len(said) or plain_end - plain_start == len(plain):
        return None  # the two share nothing that shows that the same was meant
    parses = grammar.parse(plain)
    if not parses or any(_is_never(parse, mending) for parse in parses):
        return None
    for before, after in _wider(plain_start, len(plain) - plain_end):
        stands = (plain_start - before, plain_end + after)
        way = Way(" ".join(said[start - before : end + after]), " ".join(plain[slice(*stands)]))
        if not any(_stands_for_one_thing(parse, stands) for parse in parses):
            continue
        if against(way, grammar.phrases, grammar.call_sign, mending) is None:
            return way
    return None


def _spelled(word: str, plain: Words, grammar: CallGrammar) -> str:
    """A word as the call has it, where it is none of the grammar and only spelled otherwise, as
    free transcripts are ("carburator")."""
    if word in grammar.words:
        return word
    near = max(plain, key=lambda other: likeness(word, other), default=word)
    return near if likeness(word, near) >= _SPELLED_ALIKE else word


def _wider(most_before: int, most_after: int) -> Iterator[tuple[int, int]]:
    """How many shared words to take in before and after, the fewest first."""
    pairs = (
        (before, after)
        for before in range(min(most_before, _MOST_SHARED) + 1)
        for after in range(min(most_after, _MOST_SHARED) + 1)
    )
    return iter(sorted(pairs, key=sum))


def _is_never(parse: Parse, mending: Collection[str]) -> bool:
    """Whether this is a call for which no way is ever offered."""
    calls = [f"intent={node.value}" for node in parse.all("intent")]
    actions = (node.value for node in parse.all("action"))
    return is_never(calls) or any(action in mending for action in actions)


def _stands_for_one_thing(parse: Parse, stands: tuple[int, int]) -> bool:
    """Whether these words are one tagged phrase of the call, or the words that open it."""
    for node in parse.walk():
        if (node.start, node.end) == stands:
            return True
        if node.key == "intent" and node.start == stands[0] and node.end > stands[1]:
            return True
    return False
