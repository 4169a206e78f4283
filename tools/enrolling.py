"""What enrolling a hard voice is worth: ``python -m tools.enrolling VOICE…``.

Each voice reads the page of calls once; before and after that it makes other calls, clean and over
an idling engine 10 dB below it. Two minutes a voice.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from collections import Counter
from datetime import UTC, datetime

from companion.enroll.fit import LISTENING, ReadOut, enroll, outcome_of
from companion.enroll.page import PAGE, SHORT
from companion.enroll.voice_profile import use_voice
from companion.files.data import DATA_VARIABLE
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import load_grammar
from companion.intent.decision import decide_utterance
from companion.intent.meaning import meanings
from companion.recognize.held import HeldRecognizer
from tests.hard_voices import HARD_VOICES, speak_hard
from tests.sounds import NOISES, Samples, mix, speak, with_pauses
from tools.hearing.material import CALLS

OTHER_CALLS = tuple(call for call in CALLS if call not in PAGE)
CONDITIONS = ("clean", "engine")
BELOW = 10.0
"""The engine, in dB below the voice."""


def main() -> None:
    """Measure each voice named and print a line before and one after."""
    parser = argparse.ArgumentParser(prog="python -m tools.enrolling", description=__doc__)
    parser.add_argument("voices", nargs="*", default=list(HARD_VOICES), metavar="VOICE")
    parser.add_argument("--every", type=int, default=1, metavar="N", help="only every Nth call")
    parser.add_argument("--short", action="store_true", help="read the short page")
    options = parser.parse_args()
    grammar = load_grammar()
    print(f"{'':<32}{'calls':>6}{'right':>7}{'asked':>7}{'again':>7}{'ignored':>8}{'WRONG':>7}")
    for voice in options.voices:
        ears = HeldRecognizer()
        ears.listen_for(grammar)
        _print(voice, "before", ears, options.every)
        page = [
            ReadOut(call, with_pauses(spoken(call, voice)))
            for call in (PAGE[:SHORT] if options.short else PAGE)
        ]
        with tempfile.TemporaryDirectory() as folder:
            os.environ[DATA_VARIABLE] = folder
            enrolled = enroll(voice, page, ears, grammar, datetime(2026, 1, 1, tzinfo=UTC))
            use_voice(ears, enrolled.profile)
        kept = "fitted" if enrolled.profile.weight else "not fitted"
        _print(voice, kept, ears, options.every)


def spoken(call: str, voice: str) -> Samples:
    """A call by a hard voice or one of the others."""
    return speak_hard(call, voice) if voice in HARD_VOICES else speak(call, voice)


def _print(voice: str, when: str, ears: HeldRecognizer, every: int) -> None:
    grammar = load_grammar()
    for condition in CONDITIONS:
        counts: Counter[str] = Counter()
        wrong = []
        calls = OTHER_CALLS[::every]
        for place, call in enumerate(calls):
            sound = with_pauses(spoken(call, voice))
            if condition != "clean":
                noise = NOISES[condition](len(sound) / SAMPLE_RATE + 0.1, seed=place * 7 + 3)
                sound = mix(sound, noise[: len(sound)], BELOW)
            decision = decide_utterance(ears.recognize(sound), grammar, LISTENING)
            outcome = outcome_of(decision, meanings(call.split(), grammar))
            counts[outcome] += 1
            if outcome == "wrong":
                wrong.append(f"    “{call}” → “{decision.text}”")
        named = ("right", "asked", "say-again", "ignored", "wrong")
        figures = zip((counts[name] for name in named), (7, 7, 7, 8, 7), strict=True)
        line = "".join(f"{figure:>{width}}" for figure, width in figures)
        print(f"{voice + ', ' + when + ', ' + condition:<32}{len(calls):>6}{line}", flush=True)
        for each in wrong:
            print(each, flush=True)


if __name__ == "__main__":
    main()
