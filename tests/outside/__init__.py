"""Every check of the trade's arithmetic against something outside, as one table.

``python -m tests.outside`` prints it; ``tests/test_outside_checks.py`` runs each row.
"""

from __future__ import annotations

from tests.outside import amounts, filling, running, threads, tools
from tests.outside.check import Check

CHECKS: tuple[Check, ...] = (
    *amounts.checks(),
    *threads.checks(),
    *tools.checks(),
    *running.checks(),
    *filling.checks(),
)
"""The table."""
