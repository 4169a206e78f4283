"""Where the files that travel with the program are: beside the package in a checkout, inside it in
a wheel."""

from __future__ import annotations

from pathlib import Path

from companion.errors import CompanionError, WrongUse

_PACKAGE = Path(__file__).resolve().parent


def shipped(name: str) -> Path:
    """Return the folder ``grammars`` or ``demo_sessions``.

    Raises:
        CompanionError: If the installation is incomplete.
    """
    for folder in (_PACKAGE / "shipped" / name, _PACKAGE.parent / name):
        if folder.is_dir():
            return folder
    raise CompanionError(
        f"The folder '{name}' is missing from this installation; install Bench Companion again."
    )


def demonstrations() -> list[str]:
    """Return the names of the demonstration sessions.

    Raises:
        CompanionError: If the installation is incomplete.
    """
    return sorted(path.parent.name for path in shipped("demo_sessions").glob("*/session.toml"))


def demonstration(name: str) -> Path:
    """Return the folder of a demonstration session.

    Raises:
        WrongUse: If none has this name.
        CompanionError: If the installation is incomplete.
    """
    known = demonstrations()
    if name not in known:
        raise WrongUse(f"There is no demonstration '{name}'; there is {' and '.join(known)}.")
    return shipped("demo_sessions") / name
