"""The rounds of the fitting: batches drawn, losses made small, measured and written now and then.

Fitted are differences of low rank to the encoder's matrices with whole ones to its biases and
normalizations, and the phoneme network on top, both at once (AdamW; a cosine over the time given,
after a short warming up).
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import torch

from tools.fit_encoder.effects import DEVICE
from tools.fit_encoder.layout import CHECK, ENCODER_CHANGES, PHONEMES
from tools.fit_encoder.losses import Loss, Model
from tools.fit_encoder.measuring import measure
from tools.fit_encoder.sound_batches import Sounds, Utterance

PEOPLE_COUNT = 1.3
"""How often a sentence by people is drawn for one by a synthetic voice: they are who is heard."""
FASTEST_ENCODER = 6e-4
FASTEST_PHONEMES = 2e-3
SLOWEST = 1e-6
"""Steps of AdamW."""
GOING_ON = 0.6
"""How fast, as a share of that, where a fit goes on from another one."""
WARMING_UP = 300
"""Steps."""
DECAY_ENCODER = 0.03
DECAY = 1e-2
STEEPEST = 1.0
"""Norm of a slope, to which steeper ones are cut."""
MEASURINGS = 6
TOLD_EVERY = 500 if DEVICE == "cuda" else 5
"""Steps."""


class Drawing:
    """Which clips make a batch: of one window, each window as often as its clips ask for."""

    def __init__(self, utterances: Sequence[Utterance]) -> None:
        self._by_window: dict[int, list[Utterance]] = {}
        for one in utterances:
            if one.window is not None:
                self._by_window.setdefault(one.window, []).append(one)
        self._counts = {
            window: [PEOPLE_COUNT if one.clip.kind == "people" else 1.0 for one in some]
            for window, some in self._by_window.items()
        }
        self._windows = list(self._by_window)
        self._shares = [sum(self._counts[window]) for window in self._windows]

    def next(self, draw: random.Random, size: int) -> tuple[list[Utterance], int]:
        """Draw a batch, and say its window."""
        window = draw.choices(self._windows, self._shares)[0]
        chosen = draw.choices(self._by_window[window], self._counts[window], k=size)
        return chosen, window


def fit(
    folder: Path,
    out: Path,
    *,
    seconds: float,
    rank: int,
    width: int,
    batch: int,
    begun: Path | None = None,
) -> None:
    """Fit, print what comes of it, and write the two files.

    Args:
        folder: As ``tools.fit_encoder.gather`` makes it.
        out: Folder to write to.
        seconds: How long.
        rank: Of the differences of the encoder's matrices.
        width: Of the phoneme network's layers.
        batch: Clips at a time.
        begun: Folder with the two files of a fit to go on from.
    """
    torch.manual_seed(0)
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    draw = random.Random(0)
    sounds = Sounds(folder)
    print(sounds, flush=True)
    model = Model(folder, rank=rank, width=width)
    with np.load(folder / CHECK) as check:
        print(model.check(check), flush=True)
    if begun is not None:
        go_on_from(model, begun)
    fastest_of_all = 1.0 if begun is None else GOING_ON
    drawing = Drawing(sounds.to_fit)
    groups: list[dict[str, Any]] = [
        {
            "params": list(model.fitted.parameters()),
            "lr": FASTEST_ENCODER,
            "weight_decay": DECAY_ENCODER,
        },
        {"params": list(model.phonemes.parameters()), "lr": FASTEST_PHONEMES},
    ]
    rule = torch.optim.AdamW(groups, betas=(0.9, 0.98), weight_decay=DECAY)
    parameters = [parameter for group in groups for parameter in group["params"]]

    def report(step: int) -> None:
        print(f"--- step {step}\n{measure(model, sounds)}", flush=True)

    report(0)
    began, step, next_measure = time.monotonic(), 0, 60.0
    told: dict[str, float] = {}
    while (spent := time.monotonic() - began) < seconds:
        pace = min(1.0, (step + 1) / WARMING_UP) * (0.5 + 0.5 * math.cos(math.pi * spent / seconds))
        for group, fastest in zip(groups, (FASTEST_ENCODER, FASTEST_PHONEMES), strict=True):
            group["lr"] = fastest * fastest_of_all * pace + SLOWEST
        chosen, window = drawing.next(draw, batch)
        loss = model.loss(draw, sounds, chosen, window)
        rule.zero_grad(set_to_none=True)
        loss.whole.backward()
        if torch.isfinite(torch.nn.utils.clip_grad_norm_(parameters, STEEPEST)):
            rule.step()
        step += 1
        if step % 50 == 0 or step % TOLD_EVERY == 0:
            _follow(told, loss)
        if step % TOLD_EVERY == 0:
            losses = " ".join(f"{name} {value:.3f}" for name, value in told.items())
            print(f"{spent:.0f} s, step {step}: {losses}", flush=True)
        if spent > next_measure:
            report(step)
            write(model, out)
            next_measure += max(60.0, seconds / MEASURINGS)
    report(step)
    write(model, out)


def go_on_from(model: Model, begun: Path) -> None:
    """Take the two files of another fit."""
    with np.load(begun / ENCODER_CHANGES) as changes:
        model.fitted.go_on_from(changes)
    with np.load(begun / PHONEMES) as weights:
        model.phonemes.go_on_from(weights)


def _follow(told: dict[str, float], loss: Loss) -> None:
    for name, loss_now in loss.each.items():
        value = float(loss_now.detach())
        told[name] = 0.8 * told.get(name, value) + 0.2 * value


def write(model: Model, out: Path) -> None:
    """Write the two files to a folder."""
    out.mkdir(parents=True, exist_ok=True)
    changes, weights = model.fitted.changes(), model.phonemes.weights()
    np.savez_compressed(out / ENCODER_CHANGES, **changes)
    np.savez_compressed(out / PHONEMES, **weights)
