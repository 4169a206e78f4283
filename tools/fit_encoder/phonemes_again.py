"""Fits the phoneme network alone, on an encoder that is fitted.

No GPU is needed: on two cores some fifteen minutes, for the encoder hears every sound once, and
only the network on top of it, a twentieth of the work, goes over them again and again.
"""

from __future__ import annotations

import math
import random
from pathlib import Path

import numpy as np
import torch
from torch import Tensor

from tools.fit_encoder.layout import ENCODER_CHANGES, PHONEMES
from tools.fit_encoder.losses import Model, phoneme_loss, with_hole
from tools.fit_encoder.measuring import measure
from tools.fit_encoder.rounds import DECAY, STEEPEST, Drawing, go_on_from, write
from tools.fit_encoder.sound_batches import Sounds

TOGETHER = 48
"""Sounds."""
FASTEST = 1e-3
SOUNDS = 9600
STEPS = 700
Encoded = tuple[Tensor, Tensor, list[tuple[int, ...]]]
"""Of some sounds: what the encoder gives, how many frames each has, and the phonemes said."""


def fit_again(folder: Path, begun: Path, out: Path) -> None:
    """Fit, print how well it hears then, and write the two files.

    Args:
        folder: As ``tools.fit_encoder.gather`` makes it.
        begun: Folder with the two files of a fit.
        out: Folder to write to.
    """
    torch.manual_seed(1)
    draw = random.Random(1)
    sounds = Sounds(folder)
    with np.load(begun / PHONEMES) as weights:
        width = weights["into"].shape[1]
    with np.load(begun / ENCODER_CHANGES) as changes:
        rank = changes["encoder/conv1/weight.a"].shape[0]
    model = Model(folder, rank=rank, width=width)
    go_on_from(model, begun)
    _fit(model, _encoded(model, sounds, draw, SOUNDS), draw, STEPS)
    print(measure(model, sounds), flush=True)
    write(model, out)


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
