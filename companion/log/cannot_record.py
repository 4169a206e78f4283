"""Why nothing could be recorded, each in one sentence that says what to do."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.files.data import DATA_VARIABLE
from companion.files.limits import YEARS
from companion.log.line import LineProblem, decode
from companion.log.lost import cannot_write


class LogBusy(CompanionError):
    """Another program kept the log to itself for too long; the same may be tried again."""


def require_clock(at: datetime) -> None:
    """Refuse a time that no log is read with.

    Raises:
        CompanionError: If the year is none of ``YEARS``.
    """
    if at.year not in YEARS:
        raise CompanionError(
            f"The clock of this computer says that it is the year {at.year}; set it right, then go "
            "on with 'companion resume'. Nothing recorded is lost."
        )


def require_readable(raw: bytes) -> None:
    """Refuse a line that could not be read again: nothing is acknowledged that would be damage.

    Raises:
        CompanionError: If it could not.
    """
    try:
        decode(raw)
    except LineProblem as problem:
        raise CompanionError(
            f"This cannot be recorded, for the record {problem}; say it another way. Nothing of it "
            "is in the log, and nothing recorded is lost."
        ) from None


def busy(folder: Path) -> LogBusy:
    """Return the error for a log that another program does not let go of."""
    return LogBusy(
        f"The log in {folder} is held by another program and does not come free; end that program, "
        "then do this again. Nothing recorded is lost."
    )


def cannot_write_log(folder: Path, error: OSError) -> CompanionError:
    """Return the error for a log that could not be continued; see ``cannot_write``."""
    return cannot_write(
        f"The log in {folder} cannot be written ({error.strerror}); free some space on the disk or "
        "make the folder writable, then go on with 'companion resume'. Nothing recorded is lost.",
        error,
    )


def cannot_begin(folder: Path, error: OSError) -> CompanionError:
    """Return the error for a log that could not be begun; see ``cannot_write``."""
    return cannot_write(
        f"The log in {folder} cannot be written ({error.strerror}); free some space on the disk, "
        f"make the folder writable, or name another one (--out, or {DATA_VARIABLE} for all). "
        "Nothing was begun.",
        error,
    )
