"""What is remarked about a reading besides its verdict, and how long ago that was, in words."""

from __future__ import annotations

from decimal import Decimal

from companion.job.events import ReadingRecorded
from companion.job.read_before import Past
from companion.job.remark import Apart, Changed, EngineNotAsWanted, LastTime, Remark
from companion.speak.numbers import amount_words, number_words, without_needless_zeros
from companion.speak.speakable import sentence
from companion.speak.when_words import since_words, when_words

WORDS_SAID = 22
"""A remark that would make a readback longer than this is left to the report, unless it is the
first: eight seconds are soon over, and the weightiest comes first."""


def remarks_said(event: ReadingRecorded, after: str) -> tuple[str, ...]:
    """Return the sentences that follow the verdict of a reading.

    Args:
        event: The reading.
        after: What is said before them.
    """
    said: list[str] = []
    for remark in event.remarks:
        words = _remark(remark)
        if said and len(" ".join((after, *said, words)).split()) > WORDS_SAID:
            break
        said.append(words)
    return tuple(said)


def before_words(before: Past) -> str:
    """Say what a measure was in an earlier session: "Nine days ago, thirty thou."."""
    said = amount_words(before.value, before.unit)
    return sentence(f"{when_words(before.at, before.days)}, {said}")


def _remark(remark: Remark) -> str:
    match remark:
        case EngineNotAsWanted(wanted="cold"):
            return "Wanted cold: the engine counts as hot."
        case EngineNotAsWanted():
            return "Wanted hot: the engine does not count as hot."
        case Apart():
            other = remark.other or "the one before"
            return sentence(f"{number_words(Decimal(remark.percent))} percent off {other}")
        case Changed():
            way = "up" if remark.by > 0 else "down"
            by = number_words(without_needless_zeros(abs(remark.by)))
            return sentence(f"{way} {by} {since_words(remark.at, remark.days)}")
        case LastTime():
            last = amount_words(remark.value, remark.unit)
            return sentence(f"not from the maker: {when_words(remark.at, remark.days)}, {last}")
