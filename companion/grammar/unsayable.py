"""Words that nobody can pronounce, and the line that has them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from companion.errors import CompanionError
from companion.files.reading import text_of
from companion.grammar.pronounce import pronunciations

WAY_OUT = "give the part or measure another spoken form, or spell it in letters"
"""The remedy that is named."""


def unsayable(words: Iterable[str]) -> tuple[str, ...]:
    """Return those words, in order of the alphabet, for which no pronunciation is known."""
    return tuple(word for word in sorted(words) if not pronunciations(word))


def where_written(word: str, files: Sequence[Path]) -> str | None:
    """Return the first place that has a word, as "FILE, line 4"; None where none has.

    Args:
        word: Lower case.
        files: Grammars, job cards or spec sheets; those that cannot be read have nothing.
    """
    stands = re.compile(rf"(?<![\w'-]){re.escape(word)}(?![\w'-])", re.IGNORECASE)
    for file in files:
        try:
            lines = text_of(file, "file", named=True).splitlines()
        except CompanionError:
            continue
        for number, line in enumerate(lines, start=1):
            # Comments are no words, in either kind of file.
            said = line.partition("//" if file.suffix == ".gram" else "#")[0]
            if stands.search(said):
                return f"{file}, line {number}"
    return None


def unsayable_sentences(words: Iterable[str], files: Sequence[Path]) -> tuple[str, ...]:
    """Return a sentence for each word that nobody can pronounce, with the line that has it.

    Args:
        words: Of a grammar.
        files: Where they may have come from.
    """
    sentences = []
    for word in unsayable(words):
        place = where_written(word, files)
        begun = "" if place is None else f"{place}: "
        sentences.append(f"{begun}nobody knows how '{word}' is pronounced; {WAY_OUT}.")
    return tuple(sentences)
