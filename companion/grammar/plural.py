"""Plurals of part names, by the usual English rule."""

from __future__ import annotations

import re

# From memory: the ones that a bench is likely to need.
_IRREGULAR = {
    "foot": "feet",
    "half": "halves",
    "knife": "knives",
    "leaf": "leaves",
    "shelf": "shelves",
    "tooth": "teeth",
}

_NUMBER = re.compile(
    r"(one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve"
    r"|(thir|four|fif|six|seven|eigh|nine)teen|(twen|thir|for|fif|six|seven|eigh|nine)ty)"
)


def plural(name: str) -> str | None:
    """Plural of a name of one or more words, or None where it has none.

    "handle bolt" gives "handle bolts". A name that ends in a number ("grease point three") is of
    one thing only; one that ends in a single s ("brake pads") stands in the plural already.
    """
    *before, last = name.split() or [""]
    if not last or _NUMBER.fullmatch(last):
        return None
    return " ".join([*before, _plural_of_word(last)])


def _plural_of_word(word: str) -> str:
    if word in _IRREGULAR:
        return _IRREGULAR[word]
    if re.search(r"(ss|us|is|x|z|ch|sh)$", word):
        return word + "es"
    if word.endswith("s"):
        return word
    if re.search(r"[^aeiou]y$", word):
        return word[:-1] + "ies"
    return word + "s"
