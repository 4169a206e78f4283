"""A log's bytes taken apart line by line, with everything that is wrong with each."""

from __future__ import annotations

import contextlib
import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from companion.job.record import Record
from companion.job.uncollected import uncollected
from companion.log.line import FIRST_PREV, LineProblem, NewerFormat, decode, digest
from companion.log.tip import Tip


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong with one line.

    Attributes:
        line: Its number in the file, from 1.
        what: Completes the sentence "line 7 …".
    """

    line: int
    what: str

    def __str__(self) -> str:
        return f"line {self.line} {self.what}"


@dataclass(frozen=True, slots=True)
class Scan:
    """What the bytes of a log hold.

    Attributes:
        records: Of every line that could be read, in the order of the file.
        problems: In the order of the file; empty if the log is whole.
        newer: Whether a later version of the program wrote any of it.
        end: Number of bytes up to the end of the last whole line.
        last: SHA-256 of that line, or ``FIRST_PREV`` where there is none.
        torn: What stands after it: the beginning of a line whose writing was cut short.
        unended: The last whole line lacks its line feed.
        missing: How many records the tip knows of that should stand after the last.
        has_tip: Whether there is a tip to hold against the log.
        tip_seq: The record that the tip is of; 0 where there is none.
        stale: The tip is older than the last write: what stands after it, and even what is torn
            there, may have been acknowledged all the same.
        of: What it was made of: the same bytes and the same tip give the same.
    """

    records: tuple[Record, ...]
    problems: tuple[Problem, ...]
    newer: bool
    end: int
    last: str
    torn: bytes
    unended: bool
    missing: int
    has_tip: bool
    tip_seq: int = 0
    stale: bool = False
    of: bytes = b""


@dataclass(frozen=True, slots=True)
class _Amiss:
    """A line that cannot be read."""

    problem: LineProblem
    raw: bytes


class _Lines:
    """The lines of a log without their bytes, which of a long day would be in memory twice.

    Attributes:
        records: By place, None where the line cannot be read.
        amiss: Those that cannot, by place.
        broken: Places of lines that do not name the line before as it is.
        last: SHA-256 of the last line, or ``FIRST_PREV``.
    """

    def __init__(self, data: bytes) -> None:
        self._data = data
        self.records: list[Record | None] = []
        self.amiss: dict[int, _Amiss] = {}
        self.broken: set[int] = set()
        self.last = FIRST_PREV

    def add(self, raw: bytes) -> None:
        """Take in one more line."""
        try:
            record, prev = decode(raw, self.last)
        except LineProblem as problem:
            self.amiss[len(self.records)] = _Amiss(problem.with_traceback(None), raw)
            self.broken.add(len(self.records))
            self.records.append(None)
        else:
            if prev is not self.last:
                self.broken.add(len(self.records))
            self.records.append(record)
        self.last = digest(raw)

    def cut(self, length: int) -> None:
        """Leave out all lines from a place on."""
        del self.records[length:]
        self.amiss = {place: each for place, each in self.amiss.items() if place < length}
        self.broken = {place for place in self.broken if place < length}
        self.last = self.digest(length - 1) if length else FIRST_PREV

    def digest(self, place: int) -> str:
        """SHA-256 of the ended line at a place, read again."""
        begin = _end_of(self._data, place)
        return digest(self._data[begin : self._data.index(b"\n", begin)])

    def times(self, begin: int) -> set[datetime]:
        """Every time of the lines from a place on."""
        return {record.at for record in self.records[begin:] if record is not None}

    def is_newer(self, place: int) -> bool:
        """Whether a later version of the program wrote a line."""
        return place in self.amiss and isinstance(self.amiss[place].problem, NewerFormat)

    def __len__(self) -> int:
        return len(self.records)


def scan(data: bytes, tip: Tip | None, before: Scan | None = None) -> Scan:
    """Take a log apart.

    Args:
        data: The whole file.
        tip: Read *before* the file, so that a record written in between is not taken for a change.
        before: Of the same log some time ago; returned where it is of these very bytes and tip, so
            that a long log is not taken apart twice while it is opened.
    """
    made_of = hashlib.sha256(data)
    made_of.update(repr(tip).encode())
    of = made_of.digest()
    if before is not None and before.of == of:
        return before
    whole = data.rfind(b"\n") + 1
    rest = data[whole:]
    lines = _Lines(data)
    with uncollected():
        for raw in _ended(data):
            lines.add(raw)
    torn, unended = b"", False
    if rest:
        if _stands(rest, lines, tip):
            lines.add(rest)
            unended = True
        else:
            torn = rest
    # A power cut can leave the end of a long write as unreadable lines; what the tip does not vouch
    # for counts as torn too. Whether it had been acknowledged is told by ``stale``. Without a tip
    # nobody can tell, and it counts as damage.
    end = len(lines)
    while tip and end > tip.seq and end - 1 in lines.amiss and not lines.is_newer(end - 1):
        end -= 1
        torn = lines.amiss[end].raw + b"\n" + torn
    if end < len(lines):
        lines.cut(end)
    hole = _unwritten(lines, tip)
    if hole is not None:
        lines.cut(hole)
        torn, unended = data[_end_of(data, hole) :], False
    problems = [Problem(place + 1, str(each.problem)) for place, each in lines.amiss.items()]
    problems += _order(lines.records)
    if not problems:
        problems = _changed(lines, tip)
    return Scan(
        records=tuple(record for record in lines.records if record is not None),
        problems=tuple(sorted(problems, key=lambda problem: problem.line)),
        newer=any(map(lines.is_newer, lines.amiss)),
        end=len(data) - len(torn),
        last=lines.last,
        torn=torn,
        unended=unended,
        missing=max(0, tip.seq - len(lines)) if tip else 0,
        has_tip=tip is not None,
        tip_seq=tip.seq if tip else 0,
        stale=tip is not None and _several_writes(lines.times(tip.seq), torn),
        of=of,
    )


_TORN_TIME = re.compile(rb'"at":"([^"\\]{20,40})"')


def _several_writes(times: set[datetime], torn: bytes) -> bool:
    """Whether what stands after the tip came of more than one write. The tip follows each write,
    and is behind by one at most, where its own file did not stay behind at a power cut; each write
    has one time."""
    found = _TORN_TIME.search(torn) if times else None
    if found is not None:
        with contextlib.suppress(ValueError):
            times.add(datetime.fromisoformat(found[1].decode("ascii")))
    return len(times) > 1


def _ended(data: bytes) -> Iterator[bytes]:
    """The lines that have their line feed, one by one."""
    begin = 0
    while (end := data.find(b"\n", begin)) >= 0:
        yield data[begin:end]
        begin = end + 1


def _end_of(data: bytes, number: int) -> int:
    """Where so many ended lines end."""
    end = 0
    for _ in range(number):
        end = data.index(b"\n", end) + 1
    return end


def _unwritten(lines: _Lines, tip: Tip | None) -> int | None:
    """Place of the first line of a last write of which a power cut left holes, or None.

    A disk may write the sectors of one write in any order, and what it has not written of a longer
    file reads as zero bytes, which no line has. Whole lines may stand after the hole; they are of
    that write, and so of its time, and were not acknowledged: nothing is before it is all there.
    """
    begin = tip.seq if tip else 0
    for place, each in lines.amiss.items():
        if place >= begin and b"\0" in each.raw:
            newer = any(lines.is_newer(after) for after in lines.amiss if after >= place)
            return None if newer or len(lines.times(place)) > 1 else place
    return None


def _stands(rest: bytes, lines: _Lines, tip: Tip | None) -> bool:
    """Whether a last line with no line feed is whole all the same: only the line feed was cut."""
    try:
        record, prev = decode(rest, lines.last)
    except NewerFormat:
        return True
    except LineProblem:
        return False
    if record.seq != len(lines) + 1 or prev != lines.last:
        return False
    return tip is None or tip.seq != record.seq or tip.digest == digest(rest)


def _order(records: list[Record | None]) -> list[Problem]:
    """Lines that are missing, doubled or out of order, by their numbers."""
    problems = []
    expected = 1
    for place, record in enumerate(records, start=1):
        if record is None:
            expected += 1
            continue
        seq = record.seq
        if seq != expected:
            problems.append(
                Problem(
                    place,
                    f"has the number {seq} where {expected} belongs: lines are missing or moved",
                )
            )
        expected = seq + 1
    return problems


def _changed(lines: _Lines, tip: Tip | None) -> list[Problem]:
    """Lines that were changed after they were written, by the hashes.

    A link joins each line to the one before; the tip is a link after the last. One broken link
    means that the line before it was changed; when both links of a line are broken, it is that
    line.
    """
    broken = set(lines.broken)
    if tip and 0 < tip.seq <= len(lines):
        last = tip.seq == len(lines)
        if tip.digest != (lines.last if last else lines.digest(tip.seq - 1)):
            broken.add(tip.seq)
    changed: set[int] = set()
    for place in broken:
        if place + 1 in broken:
            changed.add(place + 1)
        elif place - 1 not in broken:
            changed.add(max(place, 1))
    return [Problem(number, "was changed after it was written") for number in sorted(changed)]
