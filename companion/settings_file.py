"""The file of settings as a person sees and changes it: single lines are replaced, remarks are
kept."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal, get_args

import tomlkit
from pydantic import ValidationError
from tomlkit.exceptions import TOMLKitError

from companion.blanks.lines import written
from companion.errors import CompanionError, WrongUse
from companion.files.disk import replace_file
from companion.files.quoting import quoted
from companion.files.reading import text_of
from companion.files.toml_text import toml_of
from companion.settings import RENAMED, SETTINGS_VARIABLE, Settings, load_settings, settings_path
from companion.shelf.figures import number_as_written
from companion.shelf.name_faults import unknown_fault
from companion.shelf.type_faults import number_faults, type_fault

From = Literal["default", "file"]
"""Where the value of a setting comes from."""

_YES_NO = {"true": True, "yes": True, "on": True, "false": False, "no": False, "off": False}


@dataclass(frozen=True, slots=True)
class Shown:
    """A setting as it stands.

    Attributes:
        name: As the file has it.
        value: What counts; None where nothing is set and there is no default.
        of: Where it comes from.
        default: What counts where the file says nothing.
        what: What it does.
        choices: What it may be, where that is one of few.
    """

    name: str
    value: Any
    of: From
    default: Any
    what: str
    choices: tuple[str, ...]


def shown_settings() -> list[Shown]:
    """Return every setting in the order of the model.

    Raises:
        CompanionError: As ``load_settings``.
    """
    settings = load_settings()
    return [
        Shown(
            name,
            getattr(settings, name),
            "file" if name in settings.model_fields_set else "default",
            field.default,
            " ".join((field.description or "").split()),
            _choices(field.annotation),
        )
        for name, field in Settings.model_fields.items()
    ]


def set_setting(name: str, text: str) -> tuple[Path, str]:
    """Set one, and leave all else in the file as it is.

    Args:
        name: Of the setting.
        text: Its value, as it is typed on a command line.

    Returns:
        The file, and the value as it stands there.

    Raises:
        WrongUse: If there is no such setting, or it cannot have this value.
        CompanionError: If the file cannot be read or written. What else may be wrong in it is not
            looked at: that may be what is being mended.
    """
    known(name)
    literal = written(_value_of(name, text))
    document = _document()
    for former, now in RENAMED.items():
        if now == name and former in document:
            document.remove(former)
    document[name] = tomlkit.parse(f"value = {literal}\n").item("value")
    return _write(document), literal


def unset_setting(name: str) -> tuple[Path, bool]:
    """Take one out of the file.

    Returns:
        The file, and whether it was there.

    Raises:
        WrongUse: If there is no such setting.
        CompanionError: If the file cannot be read or written.
    """
    known(name)
    document = _document()
    if name not in document:
        return settings_path(), False
    document.remove(name)
    return _write(document), True


def known(name: str) -> None:
    """Refuse a setting that there is not.

    Raises:
        WrongUse: With the nearest that there are.
    """
    for fault in unknown_fault(
        (), "setting", quoted(name), Settings.model_fields, "'companion settings' lists them all"
    ):
        raise WrongUse(f"{fault.reason[:1].upper()}{fault.reason[1:]}.")


def said(value: Any) -> str:
    """Return a value as the file has it; "not set" where there is none."""
    if value is None:
        return "not set"
    if isinstance(value, Path):
        return written(str(value))
    if isinstance(value, float):
        return str(value)
    return written(value)


def _choices(annotation: Any) -> tuple[str, ...]:
    if annotation is bool:
        return ("true", "false")
    return tuple(each for each in get_args(annotation) if isinstance(each, str))


def _value_of(name: str, text: str) -> str | int | bool | Decimal:
    """What a text stands for, checked as a setting.

    Raises:
        WrongUse: If the setting cannot have it.
    """
    annotation = Settings.model_fields[name].annotation
    kinds = get_args(annotation) or (annotation,)
    value: Any = text
    if bool in kinds:
        value = _YES_NO.get(text.strip().lower(), text)
    elif Path in kinds:
        value = _folder(text)
    elif int in kinds and text.strip().isascii() and text.strip().lstrip("-").isdigit():
        value = int(text)
    elif float in kinds or Decimal in kinds:
        number = number_as_written(text)
        value = text if number is None else number
    try:
        checked = Settings.model_validate({name: value})
    except ValidationError as error:
        # pydantic adds which of several types it tried; that is no part of the setting's name.
        first = error.errors()[0]
        first["loc"] = (name,)
        reason = type_fault(Settings, first).reason
        raise WrongUse(f"{reason}.") from None
    for fault in number_faults(checked):
        raise WrongUse(f"{fault.reason}.")
    if name == "enrolled_voice":
        from companion.enroll.voice_profile import voice_paths

        if not voice_paths(text)[0].exists():
            raise WrongUse(
                f"No voice '{quoted(text)}' is enrolled; 'companion enroll' does that first."
            )
    return value if isinstance(value, str | int | bool | Decimal) else str(value)


def _folder(text: str) -> str:
    folder = Path(text).expanduser().absolute()
    if not folder.is_dir():
        raise WrongUse(f"{folder} is no folder; name the one that holds the model.")
    return str(folder)


def _document() -> tomlkit.TOMLDocument:
    """The file as it stands; empty where there is none yet."""
    path = settings_path()
    named = os.environ.get(SETTINGS_VARIABLE)
    if str(path) == os.devnull:
        raise CompanionError(
            f"{SETTINGS_VARIABLE} says that there is no settings file; change that to set anything."
        )
    if not named and not os.path.lexists(path):
        document = tomlkit.document()
        document.add(
            tomlkit.comment("Settings of Bench Companion; 'companion settings' lists them.")
        )
        return document
    if not os.path.lexists(path):
        load_settings()  # refuses a named file that is not there
    toml_of(path, "settings file", named=True)  # refuses what is no TOML, with its line
    text = text_of(path, "settings file", named=True)
    try:
        # What follows a last line without its end would stand on the same line.
        return tomlkit.parse(text if text.endswith("\n") or not text else f"{text}\n")
    except (TOMLKitError, RecursionError) as error:
        raise CompanionError(f"{path}: {error}; mend that first.") from None


def _write(document: Mapping[str, Any]) -> Path:
    # A link to where somebody keeps the settings stays a link.
    path = Path(os.path.realpath(settings_path()))
    try:
        replace_file(path, tomlkit.dumps(document).encode())
    except OSError as error:
        raise CompanionError(
            f"{path} cannot be written: {error.strerror or error}; free some space or change the "
            "permissions of its folder."
        ) from error
    return path
