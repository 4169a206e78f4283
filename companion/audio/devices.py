"""The one door to sounddevice: PortAudio missing, no device, and what to do about each."""

from __future__ import annotations

from dataclasses import dataclass
from types import ModuleType
from typing import Literal

from companion.errors import CompanionError

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
    """

    name: str
    rate: int


def load_sounddevice(direction: Direction) -> ModuleType:
    """Import sounddevice.

    Raises:
        SoundUnavailable: If it, or the PortAudio library under it, is not installed.
    """
    try:
        import sounddevice
    except OSError as error:
        raise _UNAVAILABLE[direction](
            "The PortAudio library that sound needs is missing; install it "
            "(Debian, Ubuntu: apt install libportaudio2)."
        ) from error
    except ImportError as error:
        raise _UNAVAILABLE[direction](
            "The Python package sounddevice is missing; install it (pip install sounddevice)."
        ) from error
    module: ModuleType = sounddevice
    return module


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
    return DeviceInfo(name=str(found["name"]), rate=int(found["default_samplerate"]))


def supports_rate(direction: Direction, device: Device, rate: int) -> bool:
    """Whether a device takes or gives mono sound at this rate, in Hz."""
    sounddevice = load_sounddevice(direction)
    check = (
        sounddevice.check_input_settings
        if direction == "input"
        else sounddevice.check_output_settings
    )
    try:
        check(device=device, channels=1, dtype="float32", samplerate=rate)
    except (sounddevice.PortAudioError, ValueError):
        return False
    return True


def trouble(direction: Direction, device: Device, error: Exception) -> SoundUnavailable:
    """Put what PortAudio reports into one plain sentence."""
    name = _NAMES[direction]
    if device is None and "querying device -1" in str(error):
        sentence = f"No {name} was found; plug one in, or choose one in the sound settings."
    elif isinstance(error, ValueError):
        sentence = (
            f"No {name} answers to {str(device)!r}; mend the name in the settings, or plug it in."
        )
    else:
        which = "" if device is None else f" {str(device)!r}"
        reason = (str(error).splitlines() or [""])[0].rstrip(".")
        sentence = (
            f"The {name}{which} cannot be used ({reason}); "
            "check that it is plugged in and that no other program holds it."
        )
    return _UNAVAILABLE[direction](sentence)
