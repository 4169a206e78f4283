"""Sentences of people in which one word is open: everything else is fixed by the grammar, as where
only the number of a call is in question.

Half of what may stand there sounds like the word that was said, the other half is drawn by chance,
from the words of the folder and those of the calls. Where the word is a number, it may instead be
any other number of one word.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from pathlib import Path

from companion.grammar.compiled import load_grammar
from companion.grammar.pronounce import likeness, pronunciations
from tools.hearing.closed import Task
from tools.hearing.material import in_words
from tools.hearing.people import Sentence, sound_of

NEAR_SOUNDING = 15
BY_CHANCE = 14
SHORTEST = 3
"""Phonemes of a word that is left open; most numbers have as many."""
NUMBERS = tuple(in_words(number) for number in (*range(21), *range(30, 100, 10)))
"""Every number of one word below a hundred."""


def tasks(chosen: Sequence[Sentence], folder: Path, words: Iterable[str]) -> Iterator[Task]:
    """Leave a word open in every sentence that has a fitting one.

    Args:
        chosen: What people said.
        folder: With its sounds.
        words: What may stand in a slot, besides the words of calls.
    """
    sayable = _sayable({*words, *load_grammar().words})
    for number, sentence in enumerate(chosen):
        said = sentence.text.split()
        draw = random.Random(f"{sentence.speaker} {sentence.text}")
        places = [
            place
            for place, word in enumerate(said)
            if len(word) > 1 and any(len(way) >= SHORTEST for way in pronunciations(word))
        ]
        if not places or not all(map(pronunciations, said)):
            continue
        place = draw.choice(places)
        choices = sorted([said[place], *others(said[place], sayable, draw)])
        yield _task(sentence, place, choices, folder, number)


def number_tasks(chosen: Sequence[Sentence], folder: Path) -> Iterator[Task]:
    """Leave the first number open in every sentence that has one.

    Args:
        chosen: What people said.
        folder: With its sounds.
    """
    for number, sentence in enumerate(chosen):
        said = sentence.text.split()
        place = next((place for place, word in enumerate(said) if word in NUMBERS), None)
        if place is not None and all(map(pronunciations, said)):
            yield _task(sentence, place, NUMBERS, folder, number)


def _task(sentence: Sentence, place: int, choices: Sequence[str], folder: Path, draw: int) -> Task:
    said = sentence.text.split()
    parts = [*said[:place], f"({' | '.join(choices)})", *said[place + 1 :]]
    sound = sound_of(sentence, folder)
    return Task(sentence.speaker, sentence.text, " ".join(parts), sound, draw)


def others(word: str, sayable: Sequence[str], draw: random.Random) -> list[str]:
    """Words that might stand in place of one: the nearest by their sound, and some by chance; none
    that sounds just the same."""
    ways = pronunciations(word)
    apart = [one for one in sayable if not set(ways) & set(pronunciations(one))]
    near = sorted(apart, key=lambda one: (-likeness(ways[0], pronunciations(one)[0]), one))
    rest = near[NEAR_SOUNDING:]
    return near[:NEAR_SOUNDING] + draw.sample(rest, min(BY_CHANCE, len(rest)))


def _sayable(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(word for word in words if len(word) > 1 and _has_sound(word)))


@cache
def _has_sound(word: str) -> bool:
    return bool(pronunciations(word))
