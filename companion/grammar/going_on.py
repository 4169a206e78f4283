"""Whether a call can go on: is it whole, or do longer calls begin with the same words?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from companion.grammar.compiled import CallGrammar

Completeness = Literal["no call", "begun", "open", "whole"]
"""``no call``: no call begins like this. ``begun``: one does, but this is none yet. ``open``: this
is a call, and longer ones begin with it. ``whole``: this is a call, and nothing can follow."""


def completeness(words: Sequence[str], grammar: CallGrammar) -> Completeness:
    """Say how words stand as a call.

    Args:
        words: Lower case, a string a word; with or without the call sign.
        grammar: What may be said.
    """
    state = grammar.walk(words)
    if state is None:
        return "no call"
    if not grammar.is_final(state):
        return "begun"
    return "open" if grammar.arcs(state) else "whole"
