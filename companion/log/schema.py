"""The JSON Schema of a log record, from the models that write and read it."""

from __future__ import annotations

import copy
from typing import Any

from companion.job.events import EVENT
from companion.log.line import FIRST_VERSION, FORMAT_VERSION, KEYS

DIALECT = "https://json-schema.org/draft/2020-12/schema"
"""The JSON Schema dialect, by its identifier; nothing is fetched from there."""


def record_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) that every line of a log fulfils."""
    events = EVENT.json_schema(mode="serialization")
    definitions: dict[str, dict[str, Any]] = events["$defs"]
    by_kind = {
        kind: reference.rsplit("/", 1)[-1]
        for kind, reference in events["discriminator"]["mapping"].items()
    }
    _keep_kinds_inside(definitions)
    for name in by_kind.values():
        # In a line the kind stands beside the data, not in it.
        del definitions[name]["properties"]["kind"]
    return {
        "$schema": DIALECT,
        "title": "Log record of Bench Companion",
        "description": "One line of log.jsonl.",
        "type": "object",
        "properties": {
            "v": {
                "enum": list(range(FIRST_VERSION, FORMAT_VERSION + 1)),
                "description": "Version of the format: 2 where a line needs it.",
            },
            "seq": {
                "type": "integer",
                "minimum": 1,
                "description": "Number of the record in its log.",
            },
            "at": {
                "type": "string",
                "format": "date-time",
                "pattern": (
                    r"^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}"
                    r"(\.[0-9]{1,6})?(Z|[+-][0-9]{2}:[0-9]{2})$"
                ),
                "description": "When it was recorded: RFC 3339, with the offset of the shop.",
            },
            "kind": {"enum": sorted(by_kind), "description": "What happened."},
            "data": {"type": "object", "description": "The event."},
            "prev": {
                "type": "string",
                "pattern": "^[0-9a-f]{64}$",
                "description": (
                    "SHA-256 of the line before without its line feed; zeros in the first line."
                ),
            },
        },
        "required": list(KEYS),
        "additionalProperties": False,
        "oneOf": [
            {"properties": {"kind": {"const": kind}, "data": {"$ref": f"#/$defs/{name}"}}}
            for kind, name in sorted(by_kind.items())
        ],
        "$defs": definitions,
    }


def _keep_kinds_inside(definitions: dict[str, Any]) -> None:
    """Give the events that stand inside another event definitions of their own, with their kind."""
    union = definitions["EarlierFact"]["properties"]["event"]
    inside = {
        reference.rpartition("/")[2] for reference in union["discriminator"]["mapping"].values()
    }
    for name in inside:
        own = copy.deepcopy(definitions[name])
        own["required"] = ["kind", *own.get("required", ())]
        definitions[f"{name}Inside"] = own
    union["oneOf"] = [{"$ref": f"#/$defs/{name}Inside"} for name in sorted(inside)]
    del union["discriminator"]
