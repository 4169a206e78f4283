"""How clearly a sound was heard, whatever was said in it.

Near a microphone a voice falls steeply between two sounds of a word. Echoes of a room fill these
gaps, and so does noise: what was said then looks more alike than its scores tell. A microphone that
takes up nothing above 4 kHz, as a telephone does and many a wireless headset, loses besides what
tells "f" from "s" and "t".
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE
from companion.recognize.ctc import BLANK

_FRAME = SAMPLE_RATE // 100
_APART = 6
"""Frames of 10 ms between which a level falls: as long as a short sound of a word."""
_LOUD = 12.0
"""dB below the loudest of a sound: only where it is as loud as this is it looked at, so that it
makes no difference how long it is quiet before the speech and after it."""
_LOUDEST = 10
"""So many frames may be louder than what counts as the loudest: a click is no speech."""
_STEEP = 10.0
"""Percent of all falls that are steeper than the one that is looked at."""
STEEPEST = 30.0
"""dB; from a word into a quiet room it falls by more, which says nothing further."""
_NO_POWER = 1e-9
_WINDOW = 512
_SPEECH_BAND = (300.0, 3400.0)
"""Hertz: what a telephone lets through (ITU-T G.712)."""
_ABOVE = (4500.0, 7500.0)
"""Hertz: what it does not."""
NARROW = -45.0
"""dB by which the power above is less than that of the speech band, from which a sound is narrow:
of 300 calls each through a telephone's band all had less than -52, by three other microphones all
more than -39 (our own measurement with synthetic voices, in quiet and in noise)."""


def falling(samples: NDArray[np.float32]) -> float:
    """How steeply a sound falls where it is loud: by how many dB in 60 ms, a tenth of the time at
    least.

    Args:
        samples: Shape (n,), mono, -1 to 1, at 16 kHz.

    Returns:
        0, not at all, to ``STEEPEST``. About 25 for calls near a microphone in quiet, 10 where an
        engine is 10 dB below the voice, and 4 from two meters away in a bare room (our own
        measurements with synthetic voices).
    """
    frames = len(samples) // _FRAME
    if frames <= _APART + _LOUDEST:
        return STEEPEST
    power = np.square(samples[: frames * _FRAME].reshape(frames, _FRAME)).mean(axis=1)
    level = 10 * np.log10(power + _NO_POWER)
    before, after = level[:-_APART], level[_APART:]
    loud = before >= np.partition(level, -_LOUDEST)[-_LOUDEST] - _LOUD
    if not loud.any():
        return STEEPEST
    fall = -float(np.percentile((after - before)[loud], _STEEP))
    return min(max(fall, 0.0), STEEPEST)


def narrow(samples: NDArray[np.float32]) -> bool:
    """Whether a sound has nothing above a telephone's band.

    Args:
        samples: Shape (n,), mono, -1 to 1, at 16 kHz.
    """
    windows = samples[: len(samples) // _WINDOW * _WINDOW].reshape(-1, _WINDOW)
    if not len(windows):
        return False
    spectrum = np.abs(np.fft.rfft(windows * np.hanning(_WINDOW), axis=1)) ** 2
    power = spectrum.sum(axis=1)
    loud = spectrum[power >= np.median(power)].sum(axis=0)
    hertz = np.fft.rfftfreq(_WINDOW, 1 / SAMPLE_RATE)
    speech, above = (
        float(loud[(hertz >= low) & (hertz < high)].sum()) for low, high in (_SPEECH_BAND, _ABOVE)
    )
    return above < speech * 10 ** (NARROW / 10)


def doubt(log_probabilities: NDArray[np.float32] | None) -> float:
    """How unsure the phoneme network is of what it hears where it hears something.

    Args:
        log_probabilities: Shape (frames, phonemes), from the ``PhonemeNetwork``; None where there
            is none for this model.

    Returns:
        Mean entropy of the frames that are more likely a phoneme than none, in nats; 0 where there
        are none.
    """
    if log_probabilities is None:
        return 0.0
    sounded = log_probabilities[log_probabilities[:, BLANK] < np.log(0.5)]
    if not len(sounded):
        return 0.0
    return -float((np.exp(sounded) * sounded).sum(axis=1).mean())
