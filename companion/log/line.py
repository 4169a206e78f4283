"""One line of the log: a record, and the SHA-256 of the line before it.

A line is a JSON object with the keys ``v`` (format version), ``seq``, ``at`` (RFC 3339), ``kind``,
``data`` (the event without its kind) and ``prev``, in UTF-8, ended by a line feed that is no part
of what is hashed.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import re
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta, timezone
from functools import lru_cache
from typing import Any, NoReturn, get_args

from pydantic import TypeAdapter, ValidationError
from pydantic_core import from_json

from companion.files.figures import float_of, on_a_clock, whole_of
from companion.files.limits import LARGEST_WHOLE, LONGEST_LINE, LONGEST_QUOTED
from companion.job.events import EVENT, AnyEvent, Asked, Heard, NoteKept, Trouble
from companion.job.record import Record
from companion.job.slim import slim

FORMAT_VERSION = 3
"""The newest format that this program reads, and what it writes where it must."""

FIRST_VERSION = 1
"""What stands in a line that every older program reads as well: one with nothing that is new in a
later format."""

SECOND_VERSION = 2
"""With the hash of a clip, or which log it goes on in place of. The third has how only a figure is
asked about."""

LOG_NAME = "log.jsonl"
"""File name of the log inside a session folder."""

FIRST_PREV = "0" * 64
"""What stands as ``prev`` in the first line."""

KEYS = ("v", "seq", "at", "kind", "data", "prev")
"""Keys of a line, in the order written."""

RFC_3339 = re.compile(
    r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d{1,6})?(Z|[+-]\d{2}:\d{2})", re.ASCII
)
"""A date-time with its offset, as RFC 3339 section 5.6 has it."""


_KEYS = frozenset(KEYS)
_SHA_256 = re.compile("[0-9a-f]{64}")

LONG_LINE = 1 << 16
"""Lines above this many bytes are hardly records."""
_FAR_EXPONENT = re.compile(rb"[:,\[ \t\n\r\x0b\x0c]-?[0-9][0-9.]*[eE][+-]?[0-9]{3}")
"""What a number that no counter reaches looks like, and other things now and then."""
_DIGITS_ALIKE = bytes.maketrans(b"123456789E+", b"000000000e-")
_MANY_DIGITS = b"0" * 19
"""The same for one of many digits, when every digit is a zero: to look for a run of whatever digits
in each line takes longer than to read it."""

_HEAD_KEYS = len(KEYS) - 1
"""Keys of a line but for the last one, ``prev``."""

LONGEST_TOLD = 120
"""Characters of something wrong that are quoted."""
MOST_TOLD = 12
"""How many wrong keys are quoted."""


class LineProblem(ValueError):
    """A line is not what it must be; the message completes "line 7 …"."""


class NewerFormat(LineProblem):
    """A line was written in a format that this program does not know yet."""


def digest(raw: bytes) -> str:
    """SHA-256 of a line without its line feed, in lower-case hex."""
    return hashlib.sha256(raw).hexdigest()


def rfc3339(at: datetime) -> str:
    """Write a time with its offset from UTC.

    Raises:
        ValueError: If ``at`` has no offset: a time that means another instant elsewhere is no
            record.
    """
    offset = at.utcoffset()
    if offset is None:
        raise ValueError(f"{at} has no offset from UTC.")
    # Offsets in old time-zone tables have seconds, for which RFC 3339 has no place.
    minutes = round(offset / timedelta(minutes=1))
    if offset != timedelta(minutes=minutes):
        at = at.astimezone(timezone(timedelta(minutes=minutes)))
    return at.isoformat()


def encode(record: Record, prev: str) -> bytes:
    """Return the line of a record, without its line feed.

    Args:
        record: To write.
        prev: ``digest`` of the line before, or ``FIRST_PREV``.

    Raises:
        ValueError: If the time has no offset, or a number in the event is not finite.
    """
    line = {
        "v": _version(record.event),
        "seq": record.seq,
        "at": rfc3339(record.at),
        "kind": record.event.kind,
        "data": record.event.model_dump(
            mode="json", exclude=beside_data(record.event), exclude_unset=_was_read(record.event)
        ),
        "prev": prev,
    }
    text = json.dumps(line, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    # A lone surrogate, as a file name may hold one, must not cost the record.
    return text.encode(errors="replace")


def beside_data(event: AnyEvent) -> set[str]:
    """Fields of an event that do not stand in the data of its line."""
    # Only what a review brought says so: all other lines stay as older versions read them.
    beside = {"kind"} if event.reviewed is not None else {"kind", "reviewed"}
    # The same for events without a clip, or with one from before hashes were kept.
    if isinstance(event, Heard | NoteKept) and event.clip_sha256 is None:
        beside.add("clip_sha256")
    if isinstance(event, Trouble) and event.left is None:
        beside.add("left")
    if isinstance(event, Asked) and event.figure is None:
        beside.add("figure")
    return beside


def _was_read(event: AnyEvent) -> bool:
    """Whether an event was read from a line: only the reader gives an event its kind. A field that
    the program which wrote the line did not know is then left out of it again."""
    return "kind" in event.model_fields_set


def _version(event: AnyEvent) -> int:
    """The format of a line: an older program then says of it that it is newer, not damaged."""
    hashed = isinstance(event, Heard | NoteKept) and event.clip_sha256 is not None
    went_on = isinstance(event, Trouble) and event.left is not None
    if isinstance(event, Asked) and event.figure is not None:
        return FORMAT_VERSION
    return SECOND_VERSION if hashed or went_on else FIRST_VERSION


def decode(raw: bytes, before: str | None = None) -> tuple[Record, str]:
    """Read a line back.

    Args:
        raw: Without the line feed.
        before: ``digest`` of the line that it should follow, or ``FIRST_PREV``, where that is
            known: one that does is read quicker. It changes nothing of what is told.

    Returns:
        The record and the line's ``prev``; ``before`` itself, where they are alike.

    Raises:
        NewerFormat: If a later version wrote it.
        LineProblem: If it is no line of a log.
    """
    # A long day has a hundred thousand lines. A line with a fault is read by the slowest of three
    # readers, which says what is wrong.
    if len(raw) < LONG_LINE:
        if before is not None:
            record = _following(raw, before)
            if record is not None:
                return record, before
        if _is_plain(raw):
            with contextlib.suppress(ValueError):
                return _of_line(_quickly(raw), before)
    return _of_line(_json_object(raw), before)


def _following(raw: bytes, before: str) -> Record | None:
    """The record of a line that has no fault and names the line before: its link is not parsed.
    None for any other line."""
    link = b',"prev":"%s"}' % before.encode("ascii")
    if not raw.endswith(link):
        return None
    # No number can stand in the link: it is a text, or the line is no JSON.
    head = raw[: -len(link)]
    if not _is_plain(head):
        return None
    try:
        return _of_head(_quickly(head + b"}"))
    except _AMISS:
        return None


def _is_plain(text: bytes) -> bool:
    """Whether a line may be read by the quick reader, which takes a third of the time of Python's
    own, and takes some numbers and halves of characters that are refused."""
    if b"\\u" in text:
        return False
    alike = text.translate(_DIGITS_ALIKE)
    if _MANY_DIGITS in alike:
        return False
    # A point right before the exponent is no JSON, and is refused by all readers.
    seems_far = b"0e000" in alike or b"0e-000" in alike
    return not seems_far or _FAR_EXPONENT.search(text) is None


def _quickly(text: bytes) -> Any:
    # Texts that many lines have are kept once for all of them: units, measures, tones.
    return from_json(text, allow_inf_nan=False, cache_strings="all")


def _of_head(line: Any) -> Record:
    """The record of a line without its ``prev``; raises one of ``_AMISS`` for whatever else it
    is."""
    version, seq, data, at = line["v"], line["seq"], line["data"], line["at"]
    if (
        len(line) != _HEAD_KEYS
        or type(version) is not int
        or not 1 <= version <= FORMAT_VERSION
        or type(seq) is not int
        or not 1 <= seq <= LARGEST_WHOLE
        or type(data) is not dict
        or "kind" in data
        or type(at) is not str
    ):
        raise LineProblem("is not read quickly")
    kind = data["kind"] = line["kind"]
    event: AnyEvent = _VALIDATED[kind](data)
    slim(event)
    return Record(seq, _time(at), event)


def _of_line(line: Any, before: str | None) -> tuple[Record, str]:
    if not isinstance(line, dict):
        raise LineProblem("is not a JSON object")
    version = line.get("v")
    if type(version) is not int or version < 1:
        raise LineProblem("has no format version 'v'")
    if version > FORMAT_VERSION:
        raise NewerFormat(f"has format {version}; this program reads up to {FORMAT_VERSION}")
    if line.keys() != _KEYS:
        odd = ", ".join(sorted(_short(key) for key in set(line) ^ set(KEYS))[:MOST_TOLD])
        raise LineProblem(f"must have the keys {', '.join(KEYS)} and no others (see {odd})")
    seq, data, prev = line["seq"], line["data"], line["prev"]
    if type(seq) is not int or not 1 <= seq <= LARGEST_WHOLE:
        raise LineProblem(f"has the number {_short(seq)} where a whole number from 1 belongs")
    if not isinstance(prev, str) or not _SHA_256.fullmatch(prev):
        raise LineProblem("has no SHA-256 in 'prev'")
    if not isinstance(data, dict) or "kind" in data:
        raise LineProblem("has something else than an event without its kind in 'data'")
    data["kind"] = line["kind"]
    try:
        event = EVENT.validate_python(data)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        where = _told(".".join(str(part) for part in first["loc"]) or "kind", LONGEST_QUOTED)
        what = (
            f"{_short(line['kind'])} is no kind that is known"
            if first["type"] == "union_tag_invalid"
            else _told(first["msg"].removeprefix("Value error, "))
        )
        raise LineProblem(f"does not hold a valid event ({where}: {what})") from None
    except (ArithmeticError, RecursionError):
        raise LineProblem("does not hold a valid event") from None
    slim(event)
    at = line["at"]
    if not isinstance(at, str):
        raise LineProblem(_NO_TIME.format(_short(at)))
    return Record(seq, _time(at), event), before if prev == before else prev


def _json_object(raw: bytes) -> Any:
    if len(raw) > LONGEST_LINE:
        raise LineProblem(f"is longer than {LONGEST_LINE // 2**20} MiB, which no record is")
    try:
        line = _JSON.decode(raw.decode())
        if b"\\u" in raw:
            # Half a character, which only an escape can bring in, is no text anywhere else.
            json.dumps(line, ensure_ascii=False).encode()
    except LineProblem:
        raise
    except (ValueError, RecursionError):
        raise LineProblem("is not JSON") from None
    return line


def _short(value: object) -> str:
    """A wrong value in quotation marks, as a sentence can hold it."""
    return _told(ascii(value), LONGEST_QUOTED)


def _told(text: str, most: int = LONGEST_TOLD) -> str:
    plain = "".join(letter if letter.isprintable() else "?" for letter in text[:most])
    return plain if len(text) <= most else f"{plain}..."


def _refuse(constant: str) -> NoReturn:
    raise ValueError(f"{constant} is not JSON")


def _whole(text: str) -> int:
    try:
        return whole_of(text)
    except ValueError as error:
        raise LineProblem(str(error)) from None


def _float(text: str) -> float:
    try:
        return float_of(text)
    except ValueError as error:
        raise LineProblem(str(error)) from None


_AMISS = (ValueError, ArithmeticError, LookupError, RecursionError, TypeError)
"""What a line that is not as it must be may raise while it is read quickly."""

_VALIDATED: Mapping[str, Callable[[Any], Any]] = {
    model.model_fields["kind"].default: TypeAdapter(model).validator.validate_python
    for model in get_args(get_args(AnyEvent)[0])
}
"""By kind of event, what makes one: to ask ``EVENT`` for each would take a tenth longer."""
_NO_TIME = "has {} as its time, not an RFC 3339 date-time with offset"
_JSON = json.JSONDecoder(parse_constant=_refuse, parse_int=_whole, parse_float=_float)


@lru_cache(maxsize=4)
def _time(text: str) -> datetime:
    if not RFC_3339.fullmatch(text):
        raise LineProblem(_NO_TIME.format(_short(text)))
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise LineProblem(f"has the time {text!r}, which is on no calendar") from None
    try:
        return on_a_clock(at)
    except ValueError as error:
        raise LineProblem(f"has the time {text!r}, which {error}") from None
