"""Measures how well calls are heard, and what is made of talk and noise.

``python -m tests.hearing`` takes some minutes on two cores. It speaks to a recognizer with
synthetic voices that nothing was fitted on, clean and in the noises of a shop, and counts what the
companion makes of it: all of it computed at every run.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Sequence

from companion.recognize.choose import NAMES
from tests.hearing import other_sounds, tables
from tests.hearing.manifest import manifest
from tests.hearing.material import OTHER_VOICES, TUNING_VOICES
from tests.hearing.measure import Heard, hear_all

NUMBERS_IN = (("clean", 0.0), ("engine", 10.0))
TO_REACH = """
To reach, on voices and noises that nothing was fitted on: clean 99 % recorded or rightly asked, in
noise at 10 dB 95 %; no more than 0.1 % recorded wrong; no more than 5 % asked clean."""


def main() -> None:
    """Measure and print."""
    options = _options()
    began = time.monotonic()
    voices: Sequence[str] = TUNING_VOICES if options.tuning else OTHER_VOICES
    clips = manifest(voices, options.every)
    heard = list(hear_all(clips, options.recognizer))
    print(f"recognizer: {options.recognizer}; {os.cpu_count()} cores; voices: {', '.join(voices)}")
    for title, key in (
        ("noise", tables.noise_of),
        ("voice", lambda one: one.clip.voice),
        ("family", lambda one: one.family),
    ):
        print(f"\n{tables.by(heard, title, key)}")
    print(f"\n{tables.confusions(heard)}\n\n{tables.reliability(heard)}\n{TO_REACH}")
    _print_reached(heard)
    if not options.calls_only:
        _print_others(voices, options.recognizer)
    print(f"\n{len(clips)} calls, {time.monotonic() - began:.0f} s in all")


def _print_reached(heard: Sequence[Heard]) -> None:
    clean = [one for one in heard if one.clip.noise == "clean"]
    at_ten = [one for one in heard if one.clip.level == 10]
    for name, share, least in (
        ("clean, recorded or rightly asked", _share(clean, "right", "asked"), 0.99),
        ("in noise at 10 dB, the same", _share(at_ten, "right", "asked"), 0.95),
    ):
        print(f"{name}: {100 * share:.1f} %, {_by_how_much(share - least)}")
    for name, share, most in (
        ("wrong, of all", _share(heard, "wrong"), 0.001),
        ("clean, asked", _share(clean, "asked"), 0.05),
    ):
        print(f"{name}: {100 * share:.2f} %, {_by_how_much(most - share)}")


def _share(heard: Sequence[Heard], *outcomes: str) -> float:
    return sum(one.outcome in outcomes for one in heard) / max(1, len(heard))


def _by_how_much(over: float) -> str:
    return "reached" if over >= 0 else f"short by {-100 * over:.2f} points"


def _print_others(voices: Sequence[str], recognizer: str) -> None:
    outcomes = ("record", "ask", "say-again", "ignore")
    rows = [
        (source, mode, str(sum(counts.values())), *(str(counts[outcome]) for outcome in outcomes))
        for (source, mode), counts in other_sounds.no_calls(voices, recognizer).items()
    ]
    headings = ("no call", "microphone", "clips", "recorded", "asked", "say again", "ignored")
    print(f"\n{tables.table(headings, rows)}")
    found = other_sounds.numbers_heard(voices, recognizer, NUMBERS_IN)
    names = list(next(iter(found.values())))
    rows = [
        (noise if level == 0 else f"{noise} {level:.0f} dB", *(f"{each[v]:.3f}" for v in names))
        for (noise, level), each in found.items()
    ]
    print(f"\n{tables.table(('numbers heard right', *names), rows)}")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.hearing", description=__doc__)
    parser.add_argument("--recognizer", choices=NAMES, default="auto")
    parser.add_argument("--tuning", action="store_true", help="the voices that were fitted on")
    parser.add_argument("--every", type=int, default=1, metavar="N", help="only every Nth clip")
    parser.add_argument("--calls-only", action="store_true", help="no talk, noise or numbers")
    return parser.parse_args()


if __name__ == "__main__":
    main()
