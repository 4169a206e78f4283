"""Log-mel features as Whisper takes them: 80 bands from 0 to 8 kHz, a frame every 10 ms.

The figures are those of the published model (openai/whisper, ``audio.py``): 16 kHz, a 400-point
Fourier transform every 160 samples under a periodic Hann window, Slaney's mel scale with area-
normalized triangles, base-10 logarithm cut off 80 dB below the loudest point and scaled by (x +
4) / 4.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE

WINDOW_LENGTH = 400
"""Samples under one Hann window: 25 ms."""
HOP_LENGTH = 160
"""Samples from one frame to the next: 10 ms."""
FRAMES_PER_SECOND = SAMPLE_RATE // HOP_LENGTH
BANDS = 80

_LINEAR_HERTZ_PER_MEL = 200.0 / 3.0
_BREAK_HERTZ = 1000.0
_BREAK_MEL = _BREAK_HERTZ / _LINEAR_HERTZ_PER_MEL
_LOG_STEP = np.log(6.4) / 27.0
_DYNAMIC_RANGE = 8.0
"""In powers of ten of power: 80 dB."""


def mel_to_hertz(mel: NDArray[np.float64]) -> NDArray[np.float64]:
    """Convert Slaney's mel scale (linear to 1 kHz, logarithmic above) to frequency.

    Args:
        mel: Any shape, in mel.

    Returns:
        Same shape, in Hz. Source: M. Slaney, Auditory Toolbox (1998).
    """
    linear = mel * _LINEAR_HERTZ_PER_MEL
    logarithmic = _BREAK_HERTZ * np.exp(_LOG_STEP * (mel - _BREAK_MEL))
    return np.where(mel < _BREAK_MEL, linear, logarithmic)


@cache
def mel_filters() -> NDArray[np.float32]:
    """Return the triangular filters.

    Returns:
        Shape (``BANDS``, 201): weight of each Fourier bin (0 to 8 kHz) in each band, each
        triangle with unit area in Hz.
    """
    bins = np.linspace(0.0, SAMPLE_RATE / 2, WINDOW_LENGTH // 2 + 1)
    top = _BREAK_MEL + np.log(SAMPLE_RATE / 2 / _BREAK_HERTZ) / _LOG_STEP
    corners = mel_to_hertz(np.linspace(0.0, top, BANDS + 2))
    low, centre, high = corners[:-2, None], corners[1:-1, None], corners[2:, None]
    rising = (bins - low) / (centre - low)
    falling = (high - bins) / (high - centre)
    triangles = np.maximum(0.0, np.minimum(rising, falling)) * (2.0 / (high - low))
    return np.asarray(triangles, dtype=np.float32)


@cache
def _window() -> NDArray[np.float32]:
    """Return the periodic Hann window."""
    phase = 2.0 * np.pi * np.arange(WINDOW_LENGTH) / WINDOW_LENGTH
    return np.asarray(0.5 - 0.5 * np.cos(phase), dtype=np.float32)


def log_mel(samples: NDArray[np.float32], frames: int) -> NDArray[np.float32]:
    """Compute the features of a stretch of sound, padded with digital silence or cut at the end.

    Args:
        samples: Shape (n,), mono, -1 to 1, at ``SAMPLE_RATE``.
        frames: How many frames to return; ``frames / FRAMES_PER_SECOND`` seconds.

    Returns:
        Shape (``BANDS``, ``frames``), float32, about -1 to 1.5.
    """
    half = WINDOW_LENGTH // 2
    wanted = frames * HOP_LENGTH
    sound = np.zeros(wanted + half, dtype=np.float32)
    kept = min(len(samples), len(sound))
    sound[:kept] = samples[:kept]
    # Frames are centred; before the first sample the sound is mirrored, as the model was trained.
    sound = np.concatenate((sound[half:0:-1], sound))
    strides = np.lib.stride_tricks.sliding_window_view(sound, WINDOW_LENGTH)[::HOP_LENGTH][:frames]
    # Frames of nothing but padding need no transform: their power is zero.
    busy = min(frames, (kept + half) // HOP_LENGTH + 2)
    spectrum = np.fft.rfft(strides[:busy] * _window(), axis=1)
    power = (spectrum.real**2 + spectrum.imag**2).astype(np.float32)
    bands = np.zeros((BANDS, frames), dtype=np.float32)
    bands[:, :busy] = mel_filters() @ power.T
    log_power = np.log10(np.maximum(bands, 1e-10))
    log_power = np.maximum(log_power, log_power.max() - _DYNAMIC_RANGE)
    return np.asarray((log_power + 4.0) / 4.0, dtype=np.float32)
