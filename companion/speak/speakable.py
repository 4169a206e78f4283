"""Written text made fit to be spoken: no digits, no symbols, nothing a voice stumbles over."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

from companion.handbook.unit_table import UNITS
from companion.speak.numbers import PARTS_OF_AN_INCH, fraction_words, number_words

_SAID_OTHERWISE = {
    # "In" is an English word, and a single letter may be one of a size ("M 8", "letter F").
    **{
        unit.symbol: unit.plural
        for unit in UNITS.values()
        if not unit.symbol.isascii() or not unit.symbol.isalpha() or len(unit.symbol) > 1
        if unit.symbol != "in"
    },
    "US": "u s",
    "DIN": "d i n",
    "SAE": "s a e",
    "ASME": "a s m e",
    "ANSI": "ansi",
    "OPEI": "o p e i",
    "NIST": "nist",
    "SP": "s p",
    "ISO": "i s o",
}
"""Symbols and capitals, longest first where one is the start of another."""

_SYMBOL = re.compile(
    r"(?<![\w])("
    + "|".join(re.escape(text) for text in sorted(_SAID_OTHERWISE, key=len, reverse=True))
    + r")(?![\w])"
)
_MIXED = re.compile(r"\b(\d+)[ -](\d+)/(\d+)\b")
_FRACTION = re.compile(r"\b(\d+)/(\d+)\b")
_THREAD = re.compile(r"\bM(?=\d)")
_OIL_GRADE = re.compile(r"\b(\d+)W-(\d+)\b")
_STANDARD = re.compile(r"\b([BJ])\.?(\d+(?:\.\d+)*)\b")
_PART = re.compile(r"\b(ISO \d+)-(?=\d)")
_RANGE = re.compile(r"(?<=\d)\s*[-–](?=\d)")
_THOUSANDS = re.compile(r"(?<=\d)[,\u202f ](?=\d{3}\b)")
_NUMBER = re.compile(r"(?<!\w)[-−]?(?:\d+(?:\.\d+)?|\.\d+)")
_DIGIT = re.compile(r"\d")
_LONG = re.compile(r"(?:\d+\.)?\d{31,}(?:\.\d+)?")
_LONG_SAID = "a very long number"
"""What is said of more digits than any figure here has: nobody listens to them."""
_STUCK = re.compile(r"(?<=\d)(?=[^\W\d_]|°|%)|(?<=[^\W\d_])(?=\d)")
_PUNCTUATION = re.compile(r"\s*(?:[^\w\s.,:?!'-]|_)+\s*")
_COMMAS = re.compile(r"\s*,(?:\s*,)+")
_FIRST_LETTER = re.compile(r"(?:^|(?<=[.?!] ))[a-z]")
_SPACES = re.compile(r"\s+")


def speakable(text: str) -> str:
    """Put what is written into words: "3/8 inch: 31 ft·lbf" is "three eighths inch: thirty one …".

    Numbers are said as ``number_words`` says them; letters and ``. , : ? ! ' -`` are left.
    """
    text = _THOUSANDS.sub("", text)
    text = _LONG.sub(_LONG_SAID, text)
    text = _THREAD.sub("m ", text)
    text = _STANDARD.sub(lambda found: f"{found[1]} {found[2].replace('.', ' point ')}", text)
    text = _PART.sub(r"\1 part ", text)
    text = _OIL_GRADE.sub(r"\1 w \2", text)
    text = _MIXED.sub(lambda found: _mixed(int(found[1]), found[2], found[3]), text)
    text = _FRACTION.sub(lambda found: _fraction(found[1], found[2]), text)
    text = _RANGE.sub(" to ", text)
    text = _STUCK.sub(" ", text)
    text = _NUMBER.sub(_number, text)
    # What looked like no number ("1.2.3") is said digit by digit.
    text = _DIGIT.sub(lambda found: f" {number_words(Decimal(found[0]))} ", text)
    text = _SYMBOL.sub(lambda found: _SAID_OTHERWISE[found[1]], text)
    text = _PUNCTUATION.sub(", ", text)
    text = _COMMAS.sub(",", text)
    text = _SPACES.sub(" ", text).strip()
    return re.sub(r"\s*,\s*([.:?!])", r"\1", text).strip(" ,")


def sentence(text: str) -> str:
    """Speakable text as whole sentences: a capital first, a full stop last."""
    said = _FIRST_LETTER.sub(lambda found: found[0].upper(), speakable(text))
    return said if not said or said[-1] in ".?!" else f"{said}."


def _number(found: re.Match[str]) -> str:
    return number_words(Decimal(found[0].replace("−", "-")))


def _mixed(whole: int, top: str, bottom: str) -> str:
    return f"{number_words(Decimal(whole))} and {_fraction(top, bottom)}"


def _fraction(top: str, bottom: str) -> str:
    if int(bottom) in PARTS_OF_AN_INCH:
        value = Fraction(int(top), int(bottom))
        words = fraction_words(Decimal(value.numerator) / Decimal(value.denominator))
        if words is not None:
            return words
    return f"{number_words(Decimal(top))} over {number_words(Decimal(bottom))}"
