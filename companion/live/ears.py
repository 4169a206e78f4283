"""The microphone's thread: sound in, utterances and what is wrong with the sound out."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from companion.audio.calibration import Calibrating
from companion.audio.devices import MicrophoneUnavailable
from companion.audio.endpointing import Segmenter
from companion.audio.lost_sound import LostSound
from companion.audio.reopening import Reopening
from companion.audio.silence import SENTENCE as SILENT
from companion.audio.silence import SOUND_AGAIN, SilenceWatch
from companion.audio.utterance import Interim, Utterance
from companion.live.happenings import Device, Happening
from companion.live.talked_over import Passed, Spot, TalkedOver

STOPPING_SECONDS = 1.0
"""How long the end waits for the thread, in seconds."""
HUNG_SECONDS = 45.0
"""A thread without a sign of life for so long, in seconds, hangs in the sound system: it waits two
seconds for a block and thirty between two tries to open a device; our own figure."""
MEANWHILE = "Calls are not heard; timers still ring."


class Source(Protocol):
    """What ears listen to: a ``Microphone``."""

    @property
    def name(self) -> str:
        """As the system names it."""
        ...

    @property
    def overflows(self) -> int:
        """How often sound was lost because it came faster than it was taken."""
        ...

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """Yield sound as it comes; raise ``MicrophoneUnavailable`` when it stops coming."""
        ...

    def pause(self) -> None:
        """Drop what comes from now on."""
        ...

    def resume(self) -> None:
        """Keep it again."""
        ...

    def reopen(self) -> None:
        """Open it anew; raise ``MicrophoneUnavailable`` while it is away."""
        ...


@dataclass(slots=True)
class Interrupted:
    """How the companion was interrupted.

    Attributes:
        by_call_sign: Whether the call sign was heard while it spoke.
    """

    by_call_sign: bool = False


class Ears:
    """The microphone's thread: blocks in, utterances and interim ones out to the loop's queue.

    A microphone that goes away is told once and tried again, at growing intervals, until it gives
    sound; that is told too.

    Args:
        microphone: Open; gives blocks, and drops them while paused.
        out: Where utterances go, and what is wrong with the device.
        segmenter: Cuts the stream; one that gives interim utterances if left out.
        push_to_talk: Drop everything until ``open_once``.
        talked_over: Listens while the companion speaks; None to be deaf then.
        calibrating: Looks at the first seconds, which are heard as ever; what is wrong is told.
        wait: Waits so many seconds and returns whether listening has ended meanwhile.
        clock: Seconds of a clock that does not jump.

    Attributes:
        lost: Whether the microphone is away.
    """

    def __init__(
        self,
        microphone: Source,
        out: queue.SimpleQueue[Happening],
        *,
        segmenter: Segmenter | None = None,
        push_to_talk: bool = False,
        talked_over: TalkedOver | None = None,
        calibrating: Calibrating | None = None,
        wait: Callable[[float], bool] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._microphone = microphone
        self._out = out
        self._segmenter = segmenter or Segmenter(interims=True)
        self._lock = threading.Lock()
        self._interim_given = 0
        self._push_to_talk = push_to_talk
        self._talked_over = talked_over
        self._guarded_until = 0.0
        self._under_talk = 0.0
        self._calibrating = calibrating
        self._found: str | None = None
        self._wanted = threading.Event()
        self._anew = threading.Event()
        if not push_to_talk:
            self._wanted.set()
        self._stopped = threading.Event()
        self._wait = wait or self._stopped.wait
        self._clock = clock
        self._reopening = Reopening()
        self._silence = SilenceWatch()
        self._lost_sound = LostSound()
        self._lost_before = 0
        self._failing = False
        self.lost = False
        self._alive = clock()
        self._told_hung = False
        self._begun = False
        self._thread = threading.Thread(target=self._listen, name="ears", daemon=True)

    def start(self) -> None:
        """Begin to listen."""
        self._begun = True
        self._alive = self._clock()
        self._thread.start()

    def news(self) -> Sequence[str]:
        """Tell of sound that was lost; start the thread again where it has ended, and tell once
        where it hangs, which cannot be ended; see ``Watched``."""
        if self._stopped.is_set() or not self._begun:
            return ()
        lost = self._lost_sound.news(self._microphone.overflows, self._clock())
        return (*lost, *self._news_of_thread())

    def _news_of_thread(self) -> Sequence[str]:
        if not self._thread.is_alive():
            self._thread = threading.Thread(target=self._listen, name="ears", daemon=True)
            try:
                self.start()
            except (RuntimeError, MemoryError):
                # The system gives no more threads: it is tried again, and reported once.
                return self._hangs(f"Listening cannot go on: no more threads. {MEANWHILE}")
            self._told_hung = False
            return ("Listening had ended and goes on; say again what was not answered.",)
        if self._clock() - self._alive < HUNG_SECONDS:
            if self._told_hung:
                self._told_hung = False
                return (f"The microphone {self._microphone.name!r} answers again.",)
            return ()
        return self._hangs(
            f"The microphone {self._microphone.name!r} does not answer. {MEANWHILE} Plug it in "
            "again; if that does not help, end this with Control C and go on with companion resume."
        )

    def _hangs(self, sentence: str) -> Sequence[str]:
        if self._told_hung:
            return ()
        self._told_hung = True
        return (sentence,)

    def stop(self) -> None:
        """Listen no more, nor try to."""
        self._stopped.set()
        if self._thread.is_alive():
            self._thread.join(STOPPING_SECONDS)

    @property
    def wanted(self) -> bool:
        """Whether what is said now is taken; not while the push-to-talk key is waited for."""
        return self._wanted.is_set()

    @property
    def hearing(self) -> bool:
        """Whether an utterance that is wanted is under way."""
        return self._wanted.is_set() and not self._anew.is_set() and self._segmenter.speaking

    def open_once(self) -> None:
        """Listen for one utterance, beginning now."""
        self._anew.set()
        self._wanted.set()

    def guarded(self, utterance: Utterance) -> Utterance:
        """Return an utterance, marked where it was begun while the companion spoke."""
        if utterance.start >= self._guarded_until:
            return utterance
        return replace(utterance, over_talk=True, under_talk=self._under_talk)

    def waits_for(self, interim: Interim) -> bool:
        """Whether an interim utterance still holds all that was said."""
        with self._lock:
            return not self._anew.is_set() and self._segmenter.interim is interim

    def end_after(self, interim: Interim, pause: float) -> None:
        """Set the pause that ends an interim utterance, in multiples of the usual one."""
        with self._lock:
            self._segmenter.end_after(interim.number, pause * self._segmenter.end_pause)

    @contextmanager
    def deaf(self) -> Iterator[None]:
        """Hear nothing meanwhile, and do not join what was half heard before to what comes
        after."""
        self._microphone.pause()
        try:
            yield
        finally:
            self._anew.set()
            self._microphone.resume()

    @property
    def listens_over_talk(self) -> bool:
        """Whether a call may come while the companion speaks; it is deaf then otherwise."""
        return self._talked_over is not None

    @contextmanager
    def talked_over(self, spot: Spot | None, stop: Callable[[], None]) -> Iterator[Interrupted]:
        """Let nothing but the call sign be heard meanwhile, or the key.

        Args:
            spot: Looks for the call sign; None where only the key counts.
            stop: Cuts short what is being said, from another thread.
        """
        interrupted = Interrupted()
        if self._talked_over is None:
            with self.deaf():
                yield interrupted
            return
        self._talked_over.begin(spot if not self._push_to_talk else None, stop)
        try:
            yield interrupted
        finally:
            interrupted.by_call_sign = self._talked_over.end()

    def let_in(self) -> bool:
        """Listen for one utterance although the companion speaks, beginning now: the key was
        pressed. Returns whether that can be done; else ``open_once`` is called when it has
        spoken."""
        if self._talked_over is None:
            return False
        self._talked_over.let_in()
        self.open_once()
        return True

    def _listen(self) -> None:
        while True:
            try:
                for block in self._microphone.blocks():
                    self._alive = self._clock()
                    if self._stopped.is_set():
                        return
                    self._take_or_tell(block)
                return
            # Whatever a driver raises means the same: the microphone is away, and is tried again.
            except Exception as error:
                with self._lock:
                    self._segmenter.forget()
                if not self.lost:
                    self._out.put(Device(_away(error)))
                    self._reopening.lost(self._clock())
                self.lost = True
            if not self._reopened():
                return

    def _take_or_tell(self, block: NDArray[np.float32]) -> None:
        """Take a block; whatever fails here must not leave the companion deaf without anybody
        knowing."""
        try:
            self._take(block)
            self._failing = False
        except Exception as error:
            if not self._failing:
                self._out.put(Device(f"Listening failed ({type(error).__name__}); say it again."))
            self._failing = True
            with self._lock:
                self._segmenter.forget()

    def _take(self, block: NDArray[np.float32]) -> None:
        if self.lost:
            # Reported only now: some devices open before they give any sound.
            self.lost = False
            self._reopening.back(self._clock())
            self._out.put(Device(f"The microphone {self._microphone.name!r} gives sound again."))
        passed = self._what_counts(block)
        if not len(passed.samples):
            if passed.anew:
                self._anew.set()
            return
        block = passed.samples
        self._calibrate(block)
        if self._silence.feed(block):
            self._out.put(Device(SILENT))
        with self._lock:
            if passed.anew:
                self._anew.set()
            if self._anew.is_set():
                self._anew.clear()
                self._segmenter.forget()
            if not self._segmenter.speaking:
                self._lost_before = self._microphone.overflows
            ended = self._segmenter.feed(block)
            if passed.anew:
                self._under_talk = 0.0
            self._under_talk += passed.under_talk
            if passed.guarded:
                self._guarded_until = self._segmenter.seconds
            interim = self._segmenter.interim
        if self._silence.over(speaking=self._segmenter.speaking):
            self._out.put(Device(SOUND_AGAIN))
        for utterance in ended:
            if not self._wanted.is_set():
                continue
            if self._microphone.overflows > self._lost_before:
                utterance = replace(utterance, troubles=(*utterance.troubles, "gap"))
            self._out.put(self.guarded(utterance))
            if self._push_to_talk:
                self._wanted.clear()
        if interim is not None and interim.number > self._interim_given:
            self._interim_given = interim.number
            if self._wanted.is_set():
                self._out.put(interim)

    def _what_counts(self, block: NDArray[np.float32]) -> Passed:
        """What of a block may be listened to: all of it unless the companion speaks."""
        if self._talked_over is None:
            return Passed(block)
        return self._talked_over.feed(block)

    def _calibrate(self, block: NDArray[np.float32]) -> None:
        found = None if self._calibrating is None else self._calibrating.feed(block)
        if found is not None:
            self._found = found.trouble
            if found.silent:
                self._silence.told()
        # Saying it while somebody speaks would cost the call.
        if self._found is not None and not self._segmenter.speaking:
            self._out.put(Device(self._found))
            self._found = None

    def _reopened(self) -> bool:
        """Try until the device opens; False once listening has ended."""
        while not self._wait(self._reopening.next_wait()):
            self._alive = self._clock()
            try:
                self._microphone.reopen()
            except Exception:
                continue
            return True
        return False


def _away(error: Exception) -> str:
    if isinstance(error, MicrophoneUnavailable):
        return str(error)
    return f"The microphone failed ({type(error).__name__}) and is opened again."
