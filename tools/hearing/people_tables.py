"""What is measured with people, a table each: ``python -m tools.hearing --people FOLDER --tables
NAME …``."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from companion.errors import CompanionError
from tools.hearing import digits, open_slots, people, phoneme_errors, tables, word_strings
from tools.hearing.closed import SURE, Answer, Task, hear_all
from tools.hearing.measure import JobNames
from tools.hearing.people import Sentence
from tools.hearing.recordings import found
from tools.hearing.speakers import groups_of, kept_back
from tools.hearing.surroundings import CLEAN_CONDITIONS, Condition, conditions


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be measured.

    Attributes:
        folder: People's speech.
        recognizer: As ``choose`` names them.
        every: Hear only every so many sentences or strings.
        everybody: Measure by every speaker: nothing was fitted on this folder.
        typed_only: Of talk, only its text.
        job: Whose words talk is listened to for.
        sounds: Where packages with real recordings are looked for.
    """

    folder: Path
    recognizer: str
    every: int
    everybody: bool
    typed_only: bool
    job: JobNames
    sounds: Sequence[Path]

    def chosen(self) -> tuple[Sentence, ...]:
        """Sentences of the speakers who are measured by.

        Raises:
            CompanionError: If the folder is not in its layout, nobody is left, or a sound file is
                missing.
        """
        kept = kept_back(people.sentences(self.folder), everybody=self.everybody)
        if not kept:
            raise CompanionError(
                f"Something was fitted on every speaker of {self.folder}, or may have been; say "
                "--everybody if nothing was."
            )
        people.require_sounds(self.folder, kept)
        return kept


@dataclass(frozen=True, slots=True)
class Measured:
    """What came of it, as text.

    Attributes:
        tables: What belongs on the page of measurements.
        besides: What people said and what it was taken for, to be looked at and forgotten.
    """

    tables: str
    besides: str = ""


def talk(asked: Asked) -> Measured:
    """Whether what is said to others is kept out."""
    grammar = asked.job.grammar()
    taken = people.typed(asked.folder, grammar)
    if not asked.typed_only:
        taken += people.heard(
            asked.folder, asked.recognizer, only=asked.chosen(), every=asked.every, job=asked.job
        )
    recorded = Counter(one.source for one in taken if one.decision.outcome == "record")
    sources = dict.fromkeys(one.source for one in taken)
    counts = ", ".join(f"{recorded[source]} {source}" for source in sources)
    return Measured(
        f"{tables.no_calls(people.outcomes(taken))}\n\nrecorded, where none may be: {counts}",
        tables.let_in(people.let_in(taken)),
    )


def slots(asked: Asked) -> Measured:
    """Sentences in which one word is open."""
    words = {word for one in people.sentences(asked.folder) for word in one.text.split()}
    chosen = asked.chosen()
    tasks = open_slots.tasks(chosen[:: asked.every], asked.folder, words)
    return _closed(list(tasks), "sentences with one word open", chosen, asked)


def numbers(asked: Asked) -> Measured:
    """Sentences in which only the number is open."""
    chosen = asked.chosen()
    tasks = list(open_slots.number_tasks(chosen, asked.folder))[:: asked.every]
    return _closed(tasks, "sentences with the number open", chosen, asked)


def phrases(asked: Asked) -> Measured:
    """Sentences as strings of any length out of a closed list of words."""
    chosen = asked.chosen()
    tasks = list(word_strings.phrases(chosen, asked.folder))[:: asked.every]
    return _closed(tasks, "sentences as strings of a list of words", chosen, asked)


def strings(asked: Asked) -> Measured:
    """Strings of words cut out of sentences."""
    chosen = asked.chosen()
    tasks = list(word_strings.strings(chosen, asked.folder))[:: asked.every]
    return _closed(tasks, "strings of words cut out of sentences", chosen, asked)


def phonemes(asked: Asked) -> Measured:
    """How many phonemes are heard wrong, by voice."""
    recordings, sentence = found(asked.sounds)
    chosen = asked.chosen()[:: asked.every]
    heard = phoneme_errors.measured(chosen, asked.folder, conditions(recordings), recordings)
    return Measured(f"{sentence}\n\n{phoneme_errors.table(list(heard))}")


def digit_strings(asked: Asked) -> Measured:
    """Strings of digits by those few people whose digits a free package has."""
    tasks, missing = digits.tasks()
    told = "\n".join(missing)
    if not tasks:
        return Measured(told)
    measured = _closed(tasks[:: asked.every], "strings of digits put together", (), asked)
    return Measured(f"{told}\n\n{measured.tables}".strip(), measured.besides)


TABLES: Mapping[str, Callable[[Asked], Measured]] = MappingProxyType(
    {
        "talk": talk,
        "slots": slots,
        "numbers": numbers,
        "phrases": phrases,
        "strings": strings,
        "phonemes": phonemes,
        "digits": digit_strings,
    }
)
"""Every table by name."""


MOST_WRONG_AND_SURE: Mapping[Condition, float] = {
    Condition(None, away=False): 0.005,
    Condition(10.0, away=False): 0.01,
}
"""How many may be wrong and sure: what is to be reached."""


def _closed(
    tasks: Sequence[Task], title: str, chosen: Sequence[Sentence], asked: Asked
) -> Measured:
    """Hear tasks, and say how well: by condition, by voice, and whether belief is deserved."""
    recordings, sentence = found(asked.sounds)
    answers = list(hear_all(tasks, conditions(recordings), recordings, asked.recognizer))
    speakers = len({task.speaker for task in tasks})
    parts = [
        f"{len(tasks)} by {speakers} people. {sentence}",
        by_condition(answers, title),
        by_voice(answers, chosen),
    ]
    for name, noisy in (("clean", False), ("over recordings", True)):
        some = [one for one in answers if (one.condition not in CLEAN_CONDITIONS) == noisy]
        if some:
            parts.append(tables.reliable([(one.confidence, one.right) for one in some], name))
    parts.append(reached(answers))
    return Measured("\n\n".join(parts), confused(answers))


def by_condition(answers: Sequence[Answer], title: str) -> str:
    """A row a condition; "sure" is a confidence above ``SURE``."""
    groups: dict[Condition, list[Answer]] = {}
    for one in answers:
        groups.setdefault(one.condition, []).append(one)
    headings = (title, "heard", *_SHARES)
    rows = [(str(name), str(len(some)), *_shares(some)) for name, some in groups.items()]
    return tables.table(headings, rows)


def by_voice(answers: Sequence[Answer], chosen: Sequence[Sentence]) -> str:
    """A row a group and a speaker, over all conditions."""
    who = {one.speaker: one for one in chosen}
    groups: dict[str, list[Answer]] = {}
    for one in answers:
        for name in groups_of(who[one.speaker]) if one.speaker in who else ():
            groups.setdefault(name, []).append(one)
    for one in answers:
        groups.setdefault(one.speaker, []).append(one)
    rows = [(name, str(len(some)), *_shares(some)) for name, some in groups.items()]
    return tables.table(("voice, all conditions", "heard", *_SHARES), rows)


def confused(answers: Sequence[Answer]) -> str:
    """What was taken for something else with the greatest confidence."""
    wrong = [one for one in answers if not one.right and one.sure]
    wrong.sort(key=lambda one: -one.confidence)
    rows = [
        (one.said, one.best, one.speaker, str(one.condition), f"{one.confidence:.3f}")
        for one in wrong[: tables.MOST_CONFUSIONS]
    ]
    if not rows:
        return "nothing was wrong and sure"
    return tables.table(("wrong and sure: said", "taken for", "by", "heard", "confidence"), rows)


def reached(answers: Sequence[Answer]) -> str:
    """A line for each condition in which it is stated how many may be wrong and sure."""
    lines = []
    for condition, most in MOST_WRONG_AND_SURE.items():
        some = [one for one in answers if one.condition == condition]
        if not some:
            continue
        share = sum(not one.right and one.sure for one in some) / len(some)
        over = "reached" if share <= most else f"too many by {share - most:.3f}"
        lines.append(f"{condition}, wrong and sure: {share:.3f}, at most {most:g} wanted: {over}")
    return "\n\n".join(lines)


_SHARES = ("right", "right and sure", "wrong and sure", "wrong, sure, and surely a sentence")


def _shares(some: Sequence[Answer]) -> tuple[str, ...]:
    counts = (
        sum(one.right for one in some),
        sum(one.right and one.sure for one in some),
        sum(not one.right and one.sure for one in some),
        sum(not one.right and one.sure and one.call_confidence > SURE for one in some),
    )
    return tuple(f"{count / len(some):.3f}" for count in counts)
