"""JSGF text (JSpeech Grammar Format, W3C note of 5 June 2000) read into rules.

One grammar file at a time; what its imports mean is resolved in ``linking``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from lark import Lark, Token, Transformer
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from companion.errors import CompanionError
from companion.files.limits import DEEPEST, LARGEST_EXPONENT
from companion.files.quoting import quoted, with_short_quotations


@dataclass(frozen=True, slots=True)
class Word:
    """A word that is said as it stands."""

    text: str


@dataclass(frozen=True, slots=True)
class Reference:
    """A rule named in place of its expansion.

    Attributes:
        name: What stands between the angle brackets, qualified or not.
        line: Line of the file, from 1.
    """

    name: str
    line: int


@dataclass(frozen=True, slots=True)
class Null:
    """``<NULL>``: matched without a word."""


@dataclass(frozen=True, slots=True)
class Void:
    """``<VOID>``: cannot be said."""


@dataclass(frozen=True, slots=True)
class Sequence:
    """Expansions said one after the other."""

    items: tuple[Expansion, ...]


@dataclass(frozen=True, slots=True)
class Alternatives:
    """Expansions of which one is said.

    Attributes:
        choices: At least one.
        weights: How often each is said, relative to the others; none of them is zero.
    """

    choices: tuple[Expansion, ...]
    weights: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Optional:
    """An expansion that may be left out."""

    item: Expansion


@dataclass(frozen=True, slots=True)
class Repeat:
    """An expansion said any number of times (``*``), or at least once (``+``)."""

    item: Expansion
    at_least_once: bool


@dataclass(frozen=True, slots=True)
class Tagged:
    """An expansion with the tags that follow it, braces and escapes removed."""

    item: Expansion
    tags: tuple[str, ...]


class GrammarTooLarge(CompanionError):
    """A grammar says more than can be held in memory or told apart in time."""


Expansion = Word | Reference | Null | Void | Sequence | Alternatives | Optional | Repeat | Tagged


WITHOUT_INNER: frozenset[type[Expansion]] = frozenset({Word, Reference, Null, Void})
"""Kinds of expansion that have no other in them: most that a grammar is made of."""


def children(expansion: Expansion) -> tuple[Expansion, ...]:
    """Return the expansions directly inside this one."""
    if type(expansion) in WITHOUT_INNER:
        return ()
    match expansion:
        case Sequence(items):
            return items
        case Alternatives(choices, _):
            return choices
        case Optional(item) | Repeat(item, _) | Tagged(item, _):
            return (item,)
        case Word() | Reference() | Null() | Void():
            return ()


def nested(expansion: Expansion, heights: Mapping[str, int] | None = None) -> int:
    """Return how many expansions stand one in another, this one counted.

    Args:
        expansion: The outermost.
        heights: The same of the rules that it refers to, by full name; they count as nothing where
            it is left out.
    """
    most = 0
    # With a list instead of recursion: what is nested too deep would also be too deep for the call
    # stack.
    waiting = [(expansion, 1)]
    while waiting:
        here, depth = waiting.pop()
        if heights is not None and type(here) is Reference:
            depth += heights[here.name]
        most = max(most, depth)
        if type(here) not in WITHOUT_INNER:
            waiting += [(inner, depth + 1) for inner in children(here)]
    return most


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule definition; ``line`` is where it begins."""

    name: str
    public: bool
    expansion: Expansion
    line: int


@dataclass(frozen=True, slots=True)
class Import:
    """``import <grammar.rule>``, or of every public rule where ``rule`` is None."""

    grammar: str
    rule: str | None
    line: int


@dataclass(frozen=True, slots=True)
class Grammar:
    """One grammar file.

    Attributes:
        name: As declared in the file.
        file: Where the text came from, as error messages name it.
        imports: In the order of the file.
        rules: By name, in the order of the file.
    """

    name: str
    file: str
    imports: tuple[Import, ...]
    rules: dict[str, Rule]


_SYNTAX = r"""
start: _HEADER "grammar" NAME ";" import_* rule*
import_: "import" RULE_NAME ";"
rule: PUBLIC? RULE_NAME "=" alternatives ";"
alternatives: alternative ("|" alternative)*
alternative: WEIGHT? sequence
sequence: _unary+
_unary: _untagged | tagged
_untagged: atom | star | plus
star: _unary "*"
plus: _unary "+"
tagged: _untagged TAG+
?atom: NAME -> word
     | QUOTED -> quoted
     | RULE_NAME -> reference
     | "(" alternatives ")" -> group
     | "[" alternatives "]" -> optional

_HEADER: /#JSGF\s+V1\.0[^;\n]*;/
PUBLIC: "public"
RULE_NAME: /<[^<>\s]+>/
WEIGHT: /\/\s*[0-9.]+(?:[eE][+-]?[0-9]+)?f?\s*\//
TAG: /\{(?:\\.|[^\\}])*\}/
QUOTED: /"(?:\\.|[^"\\])*"/
NAME: /[^\s;=|*+<>()\[\]{}\/"]+/
COMMENT: /\/\/[^\n]*/ | /\/\*(?:.|\n)*?\*\//
%ignore COMMENT
%ignore /[\s\ufeff]+/
"""

_PLAIN = {
    "NAME": "a word",
    "QUOTED": "a quoted word",
    "RULE_NAME": "a rule name in angle brackets",
    "TAG": "a tag in braces",
    "WEIGHT": "a weight between slashes",
    "_HEADER": "the header '#JSGF V1.0;'",
    "SEMICOLON": "';'",
    "EQUAL": "'='",
    "VBAR": "'|'",
    "LPAR": "'('",
    "RPAR": "')'",
    "LSQB": "'['",
    "RSQB": "']'",
    "STAR": "'*'",
    "PLUS": "'+'",
    "PUBLIC": "'public'",
    "IMPORT": "'import'",
    "GRAMMAR": "'grammar'",
    "$END": "the end of the file",
}


def unescape(text: str) -> str:
    r"""Remove the backslash from ``\{``, ``\}``, ``\"`` and ``\\`` of tags and quoted words."""
    return re.sub(r"\\(.)", r"\1", text, flags=re.DOTALL)


class _RuleError(Exception):
    """What is wrong, and on which line; the caller adds the file."""

    def __init__(self, line: int, reason: str) -> None:
        super().__init__(reason)
        self.line = line
        self.reason = reason


class _ToRules(Transformer[Token, Any]):
    """Turns the syntax tree into the values above, bottom up."""

    def word(self, parts: list[Token]) -> Expansion:
        return Word(str(parts[0]))

    def quoted(self, parts: list[Token]) -> Expansion:
        words = unescape(parts[0][1:-1]).split()
        if not words:
            raise _RuleError(parts[0].line or 1, "a quoted word is empty; write <NULL> for no word")
        return _sequence([Word(word) for word in words])

    def reference(self, parts: list[Token]) -> Expansion:
        name = str(parts[0][1:-1])
        if name == "NULL":
            return Null()
        if name == "VOID":
            return Void()
        return Reference(name, parts[0].line or 1)

    def group(self, parts: list[Expansion]) -> Expansion:
        return parts[0]

    def optional(self, parts: list[Expansion]) -> Expansion:
        return Optional(parts[0])

    def star(self, parts: list[Expansion]) -> Expansion:
        return Repeat(parts[0], at_least_once=False)

    def plus(self, parts: list[Expansion]) -> Expansion:
        return Repeat(parts[0], at_least_once=True)

    def tagged(self, parts: list[Any]) -> Expansion:
        return Tagged(parts[0], tuple(unescape(tag[1:-1]).strip() for tag in parts[1:]))

    def sequence(self, parts: list[Expansion]) -> Expansion:
        return _sequence(parts)

    def alternative(self, parts: list[Any]) -> tuple[float | None, int, Expansion]:
        if len(parts) == 1:
            return None, 0, parts[0]
        token, expansion = parts
        line = token.line or 1
        try:
            weight = float(token[1:-1].strip().rstrip("f"))
        except ValueError:
            raise _RuleError(line, f"the weight {quoted(token)} is no number") from None
        if weight > 10**LARGEST_EXPONENT:
            raise _RuleError(line, f"the weight {quoted(token)} is too large; write a smaller one")
        return weight, line, expansion

    def alternatives(self, parts: list[tuple[float | None, int, Expansion]]) -> Expansion:
        weights = [weight for weight, _, _ in parts]
        if all(weight is None for weight in weights):
            choices, kept = [expansion for _, _, expansion in parts], [1.0] * len(parts)
        else:
            line = next(line for weight, line, _ in parts if weight is not None)
            if None in weights:
                raise _RuleError(line, "either every alternative has a weight or none has")
            likely = [(weight, expansion) for weight, _, expansion in parts if weight]
            if not likely:
                raise _RuleError(
                    line, "every weight is zero; give one alternative a weight above it"
                )
            choices, kept = [expansion for _, expansion in likely], [w for w, _ in likely]
        if len(choices) == 1:
            return choices[0]
        return Alternatives(tuple(choices), tuple(kept))

    def rule(self, parts: list[Any]) -> Rule:
        public = parts[0] is not None and parts[0].type == "PUBLIC"
        name, expansion = parts[-2], parts[-1]
        line = (parts[0] if public else name).line or 1
        bare = str(name[1:-1])
        if "." in bare:
            raise _RuleError(line, f"the rule {name} is defined with a dot in its name")
        if bare in ("NULL", "VOID"):
            raise _RuleError(line, f"the rule {name} is built in and cannot be defined again")
        if nested(expansion) > DEEPEST:
            raise _RuleError(
                line,
                f"more than {DEEPEST} groups stand one in another; give some a rule of their own",
            )
        return Rule(bare, public, expansion, line)

    def import_(self, parts: list[Token]) -> Import:
        grammar, dot, rule = str(parts[0][1:-1]).rpartition(".")
        if not dot:
            raise _RuleError(
                parts[0].line or 1, f"import {parts[0]} names no grammar; write <grammar.rule>"
            )
        return Import(grammar, None if rule == "*" else rule, parts[0].line or 1)

    def start(self, parts: list[Any]) -> tuple[str, tuple[Import, ...], tuple[Rule, ...]]:
        return (
            str(parts[0]),
            tuple(part for part in parts if isinstance(part, Import)),
            tuple(part for part in parts if isinstance(part, Rule)),
        )


@cache
def _reader() -> Lark:
    # The rules are made while the text is read: a tree of it would take as long again.
    return Lark(
        _SYNTAX,
        parser="lalr",
        lexer="contextual",
        propagate_positions=False,
        transformer=_ToRules(),
    )


def _sequence(items: list[Expansion]) -> Expansion:
    return items[0] if len(items) == 1 else Sequence(tuple(items))


def parse_jsgf(text: str, file: str) -> Grammar:
    """Read one grammar.

    Args:
        text: The whole text, header included.
        file: Where it came from, for error messages.

    Raises:
        CompanionError: With file, line and reason, if the text is no JSGF or defines a rule twice.
    """
    try:
        read: Any = _reader().parse(text)
    except UnexpectedInput as error:
        raise CompanionError(f"{file}, {_syntax_reason(error)}.") from error
    except _RuleError as error:
        raise CompanionError(
            f"{file}, line {error.line}: {with_short_quotations(error.reason)}."
        ) from error
    name, imports, defined = read
    rules: dict[str, Rule] = {}
    for rule in defined:
        if rule.name in rules:
            raise CompanionError(
                f"{file}, line {rule.line}: the rule <{quoted(rule.name)}> is already defined in"
                f" line {rules[rule.name].line}; give one of them another name."
            )
        rules[rule.name] = rule
    return Grammar(name, file, imports, rules)


def _syntax_reason(error: UnexpectedInput) -> str:
    """Line and reason of a syntax error, without the parser's own vocabulary."""
    if isinstance(error, UnexpectedToken):
        found = "the end of the file" if error.token.type == "$END" else f"'{quoted(error.token)}'"
        expected: Iterable[str] = error.expected
        # At the end of the file the parser knows the line of the last token only.
        line = error.token.line or error.line
    elif isinstance(error, UnexpectedCharacters):
        found = f"'{error.char}'"
        expected = error.allowed or ()
        line = error.line
    else:
        return f"line {error.line}: this is no JSGF"
    wanted = sorted(_PLAIN.get(name, name) for name in expected if name != "COMMENT")
    if _PLAIN["SEMICOLON"] in wanted and len(wanted) > 1:
        return f"line {line}: {found} cannot stand here; a ';' may be missing before it"
    return f"line {line}: {found} stands where {_either(wanted)} must"


def _either(wanted: list[str]) -> str:
    if not wanted:
        return "something else"
    return wanted[0] if len(wanted) == 1 else f"{', '.join(wanted[:-1])} or {wanted[-1]}"
