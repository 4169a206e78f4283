"""Work on every core of the machine, a process each."""

from __future__ import annotations

import os
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context


def every_core() -> ProcessPoolExecutor:
    """Processes that begin afresh, one a core: a copy of this one would wait for threads of its
    recognizer that were not copied. ``taskset -c 0`` leaves one core, and so one process."""
    return ProcessPoolExecutor(cores(), mp_context=get_context("spawn"))


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0))
