"""Calls that go on in free speech, which no grammar holds: notes and complaints."""

from __future__ import annotations

from collections.abc import Sequence

from companion.grammar.compiled import CallGrammar

FREE_SPEECH = frozenset({"note", "complaint"})
"""Intents after whose words anything may be said."""

LONGEST_OPENING = 8
"""Words with which such a call opens at most, the call sign among them."""

LONGEST_CALL_SIGN = 2
"""Words of a transcript that may be a call sign: "Benge note, the line was hard"."""


def is_free_speech(words: Sequence[str], grammar: CallGrammar) -> bool:
    """Whether a sentence of the grammar opens free speech: "note", "customer says"."""
    return any(
        node.value in FREE_SPEECH for parse in grammar.parse(words) for node in parse.all("intent")
    )


def opens_free_speech(text: str, grammar: CallGrammar) -> bool:
    """Whether a free text opens as such a call: at once, or after a call sign, however that was
    written down."""
    words = [word.strip(".,:;!?").lower() for word in text.split()[:LONGEST_OPENING]]
    return any(
        is_free_speech(words[begin:end], grammar)
        for begin in range(LONGEST_CALL_SIGN + 1)
        for end in range(begin + 1, len(words) + 1)
    )
