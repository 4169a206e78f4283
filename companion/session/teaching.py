"""Watches what failed in a session and how it was then said, to tell whether a way of one's own is
worth offering.

It sees the records of one session only; at its end everything is forgotten but the ways that were
affirmed and kept.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from companion.grammar.compiled import CallGrammar
from companion.grammar.own_phrases import Way
from companion.grammar.phrases import Words, holds
from companion.intent.learned import spoken_words, way_between
from companion.intent.text import typed_words
from companion.job.events import Answered, Asked, Heard
from companion.job.record import Record

SOON = timedelta(seconds=60)
"""How long after it failed a call is taken for the same call in other words; our own figure."""

REMEMBERED = 40
"""How many failed calls are kept in mind."""


@dataclass(frozen=True, slots=True)
class _Failed:
    """Words that were not understood, or were taken for something else."""

    at: datetime
    words: Words


class Teaching:
    """Remembers what failed.

    Args:
        mending: Actions that end a danger; no way is offered for them.
    """

    def __init__(self, mending: Collection[str]) -> None:
        self._mending = mending
        self._failed: list[_Failed] = []
        self._fresh = False
        self._doubted: tuple[Heard, CallGrammar] | None = None
        self._asked: Asked | None = None
        self._offered: set[Way] = set()

    def take_in(self, records: Iterable[Record], grammar: CallGrammar) -> None:
        """Take in what one happening brought."""
        happened = tuple(records)
        answered = any(isinstance(record.event, Answered) for record in happened)
        for record in happened:
            match record.event:
                case Heard() as heard:
                    self._take_in_heard(heard, record.at, grammar, answered=answered)
                case Answered(answer=answer):
                    self._take_in_answer(answer, record.at)
                case Asked() as asked:
                    self._take_in_question(asked)

    def recall(self, records: Iterable[Record], grammar: CallGrammar) -> None:
        """Take in what many happenings brought, one record each, from the beginning.

        Only what is still kept in mind at their end is searched for words: a resumed session takes
        in its whole day at once.
        """
        failed: list[tuple[datetime, Heard]] = []
        since = 0
        for record in records:
            # Asking for the kind of a model costs time, and most records are of none of these
            # kinds.
            if type(record.event) not in (Heard, Answered, Asked):
                continue
            match record.event:
                case Heard(outcome="say-again") as heard:
                    failed.append((record.at, heard))
                case Heard(outcome="ask") as heard:
                    self._doubted = (heard, grammar)
                case Heard(outcome="record"):
                    since = len(failed)
                case Answered(answer=answer):
                    asked, self._asked = self._asked, None
                    doubted = answer == "negative" and asked is not None and asked.about == "doubt"
                    if doubted and self._doubted is not None:
                        failed.append((record.at, self._doubted[0]))
                case Asked() as event:
                    self._take_in_question(event)
                case _:
                    pass
        kept: list[_Failed] = []
        while failed and len(kept) < REMEMBERED:
            at, heard = failed.pop()
            words = _words_of(heard, grammar)
            if words:
                self._fresh = self._fresh or len(failed) >= since
                kept.append(_Failed(at, words))
        self._failed = kept[::-1]

    def offer(self, recorded: Sequence[str], at: datetime, grammar: CallGrammar) -> Way | None:
        """Return the way that the call now recorded suggests, once each.

        Args:
            recorded: The sentence of the grammar that is recorded.
            at: When.
            grammar: The active one.
        """
        if not self._fresh or not self._failed or at - self._failed[-1].at > SOON:
            return None
        way = way_between(self._failed[-1].words, recorded, grammar, self._mending)
        if way is None or way in self._offered:
            return None
        said = way.own_words
        if sum(holds(failed.words, said) for failed in self._failed) < 2:
            return None
        self._offered.add(way)
        return way

    def _take_in_heard(
        self, heard: Heard, at: datetime, grammar: CallGrammar, *, answered: bool
    ) -> None:
        # Words are searched for only where they matter: a resumed session takes in its whole day at
        # once.
        match heard.outcome:
            case "say-again":
                self._note(at, _words_of(heard, grammar))
            case "ask":
                self._doubted = (heard, grammar)
            case "record" if not answered:
                self._fresh = False

    def _take_in_answer(self, answer: str, at: datetime) -> None:
        asked, self._asked = self._asked, None
        if answer == "negative" and asked is not None and asked.about == "doubt":
            self._note(at, () if self._doubted is None else _words_of(*self._doubted))

    def _take_in_question(self, event: Asked) -> None:
        self._asked = event
        if event.own is not None and event.plain is not None:
            self._offered.add(Way(event.own, event.plain))

    def _note(self, at: datetime, words: Words) -> None:
        if words:
            self._failed = [*self._failed[1 - REMEMBERED :], _Failed(at, words)]
            self._fresh = True


def _words_of(event: Heard, grammar: CallGrammar) -> Words:
    """What was said: of a call by voice the free draft, since the rest is held to the grammar."""
    text = event.text if event.engine == "typed" else event.draft
    words = typed_words(text)[0] if text else ()
    return spoken_words(words, grammar)
