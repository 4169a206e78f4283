"""Forty calls of one job, each said as it came to mind, by voice: what was heard and kept.

``python -m tools.said_freely`` speaks them to a session and prints a table. The job is invented,
and so are its machine and figures.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

import soundfile

from companion.files.sound_format import SAMPLE_RATE
from companion.intent.doubt import in_unit_corrected
from companion.intent.intents import Intent
from companion.intent.interpret import understand
from companion.intent.outcome import Listening
from companion.job import events as ev
from companion.job.record import Record
from companion.log.reader import read_log
from companion.recognize.choose import choose
from companion.recognize.protocol import Recognizer
from companion.replay import ring_until, utterances
from companion.session.exchange import Exchange
from companion.session.opening import open_session
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet
from tests.sounds import Samples, speak, with_pauses
from tools.hearing.manifest import CLEAN, in_noise

CARD = "drive-service"
SHEET = "quillmoor-tiller"
MONDAY = datetime(2026, 4, 13, 9, 0, tzinfo=UTC)
"""When the job is opened."""
A_MINUTE = timedelta(minutes=1)
AN_ANSWER = timedelta(seconds=5)
"""How long after a call the next thing is said that belongs to it."""

VOICES = ("rms", "us-man", "scotland")
"""Who speaks, in turn: voices that nothing was fitted on."""
PACES = (1.0, 0.9, 1.1)
NOISES = ((CLEAN, 0.0), ("engine", 20.0), (CLEAN, 0.0), ("compressor", 10.0), ("radio", 20.0))
"""What runs meanwhile, and by how many dB the voice is over it."""
TRIES = 3
"""How often a call that was not heard is said again."""
NEARER = 6.0
"""dB by which the voice is louder over the noise each time: half as far from the microphone."""

YES = ("yeah", "that's right", "yep")
"""How a question whether this was meant is affirmed, in turn."""


@dataclass(frozen=True, slots=True)
class Line:
    """One call of the job.

    Attributes:
        said: As it came to mind.
        meant: The plain call.
        answer: What is said to the question that the call itself leads to, if it is answered.
        after: Minutes since the line before.
    """

    said: str
    meant: str
    answer: str | None = None
    after: int = 1


LINES = (
    # --- taken in, made safe ---
    Line("drive belt is fraying", "drive belt frayed"),
    Line("all done with this step", "step done"),
    Line("take me back a step", "step back"),
    Line("keep an eye on the clutch cable", "follow up clutch cable"),
    Line("scratch that", "disregard"),
    Line("what now", "next step"),
    Line("pulled the plug wire off", "disconnected plug wire"),
    Line("skip this one it doesn't need it", "skip step not needed"),
    # --- the drive open: nobody starts it ---
    Line("took the belt guard off", "removed belt guard"),
    Line("drive belt is out", "removed drive belt"),
    Line("can i fire it up", "clear to start"),
    Line("hang up a no gear oil tag", "tag no gear oil"),
    Line("what's tagged", "read tags"),
    Line("nineteen ounces of gear oil came out", "drained nineteen ounces of gear oil"),
    Line("put ten minutes on the drain timer", "start drain timer ten minutes"),
    # --- the plug, while it drips ---
    Line("what should the gap be", "spec for gap"),
    Line("got thirty thou on the gap", "gap thirty thou"),
    Line("no thirty one", "correction thirty one"),
    Line("how many millimeters is thirty one thou", "convert thirty one thou to millimeters"),
    Line("how much longer on the drain timer", "time left on drain timer"),
    Line("hang on a minute", "stand by"),
    Line("i'm back", "resume", after=8),
    Line("got it", "roger"),
    # --- closed again ---
    Line("topped up the gear oil with twenty ounces", "added twenty ounces of gear oil"),
    Line("gear oil is up to the plug", "gear oil level full", answer="nope"),
    Line("new drive belt in", "replaced drive belt", answer="that's right"),
    Line("used up one drive belt", "used one drive belt"),
    Line("put the belt guard back on", "installed belt guard", answer="yep"),
    Line("hooked the plug wire back up", "hooked up plug wire", answer="yes it is"),
    Line("take down the no gear oil tag", "clear tag no gear oil", answer="yeah"),
    # --- running ---
    Line("let's go to the start check", "go to step start check", answer="yeah"),
    Line("are we good to start", "clear to start", answer="affirmative"),
    Line("it's running", "engine running"),
    Line("tach thirty five fifty", "engine speed thirty five fifty"),
    Line("shut it down", "engine stopped"),
    # --- what is left for another day ---
    Line("found two leaky shaft seals", "two shaft seals leaking"),
    Line("i need to order two shaft seals", "need two shaft seals"),
    Line(
        "make a note that the idler squeaks when the belt is cold",
        "note the idler squeaks when the belt is cold",
    ),
    Line("what have i done so far", "read back work"),
    Line("park it for today", "park job"),
)
"""The job, in its order: a belt and the gear oil of a tiller. Invented."""

Became = Literal["heard at once", "asked, rightly", "said again", "recorded wrong"]
"""What became of a call. "Said again": it had to be, in the plain form, or typed in the end."""

OUTCOMES: tuple[Became, ...] = ("heard at once", "asked, rightly", "said again", "recorded wrong")

_ANSWERS: Mapping[str, str] = MappingProxyType({"nope": "negative", "negative": "negative"})
"""The plain answer, where it is not "affirm"."""

_OF_TALKING = (ev.Heard, ev.Said, ev.Asked, ev.Answered)
"""What differs from one conversation to another that comes to the same."""


@dataclass(slots=True)
class Told:
    """One line, and what came of it.

    Attributes:
        line: What was said.
        voice: Who said it.
        sound: What ran meanwhile.
        heard: What was made of it, the first time; None where nothing was heard at all.
        became: See ``Became``.
        not_answers: What was said to a question of the job and not heard as its answer.
        reply: What the session said to it, where it was heard at once.
        plainly: What a session said that was given the plain call.
    """

    line: Line
    voice: str
    sound: str
    heard: ev.Heard | None = None
    became: Became = "said again"
    not_answers: list[str] = field(default_factory=list)
    reply: str | None = None
    plainly: str | None = None


@dataclass(frozen=True, slots=True)
class Story:
    """The job, told twice.

    Attributes:
        lines: Each line with what came of it.
        spoken: Folder of the session that heard it.
        typed: Folder of the session in which the plain calls were typed.
    """

    lines: tuple[Told, ...]
    spoken: Path
    typed: Path

    def count(self, became: Became) -> int:
        """How many lines became this."""
        return sum(told.became == became for told in self.lines)


@cache
def _ears() -> Recognizer:
    return choose()


def tell(folder: Path, turn: int = 0, *, plainly: bool = False) -> Story:
    """Live through the job by voice, and once more in plain calls that are typed.

    Args:
        folder: Where both sessions and the recordings are kept.
        turn: By how many the voices are moved on, so that every line is said by another one, over
            other noise of the same kind.
    """
    at = MONDAY
    typed, spoken = _open(folder / "typed", None), _open(folder / "spoken", _ears())
    bench = _Bench(spoken, folder, turn)
    found = []
    for number, line in enumerate(LINES):
        at += line.after * A_MINUTE
        ring_until(typed, at, _nobody)
        exchange = typed.typed(line.meant, at)
        if line.answer is not None:
            typed.typed(_ANSWERS.get(line.answer, "affirm"), at + AN_ANSWER)
        said = replace(line, said=line.meant) if plainly else line
        found.append(bench.live(number, said, at))
        found[-1].plainly = None if exchange.reply is None else exchange.reply.text
    typed.close()
    spoken.close()
    return Story(tuple(found), spoken.folder, typed.folder)


def _open(folder: Path, ears: Recognizer | None) -> Session:
    session = open_session(
        folder, at=MONDAY, card=load_card(CARD), sheet=load_sheet(SHEET), recognizer=ears
    )
    session.open(MONDAY)
    return session


def _nobody(exchange: Exchange) -> None:
    """Nobody reads along."""


_Manner = tuple[str, float, str, float]
"""Voice, pace, noise, and by how many dB the voice is over it."""


class _Bench:
    """Somebody who speaks to a session, and hears what it asks."""

    def __init__(self, session: Session, folder: Path, turn: int) -> None:
        self.session = session
        self.folder = folder
        self.turn = turn
        self.recordings = 0
        self.seed = 0
        self.manner: _Manner = (VOICES[0], 1.0, CLEAN, 0.0)

    def live(self, number: int, line: Line, at: datetime) -> Told:
        """Say a line until it is taken, and answer what is asked of it.

        The clock stands while a call is doubted, so that what is kept of it has the same times
        whether it was doubted or not.
        """
        noise, level = NOISES[number % len(NOISES)]
        voice = VOICES[(number + self.turn) % len(VOICES)]
        pace = PACES[number // len(VOICES) % len(PACES)]
        self.manner = (voice, pace, noise, level)
        self.seed = 100 * number + 10_000 * self.turn
        told = Told(line, voice, noise if noise == CLEAN else f"{noise} {level:.0f} dB")
        ring_until(self.session, at, _nobody)
        listening = self.session.listening(at)
        exchange = self._say(line.said, at)
        told.heard = exchange.heard if exchange is not None else None
        told.became = self._became(exchange, line, listening, at)
        if told.became == "heard at once" and exchange is not None and exchange.reply is not None:
            told.reply = exchange.reply.text
        for again in range(1, TRIES + 1):
            if told.became != "said again":
                break
            became = self._became(self._say(line.meant, at, again), line, listening, at)
            if became == "recorded wrong":
                told.became = became
            if became != "said again":
                break
        else:
            self.session.typed(line.meant, at)
        if line.answer is not None:
            self._answer(line.answer, at + AN_ANSWER, told)
        return told

    def _became(
        self, exchange: Exchange | None, line: Line, listening: Listening, at: datetime
    ) -> Became:
        """What became of a call; what was asked because of a doubt is answered for that."""
        meant = self._meaning(line.meant, listening)
        heard = None if exchange is None else exchange.heard
        if heard is not None and heard.outcome == "record":
            right = self._meaning(heard.text, listening) == meant or _is_note(line, heard)
            return "heard at once" if right else "recorded wrong"
        while (question := self.session.state.question) is not None:
            if question.event.about != "doubt":
                break
            if in_unit_corrected(question.event.candidates[0], listening) == meant:
                answer = YES[self.seed % len(YES)]
                return "asked, rightly" if self._answer(answer, at, None) else "said again"
            if not self._answer("negative", at, None):
                break
        return "said again"

    def _answer(self, words: str, at: datetime, told: Told | None) -> bool:
        """Answer the open question, in plain words where that was not heard; whether it was."""
        plain = _ANSWERS.get(words, "affirm")
        for again, said in enumerate((words, *[plain] * TRIES)):
            exchange = self._say(said, at, again)
            records = () if exchange is None else exchange.records
            answers = [each.event.answer for each in records if isinstance(each.event, ev.Answered)]
            if answers:
                if told is not None and answers != [plain]:
                    told.became = "recorded wrong"
                return answers == [plain]
            if told is not None:
                told.not_answers.append(said)
        if told is not None:
            self.session.typed(plain, at)
        return False

    def _say(self, words: str, at: datetime, again: int = 0) -> Exchange | None:
        """Say something into a recording, and let the session hear it as it hears any other.

        Args:
            words: What is said.
            at: When.
            again: How often it was not heard before: every time the microphone is held nearer.

        Returns:
            What came of what was said, without what was made of the noise after it.
        """
        self.recordings += 1
        self.seed += 1
        path = self.folder / f"{self.recordings:03}.flac"
        soundfile.write(path, self._sound(words, again), SAMPLE_RATE)
        exchanges = [
            self.session.hear(utterance, at, considered)
            for utterance, considered in utterances(path, self.session, at)
        ]
        # Talk that is not for the companion leaves a record of that, and nothing else.
        taken = [each for each in exchanges if each.heard and each.heard.outcome != "ignore"]
        return next(iter((*taken, *exchanges)), None)

    def _sound(self, words: str, again: int) -> Samples:
        voice, pace, noise, level = self.manner
        speech = with_pauses(speak(words, voice, rate=pace))
        return in_noise(speech, noise, level + again * NEARER, self.seed)

    def _meaning(self, words: str, listening: Listening) -> Intent | None:
        intents = understand(words, self.session.grammar, listening).intents
        return in_unit_corrected(intents[0], listening) if intents else None


def _is_note(line: Line, heard: ev.Heard) -> bool:
    """Whether a note was heard as one: what follows "note" is free speech, and no call."""
    return line.meant.startswith("note ") and "note" in heard.text.split()


def kept(records: Sequence[Record]) -> list[dict[str, Any]]:
    """What a log says of a job, whatever was said to have it so: the same job gives the same list.

    Numbers of records become places in the list, and a timer's end its length after its start. Of a
    note only that there is one: its words are a draft.
    """
    lasting = [record for record in records if not isinstance(record.event, _OF_TALKING)]
    places = {record.seq: place for place, record in enumerate(lasting)}
    found = []
    for record in lasting:
        fields = record.event.model_dump(
            mode="json", exclude={"heard", "clip", "clip_sha256", "session"}
        )
        for name in ("corrects", "replaces", "record"):
            if fields.get(name) is not None:
                fields[name] = places[fields[name]]
        if isinstance(record.event, ev.TimerStarted):
            fields["due"] = (record.event.due - record.at).total_seconds()
        if isinstance(record.event, ev.NoteKept):
            del fields["text"], fields["draft"]
        found.append(fields)
    return found


def table(story: Story) -> str:
    """The lines with what was heard and what became of each."""
    rows = []
    for number, told in enumerate(story.lines, start=1):
        heard = told.heard
        text = "(nothing)" if heard is None else heard.text or "(not taken for a call)"
        because = "" if heard is None else "; ".join(heard.reasons)
        sure = "" if heard is None else f"{heard.confidence:.2f} {heard.call_confidence:.2f}"
        rows.append(
            f"{number:>2}  {told.line.said:<56}  {told.voice:<8}  {told.sound:<16}"
            f"  {told.became:<14}  {sure:<9}"
        )
        if heard is None or text != told.line.said or because:
            rows.append(f"        heard: {text}{f'  ({because})' if because else ''}")
        if told.not_answers:
            rows.append(f"        not heard as an answer: {', '.join(told.not_answers)}")
    rows.append(", ".join(f"{story.count(outcome)} {outcome}" for outcome in OUTCOMES))
    return "\n".join(rows)


def main() -> int:
    """Tell the story and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tools.said_freely", description=__doc__)
    parser.add_argument(
        "turn", nargs="?", type=int, default=0, help="by how many to move voices on"
    )
    parser.add_argument("--plainly", action="store_true", help="speak the plain calls instead")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        story = tell(Path(folder), options.turn, plainly=options.plainly)
        print(table(story))
        same = kept(read_log(story.spoken).records) == kept(read_log(story.typed).records)
    print(
        "The log is that of the plain calls." if same else "The log is not that of the plain calls."
    )
    return 0 if same and not story.count("recorded wrong") else 1


if __name__ == "__main__":
    sys.exit(main())
