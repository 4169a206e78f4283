"""What people say who do not speak to the companion: no sentence of theirs may become a call.

``python -m tools.hearing --people FOLDER`` measures it, on a folder that is not part of the
project:

- ``segments.jsonl`` has a line a sentence, a JSON object with ``file``, ``start`` and ``end`` in
  seconds, ``text`` (what was said, lower case) and ``speaker`` (any name), and, where they are
  known, ``age`` in years and ``gender`` (f or m); other keys are passed over.
- The sound files that it names stand beside it, a file a speaker or a file a sentence, in any
  format and at any rate that the program itself reads (Ogg Opus, FLAC, WAV and others).

Every sentence is typed, and every so many are played to a recognizer. Nothing of the folder is
kept: what was taken for a call is printed and forgotten.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path
from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from companion.audio.files import read_sound
from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.intent.decision import decide_utterance
from companion.intent.interpret import understand
from companion.intent.outcome import Decision, Listening
from tests.sounds import Samples, with_pauses
from tools.hearing.cores import every_core
from tools.hearing.measure import NO_JOB, JobNames, ears_of

SEGMENTS = "segments.jsonl"
TYPED_MODES: Mapping[str, Listening] = {
    "key held": Listening(),
    "question open": Listening(answer_awaited=True),
}
HEARD_MODES: Mapping[str, Listening] = {
    "key held": Listening(),
    "open microphone": Listening(call_sign_needed=True),
    # An answer needs no call sign, so that one recognition serves here and for a held key.
    "question open": Listening(answer_awaited=True),
}
_TOLERANCE = 0.1
"""By how many seconds a sentence may end after its file: encoders cut or fill their last frame."""


class Sentence(BaseModel):
    """One sentence of one person.

    Attributes:
        file: Name of the sound file in the folder.
        start: Where in it the sentence begins, in seconds.
        end: Where it ends, in seconds.
        text: What was said.
        speaker: Who said it.
        age: Of the speaker, in years.
        gender: Of the speaker, "f" or "m".
    """

    model_config = ConfigDict(frozen=True)

    file: str = Field(min_length=1)
    start: float = Field(ge=0)
    end: float
    text: str
    speaker: str
    age: int | None = Field(default=None, ge=0)
    gender: str | None = None

    @model_validator(mode="after")
    def _forwards(self) -> Self:
        if self.end <= self.start:
            raise ValueError("the sentence ends before it begins")
        return self


@dataclass(frozen=True, slots=True)
class Taken:
    """What one sentence was taken for.

    Attributes:
        sentence: What was said.
        source: Whether its text was typed or its sound heard.
        mode: A key of ``TYPED_MODES`` or ``HEARD_MODES``.
        decision: What became of it.
    """

    sentence: Sentence
    source: Literal["typed", "heard"]
    mode: str
    decision: Decision

    @property
    def let_in(self) -> bool:
        """Whether it was recorded, or asked about as a call."""
        return self.decision.outcome in ("record", "ask")


def typed(folder: Path, grammar: CallGrammar | None = None) -> list[Taken]:
    """Type every sentence, with a key held and with a question open: some ms a sentence.

    Args:
        folder: In the layout above; the sound files need not be there.
        grammar: What may be said; the shipped one if None.

    Raises:
        CompanionError: If the folder is not there or not in this layout.
    """
    grammar = grammar or load_grammar()
    return [
        Taken(sentence, "typed", mode, understand(sentence.text, grammar, listening))
        for sentence in sentences(folder)
        for mode, listening in TYPED_MODES.items()
    ]


def heard(
    folder: Path,
    recognizer: str = "auto",
    *,
    only: Sequence[Sentence] | None = None,
    every: int = 1,
    job: JobNames = NO_JOB,
) -> list[Taken]:
    """Play the sentences to a recognizer, in every mode, on every core: a second or so a sentence.

    Args:
        folder: In the layout above.
        recognizer: As ``choose`` names them.
        only: These of its sentences; all if None.
        every: Hear only every so many.
        job: Whose words are listened for.

    Raises:
        CompanionError: If the folder is not there or not in this layout, or a sound file cannot be
            read.
    """
    chosen = (sentences(folder) if only is None else only)[::every]
    require_sounds(folder, chosen)
    with every_core() as pool:
        hear = partial(_hear, folder=folder, recognizer=recognizer, job=job)
        return [taken for each in pool.map(hear, chosen, chunksize=8) for taken in each]


def sentences(folder: Path) -> tuple[Sentence, ...]:
    """Read what the folder lists, in its order.

    Raises:
        CompanionError: If it is not there or not in the layout above; says what to mend.
    """
    path = folder / SEGMENTS
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except OSError as error:
        raise CompanionError(
            f"{path} cannot be read ({error.strerror}); name a folder with {SEGMENTS} and the "
            "sound files that it lists."
        ) from error
    except UnicodeDecodeError as error:
        raise CompanionError(f"{path} is not UTF-8; write it anew as UTF-8.") from error
    found = tuple(_sentence(path, number, line) for number, line in enumerate(lines, 1) if line)
    if not found:
        raise CompanionError(f"{path} lists no sentence; give it a line for each.")
    return found


def require_sounds(folder: Path, chosen: Sequence[Sentence]) -> None:
    """Look for the sound files of sentences.

    Raises:
        CompanionError: If one is not there.
    """
    for name in dict.fromkeys(sentence.file for sentence in chosen):
        if not (folder / name).is_file():
            raise CompanionError(
                f"{folder / SEGMENTS} names the sound file {name}, which is not in that folder; "
                "put it there."
            )


def outcomes(taken: Iterable[Taken]) -> dict[tuple[str, str], Counter[str]]:
    """How many sentences came to what, by source and mode."""
    found: dict[tuple[str, str], Counter[str]] = {}
    for one in taken:
        found.setdefault((one.source, one.mode), Counter())[one.decision.outcome] += 1
    return found


def let_in(taken: Iterable[Taken]) -> Sequence[Taken]:
    """Those that were recorded, then those that were asked about; of each, in their order."""
    return sorted(
        (one for one in taken if one.let_in), key=lambda one: one.decision.outcome == "ask"
    )


def sound_of(sentence: Sentence, folder: Path) -> Samples:
    """The sound of one sentence: shape (n,), 16 kHz, with pauses around it.

    Raises:
        CompanionError: If its file cannot be read, or is shorter than listed.
    """
    whole = _whole(folder / sentence.file)
    if sentence.end > len(whole) / SAMPLE_RATE + _TOLERANCE:
        raise CompanionError(
            f"{folder / SEGMENTS} has a sentence of {sentence.file} end at {sentence.end:g} s, "
            f"but that file ends at {len(whole) / SAMPLE_RATE:.1f} s; correct the line or the file."
        )
    return with_pauses(
        whole[round(sentence.start * SAMPLE_RATE) : round(sentence.end * SAMPLE_RATE)]
    )


@lru_cache(maxsize=1)
def _whole(path: Path) -> Samples:
    """A whole sound file; the sentences of one stand together, so that it is read once."""
    return read_sound(path)


def _sentence(path: Path, number: int, line: str) -> Sentence:
    try:
        return Sentence.model_validate_json(line)
    except ValidationError as error:
        first = error.errors()[0]
        where = "".join(f"{part}: " for part in first["loc"])
        raise CompanionError(
            f"{path}, line {number}: {where}{first['msg']}; each line is a JSON object with file, "
            "start, end, text and speaker."
        ) from error


def _hear(sentence: Sentence, folder: Path, recognizer: str, job: JobNames) -> tuple[Taken, ...]:
    ears, grammar = ears_of(recognizer, job)
    sound = sound_of(sentence, folder)
    recognitions = {
        needed: ears.recognize(sound, call_sign_needed=needed) for needed in (False, True)
    }
    return tuple(
        Taken(
            sentence,
            "heard",
            mode,
            decide_utterance(recognitions[listening.call_sign_needed], grammar, listening),
        )
        for mode, listening in HEARD_MODES.items()
    )
