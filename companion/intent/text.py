"""Typed text put into the words of the grammar: digits, symbols, punctuation and spellings.

Digits become number words that mean exactly that number and no other. Whatever looks like a number
but is not plainly one ("3,6", "28-31", "1 20", "007") is left as it stands, so that no grammar
accepts it and nothing is guessed.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container, Sequence
from decimal import Decimal
from fractions import Fraction

from companion.handbook.unit_table import UNITS, Unit, british
from companion.intent.numbers import DENOMINATORS, DIGITS, NUMBER_WORDS, TEENS, TENS

UNKNOWN = "[unk]"
"""What a word-list engine writes for a word that is not on its list."""

_ONES = {value: word for word, value in {**DIGITS, **TEENS}.items()}
_TENS = {value: word for word, value in TENS.items()}
_PARTS = {
    2: ("half", "halves"),
    4: ("quarter", "quarters"),
    8: ("eighth", "eighths"),
    16: ("sixteenth", "sixteenths"),
    32: ("thirty second", "thirty seconds"),
    64: ("sixty fourth", "sixty fourths"),
}
_PLACES = 4
"""Decimal places that ``grammars/numbers.gram`` lets one call."""

_SEPARATORS = r"[\s.·⋅•*-]"


def _joined(form: str) -> str:
    return re.sub(_SEPARATORS, "", form)


_SAID = frozenset(form for unit in UNITS.values() for form in unit.said)

_BRITISH = {british(word): word for form in _SAID for word in form.split() if british(word) != word}
"""Words of units, by their British spelling."""


def _unit_forms() -> dict[str, str]:
    """Short forms of units as they are typed, each with the words that a call has for it."""
    meant: dict[str, list[Unit]] = {}
    for unit in UNITS.values():
        for form in unit.typed:
            if " ".join(_BRITISH.get(word, word) for word in form.split()) not in _SAID:
                meant.setdefault(form, []).append(unit)
    return {form: _words_of(units) for form, units in meant.items()}


def _words_of(units: Sequence[Unit]) -> str:
    """The words that a call has for each of these: "pounds" is both of pressure and of weight."""
    shared = (form for form in reversed(units[0].said) if all(form in unit.said for unit in units))
    return units[0].plural if len(units) == 1 else next(shared, units[0].plural)


_TYPED = _unit_forms()
_FORMS = {_joined(form): words for form, words in _TYPED.items()}
"""By short form without what may stand between its letters."""

_SHORT = {
    form: words
    for form, words in _FORMS.items()
    if form == "in" or (form.isascii() and len(form) == 1)
}
"""Symbols that are units only after a number, or as what to convert to."""


def _form_pattern(form: str) -> str:
    parts = re.split(rf"{_SEPARATORS}+", form)
    return f"{_SEPARATORS}*".join(map(re.escape, parts))


_SYMBOLS = re.compile(
    r"(?<![^\W\d_])(?:"
    + "|".join(map(_form_pattern, sorted(_TYPED.keys() - _SHORT.keys(), key=len, reverse=True)))
    + r")(?![^\W\d_])\.?"
)
"""Short forms that mean a unit wherever they stand, longest first."""

_STAINLESS = re.compile(r"\b(?:stainless )?a([24])[ -]?([78]0)\b")
"""The mark on a stainless bolt's head: "A2-70"."""

_SIGNS = {"%": " percent ", "°": " degrees ", "″": ' " ', "”": ' " ', "“": " ", "''": ' " '}

_SPELLINGS = (
    ("tyre", "tire"),
    ("tyres", "tires"),
    ("carburettor", "carburetor"),
    ("carburettors", "carburetors"),
    ("petrol", "fuel"),
    ("inlet", "intake"),
    ("spanner", "wrench"),
    *_BRITISH.items(),
)
"""British and American; either may be the one that a job card uses."""

_OTHER_FORMS = {
    "niner": "nine",
    "nought": "zero",
    "naught": "zero",
    "o": "oh",
    "standby": "stand by",
    "followup": "follow up",
    "readback": "read back",
    "leakdown": "leak down",
    "antiseize": "anti seize",
    "temp": "temperature",
    "carby": "carburetor",
    "gonna": "going to",
    "gotta": "have to",
    "wanna": "want to",
    "gimme": "give me",
    "connected": "hooked up",
    "reconnected": "hooked up",
}
"""Other ways to write a word that grammars have."""

_CONTRACTED = (
    "what's", "it's", "that's", "there's", "where's", "who's", "how's", "she's", "he's", "let's",
    "i'm", "i've", "i'll", "we've", "we're", "don't", "doesn't", "didn't", "haven't", "aren't",
    "isn't", "it'll", "here's",
)  # fmt: skip
"""Contractions of calls; typed without the apostrophe as often."""

_WITHOUT_APOSTROPHE = {word.replace("'", ""): word for word in _CONTRACTED}

_STANDS_FOR_HAS = re.compile(r"\b(?!(?:it|she|he|that|what|there|who)'s)([^\W\d_]+)'s (?=got\b)")
"""A name with "has" behind it: "the fuel line's got a leak"."""

_STANDS_FOR_DID = re.compile(r"\b(what|where|how)'d (?=i|you|it)")
"""A question with "did" behind its first word: "what'd i get for the gap"."""

_STANDS_FOR_IS = re.compile(
    r"\b(?!(?:" + "|".join(map(re.escape, _CONTRACTED)) + r")\b)([^\W\d_]+)'s\b"
)
"""A name with "is" behind it: "the belt's off". Without the apostrophe it would be its plural."""

_SHORTER = {
    "i am": "i'm",
    "i will": "i'll",
    "there is": "there's",
    "that is": "that's",
    "do not need": "don't need",
    "do not have": "don't have",
    "does not need": "doesn't need",
}
"""As calls have them."""

_SPELLED_OUT = re.compile(r"\b(?:" + "|".join(_SHORTER) + r")\b")

_TOKEN = re.compile(
    r"""(?P<number>(?:\d|\.\d)(?:[\d.,/:⁄-]*\d)?)
      | (?P<word>\[unk\]|[^\W\d_]+)
      | (?P<inch>")
      | (?P<minus>[-+](?=\s?(?:\d|\.\d)))
      | (?P<gap>[\s,.;:!?()'*·_/-])
      | (?P<other>.)""",
    re.VERBOSE,
)


def typed_words(text: str) -> tuple[tuple[str, ...], ...]:
    """Put typed text into words.

    Args:
        text: As typed: "gap .030 in", "5 3/8", "3,600 rpm", "-5 °C", "Bench, tag no oil!".

    Returns:
        The ways to word it, the usual one first: fractions as they are called ("three eighths"),
        then, where there are any, as decimals ("zero point three seven five"). All mean the same.
        Lower case; what is no plain number stays as typed.
    """
    tokens = _tokens(_plain(text))
    usual = _worded(tokens, decimals=False)
    other = _worded(tokens, decimals=True)
    return (usual,) if usual == other else (usual, other)


def respelled(words: Sequence[str], known: Container[str]) -> tuple[tuple[str, ...], ...]:
    """Give the same words in the other spellings that a grammar may use.

    Args:
        words: Lower case.
        known: The words of the grammar.

    Returns:
        The words with unknown spellings replaced, then all in American and all in British
        spelling; without repeats, the words themselves first.
    """
    american = dict(_SPELLINGS)
    british = {us: uk for uk, us in _SPELLINGS}

    def replaced(word: str) -> str:
        if word in known:
            return word
        for table in (_OTHER_FORMS, _WITHOUT_APOSTROPHE, american, british):
            other = table.get(word)
            if other is not None and all(part in known for part in other.split()):
                return other
        return word

    fixed = tuple(" ".join(map(replaced, words)).split())
    variants = (
        tuple(words),
        fixed,
        tuple(american.get(word, word) for word in fixed),
        tuple(british.get(word, word) for word in fixed),
    )
    return tuple(dict.fromkeys(variants))


def number_words(value: Decimal) -> tuple[str, ...] | None:
    """Word a number as it is called, so that it can mean nothing else.

    Args:
        value: 0 to 99 999, with at most four decimal places; its zeros are kept.

    Returns:
        The words ("three thousand six hundred", "zero point zero three zero"), or None outside
        that range.
    """
    if value < 0 or value >= 100_000:
        return None
    whole, _, places = format(value, "f").partition(".")
    if len(places) > _PLACES:
        return None
    words = _whole(int(whole))
    if places:
        words += ("point", *(_ONES[int(digit)] if digit != "0" else "zero" for digit in places))
    return words


def _whole(value: int) -> tuple[str, ...]:
    if value == 0:
        return ("zero",)
    words: tuple[str, ...] = ()
    thousands, value = divmod(value, 1000)
    hundreds, value = divmod(value, 100)
    if thousands:
        words += (*_whole(thousands), "thousand")
    if hundreds:
        words += (_ONES[hundreds], "hundred")
    if value in _ONES:
        words += (_ONES[value],)
    elif value:
        words += (_TENS[value - value % 10],)
        words += (_ONES[value % 10],) if value % 10 else ()
    return words


def _plain(text: str) -> str:
    """Lower case, one kind of dash, fraction bar and quotation mark; symbols spelled out."""
    # "5½" must become "5 1/2", not "51/2".
    spaced = "".join(
        f" {char} " if unicodedata.decomposition(char).startswith("<fraction>") else char
        for char in text
    )
    plain = unicodedata.normalize("NFKC", spaced).lower().replace("⁄", "/")
    plain = re.sub("[−‒–—‐‑]", "-", plain).replace("’", "'").replace("′", "'")
    # No unit: "give me a sec".
    plain = re.sub(r"\ba sec\b", "a second", plain)
    plain = _SYMBOLS.sub(lambda found: f" {_FORMS[_joined(found[0])]} ", plain)
    for sign, words in _SIGNS.items():
        plain = plain.replace(sign, words)
    # Directly before a word "!" means not, as programmers type it; after a word it ends a sentence.
    plain = re.sub(r"(?<![^\W_])!+(?=[^\W\d_])", " not ", plain)
    plain = _STAINLESS.sub(
        # The words stay apart: two runs of digits side by side are no plain number.
        lambda found: f"stainless a {_ONES[int(found[1])]} {found[2]}",
        plain,
    )
    plain = _STANDS_FOR_HAS.sub(r"\1 has ", plain)
    plain = _STANDS_FOR_DID.sub(r"\1 did ", plain).replace("what've", "what have")
    plain = _STANDS_FOR_IS.sub(r"\1 is", plain)
    plain = _SPELLED_OUT.sub(lambda found: _SHORTER[found[0]], plain)
    return re.sub(r"(?<=[^\W\d_])'(?=[^\W\d_])", "", plain)


def _tokens(text: str) -> list[str]:
    """Words, runs of digits and the sign before them; two runs side by side are one odd run."""
    tokens: list[str] = []
    for match in _TOKEN.finditer(text):
        kind, token = match.lastgroup, match.group()
        if kind == "gap":
            continue
        if kind == "minus":
            # Between two numbers "minus" is no part of any call, so that "5 - 3" is refused.
            tokens.extend(() if token == "+" else ("minus",))
            continue
        # In "cylinder 1 120 psi" the first number says which cylinder.
        which = tokens[-2:-1] == ["cylinder"]
        if kind == "number" and tokens and tokens[-1][-1].isdigit() and not which:
            tokens[-1] += f" {token}"
            continue
        tokens.append(token)
    return tokens


def _worded(tokens: Sequence[str], *, decimals: bool) -> tuple[str, ...]:
    words: list[str] = []
    for token in tokens:
        if token[-1].isdigit():
            words.extend(_called(token, decimals=decimals) or (token,))
        elif token in _SHORT and words and _takes_unit(words[-1]):
            words.append(_SHORT[token])
        elif token != '"':
            words.append(token)
    return tuple(words)


def _takes_unit(word: str) -> bool:
    return word in NUMBER_WORDS or word in ("to", "degrees", "seconds", "more")


_LONGEST_TOKEN = 60
"""Characters of a number that is typed; a longer one is no call, and may be too long to reckon."""


def _called(token: str, *, decimals: bool) -> tuple[str, ...] | None:
    """Words of a run of digits, or None if it is not plainly one number."""
    if len(token) > _LONGEST_TOKEN:
        return None
    if re.fullmatch(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?", token):
        token = token.replace(",", "")
    if re.fullmatch(r"(?:0|[1-9]\d*)?\.\d+|0|[1-9]\d*", token):
        words = number_words(Decimal(token))
        # ".030" is called as it is written: "point zero three zero".
        return words[1:] if words and token.startswith(".") else words
    if ratio := re.fullmatch(r"([1-9]\d*):([1-9]\d*)", token):
        first, second = (number_words(Decimal(part)) for part in ratio.groups())
        return (*first, "to", *second) if first and second else None
    if mixed := re.fullmatch(r"(?:([1-9]\d*)[ -])?([1-9]\d*)/([1-9]\d*)", token):
        whole, above, below = (int(part or 0) for part in mixed.groups())
        return _fraction(whole, Fraction(above, below), decimals=decimals)
    return None


def _fraction(whole: int, part: Fraction, *, decimals: bool) -> tuple[str, ...] | None:
    """Words of a whole number and a fraction; an improper fraction is made a mixed number."""
    if whole and part >= 1:
        return None
    more, part = divmod(part, 1)
    whole += more
    if part.denominator not in DENOMINATORS.values() and part:
        return None
    if decimals or not part:
        return number_words(Decimal(whole) + Decimal(part.numerator) / part.denominator)
    singular, plural = _PARTS[part.denominator]
    above = _whole(part.numerator)
    below = (singular if part.numerator == 1 else plural).split()
    before = number_words(Decimal(whole))
    if not whole:
        return (*above, *below)
    return None if before is None else (*before, "and", *above, *below)
