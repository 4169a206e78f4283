"""How clearly a sound was heard: near or far, over noise or not, whatever was said."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.files.sound_format import SAMPLE_RATE
from companion.recognize.clearness import STEEPEST, doubt, falling, narrow
from companion.recognize.held import temperature_of
from tests.noises import NOISES, in_a_shop
from tests.sounds import Samples, mix, pause, speak, with_pauses
from tools.hearing.surroundings import MICROPHONES, through

CALL = "torque thirteen foot pounds"


@cache
def spoken() -> Samples:
    return speak(CALL, "gb")


@pytest.fixture(scope="module")
def said() -> Samples:
    return with_pauses(spoken())


def test_speech_falls_less_steeply_the_louder_the_noise(said: Samples) -> None:
    noise = NOISES["pink"](len(said) / SAMPLE_RATE, seed=1)
    falls = [falling(said), *(falling(mix(said, noise, level)) for level in (20.0, 10.0, 5.0))]
    assert falls == sorted(falls, reverse=True)
    assert falls[0] > 2 * falls[-1]


def test_speech_falls_less_steeply_the_louder_the_echo(said: Samples) -> None:
    falls = [falling(said), *(falling(in_a_shop(said, distance=far)) for far in (0.5, 1.0, 2.0))]
    assert falls == sorted(falls, reverse=True)
    assert falls[0] > 1.5 * falls[-1]


@given(st.floats(0.0, 3.0), st.floats(0.0, 3.0))
def test_how_long_it_is_quiet_before_and_after_makes_no_difference(
    before: float, after: float
) -> None:
    longer = np.concatenate([pause(before), pause(0.1), spoken(), pause(after), pause(0.1)])
    assert falling(longer) == pytest.approx(falling(with_pauses(spoken())), abs=3.0)


def test_a_click_is_not_taken_for_speech() -> None:
    far = in_a_shop(with_pauses(spoken()), distance=2.0)
    clicked = far.copy()
    clicked[: SAMPLE_RATE // 50] = 1.0
    assert falling(clicked) == pytest.approx(falling(far), abs=0.5)


@given(st.floats(0.05, 1.0))
def test_how_loud_it_is_makes_no_difference(gain: float) -> None:
    # Well above the level that counts as no sound at all.
    noise = np.random.default_rng(1).standard_normal(SAMPLE_RATE).astype(np.float32) * 0.1
    assert falling(noise * np.float32(gain)) == pytest.approx(falling(noise), abs=0.01)


@pytest.mark.parametrize("voice", ["gb", "slt", "rms", "scotland"])
@pytest.mark.parametrize("noise", ["pink", "engine", None])
def test_only_a_telephone_has_nothing_above_its_band(voice: str, noise: str | None) -> None:
    sound = with_pauses(speak(CALL, voice))
    if noise is not None:
        sound = mix(sound, NOISES[noise](len(sound) / SAMPLE_RATE, seed=2)[: len(sound)], 10.0)
    heard_by = {microphone for microphone in MICROPHONES if narrow(through(sound, microphone))}
    assert heard_by == {"phone"}


@given(st.floats(0.01, 1.0))
def test_the_band_is_that_of_a_sound_however_loud_it_is(gain: float) -> None:
    for microphone in ("phone", "plain"):
        heard = through(with_pauses(spoken()), microphone) * np.float32(gain)
        assert narrow(heard) == (microphone == "phone")


def test_silence_is_not_narrow() -> None:
    assert not narrow(np.zeros(SAMPLE_RATE, dtype=np.float32))
    assert not narrow(np.zeros(10, dtype=np.float32))


def test_over_a_telephone_the_recognizer_is_less_sure() -> None:
    assert temperature_of(20.0, narrow=True) > temperature_of(20.0)


def test_what_falls_by_a_known_step_falls_by_it() -> None:
    """A tone of 1 kHz, loud and 12 dB softer by turns of 100 ms: six of twenty frames lie 60 ms
    before a softer one."""
    tone = np.sin(2 * np.pi * 1000 * np.arange(2 * SAMPLE_RATE) / SAMPLE_RATE)
    soft = (np.arange(len(tone)) // (SAMPLE_RATE // 10)) % 2
    samples = (0.5 * tone * 10 ** (-12 * soft / 20)).astype(np.float32)
    assert falling(samples) == pytest.approx(12.0, abs=0.05)


def test_an_even_tone_does_not_fall_and_what_is_too_short_is_not_doubted() -> None:
    tone = np.sin(np.arange(SAMPLE_RATE) * 2 * np.pi * 1000 / SAMPLE_RATE).astype(np.float32)
    assert falling(tone) == pytest.approx(0.0, abs=0.01)
    assert falling(tone[:500]) == STEEPEST
    assert falling(np.zeros(SAMPLE_RATE, dtype=np.float32)) == 0.0


def test_doubt_is_the_entropy_of_the_frames_with_a_phoneme() -> None:
    """Entropy of n equally likely is ln n (Shannon, 1948)."""
    silence = [0.999, 0.0005, 0.0005]
    unsure = [0.0, 0.5, 0.5]
    sure = [0.0, 1.0, 0.0]
    with np.errstate(divide="ignore"):
        frames = np.maximum(np.log(np.array([silence, unsure, sure, silence])), -100)
    assert doubt(frames.astype(np.float32)) == pytest.approx(np.log(2) / 2, abs=1e-4)
    assert doubt(frames[:1].astype(np.float32)) == 0.0
    assert doubt(None) == 0.0


@given(st.floats(0, STEEPEST), st.floats(0, STEEPEST))
def test_shares_are_flatter_where_a_sound_falls_less(one: float, other: float) -> None:
    flatter, steeper = sorted((one, other))
    assert temperature_of(flatter) >= temperature_of(steeper) > 0
