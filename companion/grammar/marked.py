"""All tagged trees of a grammar as one automaton: the marks of a tree stand as words between its
words, so that each tree is exactly one path."""

from __future__ import annotations

from companion.grammar.automaton import WordAutomaton
from companion.grammar.jsgf import Expansion, Repeat, Sequence, Tagged, Word
from companion.grammar.linking import LinkedRules, rebuilt
from companion.grammar.spoken import spoken_automaton
from companion.grammar.traits import Traits

CLOSED = "}"
"""Where a tagged expansion ends."""


def marked_automaton(rules: LinkedRules) -> WordAutomaton:
    """Compile all trees of the top rule, deterministic and minimal.

    Args:
        rules: Of the grammar.

    Raises:
        GrammarTooLarge: If there are too many.
    """
    marking = _Marking(Traits(rules))
    marked = {name: marking.mark(each) for name, each in rules.expansions.items()}
    return spoken_automaton(LinkedRules(rules.top, marked))


def is_mark(word: str) -> bool:
    """Whether this is no word that is said: none begins so, in JSGF."""
    return word[0] in "{}"


class _Marking:
    """Writes out the marks of expansions."""

    def __init__(self, traits: Traits) -> None:
        self._traits = traits

    def mark(self, expansion: Expansion) -> Expansion:
        """The same expansion with its marks as words."""
        match expansion:
            case Tagged(item, tags):
                opened = Word("{" + "}{".join(tags))
                return Sequence((opened, self.mark(item), Word(CLOSED)))
            case Repeat(item, at_least_once):
                # Said again means said with words: a round of marks alone would make endless trees.
                again = self._traits.with_words(item)
                more = Repeat(self.mark(again), at_least_once=False)
                return Sequence((self.mark(item), more)) if at_least_once else more
            case _:
                return rebuilt(expansion, self.mark)
