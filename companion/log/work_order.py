"""Whose job it is and under which work order, kept in the log.

In the log and not beside it: what the shop bills by travels with the session wherever it is copied,
is chained like everything else, and can be given while the session runs; a later record takes the
place of an earlier one, which stays to be seen.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from companion.errors import WrongUse
from companion.job.events import WorkOrderKept
from companion.log.writer import LogWriter

LONGEST = 80
"""Letters of a customer's name or of an order's number at most: a line on the sheet."""


def work_order(customer: str | None, number: str | None) -> WorkOrderKept | None:
    """Return what to record, or None where nothing was given.

    Args:
        customer: Who brought the machine; empty takes it out.
        number: Of the work order; empty takes it out.

    Raises:
        WrongUse: If either is too long.
    """
    if customer is None and number is None:
        return None
    return WorkOrderKept(
        customer=_line(customer, "customer's name"), number=_line(number, "work order")
    )


def keep_work_order(folder: Path, order: WorkOrderKept, at: datetime) -> None:
    """Record it in a session.

    Args:
        folder: The session folder.
        order: Whose job it is.
        at: When it was told, with its offset from UTC.

    Raises:
        CompanionError: If the log cannot be used or written.
    """
    with LogWriter.beside(folder) as writer:
        writer.append([order], at)


def _line(text: str | None, what: str) -> str | None:
    if text is None:
        return None
    line = " ".join(text.split())
    if len(line) > LONGEST:
        raise WrongUse(f"The {what} is longer than {LONGEST} letters; shorten it.")
    return line
