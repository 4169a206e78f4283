"""The recognizer that was asked for, with an enrolled voice and a second recognizer where these are
wanted."""

from __future__ import annotations

from pathlib import Path

from companion.enroll.voice_profile import load_voice, use_voice
from companion.recognize.choose import choose
from companion.recognize.protocol import Recognizer
from companion.recognize.second import with_second
from companion.settings import Settings


def recognizer_of(
    settings: Settings,
    *,
    name: str | None = None,
    model: Path | None = None,
    second: str | None = None,
    voice: str | None = None,
) -> Recognizer:
    """Load a recognizer as the settings have it; arguments that are given override them.

    Args:
        settings: Of the shop.
        name: Of the recognizer.
        model: Folder of its model.
        second: Name of the second recognizer.
        voice: Name of an enrolled voice.

    Raises:
        WrongUse: If there is no recognizer or second of this name.
        CompanionError: If one of them is missing or damaged, or does not fit the others.
    """
    person = voice or settings.enrolled_voice
    profile = load_voice(person) if person else None
    first = choose(name or settings.recognizer, model=model or settings.model)
    if profile is not None:
        use_voice(first, profile)
    return with_second(first, second or settings.second)
