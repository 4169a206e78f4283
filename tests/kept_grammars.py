"""The true grammars of jobs, each compiled once: nothing but a job's words decides what its grammar
is, and none is ever changed."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Sequence
from typing import Any

MOST = 16
"""Grammars kept at once; the one that was wanted least lately goes first."""


class KeptGrammars:
    """Takes the place of what links and compiles grammars, and gives what it has made before.

    Args:
        missed: Is told the words of each job whose grammar was not there.
    """

    def __init__(self, missed: Callable[[str], None] = lambda words: None) -> None:
        self._missed = missed
        self._rules: dict[str | None, Any] = {}
        self._compiled: dict[int, Any] = {}
        compiled: Any = importlib.import_module("companion.grammar.compiled")
        self._link, self._class = compiled.linked, compiled.CallGrammar
        self._compile = self._class.__init__

        def begin(grammar: Any, rules: Any, ways: Sequence[Any] = ()) -> None:
            self._begin(grammar, rules, ways)

        # The class stays the one that it is: a grammar is handed to programs beside by its name.
        self._places = ((compiled, "linked", self._linked), (self._class, "__init__", begin))
        self._before = [getattr(module, name) for module, name, _ in self._places]

    def begin(self) -> None:
        """Take their place."""
        for module, name, own in self._places:
            setattr(module, name, own)

    def end(self) -> None:
        """Give them their place back."""
        for (module, name, _), before in zip(self._places, self._before, strict=True):
            setattr(module, name, before)

    def make(self, words: str) -> None:
        """Make a grammar, with what it makes only when it is asked for."""
        grammar = self._class(self._linked(words))
        grammar.is_usual(grammar.call_sign)
        grammar.parse(grammar.call_sign)
        assert grammar.phrases

    def _linked(self, words: str | None) -> Any:
        rules = self._rules.pop(words, None)
        if rules is None:
            rules = self._link(words)
            if words is not None:
                self._missed(words)
        self._rules[words] = rules
        if len(self._rules) > MOST:
            self._compiled.pop(id(self._rules.pop(next(iter(self._rules)))), None)
        return rules

    def _begin(self, grammar: Any, rules: Any, ways: Sequence[Any]) -> None:
        kept = None if ways else self._compiled.get(id(rules))
        if kept is not None:
            grammar.__dict__ = kept.__dict__
            return
        self._compile(grammar, rules, ways)
        if not ways and any(rules is each for each in self._rules.values()):
            self._compiled[id(rules)] = grammar
