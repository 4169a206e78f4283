"""Which machine it is, as its plates say: what a parts counter and a new owner ask for."""

from __future__ import annotations

from companion.job.state import State


def plate_lines(state: State) -> tuple[tuple[str, str], ...]:
    """Return name and value of what is known of a machine's plates: what was called, then what the
    sheet has."""
    called = (("Serial number", state.serial),) if state.serial else ()
    if state.sheet is None:
        return called
    plate = state.sheet.identification
    asked = [
        ("Maker", plate.maker),
        ("Model", plate.model),
        ("Serial number", state.serial or plate.serial),
        ("Engine", plate.engine),
        ("Engine model", plate.engine_model),
        ("Engine serial number", plate.engine_serial),
    ]
    return tuple((name, value) for name, value in asked if value)
