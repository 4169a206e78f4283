"""Serial numbers: spelled character by character, or typed as they stand on the plate."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

ALPHABET: Mapping[str, str] = MappingProxyType(
    {
        **{letter: letter.upper() for letter in "abcdefghijklmnpqrstuvwxyz"},
        "alpha": "A", "bravo": "B", "charlie": "C", "delta": "D", "echo": "E", "foxtrot": "F",
        "golf": "G", "hotel": "H", "india": "I", "juliet": "J", "kilo": "K", "lima": "L",
        "mike": "M", "november": "N", "oscar": "O", "papa": "P", "quebec": "Q", "romeo": "R",
        "sierra": "S", "tango": "T", "uniform": "U", "victor": "V", "whiskey": "W", "x ray": "X",
        "yankee": "Y", "zulu": "Z", "dash": "-",
        "zero": "0", "one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6",
        "seven": "7", "eight": "8", "nine": "9",
    }
)  # fmt: skip
"""What each spelled word stands for. Letters are those of the spelling alphabet of radiotelephony
(ICAO Doc 9432, in its everyday spelling)."""

LONGEST = 40
"""Characters; no plate has more."""


def spelled(words: Sequence[str]) -> Iterator[str]:
    """Give what spelled words can mean, the usual first: "oh" is a zero, or the letter."""
    said = " ".join(words).replace("x ray", "x").split()
    for oh in ("0", "O") if "oh" in said else ("",):
        yield "".join(oh if word == "oh" else ALPHABET[word] for word in said)


def typed_serial(text: str) -> str | None:
    """Return a serial number as typed after "serial number", in capitals, or None for no such call.

    What stands before those words is not looked at; what follows is kept but for spaces at its
    ends and punctuation that ends a sentence.
    """
    found = re.search(r"\bserial\s+number\b[\s:,#]*(?:is\s+)?(?P<rest>.*)", text, re.I | re.DOTALL)
    if found is None:
        return None
    serial = " ".join(found["rest"].upper().split()).rstrip(" .,;:!?")
    return serial if re.search(r"[^\W_]", serial) and len(serial) <= LONGEST else None
