"""Makes a folder to fit on: ``python -m tools.fit_encoder.gather FOLDER --people SPEECH``.

It takes some 40 minutes on two cores, most of them for the synthetic voices. Needed are what
``spoken.py`` names, the Debian packages of ``noises.py`` and a folder of people's speech as
``people.py`` says.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from companion.errors import CompanionError
from companion.grammar.compiled import load_grammar
from companion.recognize.model import WhisperModel
from tests.sounds import speak
from tools.fit_encoder import people
from tools.fit_encoder.index import RivalsOf, Tokens, phonemes_of, rivals_by, tokens_of
from tools.fit_encoder.layout import HELD, Clip, Tape, write_clips
from tools.fit_encoder.many_voices import ManyVoices
from tools.fit_encoder.noises import bring_noises
from tools.fit_encoder.rivals import Rivals
from tools.fit_encoder.spoken import Spoken, common_words, say
from tools.fit_encoder.unchanged import write_model
from tools.hearing.cores import every_core
from tools.hearing.material import CALLS, TUNING_VOICES

SPOKEN = 9000
"""Synthetic sentences."""
DRAWN_FROM = (11, 12)
"""Where chance begins, for each half of them."""
CALLS_FILE = "calls.ogg"
"""Calls by the voices that thresholds are fitted on: kept back here, to measure by."""


def main() -> int:
    """Gather; return the exit status."""
    options = _options()
    try:
        _gather(options.folder, options.people, options.voices, options.sounds, options.spoken)
    except CompanionError as error:
        print(f"tools.fit_encoder.gather: {error}", file=sys.stderr)
        return error.exit_status
    return 0


def _gather(folder: Path, speech: Path, voices: Path, roots: list[Path], spoken: int) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise CompanionError(f"{folder} holds something already; name a new folder.")
    folder.mkdir(parents=True, exist_ok=True)
    model = WhisperModel()
    words = common_words(model)
    rivals = rivals_by(Rivals({*words, *load_grammar().words}), model.tokens, DRAWN_FROM[0])
    clips, held = people.clips_of(speech, folder, model.tokens, rivals)
    (folder / HELD).write_text(json.dumps(sorted(held)) + "\n", encoding="utf-8")
    print(f"{len(clips)} sentences by people, {len(held)} speakers kept back", flush=True)
    seconds = bring_noises(folder, roots)
    print(*(f"{name}: {length:.0f} s of noises" for name, length in seconds.items()), sep="\n")
    clips += _calls(folder, voices, model.tokens, rivals)
    clips += _synthetic(folder, voices, model.tokens, rivals, words, spoken)
    write_clips(folder, write_model(folder, model, clips))
    print(f"{len(clips)} clips in all")


def _calls(folder: Path, voices: Path, tokens: Tokens, rivals: RivalsOf) -> list[Clip]:
    """The calls that thresholds are fitted on, and as many by neural voices, kept back."""
    tape, many = Tape(), ManyVoices(voices, random.Random(DRAWN_FROM[0]))
    sounds = [(call, speak(call, voice)) for voice in TUNING_VOICES for call in CALLS]
    sounds += [(call, many.say(call, 1.0, kept=True)) for call in CALLS for _ in TUNING_VOICES]
    clips = [
        _clip(Spoken(CALLS_FILE, *tape.add(sound), call), tokens, rivals, kept=True)
        for call, sound in sounds
    ]
    tape.write(folder / CALLS_FILE)
    return clips


def _synthetic(
    folder: Path,
    voices: Path,
    tokens: Tokens,
    rivals: RivalsOf,
    words: Sequence[str],
    sentences: int,
) -> list[Clip]:
    say_half = partial(
        say, folder, sentences=sentences // len(DRAWN_FROM), common=words, voices=voices
    )
    with every_core() as pool:
        halves = list(pool.map(say_half, DRAWN_FROM))
    return [_clip(one, tokens, rivals, kept=False) for half in halves for one in half]


def _clip(said: Spoken, tokens: Tokens, rivals: RivalsOf, *, kept: bool) -> Clip:
    return Clip(
        said.file,
        said.start,
        said.end,
        tokens_of(said.text, tokens),
        phonemes_of(said.text),
        "synthetic",
        "kept" if kept else "fit",
        rivals(said.text),
    )


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tools.fit_encoder.gather",
        description="Make a folder to fit the encoder and the phoneme network on.",
    )
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="a new folder")
    parser.add_argument(
        "--people",
        type=Path,
        metavar="SPEECH",
        required=True,
        help="people's speech; tools/hearing/people.py says how it is laid out",
    )
    parser.add_argument(
        "--voices",
        type=Path,
        metavar="PACKAGE",
        required=True,
        help="npm's package of voices, unpacked; tools/fit_encoder/many_voices.py names it",
    )
    parser.add_argument(
        "--sounds",
        type=Path,
        metavar="ROOT",
        nargs="+",
        default=[Path("/")],
        help="where the packages with noises are installed or unpacked (default: /)",
    )
    parser.add_argument(
        "--spoken",
        type=int,
        metavar="N",
        default=SPOKEN,
        help=f"synthetic sentences (default: {SPOKEN})",
    )
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
