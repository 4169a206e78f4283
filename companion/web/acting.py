"""What a form of the review page asks for, and what comes of it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from companion.errors import CompanionError
from companion.web.reviewers import OpenReview, Outcome, Reviewer
from companion.web.shop import NoSession, Shop, View

Do = Literal["right", "wrong", "correct", "set-aside", "note", "move", "sign-off"]

DOINGS: dict[str, Do] = {
    "right": "right",
    "wrong": "wrong",
    "correct": "correct",
    "set-aside": "set-aside",
    "note": "note",
    "move": "move",
    "sign-off": "sign-off",
}

MOST_WORDS = 1000
"""Characters of a note or a call."""

MOST_WHY = 300
"""Characters of a reason."""

MOST_NAME = 60
"""Characters of a name."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What a form asks for.

    Attributes:
        do: What.
        record: Number of the record that it is about; 0 for a sign-off.
        text: The call that was really said, the words of a note, or the step of a photo.
        why: In a few words, or "".
        by: Who asks; "" where that is not known yet.
        last: Number of the last record that the page had.
        affirmed: Whether the question before it is affirmed.
        read: That question, as it was read; "" where there was none, which affirms nothing.
        despite: Whether it is wanted even if the call was changed meanwhile.
    """

    do: Do
    record: int
    text: str
    why: str
    by: str
    last: int
    affirmed: bool
    read: str
    despite: bool


@dataclass(frozen=True, slots=True)
class Came:
    """What came of a wish.

    Attributes:
        kind: ``recorded``; ``needs-affirm``; ``refused``; ``who``, where a name is wanted first;
            ``meanwhile``, where the call was changed since the page was loaded; ``failed``.
        text: A sentence or two to show.
    """

    kind: Literal["recorded", "needs-affirm", "refused", "who", "meanwhile", "failed"]
    text: str


def wish_of(fields: Mapping[str, str], by: str) -> Wish | None:
    """Return what a form asks for; None where it is no form of ours.

    Args:
        fields: As they came.
        by: Who looks things over, as it was told before; a field ``by`` has the word.
    """
    for mark in ("right", "wrong"):
        # Buttons of the list: the field's name says what to do, its value with which call.
        if mark in fields and "do" not in fields:
            fields = {**fields, "do": mark, "record": fields[mark]}
    do = DOINGS.get(fields.get("do", ""))
    if do is None:
        return None
    return Wish(
        do=do,
        record=_number(fields.get("record")),
        text=words_of(fields.get("text"), MOST_WORDS),
        why=words_of(fields.get("why"), MOST_WHY),
        by=words_of(fields.get("by") or by, MOST_NAME),
        last=_number(fields.get("last")),
        affirmed=fields.get("affirmed") == "yes",
        read=fields.get("read", ""),
        despite=fields.get("despite") == "yes",
    )


class Acting:
    """Carries wishes out, one after the other."""

    def __init__(self, shop: Shop, open_review: OpenReview, now: Callable[[], datetime]) -> None:
        """Act on the sessions of a shop.

        Args:
            shop: Finds and reads them.
            open_review: Opens one for writing.
            now: The time, with its offset from UTC.
        """
        self._shop = shop
        self._open_review = open_review
        self._now = now
        self._one_at_a_time = threading.Lock()

    def act(self, key: str, wish: Wish) -> Came:
        """Carry a wish out, or say why not; whatever fails, nothing that was recorded is lost.

        Raises:
            NoSession: If there is no such session.
        """
        if not wish.by:
            return Came("who", "Say once who looks the calls over; it is kept with each record.")
        with self._one_at_a_time:
            try:
                view = self._shop.view(key)
                if wish.do in ("correct", "set-aside", "note") and not wish.despite:
                    changed = changed_meanwhile(view, wish.record, wish.last)
                    if changed:
                        return Came("meanwhile", changed)
                with self._open_review(view.folder) as reviewer:
                    outcome = _carried_out(reviewer, wish, self._now())
            except NoSession:
                raise
            except CompanionError as error:
                return Came("failed", str(error))
        return Came(outcome.kind, outcome.text)


def changed_meanwhile(view: View, record: int, last: int) -> str:
    """Return what was done to a call after the last record that a page had; "" if nothing was.

    Args:
        view: The session as it is now.
        record: Number of what was heard.
        last: Number of the last record that the page had; 0 where it did not say.
    """
    turn = view.call(record)
    if turn is None or not last:
        return ""
    told = [
        f"{looked.by} at {looked.at:%H:%M}: {looked.words}"
        for looked in turn.looked
        if looked.seq > last
    ]
    told += [
        f"№ {line.by}: “{line.text}” is {line.gone}"
        for line in turn.lines
        if line.by is not None and line.by > last and not told
    ]
    return "; ".join(told)


def _carried_out(reviewer: Reviewer, wish: Wish, at: datetime) -> Outcome:
    match wish.do:
        case "right":
            return reviewer.right(wish.record, by=wish.by, at=at)
        case "wrong":
            return reviewer.wrong(wish.record, by=wish.by, why=wish.why, at=at)
        case "correct":
            return reviewer.correct(
                wish.record,
                wish.text,
                by=wish.by,
                why=wish.why,
                at=at,
                affirmed=wish.affirmed,
                read=wish.read,
            )
        case "set-aside":
            return reviewer.set_aside(
                wish.record,
                by=wish.by,
                why=wish.why,
                at=at,
                affirmed=wish.affirmed,
                read=wish.read,
            )
        case "note":
            return reviewer.note(wish.record, wish.text, by=wish.by, why=wish.why, at=at)
        case "move":
            return reviewer.move_photo(wish.record, wish.text, by=wish.by, why=wish.why, at=at)
        case "sign-off":
            return reviewer.sign_off(by=wish.by, at=at)


def _number(text: str | None) -> int:
    with suppress(ValueError):
        if text is not None and text.isascii() and text.isdecimal() and len(text) < 12:
            return int(text)
    return 0


def words_of(text: str | None, most: int) -> str:
    """Return words with single spaces between them, and nothing that no keyboard types.

    Args:
        text: As it came.
        most: Characters kept of it.
    """
    shown = "".join(sign if sign.isprintable() else " " for sign in text or "")
    return " ".join(shown.split())[:most]
