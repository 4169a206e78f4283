"""Fits the phoneme network alone, on an encoder that is fitted: ``python -m
tools.fit_encoder.phonemes_again FOLDER BEGUN OUT``.

It takes a folder that ``tools.fit_encoder.gather`` made, a folder with the two files of a fit, and
no GPU: on two cores some fifteen minutes, for the encoder hears every sound once, and only the
network on top of it, a twentieth of the work, goes over them again and again.
"""

from __future__ import annotations

import argparse
import math
import random
import shutil
import sys
from pathlib import Path

import numpy as np
import torch
from torch import Tensor

from tools.fit_encoder.losses import Model, phoneme_loss, with_hole
from tools.fit_encoder.measuring import measure
from tools.fit_encoder.rounds import (
    DECAY,
    ENCODER_CHANGES,
    PHONEMES,
    STEEPEST,
    Drawing,
    go_on_from,
)
from tools.fit_encoder.sound_batches import Sounds

TOGETHER = 48
"""Sounds."""
FASTEST = 1e-3
SOUNDS = 9000
STEPS = 700
Encoded = tuple[Tensor, Tensor, list[tuple[int, ...]]]
"""Of some sounds: what the encoder gives, how many frames each has, and the phonemes said."""


def main() -> int:
    """Fit, and print how well it hears before and after; return the exit status."""
    options = _options()
    torch.manual_seed(1)
    draw = random.Random(1)
    sounds = Sounds(options.folder)
    with np.load(options.begun / PHONEMES) as weights:
        width = weights["into"].shape[1]
    with np.load(options.begun / ENCODER_CHANGES) as changes:
        rank = changes["encoder/conv1/weight.a"].shape[0]
    model = Model(options.folder, rank=rank, width=width)
    go_on_from(model, options.begun)
    if options.measured:
        print(measure(model, sounds), flush=True)
    encoded = _encoded(model, sounds, draw, options.sounds)
    _fit(model, encoded, draw, options.steps)
    if options.measured:
        print(measure(model, sounds), flush=True)
    options.out.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(options.begun / ENCODER_CHANGES, options.out / ENCODER_CHANGES)
    weights = model.phonemes.weights()
    np.savez_compressed(options.out / PHONEMES, **weights)
    return 0


def _encoded(model: Model, sounds: Sounds, draw: random.Random, count: int) -> list[Encoded]:
    """Sounds as a microphone gives them, through the encoder, in half precision."""
    drawing = Drawing(sounds.to_fit)
    found: list[Encoded] = []
    for number in range(count // TOGETHER):
        chosen, window = drawing.next(draw, TOGETHER)
        found.append(model.encoded(draw, sounds, chosen, window))
        if number % 20 == 0:
            print(f"{(number + 1) * TOGETHER} sounds encoded", flush=True)
    return found


def _fit(model: Model, encoded: list[Encoded], draw: random.Random, steps: int) -> None:
    model.fitting(True)
    parameters = list(model.phonemes.parameters())
    rule = torch.optim.AdamW(parameters, lr=FASTEST, betas=(0.9, 0.98), weight_decay=DECAY)
    followed = 0.0
    for step in range(steps):
        pace = min(1.0, (step + 1) / 30) * (0.5 + 0.5 * math.cos(math.pi * step / steps))
        for group in rule.param_groups:
            group["lr"] = FASTEST * pace
        hidden, frames, said = draw.choice(encoded)
        loss = phoneme_loss(model.phonemes(with_hole(hidden.float())), frames, said)
        rule.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(parameters, STEEPEST)
        rule.step()
        followed = 0.95 * (followed or float(loss.detach())) + 0.05 * float(loss.detach())
        if step % 50 == 0:
            print(f"step {step}: ctc {followed:.3f}", flush=True)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tools.fit_encoder.phonemes_again",
        description="Fit the phoneme network alone, on an encoder that is fitted.",
    )
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="what to fit on")
    parser.add_argument("begun", type=Path, metavar="BEGUN", help="the two files of a fit")
    parser.add_argument("out", type=Path, metavar="OUT", help="folder to write the weights to")
    parser.add_argument("--sounds", type=int, default=SOUNDS, metavar="N", help="how many")
    parser.add_argument("--steps", type=int, default=STEPS, metavar="N", help="of the fitting")
    parser.add_argument("--measured", action="store_true", help="measure before and after")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
