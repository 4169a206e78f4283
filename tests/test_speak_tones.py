"""Tones: short, without clicks, and each told from the others by pitch or rhythm."""

from __future__ import annotations

from itertools import combinations
from typing import get_args

import numpy as np
import pytest

from companion.files.sound_format import SAMPLE_RATE
from companion.speak.tones import PEAK, TONES, ToneName, tone
from companion.speak.wording import Tone

SOUNDED = [name for name in TONES if name != "none"]


def test_every_tone_a_reply_may_ask_for_is_there() -> None:
    assert set(TONES) == set(get_args(Tone)) == set(get_args(ToneName))


@pytest.mark.parametrize("name", SOUNDED)
def test_length_and_loudness(name: ToneName) -> None:
    longest = 0.8 if name in ("ring", "warning") else 0.25
    sound = tone(name)
    assert 0.1 < len(sound) / SAMPLE_RATE <= longest
    assert np.max(np.abs(sound)) == pytest.approx(PEAK, abs=0.01)


@pytest.mark.parametrize("name", SOUNDED)
def test_no_clicks(name: ToneName) -> None:
    """A click is a jump: no step between samples is larger than the steepest sine's own."""
    sound = tone(name)
    assert abs(sound[0]) < 0.001
    assert abs(sound[-1]) < 0.001
    highest = max(note.pitch for note in TONES[name])
    # Second harmonic at a quarter: the slope is at most (1 + 2/4) times the fundamental's.
    steepest = 1.5 * PEAK * 2 * np.pi * highest / SAMPLE_RATE
    assert np.max(np.abs(np.diff(sound))) < 1.1 * steepest


def outline(name: ToneName) -> tuple[tuple[float, float], ...]:
    """Dominant pitch of each twentieth of a second, with its loudness."""
    sound = tone(name)
    step = SAMPLE_RATE // 20
    found = []
    for start in range(0, len(sound) - step + 1, step):
        spectrum = np.abs(np.fft.rfft(sound[start : start + step] * np.hanning(step)))
        pitch = float(np.argmax(spectrum) * SAMPLE_RATE / step)
        found.append((pitch if spectrum.max() > 1 else 0.0, float(spectrum.max())))
    return tuple(found)


@pytest.mark.parametrize(("one", "other"), list(combinations(SOUNDED, 2)))
def test_tones_differ_in_pitch_or_length(one: ToneName, other: ToneName) -> None:
    first, second = outline(one), outline(other)
    apart = [abs(a[0] - b[0]) for a, b in zip(first, second, strict=False)]
    assert len(first) != len(second) or max(apart) > 100


def test_recorded_rises_and_not_understood_falls() -> None:
    rising, falling = outline("recorded"), outline("not-understood")
    assert rising[-1][0] > rising[0][0]
    assert falling[-1][0] < falling[0][0]


def test_none_is_nothing() -> None:
    assert len(tone("none")) == 0
