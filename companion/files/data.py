"""Where this user's data are."""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_data_path

from companion.errors import CompanionError

DATA_VARIABLE = "BENCH_COMPANION_DATA"
"""Environment variable that names another data folder."""


def data_folder() -> Path:
    """Return the folder that holds all sessions of this user; it need not exist yet.

    Raises:
        CompanionError: If it cannot be told where this user's files are.
    """
    named = os.environ.get(DATA_VARIABLE)
    try:
        if named:
            return Path(named).expanduser()
        folder = user_data_path("bench-companion", appauthor=False)
    except RuntimeError:
        folder = None
    # Nobody's home: the name is then left as it is, and would stand in whatever folder this is.
    if folder is None or (folder.parts[:1] and folder.parts[0].startswith("~")):
        raise CompanionError(
            f"It cannot be told whose home {named or 'the data folder'} is in; name a folder for "
            f"the data by its whole path in {DATA_VARIABLE}."
        )
    return folder
