"""Everything that is wrong with a session folder, for whoever wants to trust it or mend it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from companion.errors import CompanionError
from companion.files.limits import LARGEST_LOG_HERE
from companion.files.plain import plain_bytes, plain_names, stands_there
from companion.job.events import (
    AnyEvent,
    Disregarded,
    Heard,
    NoteKept,
    PhotoAdded,
    Reviewed,
    corrected_by,
)
from companion.job.record import Record
from companion.log.anchor import Anchor
from companion.log.clips import CLIP_FOLDER, hashes_of_clips, read_clip
from companion.log.followed import follows
from companion.log.line import LOG_NAME, digest
from companion.log.photos import PHOTO_FOLDER, photo_bytes
from companion.log.reader import contents_of, missing_records, scan_log, torn_files
from companion.log.removed import removed_clips
from companion.log.scan import Problem, Scan
from companion.log.signatures import signatures_of
from companion.log.tip import TIP_NAME


@dataclass(frozen=True, slots=True)
class LogReport:
    """What a check found.

    Attributes:
        folder: The session folder.
        records: How many could be read.
        clips: How many sound clips the records name.
        problems: In the order of the file; with any, the log cannot be trusted as it stands.
        notes: What is worth knowing and no fault of the log.
        photos: How many photos the records name.
        unvouched: Why nobody can tell whether the end of the log is still there; empty where that
            can be told.
        proved: What an anchor or a signature proves, a sentence each.
    """

    folder: Path
    records: int
    clips: int
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    photos: int = 0
    unvouched: str = ""
    proved: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Whether nothing is wrong in what is there."""
        return not self.problems

    @property
    def whole(self) -> bool:
        """Whether, in addition, all of it is there, as far as can be told."""
        return self.ok and not self.unvouched

    def values(self) -> dict[str, Any]:
        """Return it for JSON."""
        return {
            "session": self.folder.name,
            "folder": str(self.folder),
            "whole": self.whole,
            "records": self.records,
            "clips": self.clips,
            "photos": self.photos,
            "problems": list(self.problems),
            "not_vouched_for": self.unvouched or None,
            "proved": list(self.proved),
            "notes": list(self.notes),
        }

    def lines(self) -> list[str]:
        """Return it as lines to print, the verdict first."""
        held = f"{_count(self.records, 'record')}, {_count(self.clips, 'clip')}"
        if self.photos:
            held += f", {_count(self.photos, 'photo')}"
        verdict = "whole" if self.whole else "unbroken, but its end cannot be vouched for"
        if not self.ok:
            verdict = _count(len(self.problems), "problem")
        return [
            f"{self.folder}: {verdict}; {held}",
            *(f"  problem: {problem}" for problem in self.problems),
            *([f"  not vouched for: {self.unvouched}"] if self.unvouched else []),
            *(f"  proved: {sentence}" for sentence in self.proved),
            *(f"  note: {note}" for note in self.notes),
        ]


@follows
def check_log(
    folder: Path, *, anchor: Anchor | None = None, public: str | None = None, must: bool = False
) -> LogReport:
    """Look for everything that is wrong: chain, numbers, events, pointers, clips and photos.

    Args:
        folder: The session folder.
        anchor: What stood at some time, as somebody kept it; None where nobody did.
        public: Key whose signatures count, in hex; None where none is trusted.
        must: Whether there must be one by it.

    Raises:
        CompanionError: If there is no log, it cannot be read, or it is from a newer version.
    """
    found = scan_log(folder)
    if found.newer:
        contents_of(folder, found)
    problems = list(found.problems)
    if not problems:
        # Where a line is unreadable, faults of what points at it would only repeat that.
        problems += _pointers(found.records)
    clips, clip_problems, clip_notes = _clips(folder, found.records)
    photos, photo_problems, photo_notes = _photos(folder, found.records)
    problems += [*clip_problems, *photo_problems]
    told = [str(problem) for problem in sorted(problems, key=lambda problem: problem.line)]
    if not found.records and not problems:
        told.append("the log holds no record")
    if found.torn:
        told.append(
            f"the last line is torn: {_count(len(found.torn), 'byte')}, to be set aside when the "
            "session is resumed"
            + (
                "; the tip is older, so nobody can tell whether it had been acknowledged"
                if found.stale
                else ""
            )
        )
    if found.missing:
        told.append(missing_records(found))
    notes = [*_time_order(found.records), *clip_notes, *photo_notes]
    if not found.has_tip:
        notes.append(
            f"there is {_no_tip(folder)}, so a change to the very last line would not show"
        )
    if found.unended:
        notes.append("the last line lacks only its line feed, added when the session is resumed")
    notes += [f"{name} holds a torn line that was set aside" for name in torn_files(folder)]
    proved: list[str] = []
    unvouched = _unvouched(folder, found)
    known = _known_from_elsewhere(folder, anchor, public, must, told, notes)
    vouching = _Vouching(_digests(folder, found) if known and not found.problems else [])
    for what, stood in known:
        problem = vouching.problem(what, stood)
        if problem:
            told.append(problem)
            continue
        proved.append(f"{what}: records 1 to {stood.records} are exactly what stood then")
        if stood.records == len(found.records):
            unvouched = ""
    return LogReport(
        folder,
        len(found.records),
        clips,
        tuple(told),
        tuple(notes),
        photos,
        unvouched,
        tuple(proved),
    )


ANCHOR = "the anchor"
"""What a person typed is called."""


@dataclass(frozen=True, slots=True)
class _Vouching:
    """Holds what is known of a log from elsewhere against its lines.

    Attributes:
        digests: Of its lines, in order; none where their chain is broken.
    """

    digests: list[str]

    def problem(self, what: str, stood: Anchor) -> str:
        """Say that this is not the log that was known; empty where it is."""
        if not self.digests:
            return f"{what}: nothing can be held against it while the chain is broken"
        if stood.records > len(self.digests):
            return (
                f"{what}: there were {_count(stood.records, 'record')} then, and "
                f"{len(self.digests)} are here"
            )
        if stood.records < 1 or not self.digests[stood.records - 1].startswith(stood.sha256):
            return (
                f"{what}: records 1 to {stood.records} are not what stood then: the log was "
                f"written anew{', this' if what == ANCHOR else ', or this'} is another"
                f"{', or the anchor was typed wrongly' if what == ANCHOR else ''}"
            )
        return ""


def _digests(folder: Path, found: Scan) -> list[str]:
    """The hash of each line of a log whose chain holds."""
    data = plain_bytes(folder / LOG_NAME, LARGEST_LOG_HERE)[: found.end]
    return [digest(raw) for raw in data.split(b"\n")[: len(found.records)]]


def _known_from_elsewhere(
    folder: Path,
    anchor: Anchor | None,
    public: str | None,
    must: bool,
    told: list[str],
    notes: list[str],
) -> list[tuple[str, Anchor]]:
    """What the log is checked against, each with its name: an anchor, and the signatures by the
    trusted key. Other signatures are noted as proving nothing."""
    held = [] if anchor is None else [(ANCHOR, anchor)]
    signed = False
    for each in signatures_of(folder):
        if not each.right:
            told.append(f"a signature of {each.at} is not by the key that it names")
        elif public is None or each.public != public:
            notes.append(
                f"signed at {each.at} by the key {each.public}, which nobody here vouches for; "
                "where it is known, name it with --key"
            )
        else:
            signed = True
            held.append((f"signed at {each.at} by the key {public}", each.anchor))
    if public is not None and not signed:
        (told if must else notes).append(f"it is not signed by the key {public}")
    return held


def _unvouched(folder: Path, found: Scan) -> str:
    """Why nobody can tell whether the end of the log is still there; empty where that can."""
    last = len(found.records)
    if not found.has_tip and found.records:
        return (
            f"{_no_tip(folder)}: records cut off after record {last}, or a change to it, would not "
            "show"
        )
    if found.stale:
        return (
            f"{TIP_NAME} is of record {found.tip_seq}, and several writes came after it: records "
            f"cut off after record {last}, or a change to it, would not show"
        )
    return ""


def _no_tip(folder: Path) -> str:
    return f"no {TIP_NAME}{' that can be read' if stands_there(folder / TIP_NAME) else ''}"


def _count(number: int, name: str) -> str:
    return f"{number} {name}{'' if number == 1 else 's'}"


def _pointers(records: tuple[Record, ...]) -> list[Problem]:
    """Pointers from record to record must lead back, and ``heard`` to what was heard."""
    problems = []
    before: dict[int, Record] = {}
    for record in records:
        event = record.event
        if event.heard is not None:
            cause = before.get(event.heard)
            if cause is None or not isinstance(cause.event, Heard):
                problems.append(
                    Problem(record.seq, f"points at {event.heard}, which is nothing heard before")
                )
        for target in _targets(event):
            if target not in before:
                problems.append(
                    Problem(record.seq, f"points at {target}, which is no earlier record")
                )
        if event.reviewed is not None:
            review = before.get(event.reviewed)
            if review is None or not isinstance(review.event, Reviewed):
                problems.append(
                    Problem(record.seq, f"points at {event.reviewed}, which is no review before it")
                )
        before[record.seq] = record
    return problems


def _targets(event: AnyEvent) -> tuple[int, ...]:
    """The records that an event is about."""
    if type(event) is Disregarded:
        return (event.record,) if event.restores is None else (event.record, event.restores)
    if type(event) is Reviewed:
        return (event.record,)
    corrects = corrected_by(event)
    return () if corrects is None else (corrects,)


def _clips(folder: Path, records: tuple[Record, ...]) -> tuple[int, list[Problem], list[str]]:
    problems = []
    named: set[str] = set()
    removed, hashes = removed_clips(folder), hashes_of_clips(records)
    by_age = 0
    for record in records:
        event = record.event
        if not (type(event) is Heard or type(event) is NoteKept) or event.clip is None:
            continue
        known = hashes.get(event.clip)
        if event.clip_sha256 not in (None, known):
            problems.append(
                Problem(record.seq, f"has another hash of {event.clip} than a record before it")
            )
        if event.clip in named:
            continue
        named.add(event.clip)
        gone = removed.get(event.clip)
        if gone is not None and not stands_there(folder / event.clip):
            by_age += 1
            if known not in (None, gone.sha256):
                problems.append(
                    Problem(record.seq, f"names {event.clip}, which was another when removed")
                )
            continue
        try:
            read_clip(folder, event.clip, known)
        except CompanionError as error:
            problems.append(Problem(record.seq, f"names a clip that cannot be heard: {error}"))
    kept = {
        f"{CLIP_FOLDER}/{name}"
        for name in plain_names(folder / CLIP_FOLDER)
        if name.endswith(".flac")
    }
    notes = [f"no record names the clip {clip}" for clip in sorted(kept - named)]
    unhashed = len(named - set(hashes))
    if unhashed:
        notes.insert(
            0,
            f"the log is from before the hashes of clips were kept, or has none of "
            f"{_count(unhashed, 'clip')}: a change to their sound would not show",
        )
    if by_age:
        notes.insert(0, f"{_count(by_age, 'clip')} removed by age: 'companion sessions --thin'")
    return len(named), problems, notes


def _photos(folder: Path, records: tuple[Record, ...]) -> tuple[int, list[Problem], list[str]]:
    problems = []
    named: set[str] = set()
    for record in records:
        if type(record.event) is not PhotoAdded:
            continue
        named.add(record.event.file)
        try:
            photo_bytes(folder, record.event)
        except CompanionError as error:
            problems.append(Problem(record.seq, f"names a photo that is not as it was: {error}"))
    kept = {f"{PHOTO_FOLDER}/{name}" for name in plain_names(folder / PHOTO_FOLDER)}
    return len(named), problems, [f"no record names {file}" for file in sorted(kept - named)]


def _time_order(records: tuple[Record, ...]) -> list[str]:
    return [
        f"the clock went back by {(before.at - after.at).total_seconds():g} s between records "
        f"{before.seq} and {after.seq}"
        for before, after in pairwise(records)
        if after.at < before.at
    ]
