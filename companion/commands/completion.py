"""What the shell completes: commands, options, and names that are known without opening a log."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from typing import Any

from companion.commands.arguments import add_command
from companion.errors import CompanionError

SHELLS = ("bash", "zsh", "fish")

ASKED = "_ARGCOMPLETE"
"""Environment variable by which the shell asks what may follow."""


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(
        commands,
        "completion",
        completion,
        'eval "$(companion completion bash)" (in ~/.bashrc; zsh alike in ~/.zshrc); in fish: '
        "companion completion fish | source",
    )
    made.add_argument("shell", choices=SHELLS, metavar="SHELL", help="bash, zsh or fish")


def completion(options: argparse.Namespace) -> None:
    """Print what lets your shell complete commands and names. It goes into the shell's own file."""
    from argcomplete.shell_integration import shellcode

    print(shellcode(["companion"], shell=options.shell), end="")


def complete(parser: argparse.ArgumentParser) -> None:
    """Answer the shell and end the program.

    Args:
        parser: Of the whole command line.
    """
    import argcomplete

    for action in _actions(parser):
        names = NAMES.get(str(action.metavar))
        if names is not None:
            action.completer = _completer(names)  # type: ignore[attr-defined]
    argcomplete.autocomplete(parser)


def _actions(parser: argparse.ArgumentParser) -> Iterable[argparse.Action]:
    for action in parser._actions:
        yield action
        if isinstance(action, argparse._SubParsersAction):
            for within in action.choices.values():
                yield from _actions(within)


def _completer(names: Callable[[], Iterable[str]]) -> Callable[..., list[str]]:
    def complete_by(prefix: str, **_: Any) -> list[str]:
        # No error message may appear in the line that a person is typing.
        with suppress(CompanionError, OSError):
            return [name for name in names() if name.startswith(prefix)]
        return []

    return complete_by


def _sessions() -> list[str]:
    """By the names of their folders alone: no log is opened."""
    from companion.log.sessions import session_folders

    return [each.name for each in session_folders()]


def _cards() -> Iterable[str]:
    from companion.shelf.load import shipped_cards
    from companion.shelf.own import own_cards
    from companion.shelf.toml_file import names_in

    return (*names_in(own_cards()), *shipped_cards())


def _sheets() -> Iterable[str]:
    from companion.shelf.load import shipped_sheets
    from companion.shelf.own import own_sheets
    from companion.shelf.toml_file import names_in

    return (*names_in(own_sheets()), *shipped_sheets())


def _settings() -> Iterable[str]:
    from companion.settings import Settings

    return Settings.model_fields


def _kinds() -> Iterable[str]:
    from companion.blanks.kinds import KINDS

    return KINDS


def _voices() -> list[str]:
    from companion.enroll.voice_profile import enrolled_voices

    return enrolled_voices()


def _topics() -> Iterable[str]:
    from companion.handbook.topics import TOPICS

    return TOPICS


def _demonstrations() -> Iterable[str]:
    from companion.shipped import demonstrations

    return demonstrations()


def _tables() -> Iterable[str]:
    from companion.transfer.columns import TABLES

    return TABLES


def _sources() -> list[str]:
    return [*_sheets(), *_cards(), *_sessions()]


NAMES: Mapping[str, Callable[[], Iterable[str]]] = {
    "SESSION": _sessions,
    "CARD": _cards,
    "SPEC": _sheets,
    "MACHINE": _sheets,
    "VOICE": _voices,
    "TOPIC": _topics,
    "DEMO": _demonstrations,
    "TABLE": _tables,
    "SOURCE": _sources,
    "SETTING": _settings,
    "KIND": _kinds,
}
"""By what an argument is called in the help, the names that it may have."""
