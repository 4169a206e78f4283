"""A microphone of two capsules: the better one is listened to, or both where that is better."""

from __future__ import annotations

import sys
import time
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.typing import NDArray

from companion.audio.channels import MEMORY_SECONDS, WAYS, TwoChannels
from companion.audio.endpointing import segment_sound
from companion.audio.microphone import Microphone
from companion.audio.own_sound import OwnSound
from companion.audio.resample import mono
from companion.files.sound_format import SAMPLE_RATE
from tests.sounds import NOISES, Samples, pause, speak
from tests.test_audio_devices import FakeSoundDevice

BLOCK = 480
CALLS = ("start soak timer two hours", "compression one twenty p s i", "added twenty ounces of oil")
SAID = np.concatenate(
    [pause(4.0), *(part for call in CALLS for part in (speak(call, "rms"), pause(2.0)))]
)
SECONDS = len(SAID) / SAMPLE_RATE
ENGINE = NOISES["engine"](SECONDS + 0.1, seed=1)[: len(SAID)]


def at(sound: Samples, level: float, late: float = 0.0) -> NDArray[np.float64]:
    """Sound as it comes to a capsule: so many dB up, so many milliseconds late."""
    places = np.arange(len(sound))
    return np.interp(places - late * SAMPLE_RATE / 1000, places, sound, left=0) * 10 ** (level / 20)


def hiss(level: float, seed: int) -> NDArray[np.float64]:
    return np.random.default_rng(seed).standard_normal(len(SAID)) * 10 ** (level / 20)


Capsules = tuple[NDArray[np.float64], NDArray[np.float64]]

HEADSET: Capsules = (
    at(SAID, -8) + at(ENGINE, -20) + hiss(-76, 1),
    at(SAID, -20, 0.4) + at(ENGINE, -16, 0.2) + hiss(-76, 2),
)
SECOND_BESIDE_MACHINE: Capsules = (
    at(SAID, -10) + at(ENGINE, -24) + hiss(-76, 1),
    at(SAID, -14, 0.3) + at(ENGINE, -6) + hiss(-76, 2),
)
FIRST_HISSES: Capsules = (hiss(-36, 1), at(SAID, -8) + at(ENGINE, -24) + hiss(-76, 2))
ENGINE_FROM_THE_SIDE: Capsules = (
    at(SAID, -8) + at(ENGINE, -18),
    at(SAID, -8, 0.02) + at(ENGINE, -18, 0.23),
)
ALIKE = at(SAID, -8) + at(ENGINE, -18) + hiss(-76, 1)


def listened(capsules: Capsules, *, learn: bool = True) -> tuple[Samples, TwoChannels]:
    """What is made of two capsules, block by block as a microphone gives them."""
    both = np.stack(capsules, axis=1).astype(np.float32)
    channels = TwoChannels(SAMPLE_RATE)
    blocks = [
        channels.feed(both[place : place + BLOCK], learn=learn)
        for place in range(0, len(both), BLOCK)
    ]
    return np.concatenate(blocks), channels


def over_noise(sound: Samples) -> float:
    """How far the last call is above the noise, in dB; 0 where none is found."""
    return [0.0, *(each.over_noise or 0.0 for each in segment_sound([sound]))][-1]


def mixed(capsules: Capsules, way: str) -> Samples:
    one, other = WAYS[way]
    return np.asarray(one * capsules[0] + other * capsules[1], dtype=np.float32)


@pytest.mark.parametrize(
    ("capsules", "way"),
    [
        (HEADSET, "first"),
        (SECOND_BESIDE_MACHINE, "first"),
        ((SECOND_BESIDE_MACHINE[1], SECOND_BESIDE_MACHINE[0]), "second"),
        (FIRST_HISSES, "second"),
        (ENGINE_FROM_THE_SIDE, "both"),
        ((ALIKE, -ALIKE), "against each other"),
        ((ALIKE, ALIKE), "both"),
    ],
    ids=[
        "a headset", "second beside the machine", "first beside the machine", "first hisses",
        "engine from the side", "one upside down", "one channel twice",
    ],
)  # fmt: skip
def test_what_stands_out_most_is_listened_to(capsules: Capsules, way: str) -> None:
    sound, channels = listened(capsules)
    assert channels.way == way
    assert over_noise(sound) >= max(over_noise(mixed(capsules, each)) for each in WAYS) - 1.0


@pytest.mark.parametrize(
    "capsules",
    [HEADSET, SECOND_BESIDE_MACHINE, FIRST_HISSES, (ALIKE, -ALIKE)],
    ids=["a headset", "second beside the machine", "first hisses", "one upside down"],
)
def test_it_is_clearly_better_than_both_together(capsules: Capsules) -> None:
    sound, _ = listened(capsules)
    assert over_noise(sound) >= over_noise(mixed(capsules, "both")) + 2.0


def test_one_channel_given_twice_is_that_channel_to_the_last_bit() -> None:
    sound, _ = listened((ALIKE, ALIKE))
    np.testing.assert_array_equal(sound, ALIKE.astype(np.float32))


def test_a_dead_channel_costs_nothing_but_level() -> None:
    capsules = (np.zeros(len(SAID)), ALIKE)
    sound, _ = listened(capsules)
    assert over_noise(sound) == pytest.approx(over_noise(mixed(capsules, "second")), abs=0.5)


def test_while_nobody_speaks_nothing_is_chosen() -> None:
    quiet = np.zeros(len(SAID), dtype=np.float32)
    for noise in ("engine", "compressor", "pink", "hum"):
        running = NOISES[noise](SECONDS + 0.1, seed=1)[: len(SAID)]
        capsules = (at(quiet, 0) + at(running, -20), at(running, -6, 0.3) + hiss(-60, 1))
        assert listened(capsules)[1].way == "both"


def test_it_changes_without_a_click() -> None:
    both = np.stack(SECOND_BESIDE_MACHINE, axis=1).astype(np.float32)
    channels = TwoChannels(SAMPLE_RATE)
    for place in range(0, len(both), BLOCK):
        before = channels.way
        block = both[place : place + BLOCK]
        made = channels.feed(block)
        if channels.way != before:
            begins = mono(block @ np.array(WAYS[before], np.float32))
            ends = mono(block @ np.array(WAYS[channels.way], np.float32))
            assert made[0] == pytest.approx(begins[0], abs=1e-4)
            assert made[-1] == pytest.approx(ends[-1], abs=1e-4)
            return
    raise AssertionError("it never changed")


def test_nothing_is_learned_of_what_the_companion_says_itself() -> None:
    assert listened(HEADSET, learn=False)[1].way == "both"


def test_no_more_is_remembered_than_is_looked_at() -> None:
    _, channels = listened(HEADSET)
    assert len(channels._powers) <= MEMORY_SECONDS * SAMPLE_RATE / BLOCK + 1


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 3.0])
def test_values_that_are_no_sound_stay_within_bounds(bad: float) -> None:
    made = TwoChannels(SAMPLE_RATE).feed(np.full((BLOCK, 2), bad, dtype=np.float32))
    assert np.all(np.abs(made) <= 1)


@pytest.mark.parametrize("shape", [(BLOCK,), (BLOCK, 1), (BLOCK, 3), (0, 2)])
def test_other_numbers_of_channels_are_mixed_as_ever(shape: tuple[int, ...]) -> None:
    block = np.full(shape, 0.25, dtype=np.float32)
    np.testing.assert_array_equal(TwoChannels(SAMPLE_RATE).feed(block), mono(block))


# --- the microphone ------------------------------------------------------------------------------
@pytest.fixture
def device(monkeypatch: pytest.MonkeyPatch) -> FakeSoundDevice:
    """A headset of two capsules."""
    fake = FakeSoundDevice()
    named = fake.query_devices
    monkeypatch.setattr(
        fake, "query_devices", lambda *asked: {**named(*asked), "max_input_channels": 2}
    )
    monkeypatch.setitem(sys.modules, "sounddevice", fake)
    return fake


def heard(device: FakeSoundDevice, microphone: Microphone, capsules: Capsules) -> Samples:
    stream = device.inputs[0].settings
    both = np.stack(capsules, axis=1).astype(np.float32)
    given = []
    for place in range(0, len(both) - BLOCK, BLOCK):
        block = both[place : place + BLOCK]
        stream["callback"](block, len(block), None, SimpleNamespace(input_overflow=False))
        sound = microphone.read(timeout=0.0)
        assert sound is not None
        given.append(sound)
    return np.concatenate(given)


def test_a_device_of_two_capsules_is_opened_with_both(device: FakeSoundDevice) -> None:
    with Microphone() as microphone:
        settings = device.inputs[0].settings
        assert (settings["samplerate"], settings["channels"]) == (16_000, 2)
        sound = heard(device, microphone, HEADSET)
    assert over_noise(sound) >= over_noise(mixed(HEADSET, "both")) + 2.0


def test_its_own_voice_in_the_microphone_chooses_nothing(device: FakeSoundDevice) -> None:
    """The capsule that hears the loudspeaker best is not the one at the mouth."""
    own = OwnSound()
    with Microphone(None, own) as microphone:
        # Begun now, and for longer than all that is heard here.
        own.began(np.tile(SAID, 3), time.monotonic())
        sound = heard(device, microphone, HEADSET)
    np.testing.assert_allclose(sound, mixed(HEADSET, "both")[: len(sound)], atol=1e-6)
