"""The shop's own settings: one small TOML file, all of it optional."""

from __future__ import annotations

import os
from decimal import Decimal
from pathlib import Path
from typing import Literal

from platformdirs import user_config_path
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from companion.files.limits import MOST_DAYS
from companion.files.toml_text import toml_of
from companion.shelf.fault import Fault, refuse
from companion.shelf.type_faults import MOST_LOOKED_AT, number_faults, type_fault

SETTINGS_VARIABLE = "BENCH_COMPANION_SETTINGS"
"""Environment variable that names another settings file; ``/dev/null`` for none at all."""


class Settings(BaseModel):
    """What a shop may set.

    Attributes:
        call_sign: The word that opens a call in open-mic mode.
        ounce: Which fluid ounce, pint, quart and gallon are meant: US or imperial.
        air_temperature: To be expected outside, in degrees Celsius; decides which oil is named. An
            air temperature called out wins.
        recognizer: ``auto``, ``whisper`` or ``vosk``.
        model: Folder of the recognizer's model, where it is not found by itself.
        second: A second recognizer for numbers: ``sphinx``, ``vosk`` or ``none``.
        enrolled_voice: Who speaks, of those enrolled with ``companion enroll``, or None.
        voice: Part of the name of a voice of the speech engine, or None for its usual one.
        speech_rate: Words per minute.
        microphone: Number or part of the name of the input device, or None for the usual one.
        speaker: Number or part of the name of the output device, or None for the usual one.
        push_to_talk: Listen only after the key; otherwise open mic with the call sign.
        keep_clips: Days that the sound of calls is kept; ``companion sessions --thin`` then removes
            it. None keeps it for good.
        end_pause: Seconds of silence that end an utterance; a whole call ends after three quarters
            of it, one that may go on after one and a half, half a call after two.
        board: Whether ``work`` and ``resume`` show the board on the wall.
        board_address: Address of this machine that the board is seen under by others, or None for
            this machine alone.
        board_port: Port of the board; 0 for a free one.
        shop_name: Of the shop, on the owner's sheet and in exported tables.
        shop_address: Its address there, in one line or several.
        shop_phone: Its telephone number there.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    call_sign: str = Field(default="bench", pattern=r"^[a-z]+( [a-z]+)*$")
    ounce: Literal["us", "imperial"] = "us"
    air_temperature: Decimal | None = Field(default=None, ge=-60, le=60)
    recognizer: str = "auto"
    model: Path | None = None
    second: str = "none"
    enrolled_voice: str | None = None
    voice: str | None = None
    speech_rate: int = Field(default=170, ge=80, le=300)
    microphone: int | str | None = None
    speaker: int | str | None = None
    push_to_talk: bool = False
    keep_clips: int | None = Field(default=None, ge=1, le=MOST_DAYS)
    end_pause: float = Field(default=0.6, ge=0.2, le=3.0)
    board: bool = False
    board_address: str | None = None
    board_port: int = Field(default=0, ge=0, le=65_535)
    shop_name: str = Field(default="", max_length=80)
    shop_address: str = Field(default="", max_length=200)
    shop_phone: str = Field(default="", max_length=40)


def settings_path() -> Path:
    """Where the settings file is looked for; it need not exist unless it was named."""
    named = os.environ.get(SETTINGS_VARIABLE)
    return Path(named) if named else user_config_path("bench-companion") / "settings.toml"


def load_settings(path: Path | None = None) -> Settings:
    """Read the settings, or the defaults when there is no file.

    Raises:
        CompanionError: If a file that was named is not there, or the file cannot be read, is not
            TOML or holds a setting that does not exist or does not fit.
    """
    named = path or os.environ.get(SETTINGS_VARIABLE)
    path = path or settings_path()
    if str(path) == os.devnull or (not named and not os.path.lexists(path)):
        return Settings()
    content, lines = toml_of(path, "settings file", named=True)
    faults: list[Fault] = []
    try:
        settings = Settings.model_validate(content)
    except ValidationError as error:
        # Which of several types a value might have had is no part of its name.
        for each in error.errors():
            each["loc"] = each["loc"][:1]
            faults.append(type_fault(Settings, each, offer=len(faults) < MOST_LOOKED_AT))
        refuse(path, lines, faults)
        raise
    refuse(path, lines, number_faults(settings))
    return settings
