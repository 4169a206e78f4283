"""Where the files that travel with the program are: beside the package in a checkout, inside it in
a wheel."""

from __future__ import annotations

from pathlib import Path

from companion.errors import CompanionError

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
