"""How long an engine that ran, its oil and its exhaust are taken to be hot."""

from __future__ import annotations

from datetime import datetime, timedelta

from companion.job.state import State

HOT_FOR = timedelta(minutes=30)
"""How long after running an engine, its oil and its exhaust are taken to be hot; our own figure."""


def is_hot(state: State, at: datetime) -> bool:
    """Return whether the engine runs or ran so lately that it is taken to be hot.

    A clock that was set back makes the engine look as if it ran in the future: that counts as hot.
    """
    if state.engine_running:
        return True
    return state.engine_ran is not None and at - state.engine_ran <= HOT_FOR
