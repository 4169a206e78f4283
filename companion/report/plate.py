"""Which machine it is, as its plates say: what a parts counter and a new owner ask for."""

from __future__ import annotations

from companion.job.state import State


def plate_lines(state: State) -> tuple[tuple[str, str], ...]:
    """Return name and value of what the sheet knows of a machine's plates; none without a sheet."""
    if state.sheet is None:
        return ()
    plate = state.sheet.identification
    asked = [
        ("Maker", plate.maker),
        ("Model", plate.model),
        ("Serial number", plate.serial),
        ("Engine", plate.engine),
        ("Engine model", plate.engine_model),
        ("Engine serial number", plate.engine_serial),
    ]
    return tuple((name, value) for name, value in asked if value)
