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


@dataclass(slots=True)
class _Line:
    """A line without its bytes, but for one that cannot be read: those of a long day would be in
    memory twice."""

    digest: str
    record: Record | None
    prev: str | None
    problem: LineProblem | None
    raw: bytes = b""


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
    with uncollected():
        lines: list[_Line] = []
        for raw in _ended(data):
            lines.append(_line(raw, lines[-1].digest if lines else FIRST_PREV))
    torn, unended = b"", False
    if rest:
        last = _line(rest)
        if _stands(last, lines, tip):
            lines.append(last)
            unended = True
        else:
            torn = rest
    # A power cut can leave the end of a long write as unreadable lines; what the tip does not vouch
    # for counts as torn too. Whether it had been acknowledged is told by ``stale``. Without a tip
    # nobody can tell, and it counts as damage.
    while tip and len(lines) > tip.seq and lines[-1].record is None and not _newer(lines[-1]):
        spoiled = lines.pop()
        torn = spoiled.raw + b"\n" + torn
    hole = _unwritten(lines, tip)
    if hole is not None:
        del lines[hole:]
        torn, unended = data[_end_of(data, hole) :], False
    problems = [Problem(n, str(x.problem)) for n, x in enumerate(lines, start=1) if x.problem]
    problems += _order(lines)
    if not problems:
        problems = _changed(lines, tip)
    return Scan(
        records=tuple(line.record for line in lines if line.record is not None),
        problems=tuple(sorted(problems, key=lambda problem: problem.line)),
        newer=any(_newer(line) for line in lines),
        end=len(data) - len(torn),
        last=lines[-1].digest if lines else FIRST_PREV,
        torn=torn,
        unended=unended,
        missing=max(0, tip.seq - len(lines)) if tip else 0,
        has_tip=tip is not None,
        tip_seq=tip.seq if tip else 0,
        stale=tip is not None and _several_writes(lines[tip.seq :], torn),
        of=of,
    )


_TORN_TIME = re.compile(rb'"at":"([^"\\]{20,40})"')


def _several_writes(after: list[_Line], torn: bytes) -> bool:
    """Whether what stands after the tip came of more than one write. The tip follows each write,
    and is behind by one at most, where its own file did not stay behind at a power cut; each write
    has one time."""
    times = {line.record.at for line in after if line.record is not None}
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


def _line(raw: bytes, before: str = FIRST_PREV) -> _Line:
    try:
        record, prev = decode(raw)
    except LineProblem as problem:
        return _Line(digest(raw), None, None, problem, raw)
    # The text of the hash is kept once, where the chain holds.
    return _Line(digest(raw), record, before if prev == before else prev, None)


def _end_of(data: bytes, number: int) -> int:
    """Where so many ended lines end."""
    end = 0
    for _ in range(number):
        end = data.index(b"\n", end) + 1
    return end


def _unwritten(lines: list[_Line], tip: Tip | None) -> int | None:
    """Place of the first line of a last write of which a power cut left holes, or None.

    A disk may write the sectors of one write in any order, and what it has not written of a longer
    file reads as zero bytes, which no line has. Whole lines may stand after the hole; they are of
    that write, and so of its time, and were not acknowledged: nothing is before it is all there.
    """
    for place in range(tip.seq if tip else 0, len(lines)):
        if lines[place].record is None and b"\0" in lines[place].raw:
            times = {line.record.at for line in lines[place:] if line.record is not None}
            newer = any(_newer(line) for line in lines[place:])
            return None if newer or len(times) > 1 else place
    return None


def _newer(line: _Line) -> bool:
    return isinstance(line.problem, NewerFormat)


def _stands(last: _Line, before: list[_Line], tip: Tip | None) -> bool:
    """Whether a last line with no line feed is whole all the same: only the line feed was cut."""
    if _newer(last):
        return True
    if last.record is None or last.record.seq != len(before) + 1:
        return False
    if last.prev != (before[-1].digest if before else FIRST_PREV):
        return False
    return tip is None or tip.seq != last.record.seq or tip.digest == last.digest


def _order(lines: list[_Line]) -> list[Problem]:
    """Lines that are missing, doubled or out of order, by their numbers."""
    problems = []
    expected = 1
    for place, line in enumerate(lines, start=1):
        if line.record is None:
            expected += 1
            continue
        seq = line.record.seq
        if seq != expected:
            problems.append(
                Problem(
                    place,
                    f"has the number {seq} where {expected} belongs: lines are missing or moved",
                )
            )
        expected = seq + 1
    return problems


def _changed(lines: list[_Line], tip: Tip | None) -> list[Problem]:
    """Lines that were changed after they were written, by the hashes.

    A link joins each line to the one before; the tip is a link after the last. One broken link
    means that the line before it was changed; when both links of a line are broken, it is that
    line.
    """
    broken = [
        line.prev != (lines[place - 1].digest if place else FIRST_PREV)
        for place, line in enumerate(lines)
    ]
    broken.append(bool(tip and tip.seq == len(lines) and lines and tip.digest != lines[-1].digest))
    if tip and 0 < tip.seq < len(lines) and tip.digest != lines[tip.seq - 1].digest:
        broken[tip.seq] = True
    changed: set[int] = set()
    for place, is_broken in enumerate(broken):
        if not is_broken:
            continue
        run_goes_on = place + 1 < len(broken) and broken[place + 1]
        run_began = place > 0 and broken[place - 1]
        if run_goes_on:
            changed.add(place + 1)
        elif not run_began:
            changed.add(max(place, 1))
    return [Problem(number, "was changed after it was written") for number in sorted(changed)]
