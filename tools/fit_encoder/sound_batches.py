"""Clips of a folder as batches of sound: clean, and as a microphone in a shop would give them."""

from __future__ import annotations

import random
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
import torch
from numpy.typing import NDArray
from torch import Tensor
from torch.nn import functional

from tools.fit_encoder.effects import (
    DEVICE,
    between,
    echoed,
    power_of_speech,
    resampled,
    through_microphones,
    to_even_power,
    to_peak,
    uniform,
)
from tools.fit_encoder.joined import FILE, joined
from tools.fit_encoder.layout import NOISE_KEPT, NOISE_TO_FIT, SAMPLE_RATE, Clip, read_clips

WINDOWS = (5, 7, 9)
"""Seconds to which a batch is filled up."""
AROUND = 1.3
"""Seconds of a window that are left for the pauses around a clip."""
THROATS = (0.9, 1.2)
"""How much higher and faster a batch may be: a child of ten is about a fifth above a woman."""
LEADS = (0.1, 0.5)
"""Seconds before most clips."""
LONG_LEADS = 0.25
"""Share of the clips that begin at any time that leaves room for them: with a key held it may take
a while."""
NO_NOISE = 0.08
"""Share of the sounds that are silent where nobody speaks, as a muted microphone is."""
NOISE_ALONE = 0.04
"""Share of the sounds in which nobody speaks."""
PAUSES_AFTER = (0.3, 0.8)
"""Seconds after it; what comes then is silence."""
SHORTEST_NOISE = 12
"""Seconds; shorter noises are repeated."""
READERS = 16


@dataclass(frozen=True, slots=True, eq=False)
class Utterance:
    """A clip, and where it is among all sounds.

    Attributes:
        clip: What is said.
        at: Where it begins, in samples.
        count: Its length, in samples.
    """

    clip: Clip
    at: int
    count: int

    @property
    def window(self) -> int | None:
        """Which of ``WINDOWS`` it fits into, if any."""
        needed = self.count / SAMPLE_RATE + AROUND
        return next((window for window in WINDOWS if needed <= window), None)


@dataclass(frozen=True, slots=True, eq=False)
class Noises:
    """The noises of a folder, one after the other: where each begins and how long it is, in
    samples."""

    whole: Tensor
    starts: Sequence[int]
    counts: Sequence[int]


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Sounds of one window.

    Attributes:
        clean: Speech alone, shape (batch, samples).
        heard: The same in noise, of the same shape.
        ends: Where each ends, in samples.
        spoken: Whether anybody speaks, shape (batch,).
    """

    clean: Tensor
    heard: Tensor
    ends: Tensor
    spoken: Tensor


class Sounds:
    """All sounds of a folder to fit on, in the memory of the GPU."""

    def __init__(self, folder: Path) -> None:
        """Read them."""
        clips = read_clips(folder)
        names = sorted({clip.file for clip in clips})
        files = {
            name: np.clip(sound * 32767, -32768, 32767).astype(np.int16)
            for name, sound in zip(names, _read([folder / n for n in names]), strict=True)
        }
        with_pauses, files[FILE] = joined(clips, files)
        begins = np.cumsum([0, *(len(sound) for sound in files.values())])
        begin_of = {name: int(begin) for name, begin in zip(files, begins, strict=False)}
        self._speech = torch.from_numpy(np.concatenate([*files.values()])).to(DEVICE)
        self._noises = {name: _noises(folder / name) for name in (NOISE_TO_FIT, NOISE_KEPT)}
        utterances = [
            Utterance(clip, begin_of[clip.file] + clip.start, clip.end - clip.start)
            for clip in [*clips, *with_pauses]
        ]
        self.to_fit = [one for one in utterances if one.clip.part == "fit"]
        self.kept = [one for one in utterances if one.clip.part == "kept"]

    def __str__(self) -> str:
        hours = self._speech.numel() / SAMPLE_RATE / 3600
        minutes = ", ".join(
            f"{noises.whole.numel() / SAMPLE_RATE / 60:.0f} min of {name}"
            for name, noises in self._noises.items()
        )
        return (
            f"{len(self.to_fit)} clips to fit on, {len(self.kept)} kept, {hours:.1f} h; {minutes}"
        )

    def batch(
        self,
        draw: random.Random,
        chosen: Sequence[Utterance],
        window: int,
        *,
        varied: bool = True,
        noise_at: float | None = None,
        late: bool = False,
    ) -> Batch:
        """Make a batch.

        Args:
            draw: Chance, besides that of torch.
            chosen: What is said.
            window: Length of the sounds, in seconds.
            varied: Of another throat, in a room, in noise to fit on, through another microphone,
                louder or softer: to fit on. Otherwise as recorded.
            noise_at: Where not varied: how far the speech is above a noise to measure by, in dB.
            late: Whether each clip begins as late as may be, where not varied.
        """
        size, count = len(chosen), window * SAMPLE_RATE
        lengths = torch.tensor([one.count for one in chosen], device=DEVICE)
        lead = (between(size, *LEADS) * SAMPLE_RATE).long()
        spoken = torch.ones(size, dtype=torch.bool, device=DEVICE)
        if varied:
            latest = _latest_leads(lead, lengths, count)
            some_time = lead + (uniform(size) * (latest - lead)).long()
            lead = torch.where(uniform(size) < LONG_LEADS, some_time, lead)
            spoken = uniform(size) >= NOISE_ALONE
        elif late:
            lead = _latest_leads(lead, lengths, count)
        clean = self._said(chosen, lead, count)
        if varied and draw.random() < 0.7:
            factor = draw.uniform(*THROATS)
            other = resampled(clean, factor)[:, :count]
            clean = functional.pad(other, (0, max(0, count - other.shape[1])))
            lead, lengths = (lead / factor).long(), (lengths / factor).long()
        after = (between(size, *PAUSES_AFTER) * SAMPLE_RATE).long()
        ends = (lead + lengths + after).clamp_max(count)
        inside = torch.arange(count, device=DEVICE)[None] < ends[:, None]
        heard = clean
        if varied:
            heard = to_peak(echoed(heard)) * 0.5
            noise = self._mixed_noise(draw, size, count, spoken)
            level = torch.where(uniform(size) < 0.75, between(size, -1, 20), between(size, 20, 45))
            noise = noise * (uniform(size, 1) >= NO_NOISE)
            heard = _in_noise(heard, noise, level, spoken)
            heard = through_microphones(heard)
            heard = to_peak(heard) * 10 ** between(size, -1.5, 0.1)[:, None]
        elif noise_at is not None:
            noise = self._noise(draw, NOISE_KEPT, size, count)
            level = torch.full((size,), noise_at, device=DEVICE)
            heard = _in_noise(heard, noise, level, spoken)
        return Batch(clean * inside * spoken[:, None], heard.clamp(-1, 1) * inside, ends, spoken)

    def noise_alone(self, draw: random.Random, size: int, window: int) -> Tensor:
        """Noises kept back, with nobody who speaks: shape (size, samples)."""
        noise = self._noise(draw, NOISE_KEPT, size, window * SAMPLE_RATE)
        return to_peak(noise) * 10 ** between(size, -1.5, 0.1)[:, None]

    def _said(self, chosen: Sequence[Utterance], lead: Tensor, count: int) -> Tensor:
        """Clean speech, shape (batch, count), each clip beginning after ``lead`` samples."""
        at = torch.tensor([one.at for one in chosen], device=DEVICE)[:, None]
        length = torch.tensor([one.count for one in chosen], device=DEVICE)[:, None]
        place = torch.arange(count, device=DEVICE)[None] - lead[:, None]
        inside = (place >= 0) & (place < length)
        speech = self._speech[(at + place).clamp(0, self._speech.numel() - 1)]
        return speech.float() / 32768 * inside

    def _mixed_noise(self, draw: random.Random, size: int, count: int, spoken: Tensor) -> Tensor:
        """One noise or two; now and then people talking, where somebody speaks, and now and then
        white noise."""
        noise = self._noise(draw, NOISE_TO_FIT, size, count)
        if draw.random() < 0.3:
            strength = between(size, 0.2, 1)[:, None]
            noise = noise + strength * self._noise(draw, NOISE_TO_FIT, size, count)
        if draw.random() < 0.15:
            talked_over = (uniform(size, 1) < 0.5) & spoken[:, None]
            noise = torch.where(talked_over, self._talk(draw, size, count), noise)
        white = torch.randn(size, count, device=DEVICE)
        noise = torch.where(uniform(size, 1) < 0.05, white, noise)
        return to_even_power(noise)

    def _noise(self, draw: random.Random, name: str, size: int, count: int) -> Tensor:
        noises = self._noises[name]
        which = [draw.randrange(len(noises.starts)) for _ in range(size)]
        begins = [
            noises.starts[one] + draw.randrange(max(1, noises.counts[one] - count)) for one in which
        ]
        place = torch.tensor(begins, device=DEVICE)[:, None] + torch.arange(count, device=DEVICE)
        return to_even_power(noises.whole[place % noises.whole.numel()])

    def _talk(self, draw: random.Random, size: int, count: int) -> Tensor:
        """One to three other people, each with two sentences."""
        total = torch.zeros(size, count, device=DEVICE)
        for _ in range(draw.randint(1, 3)):
            first = [draw.choice(self.to_fit) for _ in range(size)]
            talk = self._said(first, (uniform(size) * -1.5 * SAMPLE_RATE).long(), count)
            second = [draw.choice(self.to_fit) for _ in range(size)]
            talk = talk + self._said(second, ((2 + 2 * uniform(size)) * SAMPLE_RATE).long(), count)
            level = talk.square().mean(1, keepdim=True).sqrt().clamp_min(1e-4)
            total = total + talk * between(size, 0.5, 1.2)[:, None] / level
        return to_even_power(total)


def _latest_leads(lead: Tensor, lengths: Tensor, count: int) -> Tensor:
    """The latest time that leaves room for each clip, spoken slower too, and the pause after."""
    latest = 0.92 * count - lengths - PAUSES_AFTER[0] * SAMPLE_RATE
    return torch.maximum(latest.long(), lead)


def _in_noise(speech: Tensor, noise: Tensor, level: Tensor, spoken: Tensor) -> Tensor:
    """Speech ``level`` decibels above a noise of even power, each of the batch; the noise as loud,
    without the speech, where nobody has spoken."""
    gain = (power_of_speech(speech) / 10 ** (level / 10)).sqrt()
    return speech * spoken[:, None] + gain[:, None] * noise


def _noises(folder: Path) -> Noises:
    parts = [
        np.resize(noise, max(len(noise), SAMPLE_RATE * SHORTEST_NOISE))
        for noise in _read(sorted(folder.glob("*.ogg")))
    ]
    counts = [len(part) for part in parts]
    starts = [int(start) for start in np.cumsum([0, *counts[:-1]])]
    return Noises(torch.from_numpy(np.concatenate(parts)).to(DEVICE), starts, counts)


def _read(paths: Sequence[Path]) -> list[NDArray[np.float32]]:
    with ThreadPoolExecutor(READERS) as pool:
        return list(pool.map(lambda path: soundfile.read(path, dtype="float32")[0], paths))
