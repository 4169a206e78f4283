"""Where a shop's own sheets and cards are: in the data folder, beside the sessions."""

from __future__ import annotations

from pathlib import Path

from companion.files.data import data_folder


def own_sheets() -> Path:
    """Return the folder of the shop's own spec sheets; it need not exist.

    Raises:
        CompanionError: If it cannot be told where this user's files are.
    """
    return data_folder() / "sheets"


def own_cards() -> Path:
    """Return the folder of the shop's own job cards; it need not exist.

    Raises:
        CompanionError: If it cannot be told where this user's files are.
    """
    return data_folder() / "cards"
