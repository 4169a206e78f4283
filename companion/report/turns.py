"""The whole exchange, turn by turn: what was heard, what it caused, what was said."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from pathlib import Path

from companion.errors import CompanionError
from companion.job import events as ev
from companion.job.record import Record
from companion.log.clips import clip_bytes
from companion.report.rows import Origin
from companion.speak.worded.table import event_line, warns


@dataclass(frozen=True, slots=True)
class Line:
    """One record that a turn brought: its number, its words, whether it still counts."""

    origin: Origin
    text: str
    warning: bool = False


@dataclass(frozen=True, slots=True)
class Turn:
    """What belongs together: a call and all it caused, or one thing that no call brought.

    Attributes:
        seq: Number of its first record, which its anchor is named by.
        at: When.
        heard: What was heard, or None.
        sound: The clip as a ``data:`` address, or None.
        sound_missing: Why there is no sound where there should be, or nothing.
        lines: What was recorded.
        said: What the companion answered.
        passed_over: How many utterances in a row were no calls; 0 for every other turn.
        passed_over_seqs: Their numbers.
    """

    seq: int
    at: datetime
    heard: ev.Heard | None
    sound: str | None
    sound_missing: str
    lines: tuple[Line, ...]
    said: tuple[str, ...]
    passed_over: int = 0
    passed_over_seqs: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Day:
    """The turns of one day."""

    date: date
    turns: tuple[Turn, ...]


def days(folder: Path, records: tuple[Record, ...], at: dict[int, Origin]) -> tuple[Day, ...]:
    """Return the exchange, day by day.

    Args:
        folder: The session folder, for the clips.
        records: All of them, in order.
        at: From ``origins``.
    """
    turns = _join_passed_over(_turns(folder, records, at))
    return tuple(
        Day(day, tuple(group)) for day, group in groupby(turns, key=lambda turn: turn.at.date())
    )


def data_address(folder: Path, clip: str, sha256: str | None) -> str:
    """Return a clip as a ``data:`` address.

    Args:
        folder: The session folder.
        clip: Its path as a record names it.
        sha256: As the log has it; None where it has none.

    Raises:
        CompanionError: If the clip cannot be read, or is not the one that was recorded.
    """
    return f"data:audio/flac;base64,{base64.b64encode(clip_bytes(folder, clip, sha256)).decode()}"


def _turns(folder: Path, records: tuple[Record, ...], at: dict[int, Origin]) -> list[Turn]:
    turns: list[Turn] = []
    caused: dict[int, list[Record]] = {}
    calls = {record.seq for record in records if type(record.event) is ev.Heard}
    for record in records:
        if record.event.heard in calls:
            caused.setdefault(record.event.heard or 0, []).append(record)
    loose: list[Record] = []
    for record in records:
        if record.event.heard in calls:
            continue
        if type(record.event) is ev.Heard:
            _close(turns, loose, at)
            turns.append(_turn(folder, record.event, record, caused.get(record.seq, []), at))
        elif loose and record.at != loose[0].at:
            _close(turns, loose, at)
            loose.append(record)
        else:
            loose.append(record)
    _close(turns, loose, at)
    return turns


def _close(turns: list[Turn], loose: list[Record], at: dict[int, Origin]) -> None:
    """Put records that came at one moment and from no call into a turn of their own."""
    if loose:
        lines, said = _told(loose, at)
        turns.append(Turn(loose[0].seq, loose[0].at, None, None, "", lines, said))
        loose.clear()


def _turn(
    folder: Path, heard: ev.Heard, record: Record, caused: list[Record], at: dict[int, Origin]
) -> Turn:
    sound, missing = None, ""
    if heard.clip is not None:
        try:
            sound = data_address(folder, heard.clip, heard.clip_sha256)
        except CompanionError as error:
            missing = str(error)
    lines, said = _told(caused, at)
    return Turn(record.seq, record.at, heard, sound, missing, lines, said)


def _told(records: list[Record], at: dict[int, Origin]) -> tuple[tuple[Line, ...], tuple[str, ...]]:
    lines = []
    said = []
    for record in records:
        if type(record.event) is ev.Said:
            said.append(record.event.text)
        lines.append(Line(at[record.seq], event_line(record.event), warns(record.event)))
    return tuple(lines), tuple(text for text in said if text)


def _join_passed_over(turns: list[Turn]) -> list[Turn]:
    """Put utterances in a row that were no calls into one turn."""
    joined: list[Turn] = []
    for passed, group in groupby(turns, key=_is_passed_over):
        members = list(group)
        if not passed:
            joined += members
            continue
        for _, same_day in groupby(members, key=lambda turn: turn.at.date()):
            first, *rest = same_day
            seqs = tuple(turn.seq for turn in (first, *rest))
            joined.append(Turn(first.seq, first.at, None, None, "", (), (), len(seqs), seqs))
    return joined


def _is_passed_over(turn: Turn) -> bool:
    return turn.heard is not None and turn.heard.outcome == "ignore" and not turn.lines
