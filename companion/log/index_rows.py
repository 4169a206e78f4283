"""A session as the rows that the index keeps of it, and back again as far as its machine needs it.

Plain values throughout: they go into the database as they are, and from one process to another.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from companion.errors import CompanionError
from companion.job import events as ev
from companion.job.card import JobCard
from companion.job.folding.evolve import having_called
from companion.job.record import Record
from companion.job.service_due import engine_hours_of_job, serviced
from companion.job.sheet import SpecSheet
from companion.job.state import State
from companion.job.state_values import Fact
from companion.log.clips import CLIP_FOLDER
from companion.log.followed import followed
from companion.log.identity import identity_of, opened_of, serial_key
from companion.log.names import name_key
from companion.log.reader import read_log
from companion.log.summaries import SessionSummary, summary_of
from companion.shelf.rules import shipped_rules

MOST_MILLISECONDS = (1 << 43) - 1
"""The last number that a session can have in the index: its opening in milliseconds, until 2248."""

KEPT_IN = {
    "reading": "readings",
    "fluid": "fluids",
    "level": "levels",
    "finding": "findings",
    "work": "work",
    "part.needed": "parts_needed",
    "part.used": "parts_used",
    "followup": "follow_ups",
    "note": "notes",
    "serial": "serials",
    "tag.hung": "tag_history",
    "tag.cleared": "tag_history",
}
"""By kind of event, where the state of a session keeps it."""


@dataclass(frozen=True, slots=True)
class FactRow:
    """Something that was called and still counts when the session ends.

    Attributes:
        seq: Number of its record.
        place: Number of the record in whose place it stands.
        at: When, in RFC 3339.
        kind: Of its event.
        name: What it is of: a measure, a fluid, a part, a tag.
        value: In SI; None where it is no quantity.
        verdict: Of a reading, else None.
        event: The event in JSON, without its kind.
    """

    seq: int
    place: int
    at: str
    kind: str
    name: str
    value: float | None
    verdict: str | None
    event: str


@dataclass(frozen=True, slots=True)
class SaidRow:
    """Something that was said.

    Attributes:
        seq: Number of its record.
        at: When, in RFC 3339.
        who: ``heard``, ``note`` or ``said`` (by the companion).
        words: What was said.
    """

    seq: int
    at: str
    who: str
    words: str


@dataclass(frozen=True, slots=True)
class SessionRows:
    """All that the index keeps of a session.

    Attributes:
        number: By which the index would have it stand: its opening in milliseconds since 1970.
        columns: Of its row, by name.
        facts: What was called and still counts.
        said: Everything that was said.
        documents: Its sheet and card in JSON, by their SHA-256: many sessions have the same.
    """

    number: int
    columns: dict[str, Any]
    facts: tuple[FactRow, ...] = ()
    said: tuple[SaidRow, ...] = ()
    documents: tuple[tuple[str, str], ...] = ()


def rows_of(folder: Path) -> SessionRows:
    """Read a session into rows; one that cannot be read has the sentence that says why."""
    try:
        records = read_log(folder).records
        summary = summary_of(folder, records)
        with followed(folder):
            return rows_of_session(summary, records)
    except CompanionError as error:
        opened = opened_of(folder)
        identity = None if opened is None else opened[0]
        # Without a key: it is no job of the machine, and yet it holds its start.
        of = {} if identity is None else {"machine": identity.name, "serial": identity.serial}
        return SessionRows(
            0, {"name": folder.name, "status": "unreadable", "why": str(error), **of}
        )


def rows_of_session(summary: SessionSummary, records: Iterable[Record]) -> SessionRows:
    """Turn a session into rows.

    Args:
        summary: The session.
        records: Its log.
    """
    state = summary.state
    identity = identity_of(state)
    sheet = _document(state.sheet)
    card = _document(state.card)
    said = tuple(_said(records))
    return SessionRows(
        number=_milliseconds(summary.opened),
        columns={
            "name": summary.folder.name,
            "status": summary.status,
            "why": None,
            "opened": summary.opened.isoformat(),
            "last": summary.last.isoformat(),
            "last_at": summary.last.astimezone(UTC).timestamp(),
            "records": summary.records,
            "machine": None if identity is None else identity.name,
            "machine_key": None if identity is None else name_key(identity.name),
            "serial": None if identity is None else identity.serial,
            "serial_key": None
            if identity is None or identity.serial is None
            else serial_key(identity.serial),
            "job": summary.job,
            "sheet": None if sheet is None else sheet[0],
            "card": None if card is None else card[0],
            "ounce": state.ounce,
            "invented": None if state.sheet is None else state.sheet.invented,
            "tags": json.dumps([tag.tag for tag in state.tags], ensure_ascii=False),
            "services": json.dumps(
                [[each.item, each.work] for each in serviced(state)], ensure_ascii=False
            ),
            "hours": _text(engine_hours_of_job(state)),
            "sound": _sound(summary.folder),
        },
        facts=tuple(_facts(state)),
        said=said,
        documents=tuple(each for each in (sheet, card) if each is not None),
    )


def state_of_rows(
    columns: Mapping[str, Any], facts: Iterable[FactRow], documents: Mapping[str, str]
) -> State:
    """Return a session's state again, as far as it matters to its machine: what was called and
    still counts, its sheet and card, and whether it is over.

    Args:
        columns: Of its row.
        facts: Its facts.
        documents: Sheets and cards by their SHA-256.
    """
    kept: dict[str, list[Fact[Any]]] = {name: [] for name in set(KEPT_IN.values())}
    for row in facts:
        kept[KEPT_IN[row.kind]].append(
            Fact(row.seq, datetime.fromisoformat(row.at), event_of(row), row.place)
        )
    state = State(
        shipped_rules(),
        session=columns["name"],
        sheet=_read_back(SpecSheet, documents.get(columns["sheet"])),
        card=_read_back(JobCard, documents.get(columns["card"])),
        ounce=columns["ounce"] or "us",
        parked=columns["status"] == "parked",
        closed=columns["status"] == "closed",
    )
    return having_called(state, kept)


def event_of(row: FactRow) -> Any:
    """Return the event of a fact."""
    return ev.EVENT.validate_python({**json.loads(row.event), "kind": row.kind})


def _facts(state: State) -> Iterable[FactRow]:
    for name in dict.fromkeys(KEPT_IN.values()):
        for fact in state.effective(getattr(state, name)):
            event = fact.event
            si = getattr(event, "si", None)
            yield FactRow(
                seq=fact.seq,
                place=fact.place,
                at=fact.at.isoformat(),
                kind=event.kind,
                name=_name(event),
                value=None if si is None else si.value,
                verdict=getattr(event, "verdict", None),
                event=event.model_dump_json(exclude={"kind"}),
            )


def _name(event: ev.AnyEvent) -> str:
    for field in ("measure", "fluid", "part", "tag", "serial", "about"):
        name = getattr(event, field, None)
        if isinstance(name, str):
            return name
    return event.kind


_SAID = frozenset({ev.Heard, ev.NoteKept, ev.Said})


def _said(records: Iterable[Record]) -> Iterable[SaidRow]:
    """What was said, each once: the words of a note stand where they were heard, if they do."""
    rows: dict[int, SaidRow] = {}
    for record in records:
        event = record.event
        # What kind a model is is dear to ask, and most records of a long day are none of these.
        if type(event) not in _SAID:
            continue
        at = record.at.isoformat()
        match event:
            case ev.Heard():
                words = event.text
                if event.draft and event.draft.casefold() not in words.casefold():
                    words = f"{words} / {event.draft}" if words else event.draft
                rows[record.seq] = SaidRow(record.seq, at, "heard", words)
            case ev.NoteKept(text=str(text)):
                heard = rows.get(event.heard or 0)
                if heard is not None and text.casefold() in heard.words.casefold():
                    rows[heard.seq] = SaidRow(heard.seq, heard.at, "note", heard.words)
                else:
                    rows[record.seq] = SaidRow(record.seq, at, "note", text)
            case ev.Said():
                rows[record.seq] = SaidRow(record.seq, at, "said", event.text)
            case _:
                pass
    return [row for row in rows.values() if row.words.strip()]


def _sound(folder: Path) -> int:
    """Bytes of the clips."""
    sound = folder / CLIP_FOLDER
    try:
        if sound.is_symlink():
            return 0
        with os.scandir(sound) as clips:
            return sum(
                clip.stat(follow_symlinks=False).st_size
                for clip in clips
                if clip.is_file(follow_symlinks=False)
            )
    except OSError:
        return 0


def _document(model: SpecSheet | JobCard | None) -> tuple[str, str] | None:
    if model is None:
        return None
    text = model.model_dump_json()
    return hashlib.sha256(text.encode(errors="replace")).hexdigest(), text


@lru_cache(maxsize=64)
def _read_back(model: Any, text: str | None) -> Any:
    return None if text is None else model.model_validate_json(text)


def _milliseconds(at: datetime) -> int:
    return max(1, min(MOST_MILLISECONDS, round(at.timestamp() * 1000)))


def _text(value: object) -> str | None:
    return None if value is None else str(value)
