"""The one door to sounddevice: PortAudio missing, no device, and what to do about each."""

from __future__ import annotations

import atexit
import re
import sys
import threading
from dataclasses import dataclass
from types import ModuleType
from typing import Literal

from companion.audio.answering import NoAnswer, answer, hangs
from companion.audio.native_words import part_standard_error
from companion.audio.resample import LOWEST_RATE
from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE
from companion.installed import to_add

RATES = (48_000, 44_100, 32_000, 8_000)
"""Rates to try, in Hz, where a device accepts neither ``SAMPLE_RATE`` nor the rate that it reports
as its own: one that other programs have set up may report a rate that it does not accept."""

Direction = Literal["input", "output"]
Device = int | str | None
"""A device's number, or a part of its name; None for the one the system uses by itself."""


class SoundUnavailable(CompanionError):
    """Sound cannot be taken in or given out here; the message says why and what to do."""


class MicrophoneUnavailable(SoundUnavailable):
    """There is no microphone to listen to, or it went away."""


class SpeakerUnavailable(SoundUnavailable):
    """There is no loudspeaker to speak through, or it went away."""


_UNAVAILABLE: dict[Direction, type[SoundUnavailable]] = {
    "input": MicrophoneUnavailable,
    "output": SpeakerUnavailable,
}
_NAMES: dict[Direction, str] = {"input": "microphone", "output": "loudspeaker"}


@dataclass(frozen=True, slots=True)
class DeviceInfo:
    """A sound device.

    Attributes:
        name: As the system names it.
        rate: Its own rate, in Hz.
        channels: How many it has, in the direction that it was asked for.
    """

    name: str
    rate: int
    channels: int = 1


@dataclass(frozen=True, slots=True)
class Capture:
    """How a microphone is listened to.

    Attributes:
        name: As the system names it.
        rate: Of its blocks, in Hz.
        channels: Of its blocks.
    """

    name: str
    rate: int
    channels: int


sounding = threading.RLock()
"""Held while a loudspeaker plays: a new search for devices would close it in the middle of the
sound."""
_LOOK_SECONDS = 0.5
"""Seconds between two looks at whether the sound that plays has hung."""


def load_sounddevice(direction: Direction) -> ModuleType:
    """Import sounddevice; what it and the libraries under it print is kept off the terminal.

    Raises:
        SoundUnavailable: If it, or the PortAudio library under it, is not installed.
    """
    part_standard_error()
    known = "sounddevice" in sys.modules
    try:
        import sounddevice
    except OSError as error:
        raise _UNAVAILABLE[direction](
            "The PortAudio library that sound needs is missing; install it "
            "(Debian, Ubuntu: sudo apt-get install libportaudio2)."
        ) from error
    except ImportError as error:
        raise _UNAVAILABLE[direction](
            f"The Python package sounddevice is missing; install it with: {to_add('sounddevice')}"
        ) from error
    module: ModuleType = sounddevice
    if not known:
        atexit.register(_leave, module)
    return module


def _leave(sounddevice: ModuleType) -> None:
    """Let the program end although a call hangs: the library would wait for it for ever."""
    if hangs():
        # The library's own exit handler, which runs after this one, calls Pa_Terminate as often as
        # it was initialized.
        sounddevice._initialized = 0  # type: ignore[attr-defined]


def find_device(direction: Direction, device: Device = None) -> DeviceInfo:
    """Return the device that would be used.

    Raises:
        SoundUnavailable: If there is none.
    """
    sounddevice = load_sounddevice(direction)
    try:
        found = sounddevice.query_devices(device, direction)
    except (sounddevice.PortAudioError, ValueError) as error:
        raise trouble(direction, device, error) from error
    return DeviceInfo(
        name=str(found["name"]),
        rate=int(found["default_samplerate"]),
        channels=int(found.get(f"max_{direction}_channels", 1)),
    )


def find_capture(device: Device = None) -> Capture:
    """Return how a microphone can be listened to: at ``SAMPLE_RATE`` if it gives that, else the
    nearest that it gives; by two channels where it has them, of which one is made here.

    Raises:
        MicrophoneUnavailable: If there is none, or it gives nothing that is worth listening to.
    """
    info = find_device("input", device)
    rates = dict.fromkeys((SAMPLE_RATE, info.rate, *RATES))
    for channels in (2, 1) if info.channels >= 2 else (1, 2):
        for rate in rates:
            if rate >= LOWEST_RATE and supports_rate("input", device, rate, channels):
                return Capture(info.name, rate, channels)
    if info.rate < LOWEST_RATE:
        raise MicrophoneUnavailable(
            f"The microphone {info.name!r} gives {info.rate} samples a second, too few to "
            f"understand speech; set it to {LOWEST_RATE} or more, or use another one."
        )
    # Opening it then says in PortAudio's own words what is wrong.
    return Capture(info.name, info.rate, 1)


def look_again() -> None:
    """Look anew for devices: PortAudio knows those that were there when it was started, and a
    plugged-in microphone is a new one.

    Every stream must be closed; one that plays is waited for.

    Raises:
        MicrophoneUnavailable: If the sound system does not start again, or hangs.
    """
    sounddevice = load_sounddevice("input")

    def anew() -> None:
        # The library has no public way.
        sounddevice._terminate()
        sounddevice._initialize()

    while not sounding.acquire(timeout=_LOOK_SECONDS):
        if hangs():
            raise trouble("input", None, NoAnswer())
    try:
        if hangs():
            raise trouble("input", None, NoAnswer())
        answer(anew)
    except (NoAnswer, sounddevice.PortAudioError) as error:
        raise trouble("input", None, error) from error
    finally:
        sounding.release()


def supports_rate(direction: Direction, device: Device, rate: int, channels: int = 1) -> bool:
    """Whether a device takes or gives sound at this rate.

    Args:
        direction: "input" or "output".
        device: As PortAudio knows it; its own choice if None.
        rate: Samples per second, in Hz.
        channels: How many at once.

    Raises:
        SoundUnavailable: If the sound system does not answer.
    """
    sounddevice = load_sounddevice(direction)
    check = (
        sounddevice.check_input_settings
        if direction == "input"
        else sounddevice.check_output_settings
    )
    try:
        answer(lambda: check(device=device, channels=channels, dtype="float32", samplerate=rate))
    except NoAnswer as error:
        raise trouble(direction, device, error) from error
    except (sounddevice.PortAudioError, ValueError):
        return False
    return True


def trouble(direction: Direction, device: Device, error: Exception) -> SoundUnavailable:
    """Put what PortAudio reports into one plain sentence.

    Args:
        direction: "input" or "output".
        device: As it was asked for; None where PortAudio was to choose.
        error: What was raised.
    """
    name = _NAMES[direction]
    if device is None and "querying device -1" in str(error):
        sentence = f"No {name} was found; plug one in, or choose one in the sound settings."
    elif isinstance(error, NoAnswer):
        sentence = (
            f"The {name} cannot be used, since the sound system does not answer; "
            "start it again, or the computer."
        )
    elif isinstance(error, ValueError):
        sentence = (
            f"No {name} answers to {str(device)!r}; mend the name in the settings, or plug it in."
        )
    else:
        which = "" if device is None else f" {str(device)!r}"
        reason = _reason(error)
        sentence = (
            f"The {name}{which} cannot be used{f' ({reason})' if reason else ''}; "
            "check that it is plugged in and that no other program holds it."
        )
    return _UNAVAILABLE[direction](sentence)


def _reason(error: Exception) -> str:
    """What PortAudio says of an error, without its numbers: it may be read aloud. Empty where it
    knows nothing itself."""
    first = (str(error).splitlines() or [""])[0]
    reason = re.sub(r"^Error \w+ \w+: |\s*\[PaErrorCode.*", "", first).rstrip(". ")
    return "" if reason == "Unanticipated host error" else reason
