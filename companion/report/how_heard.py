"""Which recognizer heard, which program wrote, and how the log is identified: small print at the
end of a report."""

from __future__ import annotations

from collections import Counter
from datetime import datetime, timedelta

from companion.job import events as ev
from companion.job.record import Record, is_work
from companion.log.anchor import Anchor
from companion.log.signatures import Signature
from companion.report.facts import duration_text


def how_heard(
    records: tuple[Record, ...], session: str, anchor: Anchor, signed: Signature | None
) -> list[tuple[str, str]]:
    """Return name and value of each line.

    Args:
        records: All of them, in order.
        session: Name of the session.
        anchor: Of the log.
        signed: The last signature of it by the shop, or None.
    """
    heard = Counter(
        record.event.engine or "unknown" for record in records if type(record.event) is ev.Heard
    )
    opened = [record.event for record in records if type(record.event) is ev.SessionOpened]
    wrote = dict.fromkeys(
        record.event.software
        for record in records
        if type(record.event) is ev.SessionOpened or type(record.event) is ev.SessionResumed
    )
    lines = [
        ("Session", session),
        ("Time with the session open", duration_text(_seconds_at_the_bench(records))),
        ("Clock", _offset_text(records)),
        ("Heard by", ", ".join(f"{engine}: {count}" for engine, count in heard.items())),
        ("Ounces", {"us": "US", "imperial": "imperial"}[opened[0].ounce] if opened else ""),
        ("Call sign", opened[0].call_sign if opened else ""),
        ("Written by", ", ".join(f"Bench Companion {version}" for version in wrote)),
        ("Records", f"{len(records)}"),
        ("Anchor, to keep", anchor.short),
        ("Log", f"SHA-256 of record {anchor.records}: {anchor.sha256}"),
        ("Signed", "" if signed is None else _signed(signed)),
    ]
    return [(name, value) for name, value in lines if value]


def _signed(signed: Signature) -> str:
    return f"records 1 to {signed.anchor.records} at {signed.at}, by the key {signed.public}"


def _seconds_at_the_bench(records: tuple[Record, ...]) -> float:
    """Time between opening or resuming and the last record before the next resuming."""
    total, start, last = 0.0, records[0].at, records[0].at
    for record in filter(is_work, records):
        if type(record.event) is ev.SessionResumed:
            total += (last - start).total_seconds()
            start = record.at
        last = record.at
    return max(0.0, total + (last - start).total_seconds())


def _offset_text(records: tuple[Record, ...]) -> str:
    # Each different one is written out once: a long day has a hundred thousand records, and seldom
    # two kinds.
    first: dict[timedelta | None, datetime] = {}
    for record in records:
        first.setdefault(record.at.utcoffset(), record.at)
    return ", then ".join(dict.fromkeys(map(_offset, first.values())))


def _offset(at: datetime) -> str:
    offset = f"UTC{at:%z}"
    return f"{offset[:6]}:{offset[6:8]}"
