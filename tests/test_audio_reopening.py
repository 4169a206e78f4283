"""A microphone that goes away is tried again, ever more seldom; of a muted one it is told once."""

from __future__ import annotations

import numpy as np
import pytest

from companion.audio.reopening import FIRST_WAIT, LONGEST_WAIT, STEADY_SECONDS, Reopening
from companion.audio.silence import GROWTH, SILENT_SECONDS, SilenceWatch
from companion.audio.silence import STEADY_SECONDS as SOUND_SECONDS
from companion.files.sound_format import SAMPLE_RATE
from tests.sounds import Samples, pause, pink_noise


def test_the_waits_grow_and_never_end() -> None:
    reopening = Reopening()
    reopening.lost(0.0)
    waits = [reopening.next_wait() for _ in range(20)]
    assert waits[:4] == [FIRST_WAIT, 2.0, 4.0, 8.0]
    assert waits[-1] == LONGEST_WAIT
    assert waits == sorted(waits)


def test_what_was_back_for_good_is_tried_at_once_again() -> None:
    reopening = Reopening()
    reopening.lost(0.0)
    for _ in range(5):
        reopening.next_wait()
    reopening.back(31.0)
    reopening.lost(31.0 + STEADY_SECONDS)
    assert reopening.next_wait() == FIRST_WAIT


def test_with_a_loose_plug_the_waits_go_on_growing() -> None:
    reopening = Reopening()
    at, waits = 0.0, []
    for _ in range(8):
        reopening.lost(at)
        waits.append(reopening.next_wait())
        at += waits[-1]
        reopening.back(at)
        at += 0.5
    assert waits == [1.0, 2.0, 4.0, 8.0, 16.0, 30.0, 30.0, 30.0]


# --- silence -------------------------------------------------------------------------------------
def told(watch: SilenceWatch, sound: Samples) -> list[float]:
    """The seconds into the sound at which silence is told."""
    return [
        begin / SAMPLE_RATE
        for begin in range(0, len(sound), 480)
        if watch.feed(sound[begin : begin + 480])
    ]


ROOM = np.asarray(pink_noise(1.0) * 0.01, dtype=np.float32)
"""A quiet room, 60 dB below full scale."""


def test_silence_is_told_once_after_some_seconds() -> None:
    (at,) = told(SilenceWatch(), np.concatenate([ROOM, pause(60.0)]))
    assert 1.0 + SILENT_SECONDS - 0.1 <= at <= 1.0 + SILENT_SECONDS + 0.1


def test_a_constant_and_the_last_bit_are_silence_too() -> None:
    bits = np.random.default_rng(0).choice([0.01, 0.01 + 1 / 32768], 12 * SAMPLE_RATE)
    assert len(told(SilenceWatch(), bits.astype(np.float32))) == 1


def test_a_quiet_room_is_no_silence() -> None:
    quiet = np.tile(ROOM * 0.1, 20)
    assert told(SilenceWatch(), quiet) == []


def test_it_is_told_again_only_after_sound_and_then_only_for_longer_silence() -> None:
    watch = SilenceWatch()
    assert len(told(watch, pause(SILENT_SECONDS + 1))) == 1
    assert told(watch, np.concatenate([ROOM, pause(SILENT_SECONDS + 1)])) == []
    assert len(told(watch, pause(GROWTH * SILENT_SECONDS))) == 1


def test_short_gaps_as_between_words_are_nothing() -> None:
    assert told(SilenceWatch(), np.tile(np.concatenate([ROOM, pause(5.0)]), 5)) == []


def told_over(watch: SilenceWatch, sound: Samples, *, speaking: bool = False) -> list[float]:
    """The seconds into the sound at which it is told that sound comes again."""
    seconds = []
    for begin in range(0, len(sound), 480):
        watch.feed(sound[begin : begin + 480])
        if watch.over(speaking=speaking):
            seconds.append(begin / SAMPLE_RATE)
    return seconds


def test_that_sound_comes_again_is_told_once_after_a_moment() -> None:
    watch = SilenceWatch()
    assert told_over(watch, np.concatenate([ROOM, pause(SILENT_SECONDS - 1), ROOM, ROOM])) == []
    assert told(watch, pause(SILENT_SECONDS + 1))
    (at,) = told_over(watch, np.tile(ROOM, 5))
    assert at == pytest.approx(SOUND_SECONDS, abs=0.1)


def test_a_call_comes_before_that() -> None:
    watch = SilenceWatch()
    assert told(watch, pause(SILENT_SECONDS + 1))
    assert told_over(watch, np.tile(ROOM, 3), speaking=True) == []
    assert len(told_over(watch, np.tile(ROOM, 3))) == 1
