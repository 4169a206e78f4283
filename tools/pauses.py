"""From the end of speech to the decision, and calls with a pause for thought: ``python -m
tools.pauses``.

Sound is fed as a microphone gives it, on a clock of its own: while the recognizer works, that clock
goes on by what it took, so that nothing has to be waited for. Voices that nothing was fitted on.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from companion.audio.endpointing import Segmenter
from companion.audio.noise_floor import FRAME
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.going_on import completeness
from companion.intent.decision import Listening, decide_utterance
from companion.intent.ending import pause_after
from companion.intent.interpret import understand
from companion.intent.outcome import Decision
from companion.recognize.held import HeldRecognizer
from companion.recognize.protocol import Recognition
from tests.sounds import Samples, pause, speak
from tools.hearing.manifest import in_noise
from tools.hearing.material import CALLS

VOICES = ("rms", "us-man", "scotland")
LISTENING = Listening(answer_awaited=True)
THOUGHT = (
    "gap … thirty … thou",
    "compression … one twenty … p s i",
    "battery … twelve point six … volts",
    "added … twenty ounces … of oil",
    "torque … sixteen … foot pounds",
    "start soak timer … two hours",
    "engine speed … thirty six hundred",
    "intake clearance … six thou",
    "need two … shear pins",
    "drained half a liter … of oil",
    "convert thirty thou … to millimeters",
    "wrench for … three eighths bolt",
)
BEFORE, AFTER = 1.0, 2.5


@dataclass(frozen=True)
class Decided:
    """What was made of an utterance, and at which second of the sound."""

    decision: Decision
    at: float


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tools.pauses", description=__doc__)
    parser.add_argument("--every", type=int, default=1, metavar="N", help="only every Nth call")
    parser.add_argument(
        "--took",
        type=float,
        metavar="SECONDS",
        help="count this for each recognition instead of what it takes here: beside other busy "
        "programs that says more",
    )
    options = parser.parse_args()
    every, took = options.every, options.took
    grammar = load_grammar()
    ears = HeldRecognizer()
    ears.listen_for(grammar)
    kinds = Counter(completeness(call.split(), grammar) for call in CALLS)
    print(f"{len(CALLS)} calls: {kinds['whole']} whole, {kinds['open']} that may go on")
    for noise in ("clean", "engine"):
        _print_delays(ears, grammar, noise, CALLS[::every], took)
    for seconds in (0.5, 0.7, 0.9, 1.1):
        _print_thoughts(ears, grammar, seconds, took)


def _print_delays(
    ears: HeldRecognizer, grammar: CallGrammar, noise: str, calls: Sequence[str], took: float | None
) -> None:
    for interims in (False, True):
        delays: dict[str, list[float]] = {"whole": [], "open": []}
        cut = 0
        for number, call in enumerate(calls):
            speech = speak(call, VOICES[number % len(VOICES)])
            sound = np.concatenate((pause(BEFORE), speech, pause(AFTER)))
            decided = list(
                live(ears, grammar, in_noise(sound, noise, 10.0, number), interims, took)
            )
            cut += len(decided) != 1
            if decided:
                end = BEFORE + len(speech) / SAMPLE_RATE
                delays[completeness(call.split(), grammar)].append(decided[-1].at - end)
        how = "by what was said" if interims else "by one pause"
        for kind, found in delays.items():
            late = float(np.percentile(found, 95))
            print(
                f"{noise:<7} ended {how:<17} {kind:<6} {len(found):3} calls   end of speech to "
                f"decision: median {statistics.median(found):.2f} s, 95th percentile {late:.2f} s"
            )
        print(f"{'':<7} not heard as one utterance: {cut}")


def _print_thoughts(
    ears: HeldRecognizer, grammar: CallGrammar, seconds: float, took: float | None
) -> None:
    for interims in (False, True):
        outcomes: Counter[str] = Counter()
        for number, parts in enumerate(THOUGHT):
            meant = understand(parts.replace("… ", ""), grammar, LISTENING).intents[0]
            sound = in_thought(parts, VOICES[number % len(VOICES)], seconds)
            decided = list(live(ears, grammar, sound, interims, took))
            recorded = [one.decision for one in decided if one.decision.outcome == "record"]
            if [one.intents[0] for one in recorded] == [meant]:
                outcomes["right"] += 1
            else:
                outcomes["WRONG" if recorded else "asked or not understood"] += 1
        how = "by what was said" if interims else "by one pause"
        print(f"pauses of {seconds} s, ended {how:<17} {dict(outcomes)}")


def in_thought(parts: str, voice: str, seconds: float) -> Samples:
    """A call whose parts, between "…", stand so many seconds apart."""
    pieces = [pause(BEFORE)]
    for part in parts.split("…"):
        pieces += [speak(part.strip(), voice), pause(seconds)]
    return np.concatenate((*pieces, pause(AFTER)))


def live(
    ears: HeldRecognizer,
    grammar: CallGrammar,
    sound: Samples,
    interims: bool,
    counted: float | None = None,
) -> Iterator[Decided]:
    """Hear a sound as the live loop does, on the sound's own clock; a recognition counts for so
    many seconds, or for what it takes here."""
    segmenter = Segmenter(interims=interims)
    number, known, told_at = 0, None, 0.0
    for begin in range(0, len(sound), FRAME):
        now = (begin + FRAME) / SAMPLE_RATE
        for utterance in segmenter.feed(sound[begin : begin + FRAME]):
            if known is None or utterance.interim != number:
                known, took = _recognized(ears, utterance.samples)
                told_at = now + (took if counted is None else counted)
            yield Decided(decide_utterance(known, grammar, LISTENING), max(now, told_at))
        interim = segmenter.interim
        if interim is not None and interim.number > number and now >= told_at:
            number = interim.number
            known, took = _recognized(ears, interim.utterance.samples)
            told_at = now + (took if counted is None else counted)
        if (
            interim is not None
            and interim.number == number
            and known is not None
            and now >= told_at
        ):
            decision = decide_utterance(known, grammar, LISTENING)
            usual = pause_after(decision, known, grammar, LISTENING)
            segmenter.end_after(number, usual * segmenter.end_pause)


def _recognized(ears: HeldRecognizer, samples: Samples) -> tuple[Recognition, float]:
    began = time.perf_counter()
    recognition = ears.recognize(samples)
    return recognition, time.perf_counter() - began


if __name__ == "__main__":
    main()
