"""Grammars joined through their imports: every name resolved, every mistake named with its line."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from companion.errors import CompanionError
from companion.files.limits import DEEPEST, MOST_NESTED
from companion.files.quoting import with_short_quotations
from companion.grammar.jsgf import (
    WITHOUT_INNER,
    Alternatives,
    Expansion,
    Grammar,
    Null,
    Optional,
    Reference,
    Repeat,
    Rule,
    Sequence,
    Tagged,
    Void,
    Word,
    children,
    nested,
)

FindGrammar = Callable[[str], Grammar | None]
"""Gives the grammar of this name, or None where there is none."""


@dataclass(frozen=True, slots=True)
class LinkedRules:
    """Everything that can be said from one rule.

    Attributes:
        top: Full name of the rule that a whole sentence matches.
        expansions: By full name (``units.length``); every reference in them is a full name in
            turn, and each rule comes after all rules that it refers to.
    """

    top: str
    expansions: Mapping[str, Expansion]


def rebuilt(expansion: Expansion, change: Callable[[Expansion], Expansion]) -> Expansion:
    """Return the same expansion with each of those directly inside it changed."""
    if type(expansion) in WITHOUT_INNER:
        return expansion
    match expansion:
        case Sequence(items):
            return Sequence(tuple(map(change, items)))
        case Alternatives(choices, weights):
            return Alternatives(tuple(map(change, choices)), weights)
        case Optional(item):
            return Optional(change(item))
        case Repeat(item, at_least_once):
            return Repeat(change(item), at_least_once)
        case Tagged(item, tags):
            return Tagged(change(item), tags)
        case Word() | Reference() | Null() | Void():
            return expansion


def from_rule(rules: LinkedRules, rule: str) -> LinkedRules:
    """Return what can be said from another rule, with no more than the rules that it reaches.

    Args:
        rules: Linked already; ``rule`` is among them.
        rule: Full name of the rule that a whole sentence is.
    """
    reached: set[str] = set()
    waiting: list[Expansion] = [Reference(rule, 0)]
    while waiting:
        here = waiting.pop()
        if isinstance(here, Reference) and here.name not in reached:
            reached.add(here.name)
            waiting.append(rules.expansions[here.name])
        waiting += children(here)
    return LinkedRules(
        rule, {name: each for name, each in rules.expansions.items() if name in reached}
    )


def heaviest(rules: LinkedRules) -> LinkedRules:
    """Return the rules with only those alternatives that weigh most beside the others."""

    def kept(expansion: Expansion) -> Expansion:
        if not isinstance(expansion, Alternatives):
            return rebuilt(expansion, kept)
        most = max(expansion.weights)
        heavy = tuple(
            kept(choice)
            for choice, weight in zip(expansion.choices, expansion.weights, strict=True)
            if weight == most
        )
        return heavy[0] if len(heavy) == 1 else Alternatives(heavy, (1.0,) * len(heavy))

    return LinkedRules(
        rules.top, {name: kept(expansion) for name, expansion in rules.expansions.items()}
    )


def link(root: Grammar, rule: str, find: FindGrammar) -> LinkedRules:
    """Join a grammar with everything it imports.

    Every rule of every grammar reached is checked, used or not.

    Args:
        root: The grammar that holds the rule for whole sentences.
        rule: Name of that rule.
        find: Gives an imported grammar by its name.

    Raises:
        CompanionError: With file, line and reason: a grammar that cannot be found, a rule that is
            undefined, private or meant twice, a rule that refers to itself, directly or through
            others.
    """
    top = root.rules.get(rule)
    if top is None or not top.public:
        raise CompanionError(f"{root.file}, line 1: there is no public rule <{rule}>; add one.")
    try:
        return _Linker(find).link(root, rule)
    except CompanionError as error:
        # Names in a file may have any length.
        raise CompanionError(with_short_quotations(str(error))) from None


class _Linker:
    """Walks the rules depth first, so that a rule met on its own path shows as a recursion."""

    def __init__(self, find: FindGrammar) -> None:
        self.find = find
        self.grammars: dict[str, Grammar] = {}
        self.done: dict[str, Expansion] = {}
        self.path: list[str] = []
        self.heights: dict[str, int] = {}

    def link(self, root: Grammar, rule: str) -> LinkedRules:
        self._reach(root)
        checked: set[str] = set()
        # A fully qualified name may bring in one more grammar while the rules are walked.
        while unchecked := self.grammars.keys() - checked:
            for grammar in sorted(unchecked):
                self._check(self.grammars[grammar])
            checked |= unchecked
        return LinkedRules(f"{root.name}.{rule}", self.done)

    def _reach(self, grammar: Grammar) -> None:
        """Take in a grammar and, through its imports, all others."""
        self.grammars[grammar.name] = grammar
        for wanted in grammar.imports:
            if wanted.grammar in self.grammars:
                continue
            found = self.find(wanted.grammar)
            if found is None:
                raise CompanionError(
                    f"{grammar.file}, line {wanted.line}: there is no grammar '{wanted.grammar}' to"
                    " import; put its file beside this one or remove the import."
                )
            if found.name != wanted.grammar:
                raise CompanionError(
                    f"{found.file}, line 1: the grammar is named '{found.name}' but imported as"
                    f" '{wanted.grammar}'; give the file and the grammar the same name."
                )
            if len(self.grammars) > DEEPEST:
                raise CompanionError(
                    f"{grammar.file}, line {wanted.line}: more than {DEEPEST} grammars are"
                    " imported; put their rules into fewer files."
                )
            self._reach(found)

    def _check(self, grammar: Grammar) -> None:
        for wanted in grammar.imports:
            if wanted.rule is not None:
                self._public(grammar, wanted.grammar, wanted.rule, wanted.line)
        for name in grammar.rules:
            self._link_rule(grammar, name)

    def _link_rule(self, grammar: Grammar, name: str) -> None:
        full = f"{grammar.name}.{name}"
        if full in self.done:
            return
        self.path.append(full)
        if len(self.path) > DEEPEST:
            raise self._too_deep(grammar, name)
        expansion = self._resolve(grammar, grammar.rules[name].expansion)
        self.path.pop()
        self.done[full] = expansion
        self.heights[full] = nested(expansion, self.heights)
        if self.heights[full] > MOST_NESTED:
            raise self._too_deep(grammar, name)

    def _too_deep(self, grammar: Grammar, name: str) -> CompanionError:
        return CompanionError(
            f"{grammar.file}, line {grammar.rules[name].line}: the rule <{name}> refers to rules "
            "that refer to others too many times over; write it with fewer between."
        )

    def _resolve(self, grammar: Grammar, expansion: Expansion) -> Expansion:
        if not isinstance(expansion, Reference):
            return rebuilt(expansion, lambda item: self._resolve(grammar, item))
        line = expansion.line
        owner, rule = self._meant(grammar, expansion.name, line)
        full = f"{owner.name}.{rule.name}"
        if full in self.path:
            circle = [*self.path[self.path.index(full) :], full]
            raise CompanionError(
                f"{grammar.file}, line {line}: the rule <{full}> refers to itself"
                f" ({' → '.join(circle)}); write the repetition with * or + instead."
            )
        self._link_rule(owner, rule.name)
        return Reference(full, line)

    def _meant(self, grammar: Grammar, name: str, line: int) -> tuple[Grammar, Rule]:
        """The rule that a name means in this grammar: its own first, then the imported ones."""
        qualifier, _, simple = name.rpartition(".")
        if not qualifier and simple in grammar.rules:
            return grammar, grammar.rules[simple]
        if qualifier in self.grammars:
            return self._public(grammar, qualifier, simple, line)
        owners = {
            wanted.grammar
            for wanted in grammar.imports
            if wanted.rule in (None, simple)
            and (not qualifier or wanted.grammar.endswith(f".{qualifier}"))
            and self._has_public(wanted.grammar, simple)
        }
        if len(owners) > 1:
            full = " and ".join(f"<{owner}.{simple}>" for owner in sorted(owners))
            raise CompanionError(
                f"{grammar.file}, line {line}: <{name}> could mean {full}; write the one that is"
                " meant."
            )
        if not owners and qualifier and (found := self.find(qualifier)) is not None:
            self._reach(found)
            return self._public(grammar, qualifier, simple, line)
        if not owners:
            raise CompanionError(
                f"{grammar.file}, line {line}: the rule <{name}> is not defined here or in an"
                " imported grammar; define it or correct the name."
            )
        owner = self.grammars[owners.pop()]
        return owner, owner.rules[simple]

    def _has_public(self, grammar: str, rule: str) -> bool:
        found = self.grammars[grammar].rules.get(rule)
        return found is not None and found.public

    def _public(self, asking: Grammar, owner: str, rule: str, line: int) -> tuple[Grammar, Rule]:
        grammar = self.grammars[owner]
        found = grammar.rules.get(rule)
        if found is None:
            raise CompanionError(
                f"{asking.file}, line {line}: the grammar '{owner}' has no rule <{rule}>; define it"
                " or correct the name."
            )
        if not found.public and asking is not grammar:
            raise CompanionError(
                f"{asking.file}, line {line}: the rule <{owner}.{rule}> is private to its grammar;"
                " write 'public' before it or use another."
            )
        return grammar, found
