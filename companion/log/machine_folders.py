"""Which session folders may be of a machine, without opening the logs of all the others."""

from __future__ import annotations

from pathlib import Path

from companion.log.index import SessionIndex
from companion.log.sessions import session_folders

READ_FIRST = 40
"""The most logs that the index may still have to read: nobody at the bench should wait for it, and
the folders of all sessions give the same answer, only slower."""


def folders_of(name: str, serial: str | None = None) -> list[Path]:
    """Return the folders of all sessions that go by a machine's name or serial number, and of those
    that cannot be read; of all sessions where the index is far behind the logs.

    Args:
        name: What the machine is called.
        serial: Its serial number, where it is known.

    Raises:
        CompanionError: If the sessions cannot be listed.
    """
    with SessionIndex() as index:
        if index.behind() > READ_FIRST:
            return session_folders()
        return index.folders_of(name, serial)
