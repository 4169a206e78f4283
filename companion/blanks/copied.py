"""A sheet or card that is there, copied for a machine or a job of one's own."""

from __future__ import annotations

from collections.abc import MutableMapping

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Item

from companion.errors import CompanionError

OF_ONE_MACHINE = ("serial", "engine_serial")
"""What an identification says of one machine alone, and of no other of its model."""

OF_NO_MACHINE = (
    *("maker", "model", "serial_place", "year", "engine"),
    *("engine_model", "engine_serial_place"),
)
"""What an identification says of the model; it is made up where the machine is invented."""


def copied_sheet(text: str, name: str) -> str:
    """Return the text of a sheet for another machine.

    The figures are still those of the first one, so a sheet that says that it is invented says so
    still; what stands on the plates of one machine alone is left out.

    Args:
        text: TOML that passes the check; its remarks are kept.
        name: What the new machine is called.

    Raises:
        CompanionError: If it is written in a way that cannot be copied.
    """
    document = _document(text)
    document["name"] = name
    identification = document.get("identification")
    if isinstance(identification, MutableMapping):
        for key in (*OF_ONE_MACHINE, *(OF_NO_MACHINE if document.get("invented") else ())):
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

    Raises:
        CompanionError: If it is written in a way that cannot be copied.
    """
    document = _document(text)
    document["name"] = name
    document["title"] = title
    _mark(document, "take this line away once you have gone through the steps")
    return tomlkit.dumps(document)


def _document(text: str) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(text)
    except (TOMLKitError, RecursionError) as error:
        raise CompanionError(f"It cannot be copied: {error}; copy the file by hand.") from None


def _mark(document: tomlkit.TOMLDocument, remark: str) -> None:
    if document.get("invented"):
        stamp = document.item("invented")
        if isinstance(stamp, Item):
            stamp.comment(remark)
