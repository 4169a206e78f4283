"""Everything that a session does to the disk, recorded."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace

from tools.faults.layer import NOTHING_WRONG, Done, Plan, read_record
from tools.faults.running import Commands, Run, Running


@dataclass(frozen=True, slots=True)
class Recorded:
    """A run, and what it did."""

    run: Run
    done: tuple[Done, ...]


def recorded(
    running: Running, commands: Commands, typed: str, plan: Plan = NOTHING_WRONG
) -> Recorded:
    """Run commands in the shop as it stands and record them."""
    path = running.scratch / "record"
    descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND, 0o600)
    try:
        run = running.run(commands, typed, replace(plan, record=descriptor))
    finally:
        os.close(descriptor)
    return Recorded(run, tuple(read_record(path.read_bytes())))
