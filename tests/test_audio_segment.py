"""Speech cut out of a stream: every call whole, in quiet and in noise; noise alone is none."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.audio.endpointing import Segmentation, Segmenter, segment_sound
from companion.audio.utterance import Utterance
from companion.files.sound_format import SAMPLE_RATE
from tests.sounds import NOISES, Samples, mix, pause, speak

CALLS = (
    "gap thirty thou",
    "no",
    "added twenty ounces of oil",
    "roger",
    "compression one twenty p s i",
    "start soak timer two hours",
    "engine speed thirty six hundred",
    "shear pin broken",
)
Place = tuple[float, float]


def in_a_row(voice: str, between: float = 1.5) -> tuple[Samples, list[Place]]:
    """The calls with pauses all around, and where each begins and ends, in seconds."""
    pieces = [pause(between)]
    places = []
    for call in CALLS:
        start = sum(map(len, pieces))
        pieces += [speak(call, voice), pause(between)]
        places.append((start / SAMPLE_RATE, (start + len(pieces[-2])) / SAMPLE_RATE))
    return np.concatenate(pieces), places


def whole(utterance: Utterance, place: Place, slack: float = 0.0) -> bool:
    start, end = place
    return utterance.start <= start + slack and utterance.start + utterance.seconds >= end - slack


def cut(sound: Samples, settings: Segmentation | None = None) -> list[Utterance]:
    return list(segment_sound([sound], settings))


VOICES = ("slt", "rms", "us", "us-woman", "gb")


@pytest.mark.parametrize("voice", VOICES)
def test_in_quiet_every_call_is_one_whole_utterance(voice: str) -> None:
    sound, places = in_a_row(voice)
    utterances = cut(sound)
    assert len(utterances) == len(CALLS)
    assert all(whole(u, place) for u, place in zip(utterances, places, strict=True))


@pytest.mark.parametrize("noise", ["engine", "compressor", "hum"])
@pytest.mark.parametrize("voice", VOICES)
def test_in_noise_ten_decibels_down_every_call_is_one_whole_utterance(
    voice: str, noise: str
) -> None:
    sound, places = in_a_row(voice)
    utterances = cut(mix(sound, NOISES[noise](60.0, seed=5), 10.0))
    assert len(utterances) == len(CALLS)
    assert all(whole(u, place) for u, place in zip(utterances, places, strict=True))


@pytest.mark.parametrize("noise", ["engine", "compressor", "hum", "pink"])
@pytest.mark.parametrize("seed", [1, 2])
def test_steady_noise_alone_is_no_utterance(noise: str, seed: int) -> None:
    assert cut(NOISES[noise](120.0, seed=seed)) == []


def test_an_engine_that_starts_is_taken_for_noise_within_the_memory() -> None:
    sound = np.concatenate([pause(5.0), NOISES["engine"](30.0, seed=1)])
    utterances = cut(sound)
    assert len(utterances) <= 1
    assert all(u.start + u.seconds < 5.0 + 8.0 for u in utterances)


def test_a_call_after_an_engine_has_started_is_heard() -> None:
    engine = NOISES["engine"](30.0, seed=1)
    call = speak("gap thirty thou", "slt")
    loudness = float(np.sqrt(np.mean(call**2)))
    sound = np.concatenate([pause(5.0), engine * loudness * 10 * 10 ** (-10 / 20)])
    at = 20 * SAMPLE_RATE
    sound[at : at + len(call)] += call
    place = (20.0, 20.0 + len(call) / SAMPLE_RATE)
    assert [whole(u, place) for u in cut(sound) if u.start > 15] == [True]


def test_a_clip_that_opens_with_speech_loses_nothing() -> None:
    call = speak("gap thirty thou", "slt")
    (utterance,) = cut(call)
    assert utterance.start == 0
    assert utterance.seconds >= len(call) / SAMPLE_RATE


def test_the_pre_roll_stands_before_speech() -> None:
    sound = np.concatenate([pause(2.0), speak("roger", "slt"), pause(2.0)])
    (utterance,) = cut(sound)
    assert 2.0 - 0.5 <= utterance.start <= 2.0 - 0.3


def test_speech_end_is_where_the_pause_begins() -> None:
    call = speak("added twenty ounces of oil", "slt")
    sound = np.concatenate([pause(1.0), call, pause(2.0)])
    (utterance,) = cut(sound)
    end = 1.0 + len(call) / SAMPLE_RATE
    assert utterance.speech_end == pytest.approx(end, abs=0.15)
    pause_kept = utterance.start + utterance.seconds - utterance.speech_end
    assert pause_kept == pytest.approx(Segmentation().end_pause, abs=0.03)


def test_the_pause_that_ends_an_utterance_can_be_changed_meanwhile() -> None:
    sound, _ = in_a_row("slt", between=1.0)
    segmenter = Segmenter()
    segmenter.end_pause = 1.5
    half = len(sound) // 2
    utterances = [*segmenter.feed(sound[:half])]
    assert utterances == []
    segmenter.end_pause = 0.4
    utterances += [*segmenter.feed(sound[half:]), *segmenter.flush()]
    assert len(utterances) > 2


def test_a_short_end_pause_does_not_open_the_next_utterance_by_itself() -> None:
    sound = np.concatenate([pause(1.0), speak("roger", "slt"), pause(3.0)])
    assert len(cut(sound, Segmentation(end_pause=0.2))) == 1


def test_what_is_too_long_is_cut_marked_and_goes_on_without_a_gap() -> None:
    talk = np.concatenate([speak(call, "slt") for call in CALLS * 4])
    utterances = cut(np.concatenate([pause(1.0), talk, pause(1.0)]))
    assert len(utterances) >= 3
    assert all(u.seconds <= 15.0 for u in utterances)
    assert all("too-long" in u.troubles for u in utterances[:-1])
    for before, after in pairwise(utterances):
        assert after.start == pytest.approx(before.start + before.seconds)


def test_a_note_may_be_longer() -> None:
    talk = np.concatenate([speak(call, "slt") for call in CALLS * 2])
    segmenter = Segmenter()
    segmenter.longest = 30.0
    utterances = [*segmenter.feed(np.concatenate([pause(1.0), talk])), *segmenter.flush()]
    assert len(utterances) == 1
    assert utterances[0].seconds > 15
    assert utterances[0].troubles == ()


def test_overloaded_speech_is_marked() -> None:
    loud = np.clip(speak("gap thirty thou", "slt") * 10, -1, 1)
    (utterance,) = cut(np.concatenate([pause(1.0), loud, pause(1.0)]))
    assert utterance.troubles == ("clipped",)


def test_speech_scaled_to_its_peak_is_not_overloaded() -> None:
    call = speak("gap thirty thou", "slt")
    (utterance,) = cut(np.concatenate([pause(1.0), call / np.max(np.abs(call)), pause(1.0)]))
    assert utterance.troubles == ()


def test_a_click_is_no_utterance() -> None:
    sound = pause(3.0)
    sound[SAMPLE_RATE : SAMPLE_RATE + 200] = 0.7
    assert cut(sound) == []


def test_silence_and_nothing_are_no_utterance() -> None:
    assert cut(pause(10.0)) == []
    assert cut(pause(0.0)) == []
    assert list(segment_sound([])) == []


def test_forgetting_drops_what_is_under_way_but_not_the_noise_floor() -> None:
    call = mix(
        np.concatenate([pause(6.0), speak("gap thirty thou", "slt")]), NOISES["hum"](9.0), 20.0
    )
    segmenter = Segmenter()
    assert segmenter.feed(call) == ()
    assert segmenter.speaking
    floor = segmenter.noise_floor
    segmenter.forget()
    assert not segmenter.speaking
    assert segmenter.flush() == ()
    assert segmenter.noise_floor == floor


ROW, _ = in_a_row("slt", between=1.0)
IN_ONE_PIECE = cut(ROW)


@given(lengths=st.lists(st.integers(1, 40_000), min_size=1, max_size=40))
@settings(max_examples=15, deadline=None)
def test_how_the_stream_is_cut_into_blocks_makes_no_difference(lengths: list[int]) -> None:
    bounds = [b for b in np.cumsum(lengths) if b < len(ROW)]
    utterances = list(segment_sound(np.split(ROW, bounds)))
    assert len(utterances) == len(IN_ONE_PIECE)
    for one, other in zip(utterances, IN_ONE_PIECE, strict=True):
        assert (one.start, one.speech_end, one.troubles) == (
            other.start,
            other.speech_end,
            other.troubles,
        )
        np.testing.assert_array_equal(one.samples, other.samples)


@given(seed=st.integers(0, 2**32 - 1), scale=st.floats(0, 1))
@settings(max_examples=15, deadline=None)
def test_utterances_are_pieces_of_the_stream_in_order(seed: int, scale: float) -> None:
    random = np.random.default_rng(seed)
    loudness = np.repeat(random.choice([0, 0.01, scale], 40), SAMPLE_RATE // 4)
    sound = (loudness * random.uniform(-1, 1, len(loudness))).astype(np.float32)
    utterances = cut(sound)
    for utterance in utterances:
        first = round(utterance.start * SAMPLE_RATE)
        piece = sound[first : first + len(utterance.samples)]
        np.testing.assert_array_equal(utterance.samples[: len(piece)], piece)
        assert not np.any(utterance.samples[len(piece) :])
        assert utterance.start < utterance.speech_end <= utterance.start + utterance.seconds
    assert all(a.speech_end <= b.speech_end for a, b in pairwise(utterances))
