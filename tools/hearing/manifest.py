"""The clips that hearing is measured by: who says what, how fast, and over which noise.

Nothing is stored. A clip is a few words and numbers, from which the same machine makes the same
sound every time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from companion.files.sound_format import SAMPLE_RATE
from tests.noises import NOISES, in_a_shop
from tests.sounds import Samples, mix, with_pauses
from tools.hearing.callers import USUAL, Voices
from tools.hearing.material import CALLS
from tools.hearing.recordings import Recording, stretch

CLEAN = "clean"
ROOM = "bare room"
"""An echo instead of a noise."""
RECORDED = "real recordings"
"""Not one noise but many, another for each clip."""
PACES = (1.0, 0.88, 1.15)
PITCHES = (1.0, 1.06, 0.94)
LEVELS = (20.0, 10.0, 5.0)
"""dB by which speech is over the noise."""
MOSTLY = (("engine", 20.0), ("engine", 10.0), ("compressor", 10.0), ("radio", 10.0))
"""Measured with more clips than the rest: what a shop sounds like."""


@dataclass(frozen=True, slots=True)
class Clip:
    """One call as it reaches the microphone.

    Attributes:
        said: The call.
        voice: Short name, as ``tools.hearing.callers`` has it.
        noise: Short name, or ``CLEAN`` or ``ROOM``.
        level: dB of speech over noise; 0 where there is none.
        pace: 1 is the voice's own.
        pitch: 1 is the voice's own; the pace goes with it, as with another throat.
        seed: Of the noise.
        recording: The noise, where it is a real one; its ``noise`` is ``RECORDED`` then.
    """

    said: str
    voice: str
    noise: str
    level: float
    pace: float
    pitch: float
    seed: int
    recording: Recording | None = None

    @property
    def condition(self) -> str:
        """Noise and level: "engine 10 dB"."""
        return self.noise if self.noise in (CLEAN, ROOM) else f"{self.noise} {self.level:.0f} dB"


def manifest(
    voices: Sequence[str], every: int = 1, recordings: Sequence[Recording] = ()
) -> tuple[Clip, ...]:
    """List the clips: every call by every voice clean, by every second one in the usual noises and
    over real recordings, and every second call by one voice in each of the other noises.

    Args:
        voices: Who speaks.
        every: Keep only every so many.
        recordings: Real ones; where there are none, these clips are left out.
    """
    return (*_clips(voices), *_recorded(voices, recordings))[::every]


def _clips(voices: Sequence[str]) -> Iterator[Clip]:
    for turn, voice in enumerate(voices):
        for place, said in enumerate(CALLS):
            yield _clip(said, voice, CLEAN, 0.0, place, turn)
            for number, (noise, level) in enumerate(MOSTLY):
                if (place + turn + number) % 2 == 0:
                    yield _clip(said, voice, noise, level, place, turn)
    others = [(noise, level) for noise in NOISES for level in LEVELS]
    others = [(ROOM, 0.0), *(each for each in others if each not in MOSTLY)]
    for number, (noise, level) in enumerate(others):
        for place, said in enumerate(CALLS):
            if (place + number) % 2 == 0:
                turn = (place // 2 + number) % len(voices)
                yield _clip(said, voices[turn], noise, level, place, turn)


def _recorded(voices: Sequence[str], recordings: Sequence[Recording]) -> Iterator[Clip]:
    number = 0
    for level in LEVELS if recordings else ():
        for turn, voice in enumerate(voices):
            for place, said in enumerate(CALLS):
                if (place + turn) % 2 == 0:
                    clip = _clip(said, voice, RECORDED, level, place, turn)
                    yield replace(clip, recording=recordings[number % len(recordings)])
                    number += 1


def _clip(said: str, voice: str, noise: str, level: float, place: int, turn: int) -> Clip:
    pace = PACES[(place + turn) % len(PACES)]
    pitch = PITCHES[(place // len(PACES) + turn) % len(PITCHES)]
    return Clip(said, voice, noise, level, pace, pitch, place * 7 + turn)


def sound_of(clip: Clip, voices: Voices = USUAL) -> Samples:
    """Make the sound: shape (n,), 16 kHz, with pauses around it."""
    speech = with_pauses(voices.say(clip.said, clip.voice, clip.pace, clip.pitch))
    if clip.recording is not None:
        return mix(speech, stretch(clip.recording, len(speech), clip.seed), clip.level)
    if clip.noise == ROOM:
        return in_a_shop(speech, seed=clip.seed)
    return in_noise(speech, clip.noise, clip.level, clip.seed)


def in_noise(speech: Samples, noise: str, level: float, seed: int) -> Samples:
    """Speech with a noise so many dB below it; ``CLEAN`` is none."""
    if noise == CLEAN:
        return speech
    sound = NOISES[noise](len(speech) / SAMPLE_RATE + 0.1, seed=seed)
    return mix(speech, sound[: len(speech)], level)
