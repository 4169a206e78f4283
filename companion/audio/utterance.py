"""The one value that leaves this room: a stretch of sound that may hold a call."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE

CLEAR = 20.0
"""Of speech this much above the noise, in dB, it is plain where it ends; nearer to it, weak last
sounds are lost in the noise (``docs/hearing.md``)."""

Trouble = Literal["silent", "clipped", "too-long", "truncated", "gap"]


@dataclass(frozen=True, slots=True)
class Utterance:
    """A stretch of sound between two pauses.

    Attributes:
        samples: Shape (n,), mono, -1 to 1, at ``SAMPLE_RATE``.
        start: Seconds from the start of the stream or file to the first sample.
        speech_end: Seconds from the start of the stream or file to where speech was last heard;
            what follows in ``samples`` is the pause that ended the utterance.
        troubles: What is wrong with the sound, if anything; ``gap`` where a part of it was lost.
        over_noise: How far its speech is above the noise, both in the band that speech is told by,
            in dB; None where that was not measured.
        interim: Number of the interim that already held all its speech, or None.
        over_talk: Whether it was begun while the companion itself spoke: only a call that begins
            with the call sign may then come of it.
        under_talk: How much of it after the call sign was said while the companion still sounded,
            in seconds.
    """

    samples: NDArray[np.float32]
    start: float
    speech_end: float
    troubles: tuple[Trouble, ...] = ()
    over_noise: float | None = None
    interim: int | None = None
    over_talk: bool = False
    under_talk: float = 0.0

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return len(self.samples) / SAMPLE_RATE

    @property
    def clear(self) -> bool:
        """Whether its speech is so far above the noise that it is plain where it ends."""
        return self.over_noise is not None and self.over_noise >= CLEAR


@dataclass(frozen=True, slots=True)
class Interim:
    """The utterance under way as it stands in a pause that may be its end.

    Attributes:
        number: Grows with every interim of a stream.
        utterance: What was heard so far.
    """

    number: int
    utterance: Utterance
