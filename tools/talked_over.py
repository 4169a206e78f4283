"""How well calls are heard while the companion speaks: ``python -m tools.talked_over`` measures it.

Its own voice reaches the microphone by a way that is worked out (``tests/echoing_shop.py``), at
several levels against the caller's and after several delays. Every answer is talked over once by a
call; and every answer is said once with nobody there, among them some that hold the call sign and
whole calls. ``--every N`` takes every so many of the ways.
"""

from __future__ import annotations

import argparse
import queue
import statistics
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache, partial

import numpy as np

from companion.audio.echo import EchoRemover
from companion.audio.endpointing import Segmenter
from companion.audio.own_sound import OwnSound
from companion.audio.utterance import Utterance
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar
from companion.intent.decision import decide_utterance
from companion.intent.outcome import Listening
from companion.live.ears import Ears
from companion.live.happenings import Happening
from companion.live.talked_over import TalkedOver
from companion.recognize.held import HeldRecognizer
from companion.recognize.spotting import Spotted, Spotter
from companion.session.session import MOST_UNDER_TALK
from companion.speak.speech import SpeechEngine
from tests.echoing_shop import EchoingShop, Way
from tests.sounds import Samples, speak
from tools.hearing.cores import every_core
from tools.hearing.measure import ears_of

ANSWERS = (
    "Gap, thirty thou, three zero. The sheet wants twenty eight to thirty one. In the window.",
    "Next step: drain the oil. Caution: hot oil burns. Let the engine cool before the plug comes "
    "out.",
    "Compression, one hundred and twenty p s i. Wrench for three eighths bolt: nine sixteenths "
    "inch.",
    "Soak timer, two hours. It ends at eleven fifteen. Tags that hang: no oil, plug wire off, fuel "
    "off.",
    "Torque, sixteen foot pounds, one six. The sheet wants fifteen to twenty. Clean the flange.",
    "Clear to start? Affirm means that nobody stands near, and that every guard is on. Say affirm "
    "or negative.",
    "Drive belt worn. It holds the start. Say replaced drive belt once a new one is on.",
    "Tire pressure, fifteen p s i, one five. The sheet wants fourteen to sixteen. Now the other.",
)
"""Said by the companion; the measures are those of the shipped sheets."""
WITH_CALLS = (
    "Say again, or the call sign before it: bench, gap thirty thou.",
    "Bench, tag no oil. Bench, oil level full. Bench, compression ninety five p s i.",
    "Bench gap thirty one thou is what a call is like. Bench park job ends the day.",
    "The wrench is on the bench, at the end. Bend the branch and bench press the bent flange.",
)
"""What the companion would say if it were to call itself."""
CALLS = (
    "gap thirty thou",
    "tag no oil",
    "compression ninety five p s i",
    "next step",
    "torque sixteen foot pounds",
    "oil level full",
    "time left",
    "battery twelve point six volts",
)
VOICES = ("rms", "us-man", "scotland", "slt", "awb", "gb", "slt-hts", "heart")
CALLED_AFTER = (0.8, 2.1, 3.4, 1.5, 2.8, 4.1, 0.4, 3.0)
"""Seconds into each answer at which the call begins."""
LEVELS = (-20.0, -10.0, 0.0, 6.0)
DELAYS = (0.02, 0.1, 0.2, 0.3)
NO_ECHO = -90.0
"""A headset."""
AFTERWARDS = 3.0
"""Seconds in which nothing is said after an answer."""
FAR_SIGN = Listening(call_sign_needed=True, open_mic=True)


@dataclass(slots=True)
class Found:
    """What came of a conversation.

    Attributes:
        calls: Said over the companion.
        stopped: Answers cut short by the call over them.
        false: Answers cut short by nothing: before the call, or with none.
        right: Calls that were recorded as said.
        asked: Calls that were asked about, the right one among what was asked.
        wrong: Other things that were recorded.
        after: Seconds from the beginning of each call until the talk was told to stop.
        looks: Seconds that each look for the call sign took.
    """

    calls: int = 0
    stopped: int = 0
    false: int = 0
    right: int = 0
    asked: int = 0
    wrong: int = 0
    after: list[float] = field(default_factory=list)
    looks: list[float] = field(default_factory=list)

    def add(self, other: Found) -> None:
        """Put another conversation to it."""
        for name in ("calls", "stopped", "false", "right", "asked", "wrong", "after", "looks"):
            setattr(self, name, getattr(self, name) + getattr(other, name))


@cache
def _engine() -> SpeechEngine:
    return SpeechEngine()


@cache
def _said(text: str) -> Samples:
    return _engine().render(text)


@cache
def _spotter() -> tuple[HeldRecognizer, CallGrammar, Spotter]:
    ears, grammar = ears_of("whisper")
    assert isinstance(ears, HeldRecognizer)
    return ears, grammar, Spotter(ears, grammar.call_sign)


@dataclass(slots=True)
class Conversation:
    """Answers, one after the other, each talked over by a call or by none.

    Args:
        way: From the loudspeaker to the microphone.
        answers: What is said.
        called: Whether each but the first is talked over.
        first: Whether the first is talked over too, when nothing was learned yet.
        noise: Of the shop, or None.
    """

    way: Way
    answers: Sequence[str]
    called: bool
    first: bool = False
    noise: Samples | None = None
    found: Found = field(default_factory=Found)
    heard: list[tuple[str | None, list[Utterance]]] = field(default_factory=list)

    def hold(self) -> Found:
        """Hold it, and judge what was heard."""
        own = OwnSound()
        out: queue.SimpleQueue[Happening] = queue.SimpleQueue()
        shop = EchoingShop(own, self.way, partial(self._script, out), self.noise)
        over = TalkedOver(own, EchoRemover(own), lambda: shop.captured_at)
        self._over = over
        ears = Ears(shop, out, segmenter=Segmenter(), talked_over=over, wait=lambda _: True)
        ears._listen()
        for call, utterances in self.heard:
            self._judge(call, utterances)
        return self.found

    _over: TalkedOver = field(init=False)

    def _script(self, out: queue.SimpleQueue[Happening], shop: EchoingShop) -> Iterator[None]:
        for _ in range(50):
            yield
        for number, answer in enumerate(self.answers):
            called = self.called and (number > 0 or self.first)
            call = CALLS[number % len(CALLS)] if called else None
            voice = VOICES[(number + self.way.seed) % len(VOICES)]
            at = CALLED_AFTER[(number + round(self.way.delay * 100)) % len(CALLED_AFTER)]
            yield from self._say(shop, _said(answer), call, voice, at)
            utterances = []
            while not out.empty():
                happening = out.get()
                if isinstance(happening, Utterance):
                    utterances.append(happening)
            self.heard.append((call, utterances))

    def _say(
        self, shop: EchoingShop, answer: Samples, call: str | None, voice: str, at: float
    ) -> Iterator[None]:
        """Say an answer and whatever is called meanwhile, and leave time for its end."""
        began = shop.seconds
        called_at = None
        told: list[float] = []

        def stop() -> None:
            told.append(shop.seconds)
            shop.stop()

        self._over.begin(self._spot, stop)
        shop.sound(answer)
        while shop.sounding:
            if call is not None and called_at is None and shop.seconds - began >= at:
                called_at = shop.seconds
                shop.call(speak(f"bench {call}", voice))
            yield
        self._over.end()
        self.found.calls += call is not None
        if told and called_at is not None and told[0] >= called_at:
            self.found.stopped += 1
            self.found.after.append(told[0] - called_at)
        elif told:
            self.found.false += 1
            print(f"  false stop after {told[0] - began:.2f} s at {self.way}")
        for _ in range(round(AFTERWARDS * SAMPLE_RATE / 480)):
            yield

    def _spot(self, samples: Samples) -> Spotted | None:
        began = time.perf_counter()
        found = _spotter()[2].spot(samples)
        self.found.looks.append(time.perf_counter() - began)
        return found

    def _judge(self, call: str | None, utterances: Sequence[Utterance]) -> None:
        ears, grammar, _ = _spotter()
        for utterance in utterances:
            recognition = ears.recognize(utterance.samples, call_sign_needed=True)
            decision = decide_utterance(recognition, grammar, FAR_SIGN)
            said = f"bench {call}"
            if decision.outcome == "record" and utterance.under_talk > MOST_UNDER_TALK:
                self.found.asked += decision.text == said
            elif decision.outcome == "record":
                if decision.text == said:
                    self.found.right += 1
                else:
                    self.found.wrong += 1
                    print(f"  wrong: {decision.text!r} for {said!r} at {self.way}")
            elif decision.outcome == "ask":
                texts = [each.text for each in recognition.hypotheses[:3]]
                self.found.asked += said in texts


def _ways(every: int) -> list[Way]:
    ways = [
        Way(level, delay, seed=seed)
        for seed, (level, delay) in enumerate((lev, d) for lev in LEVELS for d in DELAYS)
    ]
    return ways[::every]


def _held(job: tuple[str, Way]) -> tuple[str, Way, Found]:
    kind, way = job
    if kind == "nobody":
        found = Conversation(way, (*ANSWERS, *WITH_CALLS), called=False).hold()
    elif kind == "first":
        found = Found()
        for number in range(0, len(ANSWERS), 2):
            one = (ANSWERS[number], *ANSWERS[:0])
            found.add(Conversation(way, one, called=True, first=True).hold())
    else:
        found = Conversation(way, (ANSWERS[-1], *ANSWERS), called=True).hold()
    return kind, way, found


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure and print the tables."""
    parser = argparse.ArgumentParser(prog="python -m tools.talked_over", description=__doc__)
    parser.add_argument("--every", type=int, default=1, help="take every so many of the ways")
    every = parser.parse_args(arguments).every
    ways = _ways(every)
    headset = Way(NO_ECHO, drive=0.0)
    jobs = [(kind, way) for way in ways for kind in ("called", "nobody", "first")]
    jobs += [("called", headset), ("nobody", headset)]
    by: dict[tuple[str, str], Found] = {}
    with every_core() as pool:
        for kind, way, found in pool.map(_held, jobs):
            name = "headset" if way.level == NO_ECHO else f"{way.level:+.0f} dB"
            by.setdefault((kind, name), Found()).add(found)
    print(_table(by))


def _table(by: dict[tuple[str, str], Found]) -> str:
    lines = [
        "| own voice against the caller's | calls | talk stopped | after, median | after, worst "
        "| stopped by nothing | recorded at once | right or rightly asked | recorded wrong |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for (kind, name), found in by.items():
        if kind == "nobody":
            continue
        after = found.after or [float("nan")]
        label = name if kind == "called" else f"{name}, its first words"
        lines.append(
            f"| {label} | {found.calls} | {found.stopped} | {statistics.median(after):.2f} s "
            f"| {max(after):.2f} s | {found.false} | {found.right / found.calls:.2f} "
            f"| {(found.right + found.asked) / found.calls:.2f} | {found.wrong} |"
        )
    nobody = [found for (kind, _), found in by.items() if kind == "nobody"]
    looks = [each for found in by.values() for each in found.looks]
    lines += [
        "",
        f"With nobody there, {len(ANSWERS) + len(WITH_CALLS)} answers a way: "
        f"stopped {sum(each.false for each in nobody)}, "
        f"recorded {sum(each.right + each.wrong + each.asked for each in nobody)}.",
        f"A look for the call sign: {statistics.median(looks) * 1000:.0f} ms, "
        f"{np.quantile(looks, 0.95) * 1000:.0f} ms at p95, {len(looks)} looks.",
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    main()
