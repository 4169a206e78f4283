"""What other programs appended to a log since it was last looked at, checked against the chain."""

from __future__ import annotations

from dataclasses import dataclass

from companion.job.record import Record
from companion.log.line import LineProblem, NewerFormat, decode, digest
from companion.log.tip import Tip


class BrokenNews(ValueError):
    """What was appended does not go on from what stood there; the message says so of the log.

    Attributes:
        newer: Whether a later version of the program wrote it.
    """

    def __init__(self, what: str, *, newer: bool = False) -> None:
        super().__init__(what)
        self.newer = newer


@dataclass(frozen=True, slots=True)
class News:
    """What was appended.

    Attributes:
        records: In order.
        last: Number and digest of the last line.
        length: Bytes of the whole lines.
        last_length: Bytes of the last whole line; 0 where there is none.
        torn: What stands after them: the beginning of a line whose writing was cut short.
        unended: The last whole line lacks its line feed; it is not counted in the lengths.
    """

    records: tuple[Record, ...]
    last: Tip
    length: int
    last_length: int
    torn: bytes
    unended: bool


def read_news(data: bytes, after: Tip) -> News:
    """Take apart what was appended.

    Args:
        data: Everything after the line that was the last one.
        after: That line.

    Raises:
        BrokenNews: If a whole line does not go on from the one before.
    """
    *ended, rest = data.split(b"\n")
    records: list[Record] = []
    last, last_length = after, 0
    for raw in ended:
        record = _next(raw, last)
        records.append(record)
        last, last_length = Tip(record.seq, digest(raw)), len(raw) + 1
    unended = False
    if rest:
        try:
            record = _next(rest, last)
        except BrokenNews as error:
            if error.newer:
                raise
        else:
            records.append(record)
            last, last_length, unended = Tip(record.seq, digest(rest)), len(rest), True
    torn = b"" if unended else rest
    return News(tuple(records), last, len(data) - len(torn), last_length, torn, unended)


def _next(raw: bytes, last: Tip) -> Record:
    try:
        record, prev = decode(raw, last.digest)
    except NewerFormat as problem:
        raise BrokenNews(f"line {last.seq + 1} {problem}", newer=True) from None
    except LineProblem as problem:
        raise BrokenNews(f"line {last.seq + 1} {problem}") from None
    if record.seq != last.seq + 1 or prev != last.digest:
        raise BrokenNews(f"line {last.seq + 1} does not go on from the line before")
    return record
