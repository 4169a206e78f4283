"""Files of models are held to their SHA-256 before they are loaded: one changed byte would lead to
words that nobody said, without any other sign.

Every file is read whole each time: size and date prove nothing, and the whole costs little
(``docs/hearing.md``).
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from companion.installed import to_mend
from companion.recognize.protocol import ModelDamaged


@dataclass(frozen=True, slots=True)
class Release:
    """One release of a package that carries a model.

    Attributes:
        model: Whose model it is, in words.
        package: As pip knows it, with its version.
        files: SHA-256 in hex of each file that is read of it, by its path inside the folder.
    """

    model: str
    package: str
    files: Mapping[str, str]

    def check(self, folder: Path, *names: str) -> None:
        """Refuse files of a folder that differ from the release.

        Args:
            folder: Of the model.
            names: Those to look at; all of them if left out.

        Raises:
            ModelDamaged: If one is missing or differs; names it and the way out.
        """
        for name in names or self.files:
            if digest(folder / name) != self.files[name]:
                raise ModelDamaged(self.damaged(folder / name))

    def damaged(self, path: Path) -> str:
        """The sentence for a file that is not what it was."""
        return (
            f"The {self.model} model is damaged: '{path}' is not the file that the package has; "
            f"reinstall it with: {to_mend(self.package)}"
        )


def hold_own(path: Path, sha256: str, what: str) -> None:
    """Refuse a file of the program's own that is not what was shipped.

    Args:
        path: The file.
        sha256: What it has to have, in hex.
        what: What it holds, as it is told.

    Raises:
        ModelDamaged: If it is missing or differs; names it and the way out.
    """
    if digest(path) != sha256:
        raise ModelDamaged(
            f"The {what} '{path}' are damaged or missing; install Bench Companion again, from "
            "where you got it."
        )


def digest(path: Path) -> str | None:
    """Return a file's SHA-256 in hex; None where it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None
