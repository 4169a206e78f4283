"""How much work something is, counted and not timed: the same on every machine."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import FrameType
from typing import Any


def lines_run(act: Callable[[], object]) -> int:
    """Return how many lines of Python run for something, each turn of a loop counted."""
    count = 0

    def trace(frame: FrameType, event: str, argument: Any) -> Any:
        nonlocal count
        count += event == "line"
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        act()
    finally:
        sys.settrace(before)
    return count


def times_called(function: Callable[..., Any], act: Callable[[], object]) -> int:
    """Return how often a function of Python is called while something is done."""
    count = 0
    code = function.__code__

    def profile(frame: FrameType, event: str, argument: Any) -> None:
        nonlocal count
        count += event == "call" and frame.f_code is code

    before = sys.getprofile()
    sys.setprofile(profile)
    try:
        act()
    finally:
        sys.setprofile(before)
    return count
