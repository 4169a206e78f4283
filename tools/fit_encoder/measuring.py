"""How well what is fitted hears what it was not fitted on: clean, and in noises kept back."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Sequence
from itertools import groupby

import torch

from tools.fit_encoder.losses import BLANK, Loss, Model
from tools.fit_encoder.sound_batches import WINDOWS, Sounds, Utterance

CONDITIONS = ((None, False), (20.0, False), (10.0, False), (5.0, False), (None, True), (10.0, True))
"""Speech above noise, in dB, None where it is clean; and whether it begins late."""
NOISES = 4
"""Times ``TOGETHER`` noises that are heard alone."""
AT_MOST = 256
"""About so many clips of a kind."""
TOGETHER = 128
DRAWN_FROM = 5


def measure(model: Model, sounds: Sounds) -> str:
    """Measure, a line for each kind of clip and level: the share of phonemes heard wrong (PER) and
    the mean losses. Chance is the same every time, and goes on afterwards where it was."""
    model.fitting(False)
    state = torch.random.get_rng_state()
    torch.manual_seed(DRAWN_FROM)
    draw = random.Random(DRAWN_FROM)
    with torch.no_grad():
        lines = [
            _line(model, sounds, draw, kind, level, late=late)
            for kind in sorted({one.clip.kind for one in sounds.kept})
            for level, late in CONDITIONS
        ]
        lines.append(_noise_line(model, sounds, draw))
    torch.random.set_rng_state(state)
    model.fitting(True)
    return "\n".join(lines)


def _noise_line(model: Model, sounds: Sounds, draw: random.Random) -> str:
    """Noises in which a phoneme is heard."""
    heard = 0
    for _ in range(NOISES):
        noise = sounds.noise_alone(draw, TOGETHER, WINDOWS[0])
        best = model.phonemes_of(noise).argmax(-1)
        heard += int((best != BLANK).any(1).sum())
    return f"noise alone: a phoneme in {heard / (NOISES * TOGETHER):.3f}"


def _line(
    model: Model,
    sounds: Sounds,
    draw: random.Random,
    kind: str,
    level: float | None,
    *,
    late: bool,
) -> str:
    fitting = [one for one in sounds.kept if one.clip.kind == kind and one.window]
    some = fitting[:: max(1, len(fitting) // AT_MOST)]
    wrong = phonemes = 0
    sums: dict[str, float] = defaultdict(float)
    for window in WINDOWS:
        all_of_it = [one for one in some if one.window == window]
        for begin in range(0, len(all_of_it), TOGETHER):
            chosen = all_of_it[begin : begin + TOGETHER]
            loss = model.loss(draw, sounds, chosen, window, varied=False, noise_at=level, late=late)
            for name, value in loss.each.items():
                sums[name] += float(value) * len(chosen)
            wrong += _wrong(loss, chosen)
            phonemes += sum(len(one.clip.phonemes) for one in chosen)
    means = " ".join(f"{name} {total / len(some):.3f}" for name, total in sums.items())
    condition = "clean" if level is None else f"{level:g} dB"
    condition += ", late" if late else ""
    return f"{kind}, {condition}: PER {wrong / max(1, phonemes):.3f} {means}"


def _wrong(loss: Loss, chosen: Sequence[Utterance]) -> int:
    """Phonemes missed, added or taken for another, where they are known."""
    best, frames = loss.scores.argmax(-1).cpu().numpy(), loss.frames.cpu().numpy()
    heard = (
        [int(kind) for kind, _ in groupby(row[:n])] for row, n in zip(best, frames, strict=True)
    )
    return sum(
        distance([kind for kind in kinds if kind != BLANK], one.clip.phonemes)
        for kinds, one in zip(heard, chosen, strict=True)
        if one.clip.phonemes
    )


def distance(heard: Sequence[int], said: Sequence[int]) -> int:
    """Levenshtein's distance."""
    row = list(range(len(said) + 1))
    for number, one in enumerate(heard, start=1):
        last, row[0] = row[0], number
        for place, other in enumerate(said, start=1):
            better = min(row[place] + 1, row[place - 1] + 1, last + (one != other))
            last, row[place] = row[place], better
    return row[-1]
