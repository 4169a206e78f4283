"""From the last sound of a call to the tone, and calls with a pause for thought: ``python -m
tools.pauses``.

Each call goes through a real session, its record synced to the disk. Sound is fed as a microphone
gives it, on a clock of its own: while the program works, that clock goes on by what it took, so
that nothing has to be waited for. Voices that nothing was fitted on. What the sound system adds
after the tone was given to it is not in it.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import numpy as np

from companion.audio.endpointing import Segmenter
from companion.audio.microphone import BLOCK_SECONDS
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.going_on import completeness
from companion.intent.interpret import understand
from companion.intent.outcome import Listening
from companion.live.voice_beside import VoiceBeside
from companion.recognize.held import HeldRecognizer
from companion.session.exchange import Exchange
from companion.session.opening import open_session
from companion.session.session import Session
from companion.settings import Settings
from companion.shelf.load import load_card, load_sheet
from tests.sounds import Samples, pause, speak
from tools.hearing.manifest import in_noise
from tools.hearing.material import CALLS

VOICES = ("rms", "us-man", "scotland", "heart")
THOUGHT = (
    "gap … thirty … thou",
    "gap … thirty one … thou",
    "compression … one twenty … p s i",
    "battery … twelve point six … volts",
    "battery … twelve … point six volts",
    "added … twenty ounces … of oil",
    "torque … sixteen … foot pounds",
    "torque thirty … one foot pounds",
    "start soak timer … two hours",
    "engine speed … thirty six hundred",
    "engine speed thirty … two hundred",
    "intake clearance … six thou",
    "tire pressure … fifteen … p s i",
    "need two … shear pins",
    "drained half a liter … of oil",
    "convert thirty thou … to millimeters",
    "wrench for … three eighths bolt",
)
"""Calls with a pause at each "…"."""
THOUGHT_SECONDS = (0.2, 0.3, 0.4, 0.5, 0.7, 0.9, 1.1)
JOB = ("four-stroke-service", "quillmoor-tiller")
KEY_HELD = Listening()
AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
BEFORE, AFTER = 1.0, 2.5
HEARD = -35.0
"""Of the loudest sound of a call, in dB: what is below that in a quiet place is no sound of it."""
BLOCK = round(BLOCK_SECONDS * SAMPLE_RATE)


@dataclass(frozen=True)
class Answered:
    """What an utterance came to, and at which second of the sound that was on the disk."""

    exchange: Exchange
    at: float


class Bench:
    """Jobs at the bench, a fresh one for each sound, by one recognizer.

    Args:
        clock: Gives seconds: of the clock, or of the processor.
    """

    def __init__(self, clock: Callable[[], float] = time.perf_counter) -> None:
        self._card, self._sheet = load_card(JOB[0]), load_sheet(JOB[1])
        self._ears = HeldRecognizer()
        self._clock = clock
        self._folder = tempfile.TemporaryDirectory(dir=Path.cwd())
        self._opened = 0
        with self.session() as session:
            self.grammar = session.grammar
        self._ears.listen_for(self.grammar)
        # What every program loads once.
        self.answers(np.concatenate((pause(BEFORE), speak("gap thirty thou", "slt"), pause(AFTER))))

    def session(self) -> _Open:
        """A job just opened, in which the key is held."""
        self._opened += 1
        folder = Path(self._folder.name) / str(self._opened)
        session = open_session(folder, at=AT, card=self._card, sheet=self._sheet)
        session.recognizer = self._ears
        return _Open(session)

    def answers(self, sound: Samples, *, interims: bool = True) -> list[Answered]:
        """Hear a sound in a fresh job.

        Args:
            sound: Shape (n,), mono, -1 to 1, at ``SAMPLE_RATE``.
            interims: End a call by what was said; else after one pause.
        """
        with self.session() as session:
            return list(self._answers(session, sound, interims))

    def _answers(self, session: Session, sound: Samples, interims: bool) -> Iterator[Answered]:
        segmenter = Segmenter(interims=interims)
        number, known, free_at = 0, None, 0.0
        for begin in range(0, len(sound), BLOCK):
            now = (begin + BLOCK) / SAMPLE_RATE
            at = AT + timedelta(seconds=now)
            for utterance in segmenter.feed(sound[begin : begin + BLOCK]):
                considered = known if utterance.interim == number else None
                began = self._clock()
                exchange = session.hear(utterance, at, considered)
                free_at = max(now, free_at) + self._clock() - began
                yield Answered(exchange, free_at)
            interim = segmenter.interim
            if interim is None or now < free_at:
                continue
            if interim.number > number:
                number = interim.number
                began = self._clock()
                known = session.consider(interim.utterance, at)
                free_at = now + self._clock() - began
            elif known is not None:
                segmenter.end_after(number, known.pause * segmenter.end_pause)


@dataclass
class _Open:
    session: Session

    def __enter__(self) -> Session:
        return self.session

    def __exit__(self, *_: object) -> None:
        self.session.close()


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tools.pauses", description=__doc__)
    parser.add_argument("--every", type=int, default=1, metavar="N", help="only every Nth call")
    parser.add_argument(
        "--processor",
        action="store_true",
        help="count what the processor takes instead of what passes: beside other busy programs "
        "that says more",
    )
    options = parser.parse_args()
    bench = Bench(time.process_time if options.processor else time.perf_counter)
    stands = {call: completeness(call.split(), bench.grammar) for call in CALLS}
    calls = [call for call in CALLS if stands[call] in ("whole", "open")][:: options.every]
    kinds = Counter(stands[call] for call in calls)
    print(f"{len(calls)} calls: {kinds['whole']} whole, {kinds['open']} that may go on")
    voice = _voice_takes()
    print(f"from the record on the disk to the tone given to the sound system: {voice:.3f} s")
    for noise, ratio in (("clean", 10.0), ("engine", 20.0), ("engine", 10.0)):
        where = noise if noise == "clean" else f"{noise} {ratio:.0f} dB"
        for interims in (False, True):
            made_noisy = partial(_in_noise, noise, ratio)
            _print_delays(bench, calls, where, made_noisy, voice, interims)
    for interims in (False, True):
        for seconds in THOUGHT_SECONDS:
            _print_thoughts(bench, seconds, interims)


def _print_delays(
    bench: Bench,
    calls: Sequence[str],
    where: str,
    noisy: Callable[[Samples, int], Samples],
    voice: float,
    interims: bool,
) -> None:
    delays: dict[str, list[float]] = {"whole": [], "open": []}
    outcomes: Counter[str] = Counter()
    for number, call in enumerate(calls):
        speech = speak(call, VOICES[number % len(VOICES)])
        sound = noisy(np.concatenate((pause(BEFORE), speech, pause(AFTER))), number)
        answered = bench.answers(sound, interims=interims)
        if len(answered) != 1:
            outcomes["not heard as one utterance"] += 1
        for one in answered[-1:]:
            heard = one.exchange.heard
            outcomes["nothing" if heard is None else heard.outcome] += 1
            delays[completeness(call.split(), bench.grammar)].append(
                one.at + voice - BEFORE - last_sound(speech)
            )
    print(f"{where}, {_how(interims)}: {dict(outcomes)}")
    for kind, found in delays.items():
        median, late = np.percentile(found, (50, 95))
        print(
            f"    {kind:<5} {len(found):3} calls   last sound to tone: median {median:.2f} s, "
            f"95th percentile {late:.2f} s"
        )


def _print_thoughts(bench: Bench, seconds: float, interims: bool) -> None:
    outcomes: Counter[str] = Counter()
    for parts in THOUGHT:
        said = parts.replace("… ", "")
        meant = understand(said, bench.grammar, KEY_HELD).intents[0]
        for voice in VOICES:
            answered = bench.answers(in_thought(parts, voice, seconds), interims=interims)
            heard = [one.exchange.heard for one in answered if one.exchange.heard is not None]
            recorded = [one.text for one in heard if one.outcome == "record"]
            if [understand(text, bench.grammar, KEY_HELD).intents[:1] for text in recorded] == [
                (meant,)
            ]:
                outcomes["right"] += 1
            elif recorded:
                outcomes["WRONG"] += 1
                print("   ", said, voice, recorded)
            else:
                outcomes["asked or not understood"] += 1
    print(f"pauses of {seconds} s, {_how(interims)}: {dict(sorted(outcomes.items()))}")


def _in_noise(noise: str, ratio: float, sound: Samples, seed: int) -> Samples:
    return in_noise(sound, noise, ratio, seed)


def _how(interims: bool) -> str:
    return f"ended by {'what was said' if interims else 'one pause'}"


def in_thought(parts: str, voice: str, seconds: float) -> Samples:
    """A call whose parts, between "…", stand so many seconds apart."""
    pieces = [pause(BEFORE)]
    for part in parts.split("…"):
        pieces += [speak(part.strip(), voice), pause(seconds)]
    return np.concatenate((*pieces, pause(AFTER)))


def last_sound(speech: Samples) -> float:
    """The second at which a call is last heard in a quiet place."""
    window = np.full(SAMPLE_RATE // 100, 100 / SAMPLE_RATE)
    power = np.convolve(speech**2, window, "same")
    return float(np.flatnonzero(power > power.max() * 10 ** (HEARD / 10))[-1] / SAMPLE_RATE)


def _voice_takes() -> float:
    """Seconds from the record to the tone in the hands of the sound system: the message to the
    voice's program and the readback put into sound; median of eleven."""
    took = []
    voice = VoiceBeside(Settings())
    try:
        for _ in range(12):
            began = time.perf_counter()
            voice.render("Gap, thirty thousandths of an inch, in range.")
            took.append(time.perf_counter() - began)
    finally:
        voice.close()
    return float(np.median(took[1:]))


if __name__ == "__main__":
    main()
