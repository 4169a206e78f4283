"""The frame of a call: how it is put, without the names and numbers that fill it.

"Put in twenty ounces of oil" and "put in a pint of fuel" are put alike: "put in … of …". What a
person says often is counted by frames, so that no count knows of any figure.
"""

from __future__ import annotations

from collections.abc import Sequence

from companion.grammar.compiled import CallGrammar
from companion.intent.meaning import call_sign_length

_PUT = frozenset({"intent", "action", "level", "asked", "condition", "every", "call-sign"})
"""Tags of what is said with the words of the frame itself."""

GAP = "…"
"""What stands for a name or a number."""


def frame_of(words: Sequence[str], grammar: CallGrammar) -> str:
    """Return the frame of a sentence of the grammar.

    Args:
        words: With or without the call sign, which belongs to no frame.
        grammar: What may be said.

    Returns:
        Its words with "…" for every name, number and unit: "put in … of …"; "" where it is no
        sentence.
    """
    parses = grammar.parse(words)
    if not parses:
        return ""
    filled: set[int] = set()
    for node in parses[0].walk():
        if node.key not in _PUT:
            filled.update(range(node.start, node.end))
    said: list[str] = []
    for at in range(call_sign_length(words, grammar), len(words)):
        word = GAP if at in filled else words[at]
        if word != GAP or said[-1:] != [GAP]:
            said.append(word)
    return " ".join(said)
