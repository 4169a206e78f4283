"""Listening while the companion speaks: the call sign stops the talk, and the call after it is
heard.

What the microphone hears meanwhile is mostly the companion itself. Its voice is taken out of it
(``audio/echo.py``), and of what is left nothing is listened to for calls: only the call sign is
looked for. It counts where the sound under it can be no rest of the companion's own voice, and
where the companion does not itself say the call sign just then. From the call sign on the sound is
then heard as ever.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from companion.audio.echo import SOUNDING, Cleaned, EchoRemover, level_of
from companion.audio.linear_echo import HOP
from companion.audio.microphone import AFTER_SPEAKING
from companion.audio.own_sound import OwnSound
from companion.files.sound_format import SAMPLE_RATE
from companion.recognize.spotting import Spotted

Samples = NDArray[np.float32]
Spot = Callable[[Samples], Spotted | None]
"""Looks for the call sign in a sound; see ``Spotter``."""

LEAST_MARGIN = -3.0
"""Margin from which the call sign counts as said (``docs/hearing.md``)."""
OWN_MARGIN = -8.0
"""Margin from which the companion's own words may be taken for the call sign."""
NEAR_OWN = 0.6
"""Seconds between the call sign and the companion's own within which it is taken for its own."""
MUST_STAY = -9.0
"""Level over that of what was heard, in dB, above which the linear way must leave a call sign: of
the companion's own voice it leaves -13 dB and less, of a caller -6 and more
(``docs/hearing.md``)."""
MUST_STAY_SUPPRESSED = -20.0
"""The same of the canceller that suppresses, as long as the linear way has learned too little."""
LEARNS = 1.5
"""Seconds of its very first words in which nothing stops the companion: neither of the two ways has
then learned how it is heard."""
OVER_NOISE = 6.0
"""Level over the quiet of late, in dB, from which it is worth looking for the call sign."""
AROUND = 0.05
"""Seconds around the place of the call sign whose level is looked at: the network marks phonemes
where it is sure of them, which is shorter than they last."""
LOOKED_AT = 1.6
"""Seconds of sound in which it is looked for."""
LOOK_EVERY = 0.2
"""Seconds of sound between two looks."""
LAST_LOOKS = 0.5
"""Seconds for which it is looked for after somebody was last heard."""
KEPT = 4.0
"""Seconds of sound that are kept."""
BEFORE_SIGN = 0.25
"""Seconds kept from before the call sign, as of every utterance."""
LONG_SIGN = 0.4
"""Seconds that it takes to say it, about."""
ECHO_DIES = 0.5
"""Seconds after its last sound until the companion is no more heard in the room."""


@dataclass(frozen=True, slots=True)
class Passed:
    """What of a block is to be listened to.

    Attributes:
        samples: Shape (n,); empty while the companion speaks.
        anew: Whether what was heard before is not to be joined to it.
        guarded: Whether it was said while the companion spoke, so that only a call with the call
            sign may come of it.
        under_talk: Seconds of it, after the call sign, in which the companion sounded.
    """

    samples: Samples
    anew: bool = False
    guarded: bool = False
    under_talk: float = 0.0


NOTHING = Passed(np.zeros(0, dtype=np.float32))


class TalkedOver:
    """Decides, block by block, what may be listened to.

    The microphone's thread feeds; the loop's thread begins and ends.

    Args:
        own: What the companion sounds.
        remover: Takes it out of what is heard.
        captured_at: Gives when the block that is fed was captured, in seconds of
            ``time.monotonic``.
    """

    def __init__(
        self, own: OwnSound, remover: EchoRemover, captured_at: Callable[[], float]
    ) -> None:
        self._captured_at = captured_at
        self._own = own
        self._remover = remover
        self._lock = threading.Lock()
        self._spot: Spot | None = None
        self._stop: Callable[[], None] = lambda: None
        self._talking = False
        self._let_in = False
        self._stopped = False
        self._by_key = False
        self._left_over = False
        self._kept: list[Cleaned] = []
        self._floor: list[float] = []
        self._since_look = 0
        self._trusted = 0
        self._since_voice = KEPT
        self._voiced = 0.0

    # --- the loop's thread -----------------------------------------------------------------------
    def begin(self, spot: Spot | None, stop: Callable[[], None]) -> None:
        """The companion begins to speak.

        Args:
            spot: Looks for the call sign; None where it is of no use: only the key then stops.
            stop: Cuts the talk short; any thread may call it.
        """
        with self._lock:
            self._spot, self._stop = spot, stop
            self._talking, self._let_in, self._stopped, self._by_key = True, False, False, False
            self._since_voice, self._voiced, self._since_look = KEPT, 0.0, 0

    def end(self) -> bool:
        """The companion has spoken; return whether the call sign cut it short."""
        # Waits for a look that is under way: the recognizer is asked by one thread at a time.
        with self._lock:
            self._talking, self._spot = False, None
            return self._stopped

    def let_in(self) -> None:
        """Listen from now on, whatever is being said: the key is pressed."""
        self._by_key = True

    # --- the microphone's thread -----------------------------------------------------------------
    def feed(self, block: Samples) -> Passed:
        """Take the next block and return what of it is to be listened to.

        Args:
            block: Shape (n,), mono, at ``SAMPLE_RATE``.
        """
        with self._lock:
            return self._feed(block, self._captured_at())

    def _feed(self, block: Samples, at: float) -> Passed:
        quiet = self._own.quiet_for(at) - self._remover.late
        if not self._talking and quiet > ECHO_DIES:
            return self._as_ever(block)
        cleaned = self._remover.feed(block, at)
        if self._by_key:
            # The key lets in whatever is heard, so that as little of our own as can be is left.
            fresh, self._let_in = not self._let_in, True
            sounds = quiet < AFTER_SPEAKING
            return Passed(cleaned.suppressed if sounds else cleaned.linear, anew=fresh)
        guarded = self._talking or quiet < AFTER_SPEAKING
        if self._let_in:
            return Passed(cleaned.linear, guarded=guarded, under_talk=_sounding(cleaned.far))
        self._keep(cleaned)
        if not self._talking:
            return self._after_talk(guarded)
        if not self._own.known or self._spot is None:
            return NOTHING
        place = self._sign_at()
        if place is None:
            return NOTHING
        self._stopped = self._let_in = True
        self._stop()
        begin, end = place
        under = _sounding(self._all("far")[end:])
        return Passed(self._linear()[begin:], anew=True, guarded=True, under_talk=under)

    def _as_ever(self, block: Samples) -> Passed:
        rest = self._remover.forget_rest()
        if not self._kept and not self._let_in and not len(rest):
            return Passed(block)
        fresh = not self._let_in
        self._kept, self._let_in, self._by_key = [], False, False
        return Passed(np.concatenate((rest, block)), anew=fresh)

    def _after_talk(self, guarded: bool) -> Passed:
        """Nothing was let in during the talk: begin to listen, with a call that was begun in it."""
        if self._somebody_speaks():
            self._let_in = True
            count = round((self._since_voice + self._voiced + BEFORE_SIGN) * SAMPLE_RATE)
            # Where in it the call sign is, nobody has looked.
            under = max(0.0, _sounding(self._all("far")[-count:]) - BEFORE_SIGN - LONG_SIGN)
            return Passed(self._linear()[-count:], anew=True, guarded=True, under_talk=under)
        if guarded:
            return NOTHING
        self._let_in = True
        return Passed(NOTHING.samples, anew=True)

    def _somebody_speaks(self) -> bool:
        """Whether a call was under way when the companion had spoken: what is left of its own voice
        in the room is loud only where nothing is suppressed."""
        if not self._voiced or self._since_voice >= LAST_LOOKS or not self._remover.taken_out:
            return False
        last = self._all("suppressed")[-round(AFTER_SPEAKING * SAMPLE_RATE) :]
        return level_of(last) >= self._quiet() + OVER_NOISE

    def _keep(self, cleaned: Cleaned) -> None:
        if not len(cleaned.heard):
            return
        self._kept.append(cleaned)
        while sum(len(each.heard) for each in self._kept[1:]) > KEPT * SAMPLE_RATE:
            del self._kept[0]
        for begin in range(0, len(cleaned.heard), HOP):
            self._note(
                level_of(cleaned.linear[begin : begin + HOP]),
                level_of(cleaned.heard[begin : begin + HOP]),
            )
        self._since_look += len(cleaned.heard)
        self._trusted = self._trusted + len(cleaned.heard) if self._remover.seen > LEARNS else 0

    def _note(self, left: float, heard: float) -> None:
        """Take in the levels of a hop: whether somebody else is heard."""
        self._floor = [*self._floor, left][-250:]
        seconds = HOP / SAMPLE_RATE
        if left - heard >= MUST_STAY and left >= self._quiet() + OVER_NOISE:
            self._voiced = seconds + (
                self._voiced + self._since_voice if self._since_voice < LAST_LOOKS else 0.0
            )
            self._since_voice = 0.0
        else:
            self._since_voice += seconds

    def _quiet(self) -> float:
        """The level of what is left in the pauses, in dB of full scale."""
        return sorted(self._floor)[len(self._floor) // 7]

    # --- the call sign ---------------------------------------------------------------------------
    def _sign_at(self) -> tuple[int, int] | None:
        """Where in what is kept the call sign begins, with what is kept from before it, and where
        it ends."""
        if self._since_look < LOOK_EVERY * SAMPLE_RATE or self._since_voice >= LAST_LOOKS:
            return None
        self._since_look = 0
        assert self._spot is not None
        linear = self._linear()
        first = max(0, len(linear) - round(LOOKED_AT * SAMPLE_RATE))
        found = None
        # A recognizer that fails at this fails at the next call too, and that is told then.
        with suppress(Exception):
            found = self._spot(linear[first:])
            if found is not None and self._is_own(found, first):
                found = None
        if found is None:
            return None
        begin = max(0, first + round((found.begin - BEFORE_SIGN) * SAMPLE_RATE))
        return begin, first + round((found.begin + LONG_SIGN) * SAMPLE_RATE)

    def _is_own(self, found: Spotted, first: int) -> bool:
        if found.margin < LEAST_MARGIN:
            return True
        if first + found.begin * SAMPLE_RATE < len(self._linear()) - self._trusted:
            return True
        begin = max(0, first + round((found.begin - AROUND) * SAMPLE_RATE))
        end = first + round((found.end + AROUND) * SAMPLE_RATE)
        heard = level_of(self._all("heard")[begin:end])
        left = level_of(self._linear()[begin:end])
        if left - heard < MUST_STAY:
            return True
        if not self._remover.taken_out:
            suppressed = level_of(self._all("suppressed")[begin:end])
            if suppressed - heard < MUST_STAY_SUPPRESSED:
                return True
        assert self._spot is not None
        ours = self._spot(self._all("far")[first:])
        return (
            ours is not None
            and ours.margin >= OWN_MARGIN
            and abs(ours.begin - found.begin) <= NEAR_OWN
        )

    def _linear(self) -> Samples:
        return self._all("linear")

    def _all(self, which: str) -> Samples:
        return np.concatenate([getattr(each, which) for each in self._kept])


def _sounding(far: Samples) -> float:
    """Seconds of a stretch in which the companion sounds, by hops."""
    hops = far[: len(far) // HOP * HOP].reshape(-1, HOP)
    return int(np.count_nonzero(np.abs(hops).max(axis=1) >= SOUNDING)) * HOP / SAMPLE_RATE
