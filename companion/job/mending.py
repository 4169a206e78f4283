"""Actions that end a danger; they may only be called in the words of the grammar."""

from __future__ import annotations

from companion.job.danger_table import ALWAYS_MENDED, DangerTable


def mending_actions(dangers: DangerTable) -> frozenset[str]:
    """Return the actions that end what work left open, or mend a finding."""
    rows = dangers.rows
    return frozenset(
        (
            *ALWAYS_MENDED,
            *(action for row in rows.work for action in row.back),
            *(action for row in rows.found for action in row.mended_by),
        )
    )
