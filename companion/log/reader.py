"""A log back from disk, and all that is wrong with one. Reading changes nothing on disk."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from companion.errors import CompanionError
from companion.job.events import Disregarded, FluidMoved, Heard, NoteKept, ReadingRecorded, Trouble
from companion.job.record import Record
from companion.log.clips import CLIP_FOLDER, read_clip
from companion.log.line import LOG_NAME
from companion.log.scan import Problem, Scan, scan
from companion.log.tip import TIP_NAME, Tip, read_tip

TORN_NAME = "log.torn-"
"""What the file names of torn lines that were set aside begin with; a number from 1 follows."""


@dataclass(frozen=True, slots=True)
class LogContents:
    """What a log holds.

    Attributes:
        records: In order.
        recovered: What was found amiss at its end and got over, as a sentence for a ``Trouble``
            event; None when nothing was, or when a ``Trouble`` in the log already tells of it.
    """

    records: tuple[Record, ...]
    recovered: str | None


@dataclass(frozen=True, slots=True)
class LogReport:
    """What ``companion log check`` tells.

    Attributes:
        folder: The session folder.
        records: How many could be read.
        clips: How many sound clips the records name.
        problems: In the order of the file; with any, the log cannot be trusted as it stands.
        notes: What is worth knowing and no fault of the log.
    """

    folder: Path
    records: int
    clips: int
    problems: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def ok(self) -> bool:
        """Whether nothing is wrong."""
        return not self.problems


def read_log(folder: Path) -> LogContents:
    """Read the log of a session.

    Args:
        folder: The session folder.

    Raises:
        CompanionError: If there is no log, it is empty, from a newer version, or damaged anywhere
            but at its torn end; the sentence names the first line that is.
    """
    return contents_of(folder, scan_log(folder))


def scan_log(folder: Path) -> Scan:
    """Take the log of a session apart.

    Raises:
        CompanionError: If there is none, or it cannot be read.
    """
    tip, data = _load(folder)
    return scan(data, tip)


def contents_of(folder: Path, found: Scan) -> LogContents:
    """Say what a scan holds, or why it cannot be used; the errors are those of ``read_log``."""
    if found.newer:
        raise CompanionError(
            f"The log in {folder} was written by a newer Bench Companion; install that version "
            "to open it. Nothing was changed."
        )
    if found.problems:
        if not found.records:
            raise CompanionError(
                f"{folder / LOG_NAME} is not a log of Bench Companion ({found.problems[0]}); "
                "name another session folder."
            )
        more = len(found.problems) - 1
        rest = f" and {more} more problem{'s' if more > 1 else ''}" if more else ""
        raise CompanionError(
            f"The log in {folder} is damaged: {found.problems[0]}{rest}; run 'companion log check' "
            "to see everything, and take a copy from a backup if there is one. Nothing was changed."
        )
    if not found.records and found.missing:
        raise CompanionError(
            f"The log in {folder} has lost all of its {found.missing} records; take a copy from a "
            "backup. Nothing was changed."
        )
    if not found.records:
        raise CompanionError(
            f"The log in {folder} holds no record yet, so there is nothing to go on with; "
            "start a new session with 'companion work'."
        )
    return LogContents(found.records, _recovered(folder, found))


def check_log(folder: Path) -> LogReport:
    """Look for everything that is wrong: chain, numbers, events, pointers and clips.

    Args:
        folder: The session folder.

    Raises:
        CompanionError: If there is no log, it cannot be read, or it is from a newer version.
    """
    tip, data = _load(folder)
    found = scan(data, tip)
    if found.newer:
        contents_of(folder, found)
    problems = [str(problem) for problem in found.problems]
    if not data:
        problems.append("the log is empty")
    if found.torn:
        problems.append(
            f"the last line is torn: {len(found.torn)} bytes, set aside when the session is resumed"
        )
    if found.missing:
        problems.append(_missing(found))
    problems += [str(problem) for problem in _pointers(found.records)]
    clips, clip_problems, clip_notes = _clips(folder, found.records)
    problems += [str(problem) for problem in clip_problems]
    notes = [*_time_order(found.records), *clip_notes]
    if tip is None:
        notes.append(f"there is no {TIP_NAME}, so a change to the very last line would not show")
    if found.unended:
        notes.append("the last line lacks only its line feed, which is added when it is resumed")
    notes += [f"{name} holds a torn line that was set aside" for name in torn_files(folder)]
    return LogReport(folder, len(found.records), clips, tuple(problems), tuple(notes))


def torn_files(folder: Path) -> tuple[str, ...]:
    """Names of the files with torn lines that were set aside, the oldest first."""
    numbers = [
        int(match[1])
        for path in folder.glob(f"{TORN_NAME}*")
        if (match := re.fullmatch(re.escape(TORN_NAME) + r"([1-9]\d{0,8})", path.name))
    ]
    return tuple(f"{TORN_NAME}{number}" for number in sorted(numbers))


def _load(folder: Path) -> tuple[Tip | None, bytes]:
    tip = read_tip(folder)
    try:
        return tip, (folder / LOG_NAME).read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        raise CompanionError(
            f"{folder} is no session folder: it has no {LOG_NAME}; 'companion sessions' lists "
            "those there are."
        ) from None
    except OSError as error:
        raise CompanionError(
            f"The log in {folder} cannot be read ({error.strerror}); check the disk and the "
            "permissions of the folder."
        ) from None


def _recovered(folder: Path, found: Scan) -> str | None:
    told = " ".join(r.event.what for r in found.records if isinstance(r.event, Trouble))
    sentences = []
    if found.torn:
        sentences.append(
            f"The last line of the log was torn ({len(found.torn)} bytes of it are there), because "
            "the program or the machine stopped while writing it; every whole record is kept."
        )
    for name in torn_files(folder):
        if not re.search(re.escape(name) + r"(?!\d)", told):
            sentences.append(
                "The last line of the log was torn, because the program or the machine stopped "
                f"while writing it; what there was of it is kept in {name}, and every whole record."
            )
    if found.missing:
        sentences.append(_missing(found).capitalize() + ".")
    return " ".join(sentences) or None


def _missing(found: Scan) -> str:
    first, last = len(found.records) + 1, len(found.records) + found.missing
    if first == last:
        return f"the log ends before record {last}, which had been written"
    return f"the log ends before records {first} to {last}, which had been written"


def _pointers(records: tuple[Record, ...]) -> list[Problem]:
    """Pointers from record to record must lead back, and ``heard`` to what was heard."""
    problems = []
    events = {record.seq: record.event for record in records}
    for record in records:
        event = record.event
        if event.heard is not None and not (
            event.heard < record.seq and isinstance(events.get(event.heard), Heard)
        ):
            problems.append(
                Problem(record.seq, f"points at {event.heard}, which is nothing heard before")
            )
        target = (
            event.record
            if isinstance(event, Disregarded)
            else event.corrects
            if isinstance(event, ReadingRecorded | FluidMoved)
            else None
        )
        if target is not None and not (target < record.seq and target in events):
            problems.append(Problem(record.seq, f"points at {target}, which is no earlier record"))
    return problems


def _time_order(records: tuple[Record, ...]) -> list[str]:
    notes = []
    for before, after in pairwise(records):
        if after.at < before.at:
            back = (before.at - after.at).total_seconds()
            notes.append(
                f"the clock went back by {back:g} s between record {before.seq} and {after.seq}"
            )
    return notes


def _clips(folder: Path, records: tuple[Record, ...]) -> tuple[int, list[Problem], list[str]]:
    problems = []
    named: set[str] = set()
    for record in records:
        event = record.event
        if isinstance(event, Heard | NoteKept) and event.clip is not None:
            named.add(event.clip)
            try:
                read_clip(folder, event.clip)
            except CompanionError as error:
                problems.append(Problem(record.seq, f"names a clip that cannot be heard: {error}"))
    kept = {f"{CLIP_FOLDER}/{path.name}" for path in (folder / CLIP_FOLDER).glob("*.flac")}
    notes = [f"no record names the clip {clip}" for clip in sorted(kept - named)]
    return len(named), problems, notes
