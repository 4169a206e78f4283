"""What a sound meets on its way: another throat, a room, another microphone; and its features.

Sounds are tensors of shape (batch, samples) at 16 kHz, -1 to 1, features of shape (batch, bands,
frames of 10 ms).
"""

from __future__ import annotations

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor
from torch.nn import functional

from tools.fit_encoder.layout import SAMPLE_RATE

DEVICE = "cuda" if torch.cuda.is_available() else "cpu"
HOP = 160
"""Samples from one frame of the features to the next."""
FRAME = 320
"""Samples from one frame of the encoder's output to the next."""
IN_A_ROOM = 0.45
"""Share of the sounds that get an echo."""
NEAR_ECHO = ((0.4, (0.1, 0.5)), (0.2, (0.5, 1.3)))
FAR_ECHO = (1.0, 4.0)
"""How strong the echoes are together, as a share of the straight sound's amplitude: shares of the
sounds in a room, and from what to what; the rest is far from the microphone. Two meters away, where
an echo takes half a second to die in a room of 80 cubic meters, it is three times as strong as the
straight sound (Kuttruff, Room Acoustics: the reverberation distance)."""
OTHER_TONE = 0.5
"""Share of the sounds whose tone is changed."""
TELEPHONE = 0.15
"""Share of the sounds that lose both what is low and what is high, as by a telephone."""
NARROW = 0.12
"""Share of the others that lose what is low, and of those that lose what is high."""


def uniform(*shape: int) -> Tensor:
    """Numbers drawn from 0 to 1."""
    return torch.rand(*shape, device=DEVICE)


def between(count: int, low: float, high: float) -> Tensor:
    """Numbers drawn from ``low`` to ``high``, shape (count,)."""
    return low + (high - low) * uniform(count)


def to_even_power(sound: Tensor) -> Tensor:
    """Each sound with a root mean square of 1."""
    return sound / sound.square().mean(1, keepdim=True).sqrt().clamp_min(1e-5)


def to_peak(sound: Tensor) -> Tensor:
    """Each sound with a peak of 1."""
    return sound / sound.abs().amax(1, keepdim=True).clamp_min(1e-4)


def resampled(sound: Tensor, factor: float) -> Tensor:
    """Higher and faster by ``factor``, or lower and slower: another throat."""
    count = sound.shape[1]
    wanted = int(count / factor)
    spectrum = torch.fft.rfft(sound)
    bins = wanted // 2 + 1
    if bins <= spectrum.shape[1]:
        spectrum = spectrum[:, :bins]
    else:
        spectrum = functional.pad(spectrum, (0, bins - spectrum.shape[1]))
    return torch.fft.irfft(spectrum, n=wanted) * (wanted / count)


def echoed(sound: Tensor) -> Tensor:
    """Some of the sounds in a room."""
    kernel = _rooms(len(sound))
    count = sound.shape[1] + kernel.shape[1]
    size = 1 << (count - 1).bit_length()
    spectrum = torch.fft.rfft(sound, n=size) * torch.fft.rfft(kernel, n=size)
    return torch.fft.irfft(spectrum, n=size)[:, : sound.shape[1]]


def _rooms(count: int) -> Tensor:
    """Echoes that die within 0.1 to 0.7 s; a single pulse where there is none."""
    samples = int(0.7 * SAMPLE_RATE)
    time = torch.arange(samples, device=DEVICE)[None]
    length = between(count, 0.1, 0.7)[:, None] * SAMPLE_RATE
    echo = torch.randn(count, samples, device=DEVICE) * torch.exp(-6.9 * time / length)
    echo = echo * (time < length)
    # Early reflections are few and strong.
    early = (uniform(count, samples) < 0.004) & (time < 0.05 * SAMPLE_RATE)
    echo = echo * (1 + 4 * early)
    # Walls take the high tones first.
    blurred = 0.5 * echo + 0.5 * torch.roll(echo, 1, 1)
    mix = uniform(count, 1)
    echo = mix * blurred + (1 - mix) * echo
    echo[:, 0] = 0
    strength = between(count, *FAR_ECHO)
    kind, share = uniform(count), 0.0
    for part, limits in NEAR_ECHO:
        here = (kind >= share) & (kind < share + part)
        strength = torch.where(here, between(count, *limits), strength)
        share += part
    strength = strength[:, None]
    echo = echo * strength / echo.square().sum(1, keepdim=True).sqrt()
    echo = echo * (uniform(count, 1) < IN_A_ROOM)
    echo[:, 0] = 1
    return echo


def through_microphones(sound: Tensor) -> Tensor:
    """Through another microphone: a smooth change of tone, and now and then a narrow band."""
    count = len(sound)
    spectrum = torch.fft.rfft(sound)
    hertz = torch.linspace(0, SAMPLE_RATE / 2, spectrum.shape[1], device=DEVICE)
    # In decibels, at nine frequencies.
    knots = torch.randn(count, 1, 9, device=DEVICE) * 5.0
    knots = knots * (uniform(count, 1, 1) < OTHER_TONE)
    gain = functional.interpolate(knots, size=len(hertz), mode="linear", align_corners=True)[:, 0]
    telephone = uniform(count, 1) < TELEPHONE
    low = torch.where(
        telephone | (uniform(count, 1) < NARROW),
        between(count, 150, 350)[:, None],
        torch.zeros(count, 1, device=DEVICE),
    )
    high = torch.where(
        uniform(count, 1) < NARROW,
        between(count, 3400, 5500)[:, None],
        torch.full((count, 1), 1e5, device=DEVICE),
    )
    high = torch.where(telephone, between(count, 3300, 3930)[:, None], high)
    gain = gain - 40 * torch.sigmoid((low - hertz) / 30) - 40 * torch.sigmoid((hertz - high) / 100)
    return torch.fft.irfft(spectrum * 10 ** (gain / 20), n=sound.shape[1])


def power_of_speech(sound: Tensor) -> Tensor:
    """Mean power while somebody speaks, shape (batch,): of what is within 20 dB of the loudest."""
    count = sound.shape[1] // FRAME * FRAME
    power = sound[:, :count].reshape(len(sound), -1, FRAME).square().mean(2)
    spoken = power > 0.01 * power.amax(1, keepdim=True)
    return (power * spoken).sum(1) / spoken.sum(1).clamp_min(1)


class LogMel:
    """Whisper's features, as ``companion/recognize/mel.py`` computes them."""

    def __init__(self, filters: NDArray[np.float32]) -> None:
        self._filters = torch.from_numpy(filters).to(DEVICE)
        self._window = torch.hann_window(400, periodic=True, device=DEVICE)

    def __call__(self, sound: Tensor) -> Tensor:
        """Features of sounds of whole frames."""
        spectrum = torch.stft(
            sound,
            400,
            HOP,
            window=self._window,
            center=True,
            pad_mode="reflect",
            return_complex=True,
        )[..., :-1]
        bands = self._filters @ spectrum.abs().square()
        logged = bands.clamp_min(1e-10).log10()
        logged = torch.maximum(logged, logged.amax((1, 2), keepdim=True) - 8)
        return (logged + 4) / 4


def holed(features: Tensor, ends: Tensor) -> Tensor:
    """Without some bands and some moments, in two of three sounds.

    Twice each: up to 14 bands, and up to 14 frames before the sound's end, which ``ends`` has in
    samples.
    """
    batch, bands, frames = features.shape
    band = torch.arange(bands, device=DEVICE)[None]
    frame = torch.arange(frames, device=DEVICE)[None]
    lost = torch.zeros(batch, bands, frames, dtype=torch.bool, device=DEVICE)
    some = uniform(batch, 1) < 0.67
    for _ in range(2):
        at, wide = uniform(batch, 1) * bands, uniform(batch, 1) * 14
        lost |= ((band >= at) & (band < at + wide) & some)[:, :, None]
        at, wide = uniform(batch, 1) * (ends / HOP)[:, None], uniform(batch, 1) * 14
        lost |= ((frame >= at) & (frame < at + wide) & some)[:, None, :]
    return torch.where(lost, features.amin((1, 2), keepdim=True), features)
