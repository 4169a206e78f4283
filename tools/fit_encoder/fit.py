"""Fits the encoder and the phoneme network: ``python -m tools.fit_encoder.fit FOLDER OUT``.

It takes a folder that ``tools.fit_encoder.gather`` made, a GPU of the kind made for fitting, and
twenty minutes; of Python's packages ``torch``, ``numpy`` and ``soundfile``, and nothing of
``companion``. ``rounds.py`` says what is fitted, ``losses.py`` to what. Without a GPU it runs too,
far too slowly to come to anything.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
from pathlib import Path

from tools.fit_encoder.layout import CHECK, CLIPS, FITTED, MEL, MODEL, NOISE_KEPT, NOISE_TO_FIT

SECONDS = 1150.0
RANK = 32
WIDTH = 192
BATCH = 192
"""What the shipped weights were made with."""
_NEEDED = (CLIPS, MODEL, MEL, CHECK, NOISE_TO_FIT, NOISE_KEPT)


def main() -> int:
    """Fit; return the exit status."""
    options = _options()
    missing = [name for name in _NEEDED if not (options.folder / name).exists()]
    if missing:
        wrong = f"{options.folder} has no {missing[0]}; make it with tools.fit_encoder.gather."
    elif importlib.util.find_spec("torch") is None:
        wrong = "PyTorch is not installed; install it with: pip install torch."
    elif options.begun and not all((options.begun / name).exists() for name in FITTED):
        wrong = f"{options.begun} has not both {' and '.join(FITTED)}; name a folder of a fit."
    elif options.phonemes_alone and not options.begun:
        wrong = "--phonemes-alone goes on from a fit; name its folder with --begun."
    elif options.phonemes_alone:
        from tools.fit_encoder.phonemes_again import fit_again

        fit_again(options.folder, options.begun, options.out)
        return 0
    else:
        from tools.fit_encoder.rounds import fit

        fit(
            options.folder,
            options.out,
            seconds=options.seconds,
            rank=options.rank,
            width=options.width,
            batch=options.batch,
            begun=options.begun,
        )
        return 0
    print(f"tools.fit_encoder.fit: {wrong}", file=sys.stderr)
    return 1


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tools.fit_encoder.fit",
        description="Fit the encoder and the phoneme network on a machine with a GPU.",
    )
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="what to fit on")
    parser.add_argument("out", type=Path, metavar="OUT", help="folder to write the weights to")
    parser.add_argument(
        "--begun", type=Path, metavar="FOLDER", help="go on from the two files that are there"
    )
    parser.add_argument(
        "--phonemes-alone",
        action="store_true",
        help="of these only the phoneme network, without a GPU",
    )
    for name, kind, usual, said in (
        ("--seconds", float, SECONDS, "how long"),
        ("--rank", _count, RANK, "of the differences of the encoder's matrices"),
        ("--width", _count, WIDTH, "of the phoneme network's layers"),
        ("--batch", _count, BATCH, "clips at a time"),
    ):
        parser.add_argument(
            name, type=kind, default=usual, metavar="N", help=f"{said} (default: {usual:g})"
        )
    return parser.parse_args()


def _count(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"'{text}' is not a whole number from 1 up")
    return int(text)


if __name__ == "__main__":
    sys.exit(main())
