"""A sheet or card that is there, copied for a machine or a job of one's own."""

from __future__ import annotations

import tomlkit
from tomlkit.items import Item, Table

OF_ONE_MACHINE = (
    *("maker", "model", "serial", "serial_place", "year", "engine"),
    *("engine_model", "engine_serial", "engine_serial_place"),
)
"""What an identification says of one machine alone, and no copy of it."""


def copied_sheet(text: str, name: str) -> str:
    """Return the text of a sheet for another machine.

    The figures are still those of the first one, so a sheet that says that it is invented says so
    still; whose plates it has is left out, for that is not known.

    Args:
        text: TOML that passes the check; its remarks are kept.
        name: What the new machine is called.
    """
    document = tomlkit.parse(text)
    document["name"] = name
    identification = document.get("identification")
    if isinstance(identification, Table):
        for key in OF_ONE_MACHINE:
            identification.pop(key, None)
    _mark(document, "the figures are an invented machine's: take this line away once yours are in")
    return tomlkit.dumps(document)


def copied_card(text: str, name: str, title: str) -> str:
    """Return the text of a card for a job of one's own; one that says that it is invented says so
    still, until whoever works by it has gone through it.

    Args:
        text: TOML that passes the check; its remarks are kept.
        name: Lower-case words with hyphens.
        title: What it is, for the page.
    """
    document = tomlkit.parse(text)
    document["name"] = name
    document["title"] = title
    _mark(document, "take this line away once you have gone through the steps")
    return tomlkit.dumps(document)


def _mark(document: tomlkit.TOMLDocument, remark: str) -> None:
    if document.get("invented"):
        stamp = document.item("invented")
        if isinstance(stamp, Item):
            stamp.comment(remark)
