"""The one shape of what ``--json`` prints of a list.

An object: ``list`` says what stands in it, ``items`` has one object each, in the order of the text;
what is told beside a list stands beside ``items``. Names once given keep their meaning; later
versions add names and take none away.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from companion.plain_print import json_text


def print_list(what: str, items: Iterable[Mapping[str, Any]], **beside: Any) -> None:
    """Print a list as JSON.

    Args:
        what: What stands in it, as "sessions".
        items: One object each.
        beside: What is told beside it, by name.
    """
    print(json_text({"list": what, "items": [*items], **beside}, indent=2))
