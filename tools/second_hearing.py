"""What a second recognizer is worth: ``python -m tools.second_hearing``.

Calls with a number, clean and over an idling engine 10 dB below the voice, heard once by the first
and the second recognizer, and decided on with and without the second. Five minutes.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from statistics import median

from companion.enroll.fit import outcome_of
from companion.grammar.compiled import load_grammar
from companion.intent.decision import decide_utterance
from companion.intent.doubt import has_number
from companion.intent.meaning import meanings
from companion.recognize.choose import choose
from companion.recognize.protocol import Recognition
from companion.recognize.second import SECOND_NAMES, with_second
from tests.sounds import with_pauses
from tools.enrolling import spoken
from tools.hearing.manifest import CLEAN, in_noise
from tools.hearing.material import CALLS, listening_for, meaning_of
from tools.hearing.measure import OUTCOMES

VOICES = ("rms", "us-man", "scotland")
"""Nothing was fitted on them."""
CONDITIONS = ((CLEAN, 0.0), ("engine", 10.0))


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tools.second_hearing", description=__doc__)
    parser.add_argument("voices", nargs="*", default=list(VOICES), metavar="VOICE")
    parser.add_argument("--second", choices=SECOND_NAMES[1:], default="sphinx")
    options = parser.parse_args()
    grammar = load_grammar()
    ears = with_second(choose(), options.second)
    ears.listen_for(grammar)
    calls = [call for call in CALLS if has_number(meanings(call.split(), grammar)[0])]
    print(f"{'':<28}{'calls':>6}" + "".join(f"{name:>9}" for name in OUTCOMES))
    for noise, level in CONDITIONS:
        heard = [
            (
                call,
                ears.recognize(in_noise(with_pauses(spoken(call, voice)), noise, level, seed)),
            )
            for turn, voice in enumerate(options.voices)
            for seed, call in enumerate(calls, start=100 * turn)
        ]
        for name, recognitions in (
            ("alone", [(call, replace(one, second=None)) for call, one in heard]),
            (f"with {options.second}", heard),
        ):
            counts = _counts(recognitions)
            figures = "".join(f"{counts[outcome]:>9}" for outcome in OUTCOMES)
            print(f"{noise + ', ' + name:<28}{len(heard):>6}{figures}", flush=True)
        taken = [one.second.decode_seconds for _, one in heard if one.second is not None]
        both = [one.decode_seconds for _, one in heard if one.second is not None]
        print(f"  seconds a call, median: {median(taken):.2f} of {median(both):.2f}")


def _counts(heard: Sequence[tuple[str, Recognition]]) -> Counter[str]:
    grammar = load_grammar()
    return Counter(
        outcome_of(
            decide_utterance(one, grammar, listening_for(call)), (meaning_of(call, grammar),)
        )
        for call, one in heard
    )


if __name__ == "__main__":
    main()
