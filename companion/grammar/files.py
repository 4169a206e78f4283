"""Grammar files found, read and joined."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from companion.errors import CompanionError
from companion.files.limits import LARGEST_GRAMMAR
from companion.files.reading import text_of
from companion.grammar.jsgf import Grammar, parse_jsgf
from companion.grammar.linking import LinkedRules, link
from companion.shipped import shipped

_NAME = re.compile(r"[\w-]{1,80}(\.[\w-]{1,80}){0,8}")
"""Names under which a grammar is looked for; none of them leads out of its folder."""


def read_grammar(file: Path) -> Grammar:
    """Read one grammar file.

    Raises:
        CompanionError: If it cannot be read or is wrong, with line and reason.
    """
    return parse_jsgf(text_of(file, "grammar", LARGEST_GRAMMAR, named=True), str(file))


def read_rules(folder: Path, grammar: str, rule: str) -> LinkedRules:
    """Read a grammar from ``grammar.gram`` in a folder, and what it imports from beside it.

    Args:
        folder: Where the files stand.
        grammar: Its name; of one with dots, the parts before the last are folders.
        rule: The rule that a whole sentence is.

    Raises:
        CompanionError: With file, line and reason.
    """

    def find(name: str) -> Grammar | None:
        file = _file(folder, name)
        return read_grammar(file) if file.is_file() else None

    return link(read_grammar(_file(folder, grammar)), rule, find)


def read_own_rules(file: Path) -> LinkedRules:
    """Read a grammar of one's own; what it imports stands beside it, or is one of the shipped.

    A whole sentence is its public rule ``<call>``; the last public rule, where there is none.

    Raises:
        CompanionError: With file, line and reason; also if it has no public rule.
    """
    return _own_rules(read_grammar(file), str(file), (file.parent, shipped("grammars")))


def own_rules_of(text: str) -> LinkedRules:
    """As ``read_own_rules``, of a grammar that is no file; what it imports is one of the shipped.

    Args:
        text: JSGF, from its first line "#JSGF V1.0;" on.

    Raises:
        CompanionError: With line and reason; also if it has no public rule.
    """
    where = "the text of the grammar"
    if len(text.encode()) > LARGEST_GRAMMAR:
        raise CompanionError(f"A grammar has {LARGEST_GRAMMAR} bytes at most; make it shorter.")
    return _own_rules(parse_jsgf(text, where), where, (shipped("grammars"),))


def _own_rules(own: Grammar, where: str, folders: Sequence[Path]) -> LinkedRules:
    public = [name for name, rule in own.rules.items() if rule.public]
    if not public:
        raise CompanionError(
            f"{where}, line 1: there is no public rule; write 'public' before one."
        )

    def find(name: str) -> Grammar | None:
        for folder in folders:
            beside = _file(folder, name)
            if beside.is_file():
                return read_grammar(beside)
        return None

    return link(own, "call" if "call" in public else public[-1], find)


@cache
def shipped_grammar(name: str) -> Grammar:
    """Read one of the shipped grammars, once a process.

    Raises:
        CompanionError: If it is missing or wrong.
    """
    return read_grammar(_file(shipped("grammars"), name))


def _file(folder: Path, grammar: str) -> Path:
    """The file of a grammar of this name; None where this cannot be a name."""
    if not _NAME.fullmatch(grammar):
        return folder / "no name.gram"
    return folder.joinpath(*grammar.split(".")).with_suffix(".gram")
