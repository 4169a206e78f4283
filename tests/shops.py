"""Shops for tests: each with a data folder and settings of its own, its commands run in this
process."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from companion.cli import main
from companion.log.in_use import LIVE_NAME


class Shop:
    """A shop; making one makes it the current one.

    Attributes:
        folder: Its own, with everything that it writes.
        data: Its data folder; not there until something is put into it.
    """

    def __init__(self, folder: Path, name: str | None = None) -> None:
        self.folder = folder
        self.data = folder / "data"
        folder.mkdir()
        settings = "" if name is None else f'shop_name = "{name}"\n'
        (folder / "settings.toml").write_text(settings, encoding="utf-8")
        self.enter()

    def enter(self) -> None:
        """Make it the one whose sessions the program sees."""
        os.environ["BENCH_COMPANION_DATA"] = str(self.data)
        os.environ["BENCH_COMPANION_SETTINGS"] = str(self.folder / "settings.toml")

    def run(self, *arguments: str | Path) -> int:
        """Run a command and give back its exit status."""
        self.enter()
        try:
            return main([str(argument) for argument in arguments])
        except SystemExit as leaving:
            return int(leaving.code or 0)

    def sessions(self) -> list[str]:
        """Names of its session folders."""
        there = self.data / "sessions"
        return sorted(path.name for path in there.iterdir()) if there.is_dir() else []


@contextmanager
def environment_kept() -> Iterator[None]:
    """Leave the environment as it was."""
    before = dict(os.environ)
    try:
        yield
    finally:
        os.environ.clear()
        os.environ.update(before)


def contents(folder: Path) -> dict[str, bytes | None]:
    """Everything in a folder by its path, with what is in it; None for what is no plain file. Left
    out is the lock of whoever works at a session, which belongs to the machine."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        if path.is_file() and not path.is_symlink()
        else None
        for path in sorted(folder.rglob("*"))
        if path.name != LIVE_NAME
    }
