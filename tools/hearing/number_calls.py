"""Calls with a number, many of them: how many are recorded wrong.

``python -m tools.hearing --numbers 10000 --to FILE`` draws each call by chance, always the same
ones: what is called out, by which voice that nothing was fitted on, at which pace, how far from
which microphone, over which noise and how loud that is. Most whole numbers are of those that sound
like another one ("thirteen" and "thirty", "fifteen" and "fifty"). What became of a call is
written to the file as soon as it is known, and a run that was broken off goes on from there.
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

import companion
from companion.enroll.fit import Outcome, outcome_of
from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar
from companion.intent.decision import decide_utterance
from companion.intent.interpret import understand
from companion.intent.outcome import Listening
from companion.shipped import shipped
from tests import sounds
from tests.noises import NOISES
from tests.sounds import Samples, mix, with_pauses
from tools.hearing import tables
from tools.hearing.callers import USUAL, Voices
from tools.hearing.cores import every_core
from tools.hearing.manifest import CLEAN, PACES, PITCHES, RECORDED
from tools.hearing.material import OTHER_VOICES, in_words
from tools.hearing.measure import OUTCOMES, ears_of
from tools.hearing.recordings import Recording, stretch
from tools.hearing.surroundings import MICROPHONES, in_a_room, through

DRAWN_FROM = 12
"""Chance begins here, and again for every call."""
LOUDEST, SOFTEST = 5.0, 25.0
"""dB by which speech is over the noise."""
ALIKE = 0.7
"""Share of the whole numbers below 200 that end in one of a pair: "thirteen", "thirty"."""
NOISY = 0.8
"""Share of the calls that are heard over a noise; half of these over a real recording."""
AWAY = 0.25
"""Share of the calls from two meters away, in a room."""
RARE = 5_000
"""Calls of which one may be recorded wrong: what is to be reached."""
TOGETHER = 4
"""Calls that are given to a process at a time."""
_FORGOTTEN_AFTER = 100
"""Calls after which a process forgets what voices said."""
_DIFFERENT = 50
"""Tries to draw a call that is understood when typed."""

_TEENS_AND_TENS: tuple[int, ...] = (*range(13, 20), *range(30, 100, 10))


# --- what is said --------------------------------------------------------------------------------
def _small(draw: random.Random) -> str:
    return in_words(_near(draw) if draw.random() < ALIKE else draw.randint(2, 99))


def _near(draw: random.Random) -> int:
    return draw.choice(_TEENS_AND_TENS)


def _hundreds(draw: random.Random) -> str:
    """101 to 199: "one twenty", "one oh five", "one hundred twenty"."""
    rest = _near(draw) if draw.random() < ALIKE else draw.randint(1, 99)
    if draw.random() < 0.3:
        return f"one hundred {in_words(rest)}"
    return f"one {in_words(rest)}" if rest > 9 else f"one oh {in_words(rest)}"


def _speed(draw: random.Random) -> str:
    """Revolutions a minute: "thirty six hundred", "fourteen fifty"."""
    hundreds = in_words(draw.randint(12, 39))
    return f"{hundreds} {draw.choice(('hundred', 'hundred', 'fifty'))}"


def _tenths(draw: random.Random) -> str:
    return f"{in_words(draw.randint(10, 15))} point {in_words(draw.randint(1, 9))}"


def _millimeters(draw: random.Random) -> str:
    return f"zero point {in_words(draw.randint(1, 9))} {in_words(draw.randint(1, 9))}"


def _inches(draw: random.Random) -> str:
    return f"point oh {in_words(draw.randint(1, 9))} {draw.choice(('oh', 'five', 'two', 'eight'))}"


def _half(draw: random.Random) -> str:
    return f"{in_words(draw.randint(3, 40))} and a half"


def _digits(draw: random.Random) -> str:
    return f"{in_words(draw.randint(1, 9))} {in_words(draw.randint(0, 9))}"


def _few(draw: random.Random) -> str:
    return in_words(draw.randint(2, 20))


def _eighths(draw: random.Random) -> str:
    return draw.choice(("one eighth", "three eighths", "one quarter", "one sixteenth", "one half"))


_Number = Callable[[random.Random], str]
TEMPLATES: tuple[tuple[str, tuple[_Number, ...]], ...] = (
    ("gap {} thou", (_small, _small, _digits)),
    ("gap {} inch", (_inches,)),
    ("gap {} millimeters", (_millimeters,)),
    ("intake clearance {} thou", (_small,)),
    ("exhaust clearance {} thou", (_small,)),
    ("compression {} p s i", (_small, _hundreds, _hundreds)),
    ("tire pressure {} p s i", (_small,)),
    ("oil pressure {} p s i", (_small,)),
    ("torque {} foot pounds", (_small, _small, _hundreds, _half)),
    ("torque {} inch pounds", (_small, _small, _hundreds)),
    ("torque {} newton meters", (_small, _small, _half)),
    ("leak down {} percent", (_small,)),
    ("engine speed {}", (_speed,)),
    ("idle speed {}", (_speed,)),
    ("battery {} volts", (_tenths,)),
    ("air temperature {} celsius", (_small,)),
    ("air temperature minus {} celsius", (_few,)),
    ("play {} inch", (_eighths,)),
    ("added {} ounces of oil", (_small, _small, _half)),
    ("drained {} ounces of oil", (_small,)),
    ("start timer {} minutes", (_small,)),
    ("start soak timer {} hours", (_few,)),
    ("start warm up timer {} minutes", (_small,)),
    ("used {} bolts", (_few,)),
    ("need {} shear pins", (_few,)),
    ("correction {} thou", (_small,)),
    ("correction {} foot pounds", (_small,)),
    ("convert {} thou to millimeters", (_small,)),
    ("convert {} foot pounds to newton meters", (_small,)),
)
"""What is called out, each with the kinds of numbers that stand in it."""


# --- a call --------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class NumberCall:
    """A call with a number, and how it is heard.

    Attributes:
        number: Which of the calls.
        template: Of ``TEMPLATES``.
        said: What is called out.
        voice: Short name, as ``tests.sounds`` has it.
        pace: 1 is the voice's own.
        pitch: 1 is the voice's own; the pace goes with it.
        away: Whether two meters from the microphone, in a room.
        microphone: One of ``MICROPHONES``.
        noise: Short name, ``RECORDED`` or ``CLEAN``.
        level: dB of speech over the noise; 0 where there is none.
        recording: Name of the recording; empty where there is none.
        draw: Decides room, noise and stretch of it.
    """

    number: int
    template: str
    said: str
    voice: str
    pace: float
    pitch: float
    away: bool
    microphone: str
    noise: str
    level: float
    recording: str
    draw: int


class Became(BaseModel):
    """A line of the file: a call, and what became of it.

    Attributes:
        call: The call.
        outcome: See ``tools.hearing.measure.OUTCOMES``.
        taken: The words that it was taken for; empty where nothing was.
        confidence: Of them, as the decision has it.
    """

    model_config = ConfigDict(frozen=True)

    call: NumberCall
    outcome: Outcome
    taken: str
    confidence: float


class Begun(BaseModel):
    """The first line of the file: a run of another program or without recordings is another run.

    Attributes:
        run: Says what the file is.
        recognizer: As ``choose`` names them.
        program: SHA-256 of all that decides what becomes of a call.
        recordings: How many there are.
    """

    model_config = ConfigDict(frozen=True)

    run: Literal["calls with a number"] = "calls with a number"
    recognizer: str
    program: str
    recordings: int
    voices: tuple[str, ...] = OTHER_VOICES


def drawn(
    number: int,
    recordings: Sequence[Recording],
    grammar: CallGrammar,
    voices: Sequence[str] = OTHER_VOICES,
) -> NumberCall:
    """Draw a call: always the same for the same number, recordings and voices.

    Args:
        number: Which, from 0.
        recordings: Over one of which it may be heard.
        grammar: In which it must mean one thing when it is typed.
        voices: One of which says it.
    """
    draw = random.Random(f"{DRAWN_FROM} {number}")
    template, said = with_number(draw, grammar)
    voice, pace, pitch = draw.choice(voices), draw.choice(PACES), draw.choice(PITCHES)
    away = draw.random() < AWAY
    microphone = draw.choice(sorted(MICROPHONES))
    noise, recording, level = CLEAN, "", 0.0
    if draw.random() < NOISY:
        level = round(draw.uniform(LOUDEST, SOFTEST), 1)
        noise = RECORDED if recordings and draw.random() < 0.5 else draw.choice(sorted(NOISES))
        recording = draw.choice(recordings).name if noise == RECORDED else ""
    return NumberCall(
        number,
        template,
        said,
        voice,
        pace,
        pitch,
        away,
        microphone,
        noise,
        level,
        recording,
        draw.randrange(10**6),
    )


def with_number(draw: random.Random, grammar: CallGrammar) -> tuple[str, str]:
    """Draw a call with a number that the grammar understands: its template, and the words."""
    for _ in range(_DIFFERENT):
        template, kinds = draw.choice(TEMPLATES)
        said = template.format(draw.choice(kinds)(draw))
        if understand(said, grammar, Listening()).outcome == "record":
            return template, said
    raise AssertionError("The templates have no call that the grammar understands.")


def sound_of(call: NumberCall, recordings: Sequence[Recording], voices: Voices = USUAL) -> Samples:
    """Make the sound: shape (n,), 16 kHz, with pauses around it."""
    speech = with_pauses(voices.say(call.said, call.voice, call.pace, call.pitch))
    if call.away:
        speech = in_a_room(speech, call.draw)
    if call.noise != CLEAN:
        speech = mix(speech, _noise(call, recordings, len(speech)), call.level)
    return through(speech, call.microphone)


def _noise(call: NumberCall, recordings: Sequence[Recording], count: int) -> Samples:
    if call.noise == RECORDED:
        (recording,) = (one for one in recordings if one.name == call.recording)
        return stretch(recording, count, call.draw)
    return NOISES[call.noise](count / SAMPLE_RATE + 0.1, seed=call.draw)[:count]


# --- a run ---------------------------------------------------------------------------------------
def heard(
    count: int,
    to: Path,
    recognizer: str,
    recordings: Sequence[Recording],
    first: int = 0,
    voices: Voices = USUAL,
) -> list[Became]:
    """Hear calls, those that were not heard before.

    Args:
        count: How many in all.
        to: What was heard, a line a call; taken up where it is there.
        recognizer: As ``choose`` names them.
        recordings: Over which some are heard.
        first: Number of the first: others are other calls.
        voices: Who calls.

    Raises:
        CompanionError: If the file cannot be written or is of another run.
    """
    begun = Begun(
        recognizer=recognizer,
        program=program(),
        recordings=len(recordings),
        voices=voices.names,
    )
    known = taken_up(to, begun)
    wanted = range(first, first + count)
    missing = [number for number in wanted if number not in known]
    print(f"{count - len(missing)} of {count} calls were heard before", flush=True)
    try:
        with to.open("a", encoding="utf-8") as file, every_core() as pool:
            hear = partial(_hear, recordings=recordings, recognizer=recognizer, voices=voices)
            for became in pool.map(hear, missing, chunksize=TOGETHER):
                known[became.call.number] = became
                file.write(became.model_dump_json() + "\n")
                file.flush()
    except OSError as error:
        raise CompanionError(f"{to} cannot be written ({error.strerror}).") from error
    return [known[number] for number in wanted]


def taken_up(to: Path, begun: Begun) -> dict[int, Became]:
    """Read what a run that was broken off has heard; begin the file where there is none.

    Args:
        to: The file. A last line that was torn is taken off it.
        begun: What its first line must be.

    Raises:
        CompanionError: If it is the file of another run, or no file of a run.
    """
    try:
        text = to.read_text(encoding="utf-8") if to.exists() else ""
        whole = text[: text.rfind("\n") + 1]
        if not whole:
            whole = begun.model_dump_json() + "\n"
        if whole != text:
            to.write_text(whole, encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise CompanionError(f"{to} cannot be read and written ({error}).") from error
    first, *lines = whole.splitlines()
    try:
        if Begun.model_validate_json(first) != begun:
            raise CompanionError(
                f"{to} was begun by another program, with another recognizer or over other "
                "recordings; name another file, or go on with that program."
            )
        became = [Became.model_validate_json(line) for line in lines]
    except ValidationError as error:
        raise CompanionError(
            f"{to} is no file of calls with a number; name another file."
        ) from error
    return {one.call.number: one for one in became}


def program() -> str:
    """SHA-256, in hex, of all that decides what becomes of a call."""
    package = Path(companion.__file__).parent
    folders = (package / "recognize", package / "intent", package / "grammar", shipped("grammars"))
    digest = hashlib.sha256()
    for folder in folders:
        for file in sorted(folder.rglob("*")):
            if file.suffix in (".py", ".npz", ".gram"):
                digest.update(file.name.encode() + file.read_bytes())
    return digest.hexdigest()


def _hear(number: int, recordings: Sequence[Recording], recognizer: str, voices: Voices) -> Became:
    ears, grammar = ears_of(recognizer)
    call = drawn(number, recordings, grammar, voices.names)
    if number % _FORGOTTEN_AFTER == 0:
        sounds._speak.cache_clear()
    sound = sound_of(call, recordings, voices)
    decision = decide_utterance(ears.recognize(sound), grammar, Listening())
    meant = understand(call.said, grammar, Listening()).intents[0]
    return Became(
        call=call,
        outcome=outcome_of(decision, (meant,)),
        taken=decision.text,
        confidence=decision.confidence,
    )


# --- tables --------------------------------------------------------------------------------------
def text_of(became: Sequence[Became]) -> str:
    """The outcomes by all that differs from call to call, and every wrong one, as Markdown."""
    parts = [table(became, title, key) for title, key in KEYS.items()]
    wrong = [one for one in became if one.outcome == "wrong"]
    over = "reached" if len(wrong) * RARE <= len(became) else "not reached"
    parts.append(
        f"recorded wrong: {len(wrong)} of {len(became)}, {_rate(len(wrong), len(became))}; "
        f"1 in {RARE:,} wanted: {over}"
    )
    return "\n\n".join([*parts, *([wrong_ones(wrong)] if wrong else [])])


def table(became: Sequence[Became], title: str, key: Callable[[NumberCall], str]) -> str:
    """A row for each value of ``key``, then one for all."""
    groups: dict[str, list[Became]] = {}
    for one in became:
        groups.setdefault(key(one.call), []).append(one)
    rows = [(name, *_counted(groups[name])) for name in sorted(groups)]
    headings = (title, "calls", *tables.HEADINGS[1 : 1 + len(OUTCOMES)])
    return tables.table(headings, [*rows, ("all", *_counted(became))])


def wrong_ones(wrong: Sequence[Became]) -> str:
    """A row for each call that was recorded wrong."""
    rows = [
        (
            one.call.said,
            one.taken,
            f"{one.confidence:.3f}",
            one.call.voice,
            f"{one.call.pace:g}, {one.call.pitch:g}",
            f"{_noise_of(one.call)} {one.call.level:g} dB {one.call.recording}".strip(),
            f"{one.call.microphone}, {_distance_of(one.call)}",
            str(one.call.number),
        )
        for one in wrong
    ]
    headings = (
        "said", "recorded", "confidence", "voice", "pace, pitch", "over", "microphone", "number",
    )  # fmt: skip
    return tables.table(headings, rows)


def _noise_of(call: NumberCall) -> str:
    return call.noise


def _distance_of(call: NumberCall) -> str:
    return "2 m" if call.away else "near"


def _level_of(call: NumberCall) -> str:
    if call.noise == CLEAN:
        return CLEAN
    low = int(call.level // 5 * 5)
    return f"{low:2} to {low + 5} dB"


KEYS: Mapping[str, Callable[[NumberCall], str]] = {
    "noise": _noise_of,
    "speech over noise": _level_of,
    "distance": _distance_of,
    "microphone": lambda call: call.microphone,
    "voice": lambda call: call.voice,
    "call": lambda call: call.template,
}
"""By what calls are counted."""


def _counted(some: Sequence[Became]) -> Iterator[str]:
    yield str(len(some))
    for outcome in OUTCOMES:
        count = sum(one.outcome == outcome for one in some)
        share = f"{count} ({100 * count / len(some):.1f} %)"
        yield str(count) if outcome == "wrong" else share


def _rate(count: int, of: int) -> str:
    return f"1 in {of / count:,.0f}" if count else f"fewer than 1 in {of:,}"
