"""The machines of the index: which sessions are of one, and how it stands by all of them."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from companion.job.dangers import dangers
from companion.job.known_of_machine import OtherSession, machine_known, state_by_all
from companion.log.index_rows import FactRow, state_of_rows
from companion.shelf.rules import shipped_rules

FOR_STANDING = (
    "work", "finding", "fluid", "level", "tag.hung", "tag.cleared", "part.used", "part.needed",
    "followup",
)  # fmt: skip
"""Kinds of events by which it is told how a machine stands and what is still open on it."""


def machine_key(name_key: str, serial_key: str) -> str:
    """Return what the page of a machine is called; its name has no underscore."""
    return f"{name_key}_{serial_key}" if serial_key else name_key


def refill_machines(database: sqlite3.Connection) -> None:
    """Work out those machines that have sessions and no row."""
    missing = database.execute(
        "SELECT DISTINCT machine_key FROM session WHERE machine_key IS NOT NULL "
        "AND machine_key NOT IN (SELECT machine_key FROM machine)"
    ).fetchall()
    for (key,) in missing:
        _refill(database, key)


def _refill(database: sqlite3.Connection, key: str) -> None:
    """Work out the machines that go by one name: one, or as many as have serial numbers.

    A session without a serial number may be of any of them, and counts for each.
    """
    cursor = database.execute(
        "SELECT * FROM session WHERE machine_key = ? ORDER BY last_at DESC, number DESC", (key,)
    )
    names = [column[0] for column in cursor.description]
    sessions = [dict(zip(names, row, strict=True)) for row in cursor]
    serials = {each["serial_key"] for each in sessions if each["serial_key"]}
    groups: dict[str, list[dict[str, Any]]]
    if len(serials) > 1:
        groups = {
            serial: [each for each in sessions if each["serial_key"] in (serial, None)]
            for serial in serials
        }
    else:
        groups = {"": sessions}
    others = dict(zip((s["number"] for s in sessions), _others(database, sessions), strict=True))
    for serial, its in groups.items():
        standing, still_open = _standing([others[each["number"]] for each in its])
        latest = its[0]
        database.execute(
            "INSERT INTO machine VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                key,
                serial,
                latest["machine"],
                next((each["serial"] for each in its if each["serial"]), None),
                len(its),
                sum(each["status"] != "closed" for each in its),
                latest["last"],
                latest["last_at"],
                latest["invented"],
                json.dumps(standing, ensure_ascii=False),
                json.dumps(still_open, ensure_ascii=False),
            ),
        )


def _others(
    database: sqlite3.Connection, sessions: Sequence[dict[str, Any]]
) -> Iterable[OtherSession]:
    for each in sessions:
        documents = dict(
            database.execute(
                "SELECT digest, text FROM document WHERE digest IN (?, ?)",
                (each["sheet"], each["card"]),
            )
        )
        rows = database.execute(
            "SELECT seq, place, at, kind, name, value, verdict, event FROM fact "
            f"WHERE session = ? AND kind IN ({', '.join('?' * len(FOR_STANDING))}) "
            # The order in which a state has them: that of their records.
            "ORDER BY seq",
            (each["number"], *FOR_STANDING),
        )
        yield OtherSession(
            name=each["name"],
            opened=datetime.fromisoformat(each["opened"]),
            last=datetime.fromisoformat(each["last"]),
            state=state_of_rows(each, [FactRow(*row) for row in rows], documents),
        )


def _standing(others: Sequence[OtherSession]) -> tuple[list[str], list[dict[str, Any]]]:
    """Why the machine must not be started, and what is to come back to."""
    known = machine_known(others, shipped_rules())
    state = state_by_all(others, known)
    tags = [tag.tag for tag in state.tags]
    loose = [f"{each.part} {each.what}" for each in dangers(state) if each.tag is None]
    return [*tags, *loose], [each.model_dump(mode="json") for each in known.open]
