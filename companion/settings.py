"""The shop's own settings: one small TOML file, all of it optional."""

from __future__ import annotations

import os
import sys
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Literal

from platformdirs import user_config_path
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from companion.errors import CompanionError
from companion.files.limits import MOST_DAYS
from companion.files.toml_text import toml_of
from companion.recognize.choose import RecognizerName
from companion.shelf.fault import refuse
from companion.shelf.type_faults import MOST_LOOKED_AT, number_faults, type_fault

SETTINGS_VARIABLE = "BENCH_COMPANION_SETTINGS"
"""Environment variable that names another settings file; ``/dev/null`` for none at all."""

RENAMED = {"voice": "speech_voice"}
"""Settings by the names that they had in earlier versions; a file that has one goes on working."""


class Settings(BaseModel):
    """What a shop may set; what each does is told by 'companion settings' as it stands here."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)

    call_sign: str = Field(default="bench", pattern=r"^[a-z]+( [a-z]+)*$")
    """The word that opens a call in open-mic mode."""
    ounce: Literal["us", "imperial"] = "us"
    """Which fluid ounce, pint, quart and gallon are meant: US or imperial."""
    air_temperature: Decimal | None = Field(default=None, ge=-60, le=60)
    """To be expected outside, in degrees Celsius; decides which oil is named. An air temperature
    called out wins."""
    recognizer: RecognizerName = "auto"
    """What hears: the first that is installed, or the one named."""
    model: Path | None = None
    """Folder of the recognizer's model; it is looked for in the usual places if not set."""
    second: Literal["none", "sphinx", "vosk"] = "none"
    """A second recognizer, which hears the numbers too; where the two differ you are asked."""
    enrolled_voice: str | None = None
    """Who speaks, of those enrolled with 'companion enroll'; nobody in particular if not set."""
    speech_voice: str | None = None
    """Part of the name of a voice of the speech engine; its usual one if not set."""
    speech_rate: int = Field(default=170, ge=80, le=300)
    """Words per minute that are spoken."""
    microphone: int | str | None = None
    """Number or part of the name of the input device; the usual one if not set."""
    speaker: int | str | None = None
    """Number or part of the name of the output device; the usual one if not set."""
    push_to_talk: bool = False
    """Listen only after the key; otherwise open mic with the call sign."""
    keep_clips: int | None = Field(default=None, ge=1, le=MOST_DAYS)
    """Days that the sound of calls is kept; 'companion sessions --thin' then removes it. It is kept
    for good if not set."""
    end_pause: float = Field(default=0.6, ge=0.2, le=3.0)
    """Seconds of silence that end an utterance; a whole call ends after three quarters of it, one
    that may go on after one and a half, half a call after two."""
    board: bool = False
    """Whether 'companion work' and 'companion resume' show the board on the wall."""
    board_address: str | None = None
    """Address of this machine that the board is seen under by others; by this machine alone if not
    set."""
    board_port: int = Field(default=0, ge=0, le=65_535)
    """Port of the board; 0 for a free one."""
    shop_name: str = Field(default="", max_length=80)
    """Name of the shop, on the owner's sheet and in exported tables."""
    shop_address: str = Field(default="", max_length=200)
    """Address of the shop on the owner's sheet, in one line or several."""
    shop_phone: str = Field(default="", max_length=40)
    """Telephone number of the shop on the owner's sheet."""


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
    if not os.path.lexists(path):
        by = f"; make it, or change {SETTINGS_VARIABLE}" if path == settings_path() else ""
        raise CompanionError(f"{path}: this settings file cannot be read: it is not there{by}.")
    content, lines = toml_of(path, "settings file", named=True)
    for former, name in RENAMED.items():
        if former in content and name not in content:
            content[name] = content.pop(former)
            _tell_renamed(path, former, name)
    try:
        settings = Settings.model_validate(content)
    except ValidationError as error:
        errors = error.errors()
        looked_at = errors[:MOST_LOOKED_AT]
        for each in looked_at:
            # pydantic adds which of several types it tried; that is no part of the setting's name.
            each["loc"] = each["loc"][:1]
        faults = [type_fault(Settings, each) for each in looked_at]
        refuse(path, lines, faults, uncounted=len(errors) - len(looked_at))
        raise
    refuse(path, lines, number_faults(settings))
    return settings


@cache
def _tell_renamed(path: Path, former: str, name: str) -> None:
    """Reported once a process; the setting under its former name counts all the same."""
    print(
        f"companion: {path}: the setting '{former}' is called '{name}' now; rename it there. It "
        "counts until you do.",
        file=sys.stderr,
    )
