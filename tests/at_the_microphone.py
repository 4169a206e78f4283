"""A session at a real terminal whose microphone is a recording, for the tests of the screen.

``python -m tests.at_the_microphone key FOLDER`` listens after the key, ``open`` all the time.
Everything but the device is the program's own: ears, recognizer, loop, screen.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.files.sound_format import SAMPLE_RATE
from companion.live.at_terminal import at_terminal
from companion.live.ears import Ears
from companion.live.loop import LiveLoop, now
from companion.recognize.held import HeldRecognizer
from companion.session.exchange_lines import print_exchange
from companion.session.opening import open_session
from companion.speak.voice import SilentVoice, VoiceUnavailable
from tests.sounds import pause, speak

BLOCK = 480


class Shop:
    """Faint noise at the pace of a microphone; once the ears are open, "tag no oil" is said."""

    name = "headset"
    overflows = 0

    def __init__(self) -> None:
        self.ears: Ears | None = None
        self._said = np.concatenate((pause(0.4), speak("tag no oil", "rms"), pause(1.6)))
        self._pace = threading.Event()

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        noise = np.random.default_rng(4).normal(0.0, 0.002, BLOCK).astype(np.float32)
        left = self._said
        while True:
            self._pace.wait(BLOCK / SAMPLE_RATE)
            if self.ears is not None and self.ears.wanted and len(left) >= BLOCK:
                yield left[:BLOCK] + noise
                left = left[BLOCK:]
            else:
                yield noise

    def pause(self) -> None:
        """The loop is silent here: nothing of what it says would be heard."""

    def resume(self) -> None:
        """See ``pause``."""

    def reopen(self) -> None:
        """It never goes away."""


def main(way: str, folder: Path) -> None:
    key = way == "key"
    session = open_session(
        folder, at=now(), recognizer=HeldRecognizer() if key else None, open_mic=not key
    )
    session.typed("start soak timer two hours", now() - timedelta(seconds=1))
    shop = Shop()
    loop = LiveLoop(session, SilentVoice(VoiceUnavailable("none")), print_exchange)
    loop.ears = Ears(shop, loop.happenings, push_to_talk=key)
    if key:
        shop.ears = loop.ears
    loop.ears.start()
    try:
        with at_terminal(loop, typed=False, push_to_talk=key):
            loop.run()
    finally:
        loop.ears.stop()
        session.close()


if __name__ == "__main__":
    try:
        main(sys.argv[1], Path(sys.argv[2]))
    except KeyboardInterrupt:
        print("stopped")
