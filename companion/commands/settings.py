"""The shop's settings, shown and changed."""

from __future__ import annotations

import argparse
import os
import textwrap
from typing import TYPE_CHECKING, Any

from companion.commands.arguments import add_command, json_option
from companion.commands.json_lists import print_list
from companion.errors import WrongUse

if TYPE_CHECKING:
    from companion.settings_file import Shown

WIDTH = 96
"""Letters in a line of what a setting does."""


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(commands, "settings", settings, "companion settings speech_rate 150")
    made.add_argument("name", nargs="?", metavar="SETTING", help="only this one")
    made.add_argument("value", nargs="?", metavar="VALUE", help="set it to this")
    made.add_argument("--unset", action="store_true", help="take it out of the file")
    json_option(made)


def settings(options: argparse.Namespace) -> None:
    """Show the settings, set one or unset it. Each tells its source and what it does."""
    from companion.settings import load_settings
    from companion.settings_file import known, said, set_setting, shown_settings, unset_setting

    if options.unset:
        if options.name is None or options.value is not None:
            raise WrongUse("Say which one to unset, and no value: companion settings NAME --unset")
        path, there = unset_setting(options.name)
        if there:
            print(f"{options.name} is taken out of {path}.")
        else:
            print(f"{options.name} is not set in {path}; nothing was changed.")
        load_settings()
        return
    if options.value is not None:
        path, written = set_setting(options.name, options.value)
        print(f"{options.name} = {written}, in {path}", flush=True)
        # What else is wrong in the file would stop every other command.
        load_settings()
        return
    if options.name is not None:
        known(options.name)
    shown = [each for each in shown_settings() if options.name in (None, each.name)]
    if options.json:
        _print_json(shown)
        return
    if options.name is None:
        print("\n".join(_places()), end="\n\n")
    for each in shown:
        print("\n".join(_lines(each, said)))


def _lines(each: Shown, said: Any) -> list[str]:
    came = "from the file" if each.of == "file" else "as it comes"
    if each.of == "file" and each.value != each.default:
        came += f"; else {said(each.default)}"
    what = each.what
    if each.choices:
        what += f" One of: {', '.join(each.choices)}."
    return [
        f"{each.name} = {said(each.value)}  ({came})",
        *textwrap.wrap(what, WIDTH, initial_indent="    ", subsequent_indent="    "),
    ]


def _places() -> list[str]:
    """Which file and which folder count, and why those."""
    from companion.files.data import DATA_VARIABLE, data_folder
    from companion.settings import SETTINGS_VARIABLE, settings_path

    path = settings_path()
    by = f", named by {SETTINGS_VARIABLE}" if os.environ.get(SETTINGS_VARIABLE) else ""
    if str(path) == os.devnull:
        there = "none is read"
    else:
        there = str(path) if os.path.lexists(path) else f"{path} (not there yet)"
    folder_by = f", named by {DATA_VARIABLE}" if os.environ.get(DATA_VARIABLE) else ""
    return [
        f"Settings file: {there}{by}",
        f"Data folder: {data_folder()}{folder_by} (sessions, your own sheets and cards, voices)",
    ]


def _print_json(shown: list[Shown]) -> None:
    from companion.files.data import DATA_VARIABLE, data_folder
    from companion.settings import SETTINGS_VARIABLE, settings_path

    def plain(value: Any) -> Any:
        return value if isinstance(value, str | int | float | None) else str(value)

    path = settings_path()
    print_list(
        "settings",
        (
            {
                "name": each.name,
                "value": plain(each.value),
                "from": each.of,
                "default": plain(each.default),
                "choices": list(each.choices),
                "what": each.what,
            }
            for each in shown
        ),
        file=str(path),
        file_from="environment" if os.environ.get(SETTINGS_VARIABLE) else "default",
        file_there=os.path.lexists(path) and str(path) != os.devnull,
        data_folder=str(data_folder()),
        data_folder_from="environment" if os.environ.get(DATA_VARIABLE) else "default",
    )
