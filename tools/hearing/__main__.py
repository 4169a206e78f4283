"""Measures how well calls are heard, and what is made of talk and noise.

``python -m tools.hearing`` takes some minutes on two cores. It speaks to a recognizer with
synthetic voices that nothing was fitted on, clean and in the noises of a shop, and counts what the
companion makes of it: all of it computed at every run. With ``--people`` it measures instead
what becomes of people's speech, on a folder of such sentences (``tools/hearing/people.py`` says how
it is laid out): whether their talk is kept out, and with ``--tables`` how well they are heard.
``--numbers`` hears so many calls with a number, to count those recorded wrong; ``--parts`` what is
said of parts in words that calls have and in others.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from companion.errors import CompanionError
from companion.recognize.choose import NAMES
from tools.hearing import (
    about_parts,
    callers,
    number_calls,
    other_sounds,
    page,
    people_tables,
    recordings,
    tables,
)
from tools.hearing.cores import cores
from tools.hearing.costs import costs, table
from tools.hearing.manifest import CLEAN, RECORDED, manifest
from tools.hearing.material import OTHER_VOICES, TUNING_VOICES
from tools.hearing.measure import Heard, JobNames, hear_all

NUMBERS_IN = (("clean", 0.0), ("engine", 10.0))
TO_REACH = """\
To reach, on voices and noises that nothing was fitted on: clean 98 % recorded at once; in any noise
at 10 dB, real recordings among them, 88 %, and 98 % recorded or rightly asked; 1 of 5,000 recorded
wrong (which takes more calls than these: --numbers)."""


def main() -> int:
    """Measure and print; return the exit status."""
    options = _options()
    try:
        if options.costs:
            _measure_costs(options)
        elif options.parts:
            _measure_parts(options)
        elif options.numbers is not None:
            _measure_numbers(options)
        elif options.people is None:
            _measure_calls(options)
        else:
            _measure_people(options)
    except CompanionError as error:
        print(f"tools.hearing: {error}", file=sys.stderr)
        return error.exit_status
    return 0


def _measure_costs(options: argparse.Namespace) -> None:
    voices: Sequence[str] = TUNING_VOICES if options.tuning else OTHER_VOICES
    every = [clip for clip in manifest(voices) if clip.noise == CLEAN or clip.level == 10]
    clips = every[:: options.every]
    print(table(dict(costs(clips, options.recognizer))))
    print(f"\n{len(clips)} calls for each; {cores()} cores; voices: {', '.join(voices)}")


def _measure_calls(options: argparse.Namespace) -> None:
    began = time.monotonic()
    speaking = _voices(options)
    voices: Sequence[str] = TUNING_VOICES if options.tuning else speaking.names
    kept, sentence = recordings.found(options.sounds)
    clips = manifest(voices, options.every, kept)
    heard = list(hear_all(clips, options.recognizer, speaking))
    by_noise = tables.by(heard, "noise", tables.noise_of)
    by_voice = tables.by(heard, "voice", lambda one: one.clip.voice)
    confusions, reliability = tables.confusions(heard), tables.reliability(heard)
    reached = f"{TO_REACH}\n\n" + "\n\n".join(_reached(heard))
    print(f"recognizer: {options.recognizer}; {cores()} cores; voices: {', '.join(voices)}")
    for part in (
        sentence,
        by_noise,
        by_voice,
        tables.by(heard, "family", lambda one: one.family),
        confusions,
        reliability,
        reached,
    ):
        print(f"\n{part}")
    if options.write:
        parts = (sentence, by_noise, by_voice, confusions, reliability, reached)
        page.write_into(_table("calls", options), _command(), "\n\n".join(parts))
    if not options.calls_only:
        _print_others(voices, options.recognizer)
    print(f"\n{len(clips)} calls, {time.monotonic() - began:.0f} s in all")


def _measure_parts(options: argparse.Namespace) -> None:
    kept, sentence = recordings.found(options.sounds)
    voices = _voices(options)
    said = about_parts.sentences(voices.names, options.every)
    taken = list(about_parts.hear_all(said, options.recognizer, kept, voices))
    text = f"{sentence}\n\n{about_parts.text_of(taken)}"
    print(text)
    if options.write:
        page.write_into(_table("parts", options), _command(), text)


def _measure_numbers(options: argparse.Namespace) -> None:
    kept, sentence = recordings.found(options.sounds)
    print(sentence, flush=True)
    became = number_calls.heard(
        options.numbers, options.to, options.recognizer, kept, options.first, _voices(options)
    )
    text = number_calls.text_of(became)
    print(f"\n{text}")
    if options.write:
        page.write_into(_table("calls with a number", options), _command(), f"{sentence}\n\n{text}")


def _voices(options: argparse.Namespace) -> callers.Voices:
    return callers.USUAL if options.voices is None else callers.neural(options.voices)


def _table(name: str, options: argparse.Namespace) -> str:
    return name if options.voices is None else f"{name}, neural voices"


def _measure_people(options: argparse.Namespace) -> None:
    asked = people_tables.Asked(
        options.people,
        options.recognizer,
        options.every,
        options.everybody,
        options.typed_only,
        JobNames(options.job, options.machine),
        options.sounds,
    )
    for name in dict.fromkeys(options.tables):
        began = time.monotonic()
        measured = people_tables.TABLES[name](asked)
        print(f"{measured.tables}\n\n{measured.besides}".strip())
        took = f"{time.monotonic() - began:.0f} s on {cores()} cores"
        print(f"\n{name}, by {options.recognizer}: {took}\n", flush=True)
        if options.write:
            page.write_into(f"people, {name}", _command(), measured.tables)


def _command() -> str:
    """What this was started with, without what only says where things lie."""
    words, told = sys.argv[1:], list[str]()
    for word in words:
        if word.startswith("--"):
            told.append(word)
        elif told[-1:] == ["--people"]:
            told.append("FOLDER")
        elif told[-1:] == ["--sounds"]:
            told.append("ROOT …")
        elif told[-1:] == ["--to"]:
            told.append("FILE")
        elif told[-1:] == ["--voices"]:
            told.append("PACKAGE")
        elif told[-1:] not in (["ROOT …"], ["--write"]):
            told.append(word)
    return " ".join(told)


def _reached(heard: Sequence[Heard]) -> Iterator[str]:
    clean = [one for one in heard if one.clip.noise == CLEAN]
    at_ten = [one for one in heard if one.clip.level == 10]
    recorded = [one for one in at_ten if one.clip.noise == RECORDED]
    for name, some, outcomes, least in (
        ("clean, recorded at once", clean, ("right",), 0.98),
        ("in noise at 10 dB, recorded at once", at_ten, ("right",), 0.88),
        ("in noise at 10 dB, recorded or rightly asked", at_ten, ("right", "asked"), 0.98),
        (f"{RECORDED} at 10 dB, recorded at once", recorded, ("right",), 0.88),
        (f"{RECORDED} at 10 dB, recorded or rightly asked", recorded, ("right", "asked"), 0.98),
    ):
        if some:
            share = _share(some, *outcomes)
            yield f"{name}: {100 * share:.1f} %, {_by_how_much(share - least)}"
    wrong = _share(heard, "wrong")
    yield f"wrong, of all: {100 * wrong:.2f} %, {_by_how_much(1 / 5000 - wrong)}"


def _share(heard: Sequence[Heard], *outcomes: str) -> float:
    return sum(one.outcome in outcomes for one in heard) / max(1, len(heard))


def _by_how_much(over: float) -> str:
    return "reached" if over >= 0 else f"short by {-100 * over:.2f} points"


def _print_others(voices: Sequence[str], recognizer: str) -> None:
    print(f"\n{tables.no_calls(other_sounds.no_calls(voices, recognizer))}")
    found = other_sounds.numbers_heard(voices, recognizer, NUMBERS_IN)
    names = list(next(iter(found.values())))
    rows = [
        (noise if level == 0 else f"{noise} {level:.0f} dB", *(f"{each[v]:.3f}" for v in names))
        for (noise, level), each in found.items()
    ]
    print(f"\n{tables.table(('numbers heard right', *names), rows)}")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tools.hearing", description=__doc__)
    parser.add_argument("--recognizer", choices=NAMES, default="auto")
    parser.add_argument("--tuning", action="store_true", help="the voices that were fitted on")
    parser.add_argument("--every", type=_count, default=1, metavar="N", help="only every Nth clip")
    parser.add_argument(
        "--costs", action="store_true", help="what each family's other ways cost, and nothing else"
    )
    parser.add_argument(
        "--sounds",
        type=Path,
        nargs="+",
        default=recordings.INSTALLED,
        metavar="ROOT",
        help="where packages with real recordings are installed or unpacked",
    )
    parser.add_argument(
        "--write", action="store_true", help="put the tables into docs/measurements.md"
    )
    parser.add_argument("--calls-only", action="store_true", help="no talk, noise or numbers")
    parser.add_argument(
        "--parts", action="store_true", help="what is said of parts, in any words, instead"
    )
    others = parser.add_argument_group("people")
    others.add_argument("--people", type=Path, metavar="FOLDER", help="measure these instead")
    others.add_argument(
        "--tables", nargs="+", choices=people_tables.TABLES, help="of them (talk)", metavar="NAME"
    )
    others.add_argument(
        "--everybody", action="store_true", help="also those whom something may be fitted on"
    )
    others.add_argument("--typed-only", action="store_true", help="their text, not their sound")
    others.add_argument("--job", metavar="CARD", help="listen for the words of this job card")
    others.add_argument("--machine", metavar="SHEET", help="and of this spec sheet")
    calls = parser.add_argument_group("calls with a number")
    calls.add_argument("--numbers", type=_count, metavar="N", help="hear so many instead")
    calls.add_argument(
        "--first", type=int, default=0, metavar="K", help="from the Kth on: others than before (0)"
    )
    calls.add_argument(
        "--voices",
        type=Path,
        metavar="PACKAGE",
        help="by neural voices that nothing was fitted on (tools/fit_encoder/many_voices.py)",
    )
    calls.add_argument("--to", type=Path, metavar="FILE", help="keep what was heard, and go on")
    options = parser.parse_args()
    of_people = options.tables or options.everybody or options.typed_only
    if options.people is None and (of_people or options.job or options.machine):
        parser.error(
            "--tables, --everybody, --typed-only, --job and --machine go with --people FOLDER"
        )
    options.tables = options.tables or ["talk"]
    if (options.numbers is None) != (options.to is None):
        parser.error("--numbers N and --to FILE go together")
    if options.voices and not (options.numbers or options.calls_only or options.parts):
        parser.error("--voices PACKAGE goes with --numbers N, --calls-only or --parts")
    if options.voices is not None and options.tuning:
        parser.error("--tuning goes without --voices PACKAGE")
    if options.people is not None and (options.tuning or options.calls_only):
        parser.error("--tuning and --calls-only go without --people")
    return options


def _count(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"'{text}' is not a whole number from 1 up")
    return int(text)


if __name__ == "__main__":
    sys.exit(main())
