"""Who is at the other end of a connection within this machine: it may be another user, who must not
see what was said at the bench."""

from __future__ import annotations

import os
import socket
import struct
import sys
from pathlib import Path

TABLES = {4: Path("/proc/net/tcp"), 6: Path("/proc/net/tcp6")}
"""Where Linux lists connections with their users, by the version of the addresses."""

MOST_BYTES = 16 * 2**20
"""Bytes of a table that are read; a line has 150."""

ADMINISTRATOR = 0
"""Number of the user who may read every file anyway."""


def is_strangers(client: tuple[str, int] | None, server: tuple[str, int | None] | None) -> bool:
    """Whether a connection comes from another user of this machine, or from one that is gone
    already. Only Linux tells; where it cannot be told the answer is no.

    Args:
        client: Address and port that it comes from.
        server: Address and port that it came to.
    """
    if not sys.platform.startswith("linux") or client is None or server is None:
        return False
    if server[1] is None:
        return False
    version = 6 if ":" in client[0] else 4
    try:
        with TABLES[version].open("rb") as table:
            text = table.read(MOST_BYTES).decode("ascii", "replace")
        found = user_of(text, (client[0], client[1]), (server[0], server[1]))
    except (OSError, ValueError):
        return False
    return found is not None and found not in (os.geteuid(), ADMINISTRATOR)


def user_of(table: str, client: tuple[str, int], server: tuple[str, int]) -> int | None:
    """Return the number of the user whose end of a connection is the client's; None where it is not
    in the table, -1 where nobody holds that end any more.

    Args:
        table: What ``/proc/net/tcp`` holds (proc_net_tcp, "Documentation/networking" of Linux).
        client: Address and port of that end.
        server: Address and port of the other.

    Raises:
        ValueError: If an address is none.
    """
    wanted = [_as_listed(*client), _as_listed(*server)]
    for line in table.splitlines()[1:]:
        fields = line.split()
        if len(fields) > 9 and fields[1:3] == wanted:
            # Without an inode nobody holds the connection any more, and its user is given as 0.
            return int(fields[7]) if fields[9] != "0" else -1
    return None


def _as_listed(address: str, port: int) -> str:
    """An address as the table has it: words of 32 bits in the order of the machine, in hex."""
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    try:
        packed = socket.inet_pton(family, address)
    except OSError:
        raise ValueError(f"no address: {address}") from None
    words = struct.unpack(f"={len(packed) // 4}I", packed)
    return "".join(f"{word:08X}" for word in words) + f":{port:04X}"
