"""Endpointing: where speech begins and ends in a stream of sound; time is counted in samples."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
import webrtcvad
from numpy.typing import NDArray

from companion.audio.levels import troubles
from companion.audio.noise_floor import (
    FRAME,
    FRAME_SECONDS,
    NoiseFloor,
    band_power,
    decibels,
)
from companion.audio.utterance import Interim, Trouble, Utterance
from companion.files.sound_format import SAMPLE_RATE

INTERIM_SHARE = 0.5
"""Share of the pause that ends an utterance after which an interim utterance is given: it is then
recognized while the pause still lasts."""
CLEAR_INTERIM_SHARE = 0.3
"""The same for clear speech (``Utterance.clear``): gaps within words are shorter
(``docs/hearing.md``)."""
UNDECIDED = 2.0
"""How long an interim utterance waits, at most, for ``end_after``: so many times that pause."""
LONGEST_INTERIM = 8.0
"""No call is longer, in seconds: of longer talk no interim utterances are given."""


@dataclass(frozen=True, slots=True)
class Segmentation:
    """How speech is cut out of a stream. Lengths in seconds, levels in dB.

    Attributes:
        pre_roll: Sound kept from before speech was noticed, so that no first word is cut. Longer
            ones make the call sign harder to hear (``docs/hearing.md``).
        end_pause: Quiet that ends an utterance.
        shortest: Speech, without its pauses, shorter than this is a click and dropped.
        longest: An utterance is ended here and marked too-long; what follows starts another.
        opening_gate: Level over the noise floor at which speech begins.
        holding_gate: Level over the noise floor that still counts as speech within an utterance.
        lowest_floor: The noise floor is never taken to be below this, in dB of full scale.
        floor_memory: How far back the noise floor looks: longer than any breath without a gap,
            short enough that noise which began meanwhile is soon taken for noise.
        steady: Sound above the noise floor that is even for so long is noise which has begun: an
            engine was started. Longer than people speak evenly.
        floor_share: Share of the remembered frames, 0 to 1, that are at or below the noise floor.
        smoothing: The energy is averaged over this long: an idling engine fires every 0.07 s, and
            its single strokes must not hold an utterance open (``docs/hearing.md``).
        first_look: Sound gathered before the first judgement, so that a stream that opens with
            speech or with noise is told apart.
        aggressiveness: How readily the voice detector says "no speech", 0 to 3.
    """

    pre_roll: float = 0.25
    end_pause: float = 0.6
    shortest: float = 0.06
    longest: float = 15.0
    opening_gate: float = 6.0
    holding_gate: float = 4.0
    lowest_floor: float = -65.0
    floor_memory: float = 5.0
    steady: float = 1.2
    floor_share: float = 0.15
    smoothing: float = 0.1
    first_look: float = 0.5
    aggressiveness: int = 1


class Segmenter:
    """Cuts a stream of sound into utterances.

    A frame counts as speech when the voice detector says so and its energy in the speech band is
    clearly over the noise floor, which is followed all the time: either alone fires on a steady
    engine or on every knock.

    Args:
        settings: How to cut.
        interims: Give the utterance under way as an ``Interim`` in each pause that may be its end,
            and then end it after the pause that ``end_after`` was given.

    Attributes:
        interim: The utterance under way, in a pause that may be its end; None again once speech
            goes on or the utterance has ended.
        end_pause: Quiet that ends an utterance, in seconds; may be changed at any time.
        longest: Longest utterance, in seconds; may be changed at any time (a note may be longer).
    """

    def __init__(self, settings: Segmentation | None = None, *, interims: bool = False) -> None:
        self.settings = settings or Segmentation()
        self.interim: Interim | None = None
        self.end_pause = self.settings.end_pause
        self.longest = self.settings.longest
        self._detector = webrtcvad.Vad(self.settings.aggressiveness)
        self._floor = NoiseFloor(
            _frames(self.settings.floor_memory),
            self.settings.floor_share,
            self.settings.lowest_floor,
            _frames(self.settings.steady),
        )
        self._rest = np.zeros(0, dtype=np.float32)
        self._first: list[_Frame] | None = []
        self._recent: deque[float] = deque(maxlen=_frames(self.settings.smoothing))
        self._before_speech = _frames(self.settings.pre_roll) + _OPENING
        self._before: deque[_Frame] = deque(maxlen=self._before_speech)
        self._inside: list[_Frame] = []
        self._quiet = 0
        self._interims = interims
        self._numbered = 0
        self._pause_told: float | None = None
        self._position = 0

    @property
    def seconds(self) -> float:
        """Length of the stream fed so far, in seconds."""
        return (self._position + len(self._rest)) / SAMPLE_RATE

    @property
    def speaking(self) -> bool:
        """Whether an utterance is under way."""
        return bool(self._inside)

    @property
    def noise_floor(self) -> float:
        """The noise followed so far, in the speech band, in dB of full scale."""
        return self._floor.level

    def feed(self, block: NDArray[np.float32]) -> tuple[Utterance, ...]:
        """Take the next block and return the utterances that ended in it.

        Args:
            block: Shape (n,), any n, mono, -1 to 1, at ``SAMPLE_RATE``.
        """
        sound = np.concatenate((self._rest, block.astype(np.float32, copy=False)))
        whole = len(sound) // FRAME * FRAME
        self._rest = sound[whole:]
        ended: list[Utterance] = []
        for start in range(0, whole, FRAME):
            ended.extend(self._look(sound[start : start + FRAME]))
        return tuple(ended)

    def end_after(self, number: int, pause: float) -> None:
        """Set the pause that ends an interim utterance; without effect once speech goes on.

        Args:
            number: Of the interim.
            pause: Quiet since its last speech that ends it, in seconds.
        """
        if self.interim is not None and self.interim.number == number:
            self._pause_told = pause

    def flush(self) -> tuple[Utterance, ...]:
        """Return the utterance under way, if any: the stream has ended."""
        ended: list[Utterance] = []
        if len(self._rest):
            padded = np.zeros(FRAME, dtype=np.float32)
            padded[: len(self._rest)] = self._rest
            self._rest = np.zeros(0, dtype=np.float32)
            ended.extend(self._look(padded))
        ended.extend(self._judge_first())
        ended.extend(self._end())
        return tuple(ended)

    def forget(self) -> None:
        """Drop the utterance under way and the pre-roll; the noise floor is kept."""
        self._rest = np.zeros(0, dtype=np.float32)
        self._before.clear()
        self._inside = []
        self.interim = None

    def _look(self, samples: NDArray[np.float32]) -> list[Utterance]:
        power = band_power(samples)
        self._recent.append(power)
        frame = _Frame(
            start=self._position,
            samples=samples,
            alone=decibels(power),
            level=decibels(sum(self._recent) / len(self._recent)),
            voiced=bool(self._detector.is_speech(_as_pcm(samples), SAMPLE_RATE)),
        )
        self._position += FRAME
        self._floor.follow(frame.level)
        if self._floor.begun and self._inside:
            self._leave_noise_out()
        if self._first is None:
            return self._judge(frame)
        self._first.append(frame)
        return self._judge_first() if len(self._first) >= _frames(self.settings.first_look) else []

    def _judge_first(self) -> list[Utterance]:
        first, self._first = self._first or [], None
        return [utterance for frame in first for utterance in self._judge(frame)]

    def _judge(self, frame: _Frame) -> list[Utterance]:
        over = frame.level - self._floor.level
        gate = self.settings.holding_gate if self._inside else self.settings.opening_gate
        frame.speech = frame.voiced and over >= gate
        # The smoothed level smears a click over several frames; its own level does not.
        frame.strong = (
            frame.speech and frame.alone - self._floor.level >= self.settings.opening_gate
        )
        if not self._inside:
            self._before.append(frame)
            opening = list(self._before)[-_OPENING:]
            if sum(each.speech for each in opening) >= _OPENED:
                self._inside = list(self._before)
                self._before.clear()
                self._quiet = 0
            return []
        self._inside.append(frame)
        if frame.speech:
            self._quiet = 0
            self.interim = None
        else:
            self._quiet += 1
        if len(self._inside) >= _frames(self.longest):
            return self._end(too_long=True)
        if self._quiet == _frames(CLEAR_INTERIM_SHARE * self.end_pause):
            self._give_interim(clear=True)
        if self._quiet == _frames(INTERIM_SHARE * self.end_pause) and self.interim is None:
            self._give_interim()
        return self._end() if self._quiet >= _frames(self._ending_pause()) else []

    def _leave_noise_out(self) -> None:
        """Judge anew what was taken for speech since noise began: an engine was started, perhaps
        with a call soon after it."""
        floor = self._floor.level
        noisy = 0
        for frame in reversed(self._inside):
            if frame.level < floor - _BELOW_NOISE:
                # Before it began: what was said then stands.
                break
            noisy += 1
            frame.speech = frame.speech and frame.level - floor >= self.settings.holding_gate
            loud = frame.alone - floor >= self.settings.opening_gate
            frame.strong = frame.strong and frame.speech and loud
        # Its first strokes are smeared over what was before.
        noisy += _frames(self.settings.smoothing)
        since = self._inside[-noisy:]
        for place, frame in enumerate(since):
            if sum(each.speech for each in since[place : place + _OPENING]) >= _OPENED:
                break
            # A stroke of the machine by itself opens no utterance.
            frame.speech = frame.strong = False
        self._quiet = 0
        for frame in reversed(self._inside):
            if frame.speech:
                break
            self._quiet += 1

    def _ending_pause(self) -> float:
        if self.interim is None:
            return self.end_pause
        return UNDECIDED * self.end_pause if self._pause_told is None else self._pause_told

    def _give_interim(self, *, clear: bool = False) -> None:
        """Give the utterance so far, unless it holds no speech; only clear speech if asked so."""
        if not self._interims or len(self._inside) > _frames(LONGEST_INTERIM):
            return
        utterance = self._utterance(self._inside)
        if utterance is not None and (utterance.clear or not clear):
            self._numbered += 1
            self._pause_told = None
            self.interim = Interim(self._numbered, utterance)

    def _end(self, *, too_long: bool = False) -> list[Utterance]:
        frames, self._inside = self._inside, []
        interim, self.interim = self.interim, None
        if not too_long:
            # The pause may hold the quiet beginning of the next utterance.
            self._before.extend(frames[-min(_OPENING, _frames(self.end_pause)) :])
        utterance = self._utterance(frames, too_long=too_long)
        if utterance is None:
            return []
        return [utterance if interim is None else replace(utterance, interim=interim.number)]

    def _utterance(self, frames: list[_Frame], *, too_long: bool = False) -> Utterance | None:
        """These frames as an utterance; None where they hold only a click."""
        if sum(frame.strong for frame in frames) < _frames(self.settings.shortest):
            return None
        spoken = [place for place, frame in enumerate(frames) if frame.speech]
        noise = max(0, spoken[0] - self._before_speech)
        frames, spoken = frames[noise:], [place - noise for place in spoken]
        speech = np.concatenate([frame.samples for frame in frames[spoken[0] : spoken[-1] + 1]])
        found: list[Trouble] = list(troubles(speech))
        if too_long:
            found.append("too-long")
        return Utterance(
            samples=np.concatenate([frame.samples for frame in frames]),
            start=frames[0].start / SAMPLE_RATE,
            speech_end=(frames[spoken[-1]].start + FRAME) / SAMPLE_RATE,
            troubles=tuple(found),
            over_noise=decibels(
                sum(10 ** (frames[place].alone / 10) for place in spoken) / len(spoken)
            )
            - self._floor.level,
        )


def segment_sound(
    blocks: Iterable[NDArray[np.float32]], settings: Segmentation | None = None
) -> Iterator[Utterance]:
    """Yield the utterances of a whole stream, each as soon as it has ended.

    Args:
        blocks: Shape (n,) each, mono, -1 to 1, at ``SAMPLE_RATE``.
        settings: How to cut.
    """
    segmenter = Segmenter(settings)
    for block in blocks:
        yield from segmenter.feed(block)
    yield from segmenter.flush()


_OPENING = 10
"""Frames looked at together to notice that speech begins: 0.2 s."""
_BELOW_NOISE = 3.0
"""A frame this far below the noise, in dB, was before the noise began."""
_OPENED = 4
"""How many of them must be speech: more than a knock makes, fewer than the shortest "no"."""


@dataclass(slots=True)
class _Frame:
    start: int
    samples: NDArray[np.float32]
    alone: float
    level: float
    voiced: bool
    speech: bool = False
    strong: bool = False


def _frames(seconds: float) -> int:
    return max(1, round(seconds / FRAME_SECONDS))


def _as_pcm(samples: NDArray[np.float32]) -> bytes:
    return (np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes()
