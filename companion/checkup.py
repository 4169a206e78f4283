"""What works on this machine and what does not: microphone, speaker, recognizer, voice, disk."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from dataclasses import dataclass

from companion.errors import CompanionError
from companion.settings import Settings


@dataclass(frozen=True, slots=True)
class Checked:
    """One part and how it does; the sentence says what was found or what to do."""

    part: str
    ok: bool
    sentence: str


def check_all(settings: Settings) -> tuple[Checked, ...]:
    """Try every part for real; a part that fails does not keep the others from being tried."""
    parts: tuple[tuple[str, Callable[[Settings], str]], ...] = (
        ("microphone", _microphone),
        ("speaker", _speaker),
        ("recognizer", _recognizer),
        ("voice", _voice),
        ("disk", _disk),
    )
    return tuple(_try(part, probe, settings) for part, probe in parts)


def _try(part: str, probe: Callable[[Settings], str], settings: Settings) -> Checked:
    try:
        return Checked(part, True, probe(settings))
    except CompanionError as error:
        return Checked(part, False, str(error))


def _microphone(settings: Settings) -> str:
    from companion.audio.calibration import SECONDS, calibrate
    from companion.audio.devices import MicrophoneUnavailable
    from companion.audio.microphone import Microphone

    with Microphone(settings.microphone) as microphone:
        found = calibrate(microphone.listen_for_seconds(SECONDS))
    if found.silent or found.verdict == "overloaded":
        raise MicrophoneUnavailable(f"{microphone.name}: {found.trouble}")
    measured = (
        f"{microphone.name} gives sound, noise at {found.noise_floor:.0f} dB and the loudest at "
        f"{found.level.peak:.0f} dB of full scale."
    )
    return measured if found.trouble is None else f"{measured} {found.trouble}"


def _speaker(settings: Settings) -> str:
    from companion.audio.echo import EchoRemover, EchoUnavailable
    from companion.audio.own_sound import OwnSound
    from companion.audio.player import Player
    from companion.speak.tones import tone

    with Player(settings.speaker) as player:
        player.play(tone("recorded"))
        played = f"a tone was played on {player.name}."
    try:
        EchoRemover(OwnSound())
    except EchoUnavailable as error:
        return f"{played} {error}"
    return played


def _recognizer(settings: Settings) -> str:
    from companion.enroll.recognizer_of import recognizer_of

    recognizer = recognizer_of(settings)
    return f"{recognizer.name} is loaded."


def _voice(settings: Settings) -> str:
    from companion.files.sound_format import SAMPLE_RATE
    from companion.speak.voice import open_voice

    samples = open_voice(settings).render("ready")
    return f"spoke a word of {len(samples) / SAMPLE_RATE:.1f} seconds."


def _disk(settings: Settings) -> str:
    from companion.files.data import data_folder
    from companion.files.disk import make_folders

    folder = data_folder()
    try:
        make_folders(folder)
        with tempfile.TemporaryFile(dir=folder) as file:
            file.write(b"checkup\n")
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise CompanionError(
            f"{folder} cannot be written ({error.strerror}); free some space, mend its "
            "permissions, or set BENCH_COMPANION_DATA to another folder."
        ) from error
    return f"sessions are kept in {folder}."
