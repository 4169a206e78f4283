"""How many phonemes of people's sentences the phoneme network hears wrong."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, partial
from itertools import groupby
from pathlib import Path

from companion.grammar.pronounce import distance
from companion.recognize.ctc import BLANK
from companion.recognize.held import HeldRecognizer
from companion.recognize.phonemes import Floats
from companion.recognize.pronunciation import ways_to_say
from tools.hearing import tables
from tools.hearing.cores import every_core
from tools.hearing.people import Sentence, sound_of
from tools.hearing.recordings import Recording
from tools.hearing.speakers import groups_of
from tools.hearing.surroundings import Condition, arriving


@dataclass(frozen=True, slots=True)
class Errors:
    """One sentence in one condition.

    Attributes:
        sentence: What was said.
        condition: How it was heard.
        wrong: Phonemes missed, added or taken for another.
        count: Phonemes said.
    """

    sentence: Sentence
    condition: Condition
    wrong: int
    count: int


def measured(
    chosen: Sequence[Sentence],
    folder: Path,
    conditions: Sequence[Condition],
    recordings: Sequence[Recording],
) -> Iterator[Errors]:
    """Hear every sentence in every condition, on every core. A sentence with a word whose
    pronunciation is not known is left out."""
    hear = partial(
        _heard, folder=folder, conditions=tuple(conditions), recordings=tuple(recordings)
    )
    with every_core() as pool:
        for errors in pool.map(hear, enumerate(chosen), chunksize=8):
            yield from errors


def table(errors: Sequence[Errors]) -> str:
    """A row for each group, then for each speaker: the share of phonemes heard wrong."""
    conditions = list(dict.fromkeys(one.condition for one in errors))
    rows: dict[str, dict[Condition, list[Errors]]] = {}
    groups = sorted({group for one in errors for group in groups_of(one.sentence)})
    for name in ("all", *groups, *dict.fromkeys(one.sentence.speaker for one in errors)):
        rows[name] = defaultdict(list)
    for one in errors:
        for name in ("all", *groups_of(one.sentence), one.sentence.speaker):
            rows[name][one.condition].append(one)
    lines = []
    for name, found in rows.items():
        said = {one.sentence for each in found.values() for one in each}
        who = _described(next(iter(said))) if name not in ("all", *groups) else name
        lines.append((who, str(len(said)), *(_share(found[each]) for each in conditions)))
    return tables.table(("phonemes heard wrong", "sentences", *map(str, conditions)), lines)


def fewest_errors(heard: Sequence[int], ways: Sequence[Sequence[int]]) -> tuple[int, int]:
    """Errors against the way to say it that fits best, and how many phonemes that way has."""
    return min((distance(_as_text(heard), _as_text(way)), len(way)) for way in ways)


def likeliest(log_probabilities: Floats) -> list[int]:
    """The likeliest phoneme of each frame, without blanks and repetitions."""
    kinds = (int(kind) for kind, _ in groupby(log_probabilities.argmax(axis=1)))
    return [kind for kind in kinds if kind != BLANK]


def _heard(
    numbered: tuple[int, Sentence],
    folder: Path,
    conditions: Sequence[Condition],
    recordings: Sequence[Recording],
) -> list[Errors]:
    number, sentence = numbered
    ways = ways_to_say(sentence.text.split())
    if not ways:
        return []
    sound = sound_of(sentence, folder)
    found = []
    for condition in conditions:
        phonemes = _ears().phonemes(arriving(sound, condition, recordings, number))
        heard = [] if phonemes is None else likeliest(phonemes)
        found.append(Errors(sentence, condition, *fewest_errors(heard, ways)))
    return found


def _as_text(phonemes: Sequence[int]) -> tuple[str, ...]:
    return tuple(map(str, phonemes))


@cache
def _ears() -> HeldRecognizer:
    return HeldRecognizer()


def _share(errors: Sequence[Errors]) -> str:
    count = sum(one.count for one in errors)
    return f"{100 * sum(one.wrong for one in errors) / count:.1f} %" if count else "–"


def _described(sentence: Sentence) -> str:
    age = "" if sentence.age is None else f" {sentence.age}"
    return f"{sentence.speaker}{age}{sentence.gender or ''}"
