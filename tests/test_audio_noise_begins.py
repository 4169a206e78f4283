"""Noise that begins in the middle of a session: an engine is started, and calls go on."""

from __future__ import annotations

import numpy as np
import pytest

from companion.audio.endpointing import Segmenter
from companion.audio.utterance import Utterance
from companion.files.sound_format import SAMPLE_RATE
from tests.sounds import NOISES, Samples, noise_gain, pause, speak

CALL = speak("start soak timer two hours", "rms")
STARTED = 4.0
"""Seconds of a quiet shop before the machine is started."""


def heard(noise: str, below: float, *calls: float) -> tuple[list[Utterance], Segmenter, float]:
    """What is found where a machine is started and a call is made at each of these times after
    it; and when the last of it was given, in seconds.

    Args:
        noise: Of the machine.
        below: How far it is below the voice, in dB.
        calls: Seconds from the start to each; before it if negative.
    """
    seconds = STARTED + max((0.0, *calls)) + len(CALL) / SAMPLE_RATE + 6.0
    sound = NOISES["pink"](seconds, seed=1) * 0.008
    running = NOISES[noise](seconds - STARTED, seed=2)
    begin = round(STARTED * SAMPLE_RATE)
    sound[begin : begin + len(running)] += running * noise_gain(CALL, running, below)
    for at in calls:
        begin = round((STARTED + at) * SAMPLE_RATE)
        sound[begin : begin + len(CALL)] += CALL
    segmenter = Segmenter()
    found: list[Utterance] = []
    given = 0.0
    for place in range(0, len(sound), 480):
        ended = segmenter.feed(sound[place : place + 480].astype(np.float32))
        if ended:
            found.extend(ended)
            given = segmenter.seconds
    return [*found, *segmenter.flush()], segmenter, given


@pytest.mark.parametrize("noise", ["engine", "compressor", "hum"])
def test_a_machine_that_is_started_is_no_utterance(noise: str) -> None:
    found, segmenter, _ = heard(noise, 10.0)
    assert found == []
    assert segmenter.noise_floor > -50


@pytest.mark.parametrize("after", [0.3, 1.0, 2.5])
@pytest.mark.parametrize("noise", ["engine", "compressor"])
def test_a_call_soon_after_it_is_heard_by_itself_and_answered_soon(
    noise: str, after: float
) -> None:
    (call,), _, given = heard(noise, 10.0, after)
    begin = STARTED + after
    assert begin - 1.0 <= call.start <= begin
    assert call.seconds < len(CALL) / SAMPLE_RATE + 2.5
    assert given - (begin + len(CALL) / SAMPLE_RATE) < 1.5
    assert call.over_noise is not None
    assert 8 < call.over_noise < 25


def test_a_call_just_before_it_is_kept_although_the_machine_is_as_loud() -> None:
    before = len(CALL) / SAMPLE_RATE + 0.3
    (call,), _, _ = heard("engine", 3.0, -before)
    assert call.start <= STARTED - before
    assert call.speech_end > STARTED - 0.5


def test_a_call_in_steady_noise_is_cut_as_ever() -> None:
    (first, second), _, _ = heard("compressor", 10.0, 3.0, 8.0)
    assert first.seconds == pytest.approx(second.seconds, abs=0.3)
    assert second.start == pytest.approx(STARTED + 8.0 - 0.3, abs=0.25)


def test_speech_without_a_pause_is_never_taken_for_noise() -> None:
    parts = [speak("added twenty ounces of oil and the belt is worn", voice) for voice in
             ("rms", "slt", "awb", "us-man", "kal")]  # fmt: skip
    quiet = NOISES["pink"](2.0, seed=3) * 0.008
    said: Samples = np.concatenate((quiet, *parts, pause(2.0)))
    segmenter = Segmenter()
    found = [*segmenter.feed(said.astype(np.float32)), *segmenter.flush()]
    assert sum(each.seconds for each in found) > sum(map(len, parts)) / SAMPLE_RATE
