"""How long a text takes to say, and a long reply cut between its phrases into short ones."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from companion.speak.phrases import CAUTION, LEFT, QUESTION, Phrase

LETTER_SECONDS, STOP_SECONDS, COMMA_SECONDS, BEGUN_SECONDS = 0.066, 0.44, 0.28, -0.31
"""Seconds that a letter, a full stop, a comma and the beginning take to say: fitted by least
squares to texts of the shipped cards, rendered at 170 words a minute (``docs/measurements.md``)."""

LONGEST_SECONDS = 7.4
"""Estimated length up to which a reply is said in one piece: rendered, eight seconds at most."""

_BETWEEN_SENTENCES = re.compile(r"(?<=[.?!]) ")
_LETTER = re.compile(r"[^\W\d_]")
_STOP = re.compile(r"[.?!]")
_COMMA = re.compile(r"[,:;]")


def seconds_to_say(text: str) -> float:
    """Return about how long a speakable text takes to say, in seconds.

    Args:
        text: In words, without digits.
    """
    return max(
        0.0,
        BEGUN_SECONDS
        + LETTER_SECONDS * len(_LETTER.findall(text))
        + STOP_SECONDS * len(_STOP.findall(text))
        + COMMA_SECONDS * len(_COMMA.findall(text)),
    )


def pieces(phrases: Sequence[Phrase]) -> tuple[tuple[Phrase, ...], ...]:
    """Cut a reply into pieces that each take eight seconds at most.

    A reply that ends in a question stays whole: an "affirm" must not come before all of what it
    affirms was said. So does a caution, and any single sentence, however long: a list that was
    asked for, say.

    Args:
        phrases: In the order in which they are said.

    Returns:
        The same words in the same order; one piece where all of them are short enough.
    """
    if any(phrase.place == QUESTION for phrase in phrases) or _fit(phrases):
        return (tuple(phrases),)
    found: list[tuple[Phrase, ...]] = [()]
    for phrase in (part for each in phrases for part in _sentences(each)):
        if found[-1] and not _fit((*found[-1], phrase)):
            found.append(())
        found[-1] = (*found[-1], phrase)
    return tuple(found)


def joined(phrases: Sequence[Phrase]) -> str:
    """Return phrases as one text."""
    return " ".join(phrase.text for phrase in phrases if phrase.text)


def _sentences(phrase: Phrase) -> tuple[Phrase, ...]:
    """A phrase that is too long by itself, sentence by sentence; any other as it is."""
    if phrase.place in (CAUTION, LEFT) or _fit((phrase,)):
        return (phrase,)
    return tuple(replace(phrase, text=text) for text in _BETWEEN_SENTENCES.split(phrase.text))


def _fit(phrases: Sequence[Phrase]) -> bool:
    return seconds_to_say(joined(phrases)) <= LONGEST_SECONDS
