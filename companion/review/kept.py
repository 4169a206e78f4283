"""What is kept between reviews: compiled grammars, open questions, how machines stand."""

from __future__ import annotations

import threading
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from companion.errors import CompanionError
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.vocabulary import Vocabulary
from companion.job.state import State
from companion.log.identity import Identity
from companion.log.machine_watch import MachineWatch
from companion.shelf.words import vocabulary_of

Key = TypeVar("Key")
Value = TypeVar("Value")

GRAMMARS_KEPT = 8
"""How many compiled grammars are kept, those used last: one takes seconds to compile, and some ten
megabytes."""

QUESTIONS_KEPT = 200
"""Questions of reviews kept at most until they are affirmed, the latest put."""

WATCHES_KEPT = 8
"""Machines whose other sessions are remembered at most, the latest looked at."""


_GRAMMARS: dict[str, CallGrammar] = {}
_COMPILING: dict[str, threading.Lock] = {}
"""By the words of a session, the thread that compiles their grammar; another one that needs it
waits."""

_KEEPING = threading.Lock()

ASKED: dict[tuple[str, ...], str] = {}
"""Questions until they are affirmed, by who was asked and about which record. The reviewer that
takes the "affirm" is another object than the one that asked, but of the same program."""

WATCHES: dict[tuple[Path, Identity], MachineWatch] = {}
"""What is known of machines, by session and machine: logs that have not changed are not read
again."""


def prepare_review(state: State) -> None:
    """Compile what could be said in a session, in a thread of its own, so that its first correction
    need not wait for it.

    Args:
        state: Of the session.
    """
    vocabulary = vocabulary_of(state.card, state.sheet, state.call_sign)
    words = repr(vocabulary)
    if words in _GRAMMARS or words in _COMPILING:
        return
    # A grammar that cannot be compiled is reported by the correction that needs it.
    threading.Thread(target=_prepare, args=(vocabulary,), name="grammar", daemon=True).start()


def _prepare(vocabulary: Vocabulary) -> None:
    with suppress(CompanionError):
        grammar_for(vocabulary)


def grammar_for(vocabulary: Vocabulary) -> CallGrammar:
    """Return the grammar of a job by its words, compiled once; who else needs it waits meanwhile.

    Args:
        vocabulary: The words of its card and its sheet.

    Raises:
        CompanionError: As ``load_grammar``.
    """
    words = repr(vocabulary)
    with _COMPILING.setdefault(words, threading.Lock()):
        try:
            grammar = _GRAMMARS.get(words) or load_grammar(vocabulary)
            with _KEEPING:
                keep(_GRAMMARS, words, grammar, GRAMMARS_KEPT)
        finally:
            _COMPILING.pop(words, None)
    return grammar


def keep(kept: dict[Key, Value], key: Key, value: Value, most: int) -> None:
    """Keep the latest of so many.

    Args:
        kept: What is kept, the latest last.
        key: Of what is added.
        value: What is added.
        most: How many stay.
    """
    kept.pop(key, None)
    kept[key] = value
    while len(kept) > most:
        kept.pop(next(iter(kept)))
