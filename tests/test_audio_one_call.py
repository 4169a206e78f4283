"""The one call in a sound file of any length: found, or refused, within bounded memory."""

from __future__ import annotations

import weakref
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.audio.one_call import find_one_call
from companion.files.sound_format import SAMPLE_RATE
from tests.conftest import Run
from tests.sounds import Samples, pause, pink_noise, speak

CALL = speak("gap thirty thou", "slt")
ROOM = np.asarray(pink_noise(1.0) * 0.01, dtype=np.float32)
"""A second of a quiet room."""


def in_blocks(*parts: Samples) -> Iterator[Samples]:
    sound = np.concatenate(parts)
    for begin in range(0, len(sound), SAMPLE_RATE):
        yield sound[begin : begin + SAMPLE_RATE]


def test_a_short_clip_is_heard_whole() -> None:
    found = find_one_call(in_blocks(pause(2.0), CALL, pause(3.0)))
    assert found.samples is not None
    assert len(found.samples) == 5 * SAMPLE_RATE + len(CALL)


@pytest.mark.parametrize("seconds", [0.0, 0.1, 3.0, 40.0])
def test_where_nothing_is_spoken_nothing_is_found(seconds: float) -> None:
    assert find_one_call(in_blocks(pause(seconds))).samples is None


def test_of_a_longer_clip_the_spoken_part_is_found() -> None:
    found = find_one_call(in_blocks(pause(40.0), CALL, pause(1.5), CALL, pause(50.0)))
    assert found.samples is not None
    spoken = np.concatenate((CALL, pause(1.5), CALL))
    begins = int(np.flatnonzero(found.samples)[0] - np.flatnonzero(CALL)[0])
    np.testing.assert_array_equal(found.samples[begins : begins + len(spoken)], spoken)
    assert len(found.samples) <= len(spoken) + 2 * SAMPLE_RATE


def test_speech_from_end_to_end_is_refused_without_reading_on() -> None:
    read = 0

    def talk() -> Iterator[Samples]:
        nonlocal read
        for _ in range(3600):
            read += 1
            yield np.resize(np.concatenate((CALL, pause(0.4))), SAMPLE_RATE)

    found = find_one_call(talk())
    assert found.too_long
    assert found.samples is None
    assert read < 60


def test_of_a_long_quiet_clip_little_is_kept() -> None:
    """Of three minutes, never so much as half."""
    alive: list[weakref.ref[Samples]] = []
    most = 0

    def quiet() -> Iterator[Samples]:
        nonlocal most
        for second in range(180):
            block = CALL[:SAMPLE_RATE].copy() if second == 90 else ROOM.copy()
            alive.append(weakref.ref(block))
            yield block
            del block
            most = max(most, sum(each() is not None for each in alive))

    assert find_one_call(quiet()).samples is not None
    assert 10 < most < 90


def test_an_hour_of_talk_is_no_call_and_soon_said_so(companion: Run, tmp_path: Path) -> None:
    hour = tmp_path / "hour.wav"
    minute = np.resize(np.concatenate((CALL[::2], pause(0.2))), 60 * 8_000)
    with soundfile.SoundFile(hour, "w", 8_000, 1, subtype="PCM_U8") as file:
        for _ in range(60):
            file.write(minute)
    run = companion("hear", hour, "--json")
    assert run.returncode == 0, run.stderr
    assert '"outcome": "ignore"' in run.stdout
    assert "too long for a call" in run.stdout
