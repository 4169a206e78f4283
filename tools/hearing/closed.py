"""Speech heard with a grammar of its own, in which only so much is open: what a person said, what
else it might have been, and how sure the recognizer is of what it takes it for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache, partial

from companion.grammar.compiled import CallGrammar
from companion.grammar.files import own_rules_of
from companion.recognize.choose import choose
from companion.recognize.protocol import Recognizer
from tests.sounds import Samples
from tools.hearing.cores import every_core
from tools.hearing.recordings import Recording
from tools.hearing.surroundings import Condition, arriving

SURE = 0.9
"""Confidence above which the recognizer is called sure."""


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """Something to hear.

    Attributes:
        speaker: Who says it.
        said: Lower-case words.
        expansion: What may be said, in JSGF: "watch your (fingers | figures)".
        sound: Shape (n,), 16 kHz, with pauses around it.
        draw: Decides the room, the recording and the stretch of it.
    """

    speaker: str
    said: str
    expansion: str
    sound: Samples
    draw: int


@dataclass(frozen=True, slots=True)
class Answer:
    """What was made of a task.

    Attributes:
        speaker: Who spoke.
        condition: How it was heard.
        said: What was said.
        best: The likeliest sentence; empty where nothing was heard.
        confidence: Of it, given that it was a sentence of the grammar.
        call_confidence: That it was one at all.
    """

    speaker: str
    condition: Condition
    said: str
    best: str
    confidence: float
    call_confidence: float

    @property
    def right(self) -> bool:
        """Whether the likeliest is what was said."""
        return self.best == self.said

    @property
    def sure(self) -> bool:
        """Whether the recognizer takes it for certain."""
        return self.confidence > SURE


def grammar_of(expansion: str) -> CallGrammar:
    """A grammar of one rule."""
    text = f"#JSGF V1.0 UTF-8 en;\ngrammar said;\npublic <said> = {expansion};\n"
    return CallGrammar(own_rules_of(text))


def hear_all(
    tasks: Sequence[Task],
    conditions: Sequence[Condition],
    recordings: Sequence[Recording],
    recognizer: str,
) -> Iterator[Answer]:
    """Hear every task in every condition, on every core.

    Args:
        tasks: What is said.
        conditions: How it is heard.
        recordings: Over which, where a condition has a level.
        recognizer: As ``choose`` names them.
    """
    hear = partial(
        hear_task,
        conditions=tuple(conditions),
        recordings=tuple(recordings),
        recognizer=recognizer,
    )
    with every_core() as pool:
        for answers in pool.map(hear, tasks, chunksize=2):
            yield from answers


def hear_task(
    task: Task,
    conditions: Sequence[Condition],
    recordings: Sequence[Recording],
    recognizer: str,
) -> tuple[Answer, ...]:
    """Hear one task in every condition, in this process."""
    ears = _held_to(task.expansion, recognizer)
    answers = []
    for condition in conditions:
        recognition = ears.recognize(arriving(task.sound, condition, recordings, task.draw))
        best = recognition.hypotheses[0] if recognition.hypotheses else None
        answers.append(
            Answer(
                task.speaker,
                condition,
                task.said,
                best.text if best else "",
                best.confidence if best else 0.0,
                recognition.call_confidence,
            )
        )
    return tuple(answers)


@cache
def _ears(recognizer: str) -> Recognizer:
    return choose(recognizer)


@lru_cache(maxsize=1)
def _held_to(expansion: str, recognizer: str) -> Recognizer:
    ears = _ears(recognizer)
    ears.listen_for(grammar_of(expansion))
    return ears
