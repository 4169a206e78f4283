"""What a table of changes is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from companion.job import events as ev
from companion.job.record import Record
from companion.job.state import State

Changes = Mapping[type[ev.Event], Callable[[State, Any, Record], State]]
"""By kind of event, what gives the state after it from the state before and the record."""
