"""Sound that comes faster than it is taken is lost: that is said, printed and recorded, once."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from companion.audio.endpointing import Segmenter
from companion.audio.lost_sound import AGAIN_SECONDS, LOST, LostSound
from companion.audio.microphone import BLOCK_SECONDS, QUEUE_SECONDS, Microphone
from companion.audio.utterance import Utterance
from companion.files.sound_format import SAMPLE_RATE
from companion.job.events import Said, Trouble
from companion.live.ears import Ears
from companion.live.happenings import Happening, Line
from companion.live.loop import LiveLoop
from companion.log.reader import read_log
from companion.session.opening import open_session
from tests.sounds import pause, speak
from tests.test_audio_devices import FakeSoundDevice, device, microphone
from tests.test_live import Listener

__all__ = ["device", "microphone"]

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
ROOM = int(QUEUE_SECONDS / BLOCK_SECONDS)
LONG = 30.0


class Slow(Segmenter):
    """Takes its first block, and the next only when it is let go: a computer that is too busy."""

    def __init__(self) -> None:
        super().__init__(interims=True)
        self.taken = threading.Semaphore(0)
        self.go = threading.Event()

    def feed(self, samples: NDArray[np.float32]) -> tuple[Utterance, ...]:
        self.taken.release()
        self.go.wait(LONG)
        return super().feed(samples)


def test_the_first_loss_is_told_at_once_and_further_ones_together_later() -> None:
    watch = LostSound()
    assert watch.news(0, 0.0) == ()
    assert watch.news(2, 1.0) == (LOST,)
    assert watch.news(2, 1.0 + AGAIN_SECONDS) == ()
    assert watch.news(3, AGAIN_SECONDS) == ()
    (again,) = watch.news(7, 1.0 + AGAIN_SECONDS)
    assert "5 times more" in again
    assert watch.news(7, 9 * AGAIN_SECONDS) == ()
    (once,) = watch.news(8, 10 * AGAIN_SECONDS)
    assert "once more" in once


@pytest.fixture
def busy(device: FakeSoundDevice, microphone: Microphone) -> Iterator[tuple[Slow, Ears]]:
    """Ears that have taken one block and no other, while the microphone had to drop three."""
    slow = Slow()
    out: queue.SimpleQueue[Happening] = queue.SimpleQueue()
    ears = Ears(microphone, out, segmenter=slow)
    ears.start()
    device.inputs[0].give(0.0)
    assert slow.taken.acquire(timeout=LONG)
    for _ in range(ROOM + 3):
        device.inputs[0].give(0.0)
    assert microphone.overflows == 3
    yield slow, ears
    slow.go.set()
    ears.stop()


def test_who_takes_too_slowly_is_told_aloud_on_the_screen_and_in_the_log(
    busy: tuple[Slow, Ears], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, ears = busy
    now = [AT]
    session = open_session(tmp_path / "job", at=AT)
    voice = Listener()
    loop = LiveLoop(session, voice, lambda exchange: None, clock=lambda: now[0])
    loop.watched.append(ears)
    for _ in range(2):
        # Told once, whoever asks again.
        loop.happenings.put(Line(None))
        loop.run()
        now[0] += timedelta(seconds=1)
    session.close()
    assert voice.said.count(LOST) == 1
    assert capsys.readouterr().err.count(f"companion: {LOST}") == 1
    events = [record.event for record in read_log(tmp_path / "job").records]
    assert [event.what for event in events if isinstance(event, Trouble)] == [LOST]
    assert sum(isinstance(event, Said) and event.text == LOST for event in events) == 1


def test_a_call_with_a_gap_in_it_bears_that_in_its_record(
    device: FakeSoundDevice, microphone: Microphone
) -> None:
    """And one after it does not."""
    out: queue.SimpleQueue[Happening] = queue.SimpleQueue()
    ears = Ears(microphone, out)
    sound = np.concatenate((pause(1.0), speak("gap thirty thou", "rms"), pause(1.6)))
    size = int(BLOCK_SECONDS * SAMPLE_RATE)
    blocks = [sound[begin : begin + size] for begin in range(0, len(sound), size)]
    for lost in (True, False):
        for number, block in enumerate(blocks):
            ears._take(block)
            if lost and number == len(blocks) // 2 and ears.hearing:
                microphone.overflows += 1
    heard = [each for each in list(iter_queue(out)) if isinstance(each, Utterance)]
    assert ["gap" in each.troubles for each in heard] == [True, False]


def iter_queue(out: queue.SimpleQueue[Happening]) -> Iterator[Happening]:
    while not out.empty():
        yield out.get_nowait()


def test_what_is_dropped_while_the_companion_speaks_is_no_loss(
    device: FakeSoundDevice, microphone: Microphone
) -> None:
    microphone.pause()
    for _ in range(ROOM + 3):
        device.inputs[0].give(0.0)
    assert microphone.overflows == 0
