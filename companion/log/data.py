"""Where this user's data are."""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_data_path

DATA_VARIABLE = "BENCH_COMPANION_DATA"
"""Environment variable that names another data folder."""


def data_folder() -> Path:
    """Return the folder that holds all sessions of this user; it need not exist yet."""
    named = os.environ.get(DATA_VARIABLE)
    return Path(named).expanduser() if named else user_data_path("bench-companion", appauthor=False)
