"""Calls of a session where it is known what was really said; hearing is measured with them, and a
voice fitted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal

from companion.enroll.fit import FEWEST, ReadOut
from companion.errors import CompanionError
from companion.grammar.compiled import CallGrammar
from companion.job import events as ev
from companion.job.record import Record
from companion.job.state import State
from companion.log.clips import hashes_of_clips, read_clip
from companion.log.followed import follows, state_of
from companion.log.reader import read_log


@dataclass(frozen=True, slots=True)
class MarkedCall:
    """A spoken call with what was said.

    Attributes:
        record: Number of what was heard.
        clip: The sound, as a path inside the session folder.
        said: What was really said, in words.
        heard: What it was taken for.
        known: From a mark in a review, from a correction there, or from an "affirm" at the bench to
            the question whether it was this.
        clip_sha256: Of the sound, where the log has it.
    """

    record: int
    clip: str
    said: str
    heard: str
    known: Literal["marked", "corrected", "affirmed"]
    clip_sha256: str | None = None


@follows
def marked_calls(folder: Path) -> tuple[MarkedCall, ...]:
    """Return the calls of a session of which it is known what was said, in the order called.

    Of several marks of one call the last counts; one that was marked wrong or set aside, and not
    corrected since, is left out, as are notes and whatever has no clip.

    Args:
        folder: The session folder.

    Raises:
        CompanionError: As ``read_log``.
    """
    records = read_log(folder).records
    judged = _judged(state_of(folder, records))
    affirmed = _affirmed(records)
    hashes = hashes_of_clips(records)
    found = []
    for record in records:
        event = record.event
        if not isinstance(event, ev.Heard) or event.clip is None or event.engine == "typed":
            continue
        review = judged.get(record.seq)
        call: tuple[str, Literal["marked", "corrected", "affirmed"]] | None = None
        if review is not None and review.judgement == "right":
            call = (event.text, "marked")
        elif review is not None and review.judgement == "corrected" and review.said:
            call = (review.said, "corrected")
        elif review is None and record.seq in affirmed:
            call = (event.text, "affirmed")
        if call is not None and call[0].split()[:1] not in (["note"], ["complaint"]):
            found.append(
                MarkedCall(
                    record.seq, event.clip, call[0], event.text, call[1], hashes.get(event.clip)
                )
            )
    return tuple(found)


def marked_lines(folder: Path) -> list[str]:
    """Return the same as lines to print: number, clip, what was said, and how that is known.

    Raises:
        CompanionError: As ``read_log``.
    """
    return [
        f"{call.record:>5}  {call.clip}  {call.said}"
        + (f"  (heard “{call.heard}”)" if call.heard != call.said else "")
        + f"  [{call.known}]"
        for call in marked_calls(folder)
    ]


def marked_values(folder: Path) -> list[dict[str, Any]]:
    """Return the same for JSON, one object a call.

    Raises:
        CompanionError: As ``read_log``.
    """
    return [asdict(call) for call in marked_calls(folder)]


def from_session(folder: Path, grammar: CallGrammar) -> tuple[ReadOut, ...]:
    """Read the calls of a session that a voice is fitted to.

    Args:
        folder: The session folder.
        grammar: That of every enrollment; a call that is only of this job, as of a part that is on
            no other card, is left out, so that the voice can be fitted anew without the session.

    Raises:
        CompanionError: If the session or a clip cannot be read, or too few calls are known.
    """
    known = marked_calls(folder)
    page = tuple(
        ReadOut(call.said, read_clip(folder, call.clip, call.clip_sha256))
        for call in known
        if grammar.parse(call.said.split())
    )
    if len(page) < FEWEST:
        own = len(known) - len(page)
        of_this_job = f", besides {own} that only this job has words for" if own else ""
        raise CompanionError(
            f"{folder}: it is known of {len(page)} spoken calls what was said{of_this_job}, which "
            f"is too few to know a voice by; mark or correct at least {FEWEST} with 'companion "
            f"review {folder.name}'."
        )
    return page


def _judged(state: State) -> Mapping[int, ev.Reviewed]:
    """By record number of what was heard, the last judgement of whether it was heard rightly."""
    return {
        review.event.heard: review.event
        for review in state.reviews
        if review.event.heard is not None
        and review.event.judgement != "note-confirmed"
        and not _of_the_value_alone(review.event, state)
    }


def _of_the_value_alone(review: ev.Reviewed, state: State) -> bool:
    """Whether a corrected value came of several calls at the bench: then the correction does not
    tell what was said in any single one."""
    if review.judgement != "corrected" or review.record == review.heard:
        return False
    place = state.place(review.record)
    told = (f for f in state.facts if f.place == place and f.event.reviewed is None)
    return sum(1 for _ in told) > 1


def _affirmed(records: Iterable[Record]) -> frozenset[int]:
    """By record number, the calls that were asked about and affirmed. Only the first reading
    counts, since a rival has other words."""
    found: set[int] = set()
    first: dict[int, ev.Asked] = {}
    asked: ev.Asked | None = None
    for record in records:
        event = record.event
        if event.reviewed is not None:
            continue
        if isinstance(event, ev.Asked):
            asked = event if event.about == "doubt" else None
            if asked is not None and asked.heard is not None:
                first.setdefault(asked.heard, asked)
        elif isinstance(event, ev.Answered):
            heard = None if asked is None or event.answer != "affirm" else asked.heard
            if asked is not None and heard is not None:
                same = asked.candidates[:1] == first[heard].candidates[:1]
                found.update({heard} if same else ())
            asked = None
    return frozenset(found)
