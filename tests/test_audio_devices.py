"""Microphone and loudspeaker: ears closed while the companion speaks, and words for failures."""

from __future__ import annotations

import builtins
import sys
import threading
from collections.abc import Callable, Iterator
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
import pytest

from companion.audio import player as player_module
from companion.audio.devices import (
    MicrophoneUnavailable,
    SpeakerUnavailable,
    find_device,
    load_sounddevice,
    look_again,
)
from companion.audio.levels import measure_level
from companion.audio.microphone import AFTER_SPEAKING, BLOCK_SECONDS, QUEUE_SECONDS, Microphone
from companion.audio.player import Player
from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE

NO_OVERFLOW = SimpleNamespace(input_overflow=False)


class FakeInput:
    """A stream whose device is the test."""

    def __init__(self, **settings: Any) -> None:
        self.settings = settings
        self.active = False

    def start(self) -> None:
        self.active = True

    def abort(self, ignore_errors: bool) -> None:
        self.active = False
        self.settings["finished_callback"]()

    def close(self, ignore_errors: bool) -> None:
        self.active = False

    def give(self, value: float, seconds: float = BLOCK_SECONDS) -> None:
        frames = round(seconds * self.settings["samplerate"])
        block = np.full((frames, self.settings["channels"]), value, dtype=np.float32)
        self.settings["callback"](block, frames, None, NO_OVERFLOW)

    def unplug(self) -> None:
        self.active = False
        self.settings["finished_callback"]()


class FakeOutput:
    """A stream that takes all sound at once, in a thread as PortAudio does."""

    def __init__(self, taken: list[np.ndarray], stuck: bool, **settings: Any) -> None:
        self.settings = settings
        self._taken = taken
        self._stuck = stuck
        self._thread = threading.Thread(target=self._run)

    def __enter__(self) -> FakeOutput:
        if not self._stuck:
            self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        if not self._stuck:
            self._thread.join()

    def abort(self, ignore_errors: bool) -> None:
        pass

    def _run(self) -> None:
        try:
            while True:
                out = np.full((512, 1), np.nan, dtype=np.float32)
                try:
                    self.settings["callback"](out, 512, None, None)
                finally:
                    self._taken.append(out[:, 0])
        except StopIteration:
            self.settings["finished_callback"]()


class FakePortAudioError(Exception):
    pass


class FakeSoundDevice(ModuleType):
    PortAudioError = FakePortAudioError
    CallbackStop = StopIteration

    def __init__(self, rates: tuple[int, ...] = (16_000, 48_000)) -> None:
        super().__init__("sounddevice")
        self.rates = rates
        self.own_rate = rates[-1]
        self.fewest_channels = 1
        self.restarts = 0
        self.inputs: list[FakeInput] = []
        self.played: list[np.ndarray] = []
        self.stuck = False
        self.fails: Exception | None = None

    def query_devices(self, device: object, kind: str) -> dict[str, Any]:
        if device == "nowhere":
            raise ValueError("No input device matching 'nowhere'")
        return {"name": "Bench microphone", "default_samplerate": float(self.own_rate)}

    def _check(self, samplerate: int, channels: int, **_: Any) -> None:
        if samplerate not in self.rates:
            raise FakePortAudioError("Invalid sample rate [PaErrorCode -9997]")
        if channels < self.fewest_channels:
            raise FakePortAudioError("Invalid number of channels [PaErrorCode -9998]")

    def _terminate(self) -> None:
        assert not any(stream.active for stream in self.inputs), "a stream is still open"
        self.restarts += 1

    def _initialize(self) -> None:
        pass

    check_input_settings = _check
    check_output_settings = _check

    def InputStream(self, **settings: Any) -> FakeInput:  # noqa: N802
        if self.fails:
            raise self.fails
        self.inputs.append(FakeInput(**settings))
        return self.inputs[-1]

    def OutputStream(self, **settings: Any) -> FakeOutput:  # noqa: N802
        if self.fails:
            raise self.fails
        return FakeOutput(self.played, self.stuck, **settings)


@pytest.fixture
def device(monkeypatch: pytest.MonkeyPatch) -> FakeSoundDevice:
    fake = FakeSoundDevice()
    monkeypatch.setitem(sys.modules, "sounddevice", fake)
    return fake


@pytest.fixture
def microphone(device: FakeSoundDevice) -> Iterator[Microphone]:
    with Microphone() as opened:
        yield opened


def waiting(microphone: Microphone) -> list[float]:
    """First sample of every block that waits to be read."""
    firsts = []
    while (block := microphone.read(timeout=0.0)) is not None:
        firsts.append(round(float(block[0]), 3))
    return firsts


def test_blocks_come_as_they_were_captured(device: FakeSoundDevice, microphone: Microphone) -> None:
    for value in (0.1, 0.2, 0.3):
        device.inputs[0].give(value)
    assert waiting(microphone) == [0.1, 0.2, 0.3]
    assert microphone.name == "Bench microphone"


def test_nothing_is_heard_while_the_companion_speaks_and_a_moment_after(
    device: FakeSoundDevice, microphone: Microphone
) -> None:
    stream = device.inputs[0]
    stream.give(0.1)
    microphone.pause()
    stream.give(0.2)
    microphone.resume()
    for _ in range(int(AFTER_SPEAKING / BLOCK_SECONDS) + 1):
        stream.give(0.3)
    stream.give(0.4)
    assert waiting(microphone) == [0.1, 0.4]


def test_a_device_of_another_rate_is_resampled(device: FakeSoundDevice) -> None:
    device.rates = (48_000,)
    device.own_rate = 48_000
    with Microphone() as microphone:
        assert device.inputs[0].settings["samplerate"] == 48_000
        for _ in range(40):
            device.inputs[0].give(0.25)
        sound = microphone.listen_for_seconds(1.0)
    assert sound.shape == (SAMPLE_RATE,)
    assert np.median(sound) == pytest.approx(0.25, abs=0.01)


@pytest.mark.parametrize(
    ("rates", "own_rate", "channels", "opened"),
    [
        ((8_000,), 8_000, 1, (8_000, 1)),  # a telephone headset
        ((48_000,), 48_000, 2, (48_000, 2)),  # stereo alone
        ((44_100,), 192_000, 1, (44_100, 1)),  # it names a rate that it does not take
        ((16_000, 48_000), 48_000, 2, (16_000, 2)),
    ],
)
def test_a_device_that_gives_only_another_format(
    device: FakeSoundDevice,
    rates: tuple[int, ...],
    own_rate: int,
    channels: int,
    opened: tuple[int, int],
) -> None:
    device.rates, device.own_rate, device.fewest_channels = rates, own_rate, channels
    with Microphone() as microphone:
        stream = device.inputs[0]
        assert (stream.settings["samplerate"], stream.settings["channels"]) == opened
        for _ in range(40):
            stream.give(0.25)
        sound = microphone.listen_for_seconds(1.0)
    assert sound.shape == (SAMPLE_RATE,)
    assert np.median(sound) == pytest.approx(0.25, abs=0.01)


def test_a_device_too_slow_for_speech_is_refused(device: FakeSoundDevice) -> None:
    device.rates, device.own_rate = (4_000,), 4_000
    with pytest.raises(MicrophoneUnavailable, match="4000 samples a second, too few"), Microphone():
        pass


def test_a_microphone_plugged_in_again_is_opened_anew_at_its_new_rate(
    device: FakeSoundDevice, microphone: Microphone
) -> None:
    device.inputs[0].give(0.1)
    device.inputs[0].unplug()
    device.fails = FakePortAudioError("Device unavailable [PaErrorCode -9985]")
    with pytest.raises(MicrophoneUnavailable):
        microphone.reopen()
    device.fails, device.rates, device.own_rate = None, (48_000,), 48_000
    microphone.reopen()
    assert device.restarts == 2
    # What the first device still says of itself is of no account.
    device.inputs[0].unplug()
    for _ in range(40):
        device.inputs[1].give(0.25)
    sound = microphone.listen_for_seconds(1.0)
    assert np.median(sound) == pytest.approx(0.25, abs=0.01)


def test_a_microphone_opened_anew_while_the_companion_speaks_stays_closed(
    device: FakeSoundDevice, microphone: Microphone
) -> None:
    microphone.pause()
    device.inputs[0].unplug()
    microphone.reopen()
    device.inputs[1].give(0.1)
    assert waiting(microphone) == []


def test_a_stream_that_hangs_is_lost_and_one_that_is_paused_is_not(
    device: FakeSoundDevice, microphone: Microphone, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("companion.audio.microphone.LOST_SECONDS", 0.0)
    blocks = microphone.blocks()
    device.inputs[0].give(0.1)
    assert next(blocks)[0] == pytest.approx(0.1)
    real = microphone.read
    looks = []

    def read(timeout: float) -> np.ndarray | None:
        # Sound comes, and is dropped, for as long as the companion speaks.
        looks.append(timeout)
        if len(looks) <= 3:
            device.inputs[0].give(0.2)
        return real(timeout)

    microphone.pause()
    monkeypatch.setattr(microphone, "read", read)
    with pytest.raises(MicrophoneUnavailable, match="has stopped giving sound; plug it in"):
        next(blocks)
    assert len(looks) == 4


@pytest.mark.parametrize("look", [0.0, 0.001])
def test_a_device_that_begins_late_is_waited_for(
    device: FakeSoundDevice, microphone: Microphone, monkeypatch: pytest.MonkeyPatch, look: float
) -> None:
    """A sound server opens a microphone at once and gives its first sound seconds later."""
    monkeypatch.setattr("companion.audio.microphone.LOST_SECONDS", look)
    real = microphone.read
    looks = []

    def read(timeout: float) -> np.ndarray | None:
        looks.append(timeout)
        if len(looks) == 20:
            device.inputs[0].give(0.2)
        return real(timeout)

    monkeypatch.setattr(microphone, "read", read)
    assert next(microphone.blocks())[0] == pytest.approx(0.2)


def test_a_device_that_never_begins_is_told_of(
    device: FakeSoundDevice, microphone: Microphone, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("companion.audio.microphone.BEGIN_SECONDS", 0.0)
    with pytest.raises(MicrophoneUnavailable, match="gives no sound at all; plug it in again"):
        next(microphone.blocks())
    with pytest.raises(MicrophoneUnavailable, match="gives no sound at all; plug it in again"):
        microphone.listen_for_seconds(1.0)


def test_a_microphone_that_gives_nothing_is_opened_anew_ever_more_seldom(
    device: FakeSoundDevice, microphone: Microphone, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sound server leaves a program at another device when its own is back."""
    real = microphone.read
    live = [False]

    def read(timeout: float) -> np.ndarray | None:
        stream = device.inputs[-1]
        sound = np.linspace(0, 0.01 if live[0] else 0.0, 480, dtype=np.float32)[:, None]
        stream.settings["callback"](sound, 480, None, NO_OVERFLOW)
        return real(timeout)

    monkeypatch.setattr(microphone, "read", read)
    opened = []
    for number, _ in zip(range(int(200 / BLOCK_SECONDS)), microphone.blocks(), strict=False):
        if len(device.inputs) > 1 + len(opened):
            opened.append(round(number * BLOCK_SECONDS))
    assert opened == [10, 30, 70, 130, 190]
    live[0] = True
    for _ in zip(range(int(200 / BLOCK_SECONDS)), microphone.blocks(), strict=False):
        pass
    assert len(device.inputs) == 6


def test_a_sound_system_that_hangs_is_not_waited_for(
    device: FakeSoundDevice, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Opened and closed in a thread of its own; and not started anew under a call that hangs."""
    held = threading.Event()
    monkeypatch.setattr("companion.audio.answering.ANSWER_SECONDS", 0.05)
    with Microphone() as microphone:
        monkeypatch.setattr("companion.audio.microphone.CLOSE_SECONDS", 0.05)
        monkeypatch.setattr(device.inputs[0], "abort", lambda ignore_errors: held.wait())
        with pytest.raises(MicrophoneUnavailable, match="the sound system does not answer"):
            microphone.reopen()
        assert device.restarts == 0
        with pytest.raises(MicrophoneUnavailable, match="the sound system does not answer"):
            microphone.reopen()
        held.set()
        hanging = [t for t in threading.enumerate() if t.name == "sound system"]
        for thread in hanging:
            thread.join()
        microphone.reopen()
        assert device.restarts == 1


def test_a_sound_system_that_hangs_while_a_device_is_asked(
    device: FakeSoundDevice, monkeypatch: pytest.MonkeyPatch
) -> None:
    held = threading.Event()
    monkeypatch.setattr("companion.audio.answering.ANSWER_SECONDS", 0.05)
    monkeypatch.setattr(device, "check_output_settings", lambda **_: held.wait(), raising=False)
    with pytest.raises(SpeakerUnavailable, match="the sound system does not answer; start it"):
        Player()
    held.set()


def test_devices_are_not_looked_for_under_a_sound_that_plays(device: FakeSoundDevice) -> None:
    looked: list[int] = []

    class Looking(FakeOutput):
        def _run(self) -> None:
            thread = threading.Thread(target=look_again)
            thread.start()
            super()._run()
            looked.append(device.restarts)

    device.OutputStream = lambda **settings: Looking(device.played, False, **settings)  # type: ignore[method-assign]
    assert Player().play(np.ones(SAMPLE_RATE, dtype=np.float32))
    assert looked == [0]


def test_of_too_much_sound_the_oldest_is_dropped_and_counted(
    device: FakeSoundDevice, microphone: Microphone
) -> None:
    room = int(QUEUE_SECONDS / BLOCK_SECONDS)
    for number in range(room + 3):
        device.inputs[0].give(number / 10_000)
    assert microphone.overflows == 3
    assert len(waiting(microphone)) == room


def test_a_microphone_unplugged_is_told_after_what_came_before(
    device: FakeSoundDevice, microphone: Microphone
) -> None:
    device.inputs[0].give(0.1)
    device.inputs[0].unplug()
    assert microphone.read(timeout=0.0) is not None
    for _ in range(2):
        with pytest.raises(MicrophoneUnavailable, match="has stopped giving sound; plug it in"):
            microphone.read(timeout=0.0)


def test_closing_is_no_failure(device: FakeSoundDevice) -> None:
    with Microphone() as microphone:
        device.inputs[0].give(0.1)
    assert [len(block) for block in microphone.blocks()] == []
    assert waiting(microphone) == [0.1]


@pytest.mark.parametrize(
    ("failure", "says"),
    [
        (FakePortAudioError("Device unavailable [PaErrorCode -9985]"), "no other program holds it"),
        (ValueError("No input device matching 'x'"), "mend the name in the settings"),
    ],
)
def test_a_device_that_does_not_open(
    device: FakeSoundDevice, failure: Exception, says: str
) -> None:
    device.fails = failure
    with pytest.raises(MicrophoneUnavailable, match=says), Microphone():
        pass
    with pytest.raises(SpeakerUnavailable, match=says):
        Player().play(np.zeros(100, dtype=np.float32))


def test_a_device_of_no_known_name(device: FakeSoundDevice) -> None:
    with pytest.raises(MicrophoneUnavailable, match="No microphone answers to 'nowhere'"):
        find_device("input", "nowhere")


def test_playing_gives_the_whole_sound(device: FakeSoundDevice) -> None:
    sound = np.linspace(-0.5, 0.5, 4_000, dtype=np.float32)
    with Player() as player:
        assert player.play(sound)
    played = np.concatenate(device.played)
    np.testing.assert_array_equal(played[: len(sound)], sound)
    assert not np.any(played[len(sound) :])


def test_playing_on_a_device_of_another_rate(device: FakeSoundDevice) -> None:
    device.rates = (48_000,)
    device.own_rate = 48_000
    with Player() as player:
        assert player.play(np.full(SAMPLE_RATE, 0.25, dtype=np.float32))
    assert np.count_nonzero(np.concatenate(device.played) > 0.2) == pytest.approx(48_000, abs=50)


def test_a_sound_can_be_cut_short(device: FakeSoundDevice) -> None:
    player = Player()

    class Stopping(FakeOutput):
        def _run(self) -> None:
            player.stop()
            super()._run()

    device.OutputStream = lambda **settings: Stopping(device.played, False, **settings)  # type: ignore[method-assign]
    assert player.play(np.ones(SAMPLE_RATE, dtype=np.float32)) is False
    assert not np.any(np.concatenate(device.played))
    player.stop()
    device.OutputStream = lambda **settings: FakeOutput(device.played, False, **settings)  # type: ignore[method-assign]
    assert player.play(np.ones(SAMPLE_RATE, dtype=np.float32)) is True


def test_a_loudspeaker_that_hangs_is_not_waited_for(
    device: FakeSoundDevice, monkeypatch: pytest.MonkeyPatch
) -> None:
    device.stuck = True
    monkeypatch.setattr("companion.audio.player.GRACE", 0.0)
    with pytest.raises(SpeakerUnavailable, match="does not take any sound"):
        Player().play(np.zeros(10, dtype=np.float32))


class Slow(FakeOutput):
    """A device that takes each piece only when it is told to, and may go away."""

    def __init__(self, taken: list[np.ndarray], pieces: int | None, **settings: Any) -> None:
        super().__init__(taken, False, **settings)
        self.pieces = pieces
        self.may_go_on = threading.Event()

    def _run(self) -> None:
        self.may_go_on.wait(0.3)
        if self.pieces is None:
            super()._run()
            return
        for _ in range(self.pieces):
            self.settings["callback"](np.zeros((512, 1), dtype=np.float32), 512, None, None)
        self.settings["finished_callback"]()


def test_a_loudspeaker_that_begins_late_has_not_failed(device: FakeSoundDevice) -> None:
    """It was given up a second after the sound's own length; it has eight to begin."""
    device.OutputStream = lambda **settings: Slow(device.played, None, **settings)  # type: ignore[method-assign]
    assert player_module.GRACE >= 6.0
    assert Player().play(np.full(1_000, 0.5, dtype=np.float32))
    assert np.count_nonzero(np.concatenate(device.played) == 0.5) == 1_000


def test_whatever_else_fails_at_the_loudspeaker_is_told_and_no_traceback(
    device: FakeSoundDevice,
) -> None:
    device.fails = MemoryError("no room")
    with pytest.raises(SpeakerUnavailable, match=r"cannot be used \(no room\); check"):
        Player().play(np.ones(10, dtype=np.float32))


def test_progress_counts_and_not_the_time(
    device: FakeSoundDevice, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However long it takes in all: every piece that is taken begins the wait anew."""
    monkeypatch.setattr("companion.audio.player.GRACE", 0.2)
    monkeypatch.setattr("companion.audio.player.LOOK_SECONDS", 0.02)
    pace = threading.Event()

    class Dragging(FakeOutput):
        def _run(self) -> None:
            real = self.settings["callback"]

            def slowly(*given: Any) -> None:
                pace.wait(0.05)
                real(*given)

            self.settings["callback"] = slowly
            super()._run()

    device.OutputStream = lambda **settings: Dragging(device.played, False, **settings)  # type: ignore[method-assign]
    assert Player().play(np.ones(16 * 512, dtype=np.float32))


def test_a_loudspeaker_that_goes_away_under_a_sound_is_tried_once_more(
    device: FakeSoundDevice,
) -> None:
    left = [3]

    def begin(**settings: Any) -> FakeOutput:
        if left:
            return Slow(device.played, left.pop(), **settings)
        return FakeOutput(device.played, False, **settings)

    device.OutputStream = begin  # type: ignore[method-assign]
    assert Player().play(np.full(16_000, 0.5, dtype=np.float32))
    # From its beginning: half a caution is none.
    assert np.count_nonzero(np.concatenate(device.played) == 0.5) == 16_000
    left += [3, 3]
    with pytest.raises(SpeakerUnavailable, match="has stopped taking sound; plug it in again"):
        Player().play(np.full(16_000, 0.5, dtype=np.float32))


def test_after_a_failure_less_is_waited_but_not_for_good(
    device: FakeSoundDevice, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = [0.0]
    device.stuck = True
    monkeypatch.setattr("companion.audio.player.GRACE", 0.1)
    monkeypatch.setattr("companion.audio.player.GRACE_AGAIN", 0.01)
    player = Player(clock=lambda: now[0])
    waits = []
    for at in (0.0, 1.0, 50.0):
        now[0] = at
        waits.append(player._grace())
        with pytest.raises(SpeakerUnavailable, match="does not take any sound"):
            player.play(np.zeros(10, dtype=np.float32))
    assert waits == [0.1, 0.01, 0.1]
    device.stuck = False
    assert player.play(np.zeros(10, dtype=np.float32))
    assert player._grace() == 0.1


def test_playing_nothing_opens_nothing(device: FakeSoundDevice) -> None:
    assert Player().play(np.zeros(0, dtype=np.float32))
    assert device.played == []


@pytest.mark.parametrize(
    ("failure", "says"),
    [
        (OSError("PortAudio library not found"), "apt-get install libportaudio2"),
        (ImportError("No module named 'sounddevice'"), "pip install sounddevice"),
    ],
)
def test_sound_software_missing(
    monkeypatch: pytest.MonkeyPatch, failure: Exception, says: str
) -> None:
    real: Callable[..., Any] = builtins.__import__

    def without_sounddevice(name: str, *others: Any, **named: Any) -> Any:
        if name == "sounddevice":
            raise failure
        return real(name, *others, **named)

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(builtins, "__import__", without_sounddevice)
    for unavailable, use in (
        (MicrophoneUnavailable, lambda: Microphone().__enter__()),
        (SpeakerUnavailable, lambda: Player()),
    ):
        with pytest.raises(unavailable, match=says) as caught:
            use()
        assert isinstance(caught.value, CompanionError)


def test_the_real_library_with_or_without_a_sound_card() -> None:
    """Without a sound card PortAudio's own error becomes the sentence; with one, it opens."""
    sounddevice = load_sounddevice("input")
    look_again()  # by the library's own, private, way: it must still be there
    cards = [d for d in sounddevice.query_devices() if d["max_input_channels"] > 0]
    if cards:
        assert find_device("input").name
    else:
        with pytest.raises(MicrophoneUnavailable, match="No microphone was found; plug one in"):
            find_device("input")


@pytest.mark.parametrize(
    ("sound", "verdict"),
    [
        (np.zeros(100), "silent"),
        (np.zeros(0), "silent"),
        (np.full(100, 0.002), "quiet"),
        (np.full(100, 0.3), "good"),
        (np.full(100, 1.0), "clipped"),
    ],
)
def test_levels_for_the_checkup(sound: np.ndarray, verdict: str) -> None:
    level = measure_level(sound.astype(np.float32))
    assert level.verdict == verdict
    assert level.sentence.endswith(".")


def test_levels_are_in_decibels_of_full_scale() -> None:
    """A full-scale sine has a peak of 0 dB and a root mean square of -3.01 dB (AES17 aside)."""
    sine = np.sin(2 * np.pi * np.arange(16_000) / 160).astype(np.float32)
    level = measure_level(sine)
    assert level.peak == pytest.approx(0.0, abs=0.01)
    assert level.rms == pytest.approx(-3.01, abs=0.01)
