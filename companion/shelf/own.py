"""The shop's own sheets and cards, which stand in the data folder beside the sessions.

A name means an own one first, then the one that travels with the program. ``companion.shelf.load``
knows only the latter: a replay and the tests are the same for everybody.
"""

from __future__ import annotations

from pathlib import Path

from companion.errors import CompanionError
from companion.files.data import data_folder
from companion.files.stem import stem_of
from companion.nearest import nearest_words
from companion.shelf.load import shipped_cards, shipped_sheets
from companion.shelf.toml_file import names_in


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


def sheet_named(source: str) -> str | Path:
    """Return the spec sheet that is meant, for ``load_sheet``.

    Args:
        source: A TOML file, or the name of a sheet: of an own one also as it was given
            ("Rosa's mower"), of a shipped one.

    Raises:
        CompanionError: If it is none of these; names those that are there.
    """
    return _named(source, own_sheets(), shipped_sheets(), "spec sheet", "sheet")


def card_named(source: str) -> str | Path:
    """Return the job card that is meant, for ``load_card``; the same as ``sheet_named``."""
    return _named(source, own_cards(), shipped_cards(), "job card", "card")


def is_sheet(source: str) -> bool:
    """Whether this is a file, or names an own or a shipped spec sheet."""
    return (
        Path(source).is_file()
        or _own(source, own_sheets()) is not None
        or source in shipped_sheets()
    )


def own_taken(*, card: str | None = None, sheet: str | None = None) -> list[str]:
    """Say for which of these names an own one is taken where a shipped one has it too."""
    return [
        f"Your own {what} '{name}' is taken, not the one of that name that comes with the program."
        for what, name, folder, shipped in (
            ("card", card, own_cards(), shipped_cards()),
            ("sheet", sheet, own_sheets(), shipped_sheets()),
        )
        if name in shipped and not Path(name).is_file() and _own(name, folder) is not None
    ]


def _own(source: str, folder: Path) -> Path | None:
    stem = stem_of(source)
    for name in dict.fromkeys((source, stem)):
        # A name must never lead out of the folder.
        if name and "/" not in name and "\\" not in name:
            path = folder / f"{name}.toml"
            if path.is_file():
                return path
    return None


def _named(source: str, folder: Path, shipped: tuple[str, ...], what: str, kind: str) -> str | Path:
    if Path(source).is_file():
        return Path(source)
    own = _own(source, folder)
    if own is not None:
        return own
    if source in shipped or Path(source).is_dir():
        return source
    mine = names_in(folder)
    yours = f"your own {', '.join(mine)}; and " if mine else ""
    near = nearest_words(source, (*mine, *shipped))
    raise CompanionError(
        f"There is no {what} '{source}'; give a TOML file or one of: {yours}{', '.join(shipped)}"
        f"{f'; {near}' if near else ''}. 'companion new {kind} NAME' makes one."
    )
