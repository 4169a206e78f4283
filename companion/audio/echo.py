"""The companion's own voice, taken out of what the microphone hears while it speaks.

Two ways at once, because neither is enough (``docs/hearing.md``): the echo canceller of the
package pywebrtc-audio (AEC3 of WebRTC) leaves next to nothing of an echo from its first moment,
and with it nothing of a caller who is no louder; ``linear_echo.py`` leaves the caller whole, but is
slow to learn and leaves a little of the echo. The second is listened to, the first tells whether
that can be anything but the companion itself.
"""

from __future__ import annotations

import importlib.util
from collections import deque
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.audio.echo_delay import LONGEST, delay_of
from companion.audio.linear_echo import HOP, PARTITIONS, LinearEcho
from companion.audio.own_sound import OwnSound
from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE
from companion.installed import to_add_extra

EARLIER = 64
"""Samples that the far sound is given before its echo is expected: 4 ms, for what is not exact."""
LOOKED_AT = 2.0
"""Length of the sound in which the delay is looked for, in seconds."""
LOOK_EVERY = 0.25
"""Time between two looks for it, in seconds, while the echo is not taken out."""
SAME = 3
"""Samples by which two delays that are the same may be found apart."""
CHANGED = 0.5
"""Share of what was learned that is in doubt where the delay has changed: it is never known to less
than a sample."""
SOUNDING = 1e-3
"""Of full scale: a far sound that is quieter than this has no echo to speak of."""
SEEN = 3.0
"""How far back it is looked at whether the echo is taken out, in seconds."""
TAKEN_OUT = -10.0
"""Level over that of what was heard, in dB, that the quieter third of the hops must fall to, to
call the echo taken out; it falls to about -20 (``docs/hearing.md``)."""


class EchoUnavailable(CompanionError):
    """No echo canceller is installed; the message says how to get one."""


@dataclass(frozen=True, slots=True)
class Cleaned:
    """A stretch of sound, three times; shape (n,) each, n a multiple of ``HOP``.

    Attributes:
        heard: As the microphone gave it.
        linear: Without the echo as far as its way is learned.
        suppressed: Without the echo and whatever may be some of it.
        far: What the loudspeaker sounded then, moved to where its echo is.
    """

    heard: NDArray[np.float32]
    linear: NDArray[np.float32]
    suppressed: NDArray[np.float32]
    far: NDArray[np.float32]


def require_canceller() -> None:
    """Raise ``EchoUnavailable`` where the package is not installed; nothing is loaded."""
    if not can_cancel():
        raise EchoUnavailable(
            "No echo canceller is installed, so nothing is heard while the companion speaks; "
            f"bring one with: {to_add_extra('echo')}"
        )


def can_cancel() -> bool:
    """Whether a canceller is installed; nothing is loaded."""
    return importlib.util.find_spec("pywebrtc_audio") is not None


class EchoRemover:
    """Takes the companion's own voice out of a stream from the microphone.

    Args:
        own: What the companion sounds.

    Attributes:
        seen: How long the companion has sounded so far, in seconds: what there was to learn from.

    Raises:
        EchoUnavailable: If no canceller is installed, or it does not load.
    """

    def __init__(self, own: OwnSound) -> None:
        require_canceller()
        try:
            from pywebrtc_audio import EchoCanceller

            self._canceller: Any = EchoCanceller(sample_rate=SAMPLE_RATE)
        except (ImportError, OSError, ValueError, RuntimeError) as error:
            raise EchoUnavailable(
                f"The echo canceller does not load ({type(error).__name__}), so nothing is heard "
                f"while the companion speaks; bring it again with: {to_add_extra('echo')}"
            ) from error
        self._own = own
        self._linear = LinearEcho()
        self._lag = 0
        self._found = False
        self._seen_delay: int | None = None
        self.seen = 0.0
        self._rest = np.zeros(0, dtype=np.float32)
        self._recent = np.zeros(0, dtype=np.float32)
        self._levels: deque[float] = deque(maxlen=round(SEEN * SAMPLE_RATE / HOP))
        self._since_look = 0

    @property
    def late(self) -> float:
        """How late the loudspeaker is heard, in seconds; 0 while that is not known."""
        return self._lag / SAMPLE_RATE

    @property
    def taken_out(self) -> bool:
        """Whether the linear way has taken the echo out of late."""
        if len(self._levels) < self._levels.maxlen // 6:  # type: ignore[operator]
            return False
        return float(np.quantile(self._levels, 1 / 3)) <= TAKEN_OUT

    def feed(self, block: NDArray[np.float32], at: float) -> Cleaned:
        """Take the next block; what does not fill a hop is kept for the next.

        Args:
            block: Shape (n,), any n, mono, at ``SAMPLE_RATE``.
            at: When its first sample was captured, in seconds; later blocks follow without a gap.
        """
        begin = at - len(self._rest) / SAMPLE_RATE
        sound = np.concatenate((self._rest, block.astype(np.float32, copy=False)))
        whole = len(sound) // HOP * HOP
        heard, self._rest = sound[:whole], sound[whole:]
        linear, suppressed, far = (np.empty(whole, dtype=np.float32) for _ in range(3))
        for place in range(0, whole, HOP):
            hop = slice(place, place + HOP)
            moment = begin + place / SAMPLE_RATE
            self._look_for_delay(heard[hop], moment)
            far[hop] = self._own.between(moment - self._lag / SAMPLE_RATE, HOP)
            linear[hop] = self._linear.remove(heard[hop], far[hop])
            suppressed[hop] = self._canceller.process(heard[hop], far[hop])
            self._note(heard[hop], linear[hop], far[hop])
        return Cleaned(heard, linear, suppressed, far)

    def forget_rest(self) -> NDArray[np.float32]:
        """Return what has not yet filled a hop: what follows is not given here."""
        rest, self._rest = self._rest, np.zeros(0, dtype=np.float32)
        self._recent = np.zeros(0, dtype=np.float32)
        return rest

    def _note(
        self,
        heard: NDArray[np.float32],
        linear: NDArray[np.float32],
        far: NDArray[np.float32],
    ) -> None:
        if np.abs(far).max() >= SOUNDING:
            self._levels.append(level_of(linear) - level_of(heard))
            self.seen += HOP / SAMPLE_RATE

    def _look_for_delay(self, heard: NDArray[np.float32], moment: float) -> None:
        """Find when the loudspeaker is heard, unless its echo is taken out already."""
        self._recent = np.concatenate((self._recent, heard))[-round(LOOKED_AT * SAMPLE_RATE) :]
        self._since_look += HOP
        if self._since_look < LOOK_EVERY * SAMPLE_RATE or not self._badly():
            return
        self._since_look = 0
        count = len(self._recent) + LONGEST
        end = moment + HOP / SAMPLE_RATE
        sounded = self._own.between(end - count / SAMPLE_RATE, count)
        delay = delay_of(self._recent, sounded)
        before, self._seen_delay = self._seen_delay, delay
        if delay is None or before is None or abs(delay - before) > SAME:
            # Found twice: a sound of which little is left yet may be heard anywhere.
            return
        if abs(delay - EARLIER - self._lag) < SAME:
            return
        self._lag = max(0, delay - EARLIER)
        if self._found:
            # The delay is another one each time the loudspeaker is opened; the way is the same.
            self._linear.less_sure(CHANGED)
        else:
            # What was learned until now has the delay in it.
            self._linear = LinearEcho()
            self._found = True
        history = PARTITIONS * HOP
        self._linear.heard_before(
            self._own.between(moment - (self._lag + history) / SAMPLE_RATE, history)
        )

    def _badly(self) -> bool:
        """Whether the last half second with sound of ours was not taken out of what was heard."""
        last = list(self._levels)[-round(0.5 * SAMPLE_RATE / HOP) :]
        return bool(last) and (not self._found or float(np.median(last)) > TAKEN_OUT)


def level_of(samples: NDArray[np.float32]) -> float:
    """Level of a sound, in dB of full scale; -120 for silence."""
    power = float(np.mean(np.square(samples, dtype=np.float64))) if len(samples) else 0.0
    return 10 * float(np.log10(power + 1e-12))
