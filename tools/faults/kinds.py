"""Every kind of fault there is, by its name in the table."""

from __future__ import annotations

from collections.abc import Callable

from tools.faults import (
    clocks,
    failing,
    full_disk,
    kills,
    power_cuts,
    real_cuts,
    several,
    signals,
)
from tools.faults.running import Running, Tally

KINDS: dict[str, Callable[[Running, bool], Tally]] = {
    "kills": lambda running, short: kills.run(running, 40 if short else 1020, short),
    "power-cuts": lambda running, short: power_cuts.run(running, 60 if short else 1020),
    "real-cuts": lambda running, short: real_cuts.run(running, 8 if short else 204),
    "disk-full": lambda running, short: full_disk.every_byte(running, 331 if short else 1),
    "real-full": lambda running, short: full_disk.real(running, 29 if short else 1),
    "quota": lambda running, short: full_disk.quota(running, 997 if short else 31),
    "io-errors": lambda running, short: failing.io_errors(running, 41 if short else 1),
    "permissions": lambda running, short: failing.permissions(running, 41 if short else 3),
    "clock": lambda running, short: clocks.wrong(running, 14 if short else 2),
    "sleep": lambda running, short: clocks.asleep(running, 6 if short else 1),
    "signals": lambda running, short: signals.run(running, 8 if short else 200),
    "several": lambda running, short: several.run(running, 6 if short else 100),
}
