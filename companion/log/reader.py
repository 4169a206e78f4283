"""A log back from disk. Reading changes nothing there."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from companion.errors import CompanionError
from companion.files.limits import (
    LARGEST_LOG_HERE,
    LONGEST_LINE,
    MOST_BROKEN_LINES,
    SHORTEST_LINE,
)
from companion.files.plain import NOT_THERE, open_plain, plain_bytes, plain_names, real_path
from companion.job.events import Trouble
from companion.job.record import Record
from companion.log.anchor import Anchor
from companion.log.line import LOG_NAME
from companion.log.scan import Scan, scan
from companion.log.tip import TIP_NAME, read_tip

TORN_NAME = "log.torn-"
"""What the file names of torn lines that were set aside begin with; a number from 1 follows."""

_FIRST_LINE = b'{"v":'
"""How every line begins, so that a torn first line can be told from what is no log at all."""


@dataclass(frozen=True, slots=True)
class LogContents:
    """What a log holds.

    Attributes:
        records: In order.
        recovered: What was found wrong at its end and repaired, as a sentence for a ``Trouble``
            event; None when nothing was, or when a ``Trouble`` in the log already tells of it.
        anchor: By which these records are known again.
    """

    records: tuple[Record, ...]
    recovered: str | None
    anchor: Anchor


def read_log(folder: Path, before: Scan | None = None) -> LogContents:
    """Read the log of a session.

    Args:
        folder: The session folder.
        before: See ``scan_log``.

    Raises:
        CompanionError: If there is no log, it is empty, from a newer version, or damaged anywhere
            but at its torn end; the sentence names the first line that is.
    """
    return contents_of(folder, scan_log(folder, before))


def scan_log(folder: Path, before: Scan | None = None) -> Scan:
    """Take the log of a session apart.

    Args:
        folder: The session folder.
        before: What was found there just now; it is read all the same, and taken apart again where
            anything is different.

    Raises:
        CompanionError: If there is none, or it cannot be read.
    """
    tip = read_tip(folder)
    data = log_bytes(folder)
    try:
        return scan(data, tip, before)
    except MemoryError:
        raise CompanionError(
            f"The log in {folder} is too large for the memory of this machine; end other programs, "
            "or open it on another machine. Nothing was changed."
        ) from None


def log_bytes(folder: Path) -> bytes:
    """Return what is in the log of a session.

    Raises:
        CompanionError: If there is none, it is no plain file inside the folder, is larger than any
            log, or cannot be read.
    """
    try:
        data = plain_bytes(folder / LOG_NAME, LARGEST_LOG_HERE)
    except OSError as error:
        if error.errno in NOT_THERE:
            raise CompanionError(
                f"{folder} is no session folder: it has no {LOG_NAME}; 'companion sessions' lists "
                "those there are."
            ) from None
        raise CompanionError(
            f"The log in {folder} cannot be read ({error.strerror}); check the disk and the "
            "permissions of the folder, or name another session. Nothing was changed."
        ) from None
    if too_many_lines(data):
        raise CompanionError(
            f"{folder / LOG_NAME} is not a log of Bench Companion (its lines are too short); name "
            "another session folder."
        )
    return data


def too_many_lines(data: bytes) -> bool:
    """Whether a log has so many lines that most of them can be no records; taken apart they would
    fill the memory."""
    return data.count(b"\n") > len(data) // SHORTEST_LINE + MOST_BROKEN_LINES


def first_line(folder: Path) -> bytes:
    """Return the first line of a log as it is, with its line feed where it has one; no more of the
    log is read.

    Raises:
        OSError: If it cannot be read, or is no plain file inside the folder.
    """
    with open_plain(folder / LOG_NAME) as log:
        return log.readline(LONGEST_LINE)


def contents_of(folder: Path, found: Scan) -> LogContents:
    """Say what a scan holds, or why it cannot be used; the errors are those of ``read_log``."""
    if found.newer:
        raise CompanionError(
            f"The log in {folder} was written by a newer Bench Companion; install that version "
            "to open it. Nothing was changed."
        )
    if not found.records and (found.problems or not _FIRST_LINE.startswith(found.torn[:5])):
        why = f" ({found.problems[0]})" if found.problems else ""
        raise CompanionError(
            f"{folder / LOG_NAME} is not a log of Bench Companion{why}; "
            "name another session folder."
        )
    if found.problems:
        more = len(found.problems) - 1
        rest = f" and {more} more problem{'s' if more > 1 else ''}" if more else ""
        raise CompanionError(
            f"The log in {folder} is damaged: {found.problems[0]}{rest}; run 'companion log check' "
            "to see everything, and take a copy from a backup if there is one. Nothing was changed."
        )
    if not found.records and found.missing:
        raise CompanionError(
            f"The log in {folder} has lost all its records; take a copy from a "
            "backup. Nothing was changed."
        )
    if not found.records:
        raise CompanionError(
            f"The log in {folder} holds no record yet, so there is nothing to go on with; "
            "start a new session with 'companion work', and remove this folder if none is just "
            "beginning in it."
        )
    anchor = Anchor(len(found.records), found.last)
    return LogContents(found.records, _recovered(folder, found), anchor)


def torn_files(folder: Path) -> tuple[str, ...]:
    """Names of the files with torn lines that were set aside, the oldest first."""
    numbers = [
        int(match[1])
        for name in plain_names(real_path(folder))
        if (match := re.fullmatch(re.escape(TORN_NAME) + r"([1-9]\d{0,8})", name))
    ]
    return tuple(f"{TORN_NAME}{number}" for number in sorted(numbers))


def _recovered(folder: Path, found: Scan) -> str | None:
    told = " ".join(r.event.what for r in found.records if type(r.event) is Trouble)
    sentences = []
    if found.stale and (found.torn or _untold(folder, told)):
        sentences.append(
            f"The end of the log cannot be read ({_torn_size(folder, found, told)}). The tip is "
            f"older, of record {found.tip_seq}, so nobody can tell whether that had been "
            "acknowledged: look at what it is, and call it again if need be. Every record that can "
            "be read is kept."
        )
        return " ".join([*sentences, *_lost(found)])
    if found.torn:
        sentences.append(
            f"The last line of the log was torn ({len(found.torn)} bytes of it are there), because "
            "the program or the machine stopped while writing it; every whole record is kept."
        )
    for name in _untold(folder, told):
        sentences.append(
            "The last line of the log was torn, because the program or the machine stopped "
            f"while writing it; what there was of it is kept in {name}, and every whole record."
        )
    return " ".join([*sentences, *_lost(found)]) or None


def _untold(folder: Path, told: str) -> list[str]:
    """Files of torn lines that no record mentions."""
    return [name for name in torn_files(folder) if not re.search(re.escape(name) + r"(?!\d)", told)]


def _torn_size(folder: Path, found: Scan, told: str) -> str:
    kept = [f"kept in {name}" for name in _untold(folder, told)]
    return ", ".join([*([f"{len(found.torn)} bytes are there"] if found.torn else []), *kept])


def _lost(found: Scan) -> list[str]:
    if found.missing:
        return [missing_records(found).capitalize() + "."]
    if not found.has_tip and found.records:
        last = len(found.records)
        return [
            f"There is no {TIP_NAME} beside the log, so nobody can tell whether there were records "
            f"after record {last}."
        ]
    return []


def missing_records(found: Scan) -> str:
    """Say which records the tip knows of and the log lacks."""
    first, last = len(found.records) + 1, len(found.records) + found.missing
    if first == last:
        return f"the log ends before record {last}, which had been written"
    return f"the log ends before records {first} to {last}, which had been written"
