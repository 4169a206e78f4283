"""The tables of dangers and cautions that travel with the program, as a job takes them."""

from __future__ import annotations

from functools import cache

from companion.job.rules import Rules
from companion.shelf.cautions import load_cautions
from companion.shelf.dangers import load_dangers


@cache
def shipped_rules() -> Rules:
    """Return the tables that travel with the program; they are read when this is first called.

    Raises:
        CompanionError: If one of them is damaged, with file, line and reason.
    """
    return Rules(load_dangers(), load_cautions())
