"""Plain calls near to words that were not understood: "added, drained, or oil level full".

What is named is a call of the active grammar, or the beginning of one. Something in the words must
point to it: a name, a word of the call, a word that says the same, a unit. Where a word says the
opposite of a call, that call is not named.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from companion.grammar.compiled import CallGrammar
from companion.grammar.phrases import Words
from companion.handbook.unit_table import UNITS
from companion.intent.letters import likeness
from companion.intent.match import EXACT_WORDS, SAYING_NOTHING, UNIT_WORDS
from companion.intent.meaning import call_sign_length
from companion.intent.opposites import TURNING, crosses, opposites, same_side
from companion.intent.outcome import Decision
from companion.intent.plain_calls import Frame, frames_of, is_plain_call, names_of
from companion.intent.text import UNKNOWN, respelled, typed_words

MOST = 3
"""Calls that are named at most: more are not kept in mind."""

_VAGUE = ("no call is like this", "no call of the grammar", "understood only as far as")
"""How reasons begin that do not say what is missing."""

_LEAST = 1.0
"""Evidence from which on a call is named."""

_NEAR_BEST = 1.0
"""What has less evidence than the best by more than this is not named."""

_NAME, _WORD, _SAME, _LIKE, _UNIT, _SMALL, _ASKED = 1.25, 1.5, 1.5, 1.0, 1.0, 0.25, 0.75
"""What speaks for a call: a name in its slot, one of its words, a word that says the same, one that
is spelled like it, a unit that follows it, one of its smallest words, that something is asked."""

_SMALL_WORDS = frozenset(
    {
        "for", "of", "on", "to", "at", "up", "in", "this", "by", "say", "back", "out", "off",
        "down", "what", "what's", "how", "much", "no", "is",
    }
)  # fmt: skip
"""Words of calls that stand in any talk."""

_QUESTION_WORDS = frozenset({"what", "what's", "whats", "which", "how", "when", "where", "why"})
_ASKING = frozenset({"fill it right", "hear it again", "ask the handbook"})
"""Families of calls that ask."""

_LIKE_ENOUGH = 0.75
"""Share of letters that an unknown word and a word of a call have in common; own figure."""

_VOLUMES = frozenset(
    word
    for unit in UNITS.values()
    if unit.dimension == "volume" and unit.parts
    for word in (unit.singular, unit.plural)
)
_TIMES = frozenset(
    word
    for unit in UNITS.values()
    if unit.dimension == "time"
    for word in (unit.singular, unit.plural)
)
_FOLLOWED_BY = {"added": _VOLUMES, "drained": _VOLUMES, "start timer": _TIMES}
"""Units that may follow what a frame opens with."""

_SAID_FOR = {
    "added": frozenset({"put", "pour", "poured", "pouring", "fill", "filling", "fed", "splashed"}),
    "drained": frozenset({"let", "empty"}),
    "replaced": frozenset(
        {"changed", "change", "swap", "exchanged", "exchange", "switched", "new"}
    ),
    "need": frozenset({"order", "buy", "get", "purchase", "fetch"}),
    "follow": frozenset({"return", "revisit", "later"}),
    "read": frozenset({"show"}),
    "clear": frozenset({"down"}),
    "disregard": frozenset({"scratch", "wrong", "forget", "mistake"}),
    "stand": frozenset({"wait", "moment", "hold"}),
    "start": frozenset({"remind", "set"}),
    "closed": frozenset({"shut"}),
}
"""What the bench says for a word of a call besides what the table of opposites has (common
practice)."""

_OF_FLUIDS = frozenset({"added", "drained"})
"""Calls that a fluid's name points to although they are made without that name, or with the name
last."""

_STARTING = frozenset({"start", "starting", "starts"})
"""Talk of starting is most likely about asking for the start, then about calling the engine
running."""

_SHORTEST_LIKE = 5
"""Letters from which on words are compared by spelling."""


def take_instead(
    decision: Decision, transcript: str | None, grammar: CallGrammar
) -> tuple[str, ...]:
    """Return the plain calls to name in answer to words that were not understood.

    Args:
        decision: What became of the words.
        transcript: The free transcript of what was heard; None where there is none
            (typed calls have none).
        grammar: What may be said.

    Returns:
        At most ``MOST``, the best first; none where the reason says precisely what is missing, and
        none for words that are a call heard badly: to say it again is then all there is to do.
    """
    if decision.outcome != "say-again" or not decision.reasons:
        return ()
    if not decision.reasons[0].startswith(_VAGUE):
        return ()
    heard_a_call = grammar.parse(decision.text.split())
    words = (
        typed_words(transcript)[0] if transcript else () if heard_a_call else decision.text.split()
    )
    return suggested(words, grammar)


def suggested(words: Sequence[str], grammar: CallGrammar) -> tuple[str, ...]:
    """Name the plain calls that words speak for.

    Args:
        words: Lower case, no call of the grammar.
        grammar: What may be said.

    Returns:
        At most ``MOST`` calls, or beginnings of calls, of this grammar; the best first, none where
        nothing speaks for any.
    """
    said = _evidence(words, grammar)
    # "Half" is a figure before a unit, and the words of a tag's name deny nothing.
    if TURNING & said.free - ({"half"} if UNIT_WORDS & said.all else set()):
        return ()
    weighed = [
        (weight, -place, frame, call)
        for place, frame in enumerate(frames_of(grammar))
        if (found := _weigh(frame, said, grammar)) is not None
        for weight, call in (found,)
        if weight >= _LEAST
    ]
    weighed.sort(key=lambda each: each[:2], reverse=True)
    named: list[str] = []
    slots: set[tuple[str, tuple[str, ...]]] = set()
    for weight, _, frame, call in weighed:
        text = " ".join(call)
        kind = (frame.family, frame.slots)
        # Of twenty things that can be done to a part one is enough to show how it is called.
        if weight < weighed[0][0] - _NEAR_BEST or text in named or (frame.slots and kind in slots):
            continue
        slots.add(kind)
        named.append(text)
    return tuple(named[:MOST])


@dataclass(frozen=True, slots=True)
class _Said:
    """What the words hold.

    Attributes:
        all: Every word that says anything.
        names: By slot, the longest name in them, in its plain form.
        free: The words that do not stand in those names.
        asks: Whether they are a question.
    """

    all: frozenset[str]
    names: dict[str, Words]
    free: frozenset[str]
    asks: bool


def _evidence(words: Sequence[str], grammar: CallGrammar) -> _Said:
    spelled = respelled(tuple(words), grammar.words)
    said = max(spelled, key=lambda each: sum(word in grammar.words for word in each))
    said = tuple(
        word
        for word in said[call_sign_length(said, grammar) :]
        if word != UNKNOWN and (word not in SAYING_NOTHING or word in grammar.words)
    )
    known = names_of(grammar)
    names: dict[str, Words] = {}
    naming: set[int] = set()
    for start, end in _runs(len(said)):
        slots = [slot for slot in known if slot not in names and said[start:end] in known[slot]]
        # "Fuel" of "fuel filter" is no fluid.
        if not slots or naming.intersection(range(start, end)):
            continue
        names.update((slot, known[slot][said[start:end]]) for slot in slots)
        naming.update(range(start, end))
    free = frozenset(word for place, word in enumerate(said) if place not in naming)
    _nearly_named(names, free, frozenset(said), grammar)
    return _Said(frozenset(said), names, free, bool(_QUESTION_WORDS & set(said)))


def _runs(count: int) -> Iterator[tuple[int, int]]:
    """Beginning and end of every run of words that may be a name, the longest first."""
    for length in range(min(4, count), 0, -1):
        for start in range(count - length + 1):
            yield start, start + length


def _nearly_named(
    names: dict[str, Words], free: frozenset[str], said: frozenset[str], grammar: CallGrammar
) -> None:
    """Add what is nearly a name: misspelled, or said by a word that says the same."""
    known = names_of(grammar)
    unknown = sorted(word for word in free if word not in grammar.words | EXACT_WORDS)
    for slot in ("measure", "part", "fluid"):
        for name in known[slot]:
            if slot not in names and len(name) == 1 and any(_like(word, *name) for word in unknown):
                names[slot] = known[slot][name]
    if "part" in names and "condition" not in names:
        for name in known["condition"]:
            if len(name) == 1 and same_side(name[0]) & free:
                names["condition"] = known["condition"][name]
                break
    if "tag" not in names and {"tag", "hang"} & said:
        for name in known["tag"]:
            if said & set(name) - TURNING - _SMALL_WORDS - {"off"}:
                shorter = "tag" not in names or len(name) < len(names["tag"])
                names["tag"] = known["tag"][name] if shorter else names["tag"]


def _weigh(frame: Frame, said: _Said, grammar: CallGrammar) -> tuple[float, Words] | None:
    """How much speaks for a frame, and what is named of it; None where something speaks against it
    or it is no call here."""
    call = frame.filled(said.names)
    if call is None or not is_plain_call(call, grammar):
        return None
    missing = [f"{{{slot}}}" for slot in frame.slots if slot not in said.names]
    # "Start …" of "start soak timer" says too little; "spec for …" tells what follows.
    if missing and (missing != [frame.parts[-1]] or frame.goes_on):
        return None
    literal = [part for part in frame.parts if not part.startswith("{")]
    against = said.free.difference(literal)
    if any(opposites(word) & against and word not in said.free for word in literal):
        return None
    if "running" in literal and _STARTING & said.all:
        return None
    own = [_speaks_for(word, said, grammar) for word in literal]
    weight = sum(own) + _NAME * (len(frame.slots) - len(missing))
    opens = " ".join(literal)
    if _FOLLOWED_BY.get(opens, frozenset()) & said.all:
        weight += _UNIT
    if opens in _OF_FLUIDS and "fluid" in said.names:
        weight += _NAME
    if frame.goes_on and frame.slots == ("measure",) and UNIT_WORDS & said.all:
        weight += _UNIT
    if not weight:
        return None
    if said.asks and frame.family in _ASKING:
        weight += _ASKED
    # Of two calls that share a word with what was said, the one of which it is the larger part.
    return weight + 0.5 * sum(map(bool, own)) / max(1, len(literal)), call


def _speaks_for(word: str, said: _Said, grammar: CallGrammar) -> float:
    if word in said.free:
        return _SMALL if word in _SMALL_WORDS else _WORD
    if word in _SMALL_WORDS:
        return 0.0
    if (same_side(word) - _SMALL_WORDS | _SAID_FOR.get(word, frozenset())) & said.free:
        return _SAME
    unknown = (other for other in said.free if other not in grammar.words | EXACT_WORDS)
    return _LIKE if any(_like(other, word) for other in unknown) else 0.0


def _like(one: str, other: str) -> bool:
    if min(len(one), len(other)) < _SHORTEST_LIKE:
        return False
    return likeness(one, other) >= _LIKE_ENOUGH and not crosses(one, other, own=False)
