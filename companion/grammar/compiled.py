"""A grammar ready to use: rules, the automaton compiled from them, and what can be asked of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache, cached_property, lru_cache
from random import Random

from companion.grammar.automaton import WordAutomaton
from companion.grammar.collecting import without_collecting
from companion.grammar.files import shipped_grammar
from companion.grammar.jsgf import Grammar, parse_jsgf
from companion.grammar.linking import LinkedRules, heaviest, link
from companion.grammar.own_phrases import Way, with_own_phrases
from companion.grammar.parse_tree import Parse
from companion.grammar.parsing import Parser
from companion.grammar.phrases import TaggedPhrase, tagged_phrases
from companion.grammar.sentences import Sentences
from companion.grammar.spoken import spoken_automaton
from companion.grammar.vocabulary import Vocabulary, bench_grammar

CALL_SIGN = ".call-sign"
"""How the full name of the rule for the call sign ends."""


class CallGrammar:
    """One active grammar: what may be said now.

    ``start``, ``arcs`` and ``is_final`` show the deterministic word automaton that recognizers hold
    to.

    Attributes:
        start: State before the first word.
        words: Every word of the grammar.
        rules: The rules it was compiled from.
        shared: The same without anybody's own ways.
        ways: A person's own ways to say some of its phrases.
        automaton: What can be said, deterministic and without marks; ``start`` and ``arcs`` speak
            of its states.
    """

    @without_collecting()
    def __init__(self, rules: LinkedRules, ways: Sequence[Way] = ()) -> None:
        """Compile a grammar.

        Args:
            rules: Without ways of anybody's own.
            ways: A person's own, to be taken beside them.
        """
        self.shared = rules
        self.ways = tuple(ways)
        self.rules = rules = with_own_phrases(rules, ways)
        self.automaton: WordAutomaton = spoken_automaton(rules)
        self.start = 0
        self.words: frozenset[str] = frozenset().union(*self.automaton.arcs)

    def arcs(self, state: int) -> Mapping[str, int]:
        """Words that may come next, each with the state it leads to."""
        return self.automaton.arcs[state]

    def is_final(self, state: int) -> bool:
        """Whether a call may end here."""
        return state in self.automaton.finals

    def walk(self, words: Sequence[str], state: int | None = None) -> int | None:
        """State reached by these words, or None if the grammar has no such beginning.

        Args:
            words: Lower case, a string a word.
            state: Where to begin; ``start`` if None.
        """
        here = self.start if state is None else state
        for word in words:
            target = self.automaton.arcs[here].get(word)
            if target is None:
                return None
            here = target
        return here

    def is_usual(self, words: Sequence[str]) -> bool:
        """Whether this is a whole sentence made of the usual forms alone: of weighted alternatives,
        those that weigh most."""
        return self._usual_state(words) in self._usual.finals

    def ends_usual(self, words: Sequence[str]) -> bool:
        """Whether this is such a sentence, and no longer one begins with it."""
        state = self._usual_state(words)
        return state in self._usual.finals and not self._usual.arcs[state]

    def usual_step(self, state: int, word: str) -> int:
        """The state of the usual forms after one more word; -1 where no usual form has it.

        Args:
            state: 0 before the first word; -1 stays -1.
            word: The next one.
        """
        return -1 if state < 0 else self._usual.arcs[state].get(word, -1)

    def prepare(self) -> None:
        """Work out now what is asked of every call; a recognizer in another program is then given
        it with the grammar."""
        self.usual_step(self.start, "")

    def _usual_state(self, words: Sequence[str]) -> int:
        """State that the words lead to by usual forms alone; -1 where they lead nowhere."""
        here = 0
        for word in words:
            here = self.usual_step(here, word)
        return here

    def parse(self, words: Sequence[str]) -> tuple[Parse, ...]:
        """Every distinct tagged tree of a whole sentence; empty if it is no sentence.

        Several tags on one expansion become nodes side by side over the same words.
        """
        end = self.walk(words)
        if end is None or not self.is_final(end):
            return ()
        return self._parser.parse(words)

    def generate(self, random: Random) -> tuple[str, ...]:
        """A random sentence; every rule and alternative can occur.

        Raises:
            CompanionError: If nothing can be said.
        """
        return self._sentences.draw(random)

    @cached_property
    def fingerprint(self) -> str:
        """SHA-256 (hex) of the deterministic automaton; grammars in which the same can be said have
        the same."""
        return self.automaton.fingerprint()

    @cached_property
    def call_sign(self) -> tuple[str, ...]:
        """The words that open a call in open-mic mode; none where the grammar has no call sign."""
        names = (name for name in self.rules.expansions if name.endswith(CALL_SIGN))
        name = next(names, None)
        if name is None:
            return ()
        return Sentences(LinkedRules(name, self.rules.expansions)).draw(Random(0))

    @cached_property
    def phrases(self) -> tuple[TaggedPhrase, ...]:
        """Its phrases that stand for one thing, without anybody's own ways, in their order."""
        return tagged_phrases(self.shared)

    @cached_property
    def _usual(self) -> WordAutomaton:
        return spoken_automaton(heaviest(self.rules))

    @cached_property
    def _parser(self) -> Parser:
        return Parser(self.rules)

    @cached_property
    def _sentences(self) -> Sentences:
        return Sentences(self.rules)


def load_grammar(vocabulary: Vocabulary | None = None, ways: Sequence[Way] = ()) -> CallGrammar:
    """Compile the shipped grammars; with a vocabulary, its words stand in place of ``bench.gram``.

    Args:
        vocabulary: The words of the job.
        ways: A person's own ways to say phrases of it.

    Raises:
        CompanionError: If a grammar file is missing or wrong, with file, line and reason, or if a
            term of the vocabulary cannot be said.
    """
    if ways:
        return CallGrammar(load_rules(vocabulary), ways)
    return _shipped() if vocabulary is None else _of_words(bench_grammar(vocabulary))


@without_collecting()
def load_rules(vocabulary: Vocabulary | None = None) -> LinkedRules:
    """Link the shipped grammars as ``load_grammar`` does, without compiling them.

    Raises:
        CompanionError: As ``load_grammar``.
    """
    return linked(None if vocabulary is None else bench_grammar(vocabulary))


def linked(words: str | None) -> LinkedRules:
    """Link the shipped grammars; the result depends on the words alone.

    Args:
        words: In JSGF, to stand in place of ``bench.gram``; that itself if None.

    Raises:
        CompanionError: As ``load_grammar``.
    """
    if words is None:
        return link(shipped_grammar("calls"), "call", shipped_grammar)
    job = parse_jsgf(words, "the words of the job card and spec sheet")

    def find(name: str) -> Grammar:
        return job if name == job.name else shipped_grammar(name)

    return link(shipped_grammar("calls"), "call", find)


@lru_cache(maxsize=1)
@without_collecting()
def _of_words(words: str) -> CallGrammar:
    """The grammar of a job by its words in JSGF: it is asked for before the session is opened and
    once it is, and nothing changes it."""
    return CallGrammar(linked(words))


@cache
def _shipped() -> CallGrammar:
    """The shipped grammars as they stand: compiled once, since nothing changes them."""
    return CallGrammar(load_rules())
