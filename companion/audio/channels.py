"""Two capsules of one microphone made one: the better of them, or both where that is better.

A headset has one capsule at the mouth and one that hears the machine; a laptop has two alike; a
plug may lack a contact, so that one channel is dead, or turn one upside down, so that both together
are silence. What stands out most from its own noise while somebody speaks is listened to.
"""

from __future__ import annotations

from collections import deque

import numpy as np
from numpy.typing import NDArray

from companion.audio.noise_floor import SPEECH_BAND
from companion.audio.resample import mono

WAYS: dict[str, tuple[float, float]] = {
    "both": (0.5, 0.5),
    "first": (1.0, 0.0),
    "second": (0.0, 1.0),
    "against each other": (0.5, -0.5),
}
"""What may be listened to: how much of each channel."""
MEMORY_SECONDS = 5.0
"""How far back is looked, in seconds: as far as the noise floor looks."""
NOISE_SHARE = 0.15
"""Share of the remembered blocks that are at or below the noise, as in the segmenter."""
SPEECH_SHARE = 0.8
"""Share of them that are at or below speech: a call of more than a second in five lifts it, struck
steel beside one capsule does not."""
SPOKEN = 6.0
"""Speech stands out from its noise by this much, in dB, in what is listened to best; an engine at
idle goes up and down by less, and while nobody speaks nothing is chosen."""
BETTER = 2.0
"""What is changed to must stand out by this much more, in dB: less is no gain, and an echo remover
has to learn anew."""
HARDER = 1.0
"""Each change makes the next one take so much more, in dB: it settles, whatever clanks."""
PAUSE = 3.0
"""Above the noise, in dB: below that nobody speaks, and a change tears no word."""
PAUSE_SECONDS = 0.6
"""How long nobody must have spoken for a change, in seconds: as long as ends a call."""
UPSIDE_DOWN = -0.7
"""Correlation of both channels, in the speech band, below which one of them is upside down: two
capsules side by side hear any sound nearly alike."""
_LOWEST = 1e-12


class TwoChannels:
    """Makes one channel of a stream of two, and learns from it which.

    Args:
        rate: Of the stream, in Hz.

    Attributes:
        way: What is listened to: a key of ``WAYS``.
    """

    def __init__(self, rate: int) -> None:
        self.way = "both"
        self._rate = rate
        self._weights = np.array(WAYS[self.way], dtype=np.float32)
        self._powers: deque[NDArray[np.float64]] = deque()
        self._seconds = 0.0
        self._since = 0.0
        self._better = BETTER
        self._window = np.zeros((0, 1))
        self._band = np.zeros(0, dtype=bool)

    def feed(self, block: NDArray[np.float32], *, learn: bool = True) -> NDArray[np.float32]:
        """Return a block of one channel, shape (n,).

        Args:
            block: Shape (n, channels) or (n,); other than two channels are mixed as ever.
            learn: Whether it says anything of what is better; not while the companion itself
                sounds, since what hears the loudspeaker best is not what hears a person best.
        """
        if block.ndim == 1 or block.shape[1] != 2 or len(block) == 0:
            return mono(block)
        with np.errstate(invalid="ignore", over="ignore"):
            sound = np.nan_to_num(block, nan=0.0, posinf=1.0, neginf=-1.0).clip(-1.0, 1.0)
        weights = self._weights
        if learn:
            self._remember(sound)
            weights = self._wanted()
        if weights is self._weights:
            return mono(sound @ weights)
        # Within one block from one to the other, so that it does not click.
        share = np.linspace(0.0, 1.0, len(sound), dtype=np.float32)[:, None]
        mixed = sound * ((1 - share) * self._weights + share * weights)
        self._weights = weights
        return mono(mixed.sum(axis=1))

    def _remember(self, sound: NDArray[np.float32]) -> None:
        """Add the power of both in the speech band, and what they have in common."""
        if len(sound) != len(self._window):
            bins = np.fft.rfftfreq(len(sound), 1 / self._rate)
            self._band = (bins >= SPEECH_BAND[0]) & (bins <= SPEECH_BAND[1])
            self._window = np.hanning(len(sound))[:, None]
        first, second = np.fft.rfft(sound * self._window, axis=0)[self._band].T
        common = float(np.sum((first * second.conj()).real))
        powers = (float(np.sum(np.abs(each) ** 2)) for each in (first, second))
        self._powers.append(np.array([*powers, common]) / len(sound) ** 2)
        self._seconds += len(sound) / self._rate
        self._since += len(sound) / self._rate
        while self._seconds > MEMORY_SECONDS:
            self._powers.popleft()
            self._seconds -= len(sound) / self._rate

    def _wanted(self) -> NDArray[np.float32]:
        """The weights from now on; the same array where nothing changes."""
        if self._since < _LOOK_SECONDS:
            return self._weights
        self._since = 0.0
        remembered = np.array(self._powers)
        first, second, common = remembered.sum(axis=0)
        if self.way == "both" and common < UPSIDE_DOWN * np.sqrt(first * second) - _LOWEST:
            return self._change("against each other")
        # Averaged as in the segmenter, over the strokes of an engine.
        ends = np.cumsum(remembered, axis=0)
        smooth = (ends[_SMOOTHED:] - ends[:-_SMOOTHED]) / _SMOOTHED
        if len(smooth) == 0:
            return self._weights
        levels = {
            way: 10 * np.log10(np.maximum(_power(smooth, weights), _LOWEST))
            for way, weights in WAYS.items()
        }
        noise = {way: float(np.quantile(each, NOISE_SHARE)) for way, each in levels.items()}
        out = {
            way: float(np.quantile(each, SPEECH_SHARE)) - noise[way] for way, each in levels.items()
        }
        best = max(out, key=lambda way: out[way])
        spoken = out[best] >= SPOKEN and out[best] - out[self.way] >= self._better
        latest = round(PAUSE_SECONDS / MEMORY_SECONDS * len(smooth))
        if not spoken or max(levels[best][-latest:]) - noise[best] > PAUSE:
            return self._weights
        return self._change(best)

    def _change(self, way: str) -> NDArray[np.float32]:
        self.way = way
        self._better += HARDER
        return np.array(WAYS[way], dtype=np.float32)


_LOOK_SECONDS = 0.2
"""Between two looks at what is better, in seconds."""
_SMOOTHED = 4
"""Blocks that the power is averaged over: 0.12 s at the microphone's pace."""


def _power(remembered: NDArray[np.float64], weights: tuple[float, float]) -> NDArray[np.float64]:
    """Power of a mixture, by the powers of its parts and what they have in common."""
    one, other = weights
    first, second, common = remembered.T
    power: NDArray[np.float64] = one**2 * first + other**2 * second + 2 * one * other * common
    return power
