"""Files written whole or not at all: under another name first, all put in place at the end."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self

from companion.errors import CompanionError
from companion.files.disk import sync_file


class FreshFiles:
    """Use as a context: leaving it puts the files in place, or removes them after any error.

    Args:
        replace: Whether files that are there may be replaced.
    """

    def __init__(self, *, replace: bool) -> None:
        self._replace = replace
        self._open: list[tuple[BinaryIO, Path, Path]] = []

    def open(self, path: Path) -> BinaryIO:
        """Begin a file.

        Raises:
            CompanionError: If there is one of that name and it may not be replaced, or what is
                there is no plain file.
            OSError: If it cannot be written.
        """
        self._refuse(path)
        fresh = path.with_name(f".{path.name}.new")
        # What an earlier try left behind.
        fresh.unlink(missing_ok=True)
        flags = os.O_RDWR | os.O_CREAT | os.O_EXCL
        flags |= getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
        opened = os.fdopen(os.open(fresh, flags, 0o666), "w+b", buffering=1 << 16)
        self._open.append((opened, fresh, path))
        return opened

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        try:
            if error is None:
                self._put_in_place()
        finally:
            for opened, fresh, _ in self._open:
                with contextlib.suppress(OSError):
                    opened.close()
                with contextlib.suppress(OSError):
                    fresh.unlink(missing_ok=True)

    def _put_in_place(self) -> None:
        for opened, _, _ in self._open:
            opened.flush()
            sync_file(opened.fileno())
            opened.close()
        for _, _, path in self._open:
            self._refuse(path)
        for _, fresh, path in self._open:
            os.replace(fresh, path)

    def _refuse(self, path: Path) -> None:
        if not os.path.lexists(path):
            return
        if path.is_symlink() or not path.is_file():
            raise CompanionError(f"{path} is there and is no plain file; name another one.")
        if not self._replace:
            raise CompanionError(
                f"{path} is there already; name another place, or replace it with --replace."
            )
