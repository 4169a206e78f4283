"""What the companion makes of each clip, on every core."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from companion.enroll.fit import Outcome, outcome_of
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.intent.decision import decide_utterance
from companion.intent.interpret import understand
from companion.recognize.choose import choose
from companion.recognize.protocol import Recognizer
from companion.shelf.load import load_card, load_sheet
from companion.shelf.words import vocabulary_of
from tools.hearing.callers import USUAL, Voices
from tools.hearing.cores import every_core
from tools.hearing.manifest import Clip, sound_of
from tools.hearing.material import family_of, listening_for, meaning_of

OUTCOMES: tuple[Outcome, ...] = ("right", "asked", "say-again", "ignored", "wrong")
"""Recorded as meant; asked about as meant; to be said again, or asked about as something else;
ignored; recorded as something else."""


@dataclass(frozen=True, slots=True)
class Heard:
    """One clip and what became of it.

    Attributes:
        clip: The clip.
        family: Of the call that was said.
        outcome: See ``OUTCOMES``.
        best: The likeliest sentence.
        best_right: Whether it means what was said.
        call_confidence: That it was a call and the best sentence that call.
        confidence: Of the best sentence, given that it was a call.
        seconds: Spent on recognizing.
    """

    clip: Clip
    family: str
    outcome: Outcome
    best: str
    best_right: bool
    call_confidence: float
    confidence: float
    seconds: float


@dataclass(frozen=True, slots=True)
class JobNames:
    """A job, by what names its card and its machine's sheet: handed to another process, which
    loads them itself.

    Attributes:
        card: A shipped job card or a TOML file, or None.
        sheet: A shipped spec sheet or a TOML file, or None.
    """

    card: str | None = None
    sheet: str | None = None

    def grammar(self) -> CallGrammar:
        """The grammar of the job; with neither card nor sheet, the shipped one.

        Raises:
            CompanionError: If the card or the sheet is not there or wrong.
        """
        if self.card is None and self.sheet is None:
            return load_grammar()
        card = None if self.card is None else load_card(self.card)
        sheet = None if self.sheet is None else load_sheet(self.sheet)
        return load_grammar(vocabulary_of(card, sheet))


NO_JOB = JobNames()
_EARS: dict[tuple[str, JobNames], tuple[Recognizer, CallGrammar]] = {}
"""This process's recognizers, by name and by what they are held to."""


def ears_of(recognizer: str, job: JobNames = NO_JOB) -> tuple[Recognizer, CallGrammar]:
    """Return the recognizer, ready, and the grammar that it is held to."""
    if (recognizer, job) not in _EARS:
        grammar = job.grammar()
        ears = choose(recognizer)
        ears.listen_for(grammar)
        _EARS[recognizer, job] = ears, grammar
    return _EARS[recognizer, job]


def hear(clip: Clip, recognizer: str, voices: Voices = USUAL) -> Heard:
    """Hear one clip with a key held."""
    ears, grammar = ears_of(recognizer)
    recognition = ears.recognize(sound_of(clip, voices))
    listening = listening_for(clip.said)
    decision = decide_utterance(recognition, grammar, listening)
    meant = meaning_of(clip.said, grammar)
    best = recognition.hypotheses[0] if recognition.hypotheses else None
    found = understand(best.text, grammar, listening).intents if best else ()
    return Heard(
        clip,
        family_of(clip.said, grammar),
        outcome_of(decision, (meant,)),
        best.text if best else "",
        meant in found[:1],
        recognition.call_confidence,
        best.confidence if best else 0.0,
        recognition.decode_seconds,
    )


def hear_all(clips: Sequence[Clip], recognizer: str, voices: Voices = USUAL) -> Iterator[Heard]:
    """Hear many, a process a core, in their order.

    Args:
        clips: What is said.
        recognizer: By name.
        voices: By whom.
    """
    one = partial(hear, recognizer=recognizer, voices=voices)
    with every_core() as pool:
        yield from pool.map(one, clips, chunksize=16)
