"""Fits how sure the recognizer may be: ``python -m tools.fit_evidence --people FOLDER``.

Prints the weight of the phonemes for ``companion/recognize/weighing.py``, the temperature for
``companion/recognize/held.py``, the weights for ``companion/recognize/evidence.py`` and the
thresholds for ``companion/intent/thresholds.py``, these by what each mistake costs. Half an hour on
two cores; what was heard is kept in a file, with which a second run takes some minutes.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import asdict
from pathlib import Path

import numpy as np

from companion.errors import CompanionError
from companion.intent.thresholds import DEFAULT
from companion.recognize.evidence import Evidence
from companion.recognize.weighing import PHONEME_WEIGHT
from tools.fit_evidence.collect import Heard, heard_of
from tools.fit_evidence.fits import (
    AS_GOOD,
    PHONEME_WEIGHTS,
    best_figures,
    best_weights,
    chances,
    right_share,
    told,
)
from tools.fit_evidence.judging import Figures, Floats, Ranked, ranked
from tools.fit_evidence.thresholds import GRID, cheapest, cost_of


def main() -> int:
    """Hear, fit and print; return the exit status."""
    options = _options()
    try:
        heard = heard_of(options.people, options.keep, options.sounds, options.every)
    except CompanionError as error:
        print(f"tools.fit_evidence: {error}", file=sys.stderr)
        return 1
    items, figures = _sentences(heard)
    weights, constant = _belief(items)
    _thresholds(items, figures, chances(items, weights, constant))
    return 0


def _sentences(heard: list[Heard]) -> tuple[list[Ranked], Figures]:
    """How much the phonemes weigh, the temperature, and, with these as they are in the program,
    the share of what is not listed."""
    found = []
    for weight in PHONEME_WEIGHTS:
        items = ranked(heard, weight)
        figures, surprise = best_figures(items, weight)
        print(f"phonemes {weight}: surprise {surprise:.4f}")
        print("\n".join(told(items, figures)), flush=True)
        found.append((right_share(items), surprise, items, figures))
    most = max(each[0] for each in found)
    _, _, items, figures = min(
        (each for each in found if each[0] >= most - AS_GOOD), key=lambda each: each[1]
    )
    print(f"PHONEME_WEIGHT = {figures.phoneme_weight} fits best")
    items = ranked(heard, PHONEME_WEIGHT)
    figures, surprise = best_figures(items, PHONEME_WEIGHT)
    print(f"with {PHONEME_WEIGHT}, as it is: surprise {surprise:.4f}")
    print(f"TEMPERATURE = {figures.temperature:.2f}")
    print(f"LESS_FOR_FALLING = {figures.less_for_falling:.3f}")
    print("\n".join(told(items, figures)))
    for name, figure in zip(
        ("ALWAYS", "FOR_TOKENS", "FOR_PHONEMES", "FOR_FREE_TEXT", "FOR_DOUBT"),
        figures.unlisted,
        strict=True,
    ):
        print(f"{name} = {figure:.2f}")
    return items, figures


def _belief(items: list[Ranked]) -> tuple[Evidence, float]:
    weights, constant = best_weights(items)
    print(f"{len(items)} sounds, {sum(each.right for each in items)} right")
    for name, weight in asdict(weights).items():
        print(f"    {name}={weight:.2f},")
    print(f"CONSTANT = {constant:.2f}")
    believed = chances(items, weights, constant)
    for kind in dict.fromkeys(each.heard.kind for each in items):
        some = np.array([each.heard.kind == kind for each in items])
        right = np.array([each.right for each in items])
        for is_right in (True, False):
            part = believed[some & (right == is_right)]
            if len(part):
                print(
                    f"  {kind}, {'right' if is_right else 'not right'}: {len(part)}, believed at "
                    f"the 5th, 50th and 95th percentile "
                    f"{np.percentile(part, (5, 50, 95)).round(3)}, most {part.max():.3f}"
                )
    return weights, constant


def _thresholds(items: list[Ranked], figures: Figures, believed: Floats) -> None:
    judged = [
        (
            each.heard.said if each.heard.kind == "call" else None,
            each.recognition(figures, float(sure)),
        )
        for each, sure in zip(items, believed, strict=True)
        if each.heard.kind not in ("person", "person's words")
    ]
    found, cost = cheapest(judged)
    before = cost_of(judged, DEFAULT)
    print(
        f"cost of a sound {cost / len(judged):.3f}, with the thresholds as they are now "
        f"{before / len(judged):.3f}"
    )
    for name in GRID:
        print(f"    {name}: float = {getattr(found, name)}")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tools.fit_evidence", description="Fit how sure the recognizer may be."
    )
    parser.add_argument(
        "--people", type=Path, required=True, metavar="FOLDER", help="people's speech"
    )
    parser.add_argument(
        "--keep", type=Path, required=True, metavar="FILE", help="for what was heard"
    )
    parser.add_argument(
        "--sounds",
        type=Path,
        nargs="+",
        default=[Path("/")],
        metavar="ROOT",
        help="where Debian's packages are installed or unpacked",
    )
    parser.add_argument("--every", type=int, default=1, metavar="N", help="hear every Nth sound")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
