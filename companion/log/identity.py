"""Which machine a session is of: two of one model are two."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from companion.errors import CompanionError
from companion.files.limits import YEARS
from companion.job.state import State
from companion.log.names import name_key, slug
from companion.log.reader import first_line


class SeveralMachines(CompanionError):
    """Several machines have this name, and it must be said which one is meant."""


@dataclass(frozen=True, slots=True)
class Identity:
    """Which machine it is: two of one model are two.

    Attributes:
        name: As the shop calls it: that of its sheet, unless it was given one of its own.
        serial: Its serial number, where it is known.
    """

    name: str
    serial: str | None = None

    def same_serial(self, other: Identity) -> bool:
        """Whether both have a serial number and it is the same one."""
        return self.serial is not None and _same(self.serial, other.serial)


def may_be_of(folder: Path, identity: Identity) -> bool:
    """Whether a session of which not even the first line can be read may be of a machine: its name
    may say so."""
    return slug(identity.name) in folder.name


def identity_of(state: State) -> Identity | None:
    """Return which machine a session is of, or None where it has none."""
    return None if state.machine is None else Identity(state.machine, state.serial)


def opened_of(folder: Path) -> tuple[Identity | None, datetime] | None:
    """Return the machine of a session, None where it has none, and when it was opened; None where
    the first line does not say."""
    try:
        line = json.loads(first_line(folder))
        data: dict[str, Any] = line["data"]
        at = datetime.fromisoformat(line["at"])
        machine = data.get("machine") or {}
        name = data.get("machine_name") or machine.get("name")
        serial = data.get("serial") or (machine.get("identification") or {}).get("serial")
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None
    if (
        at.tzinfo is None
        or at.year not in YEARS
        or not isinstance(name, str | None)
        or not isinstance(serial, str | None)
    ):
        return None
    return (None if name is None else Identity(name, serial)), at


def _same(one: str, other: str | None) -> bool:
    return other is not None and serial_key(one) == serial_key(other)


def serial_key(serial: str) -> str:
    """Return what counts of a serial number: its letters and digits."""
    return name_key(serial).replace("-", "")
