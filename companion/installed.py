"""What to type to bring a package to this program, wherever it was installed.

A command that is printed must work where it is printed: in a checkout, in an environment of one's
own, and where ``pipx`` or ``uv tool`` keeps one out of sight. So it names the interpreter or the
tool, and the packages themselves: they are on the package index, wherever the program came from.
"""

from __future__ import annotations

import importlib.metadata
import importlib.util
import os
import re
import shlex
import sys
from pathlib import Path

PROGRAM = "bench-companion"
"""The name of the program's package."""


def to_add(*packages: str) -> str:
    """The command that brings packages to this program.

    Args:
        packages: Names, with a version where it matters ("pocketsphinx==5.1.1").
    """
    return _command("install", *packages)


def to_add_extra(extra: str) -> str:
    """The command that brings what one of the program's extras is made of.

    Args:
        extra: A name such as "whisper".
    """
    return to_add(*(_packages(extra) or (f"{PROGRAM}[{extra}]",)))


def to_mend(package: str) -> str:
    """The command that puts a package over its damaged files.

    Args:
        package: Its name and version.
    """
    return _command("install", "--force-reinstall", "--no-deps", package)


def _command(*words: str) -> str:
    """The command line of ``pip``, or of the tool that installed this program, as it must be typed
    here."""
    environment = Path(sys.prefix)
    told: tuple[str, ...]
    if (environment / "pipx_metadata.json").is_file():
        told = ("pipx", "runpip", environment.name, *words)
    elif importlib.util.find_spec("pip") is not None:
        told = (sys.executable, "-m", "pip", *words)
    else:
        action, *rest = words
        told = ("uv", "pip", action, "--python", sys.executable, *rest)
    return " ".join(_quoted(word) for word in told)


def _quoted(word: str) -> str:
    """A word for the shell; in double quotes, which every shell knows, where they are enough."""
    if os.name != "nt" and re.search(r"[\"$`\\!]", word):
        return shlex.quote(word)
    return word if re.fullmatch(r"[\w@%+=:,./\\-]+", word) else f'"{word}"'


def _packages(extra: str) -> tuple[str, ...]:
    """What an extra is made of; empty where nothing is known of how the program was installed."""
    try:
        required = importlib.metadata.requires(PROGRAM) or []
    except importlib.metadata.PackageNotFoundError:
        return ()
    named = (line.partition(";") for line in required)
    return tuple(
        package.strip()
        for package, _, marker in named
        if re.search(rf"extra == ['\"]{re.escape(extra)}['\"]", marker)
    )
