"""The calls that a session listens for: the grammar of its job with the ways of whoever works, and
what is learnt of those meanwhile."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from contextlib import suppress
from datetime import datetime

from companion.enroll.used_forms import used_by
from companion.enroll.ways_file import WaysFile
from companion.errors import CompanionError
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.intent.frame import frame_of
from companion.intent.outcome import Decision
from companion.intent.own_ways import Examined, examine
from companion.job.events import Answered, AnyEvent, Asked, JobClosed, JobParked, Trouble
from companion.job.mending import mending_actions
from companion.job.record import Record
from companion.job.state import State
from companion.recognize.protocol import Recognizer
from companion.session.own_grammar import grammar_of
from companion.session.teaching import Teaching
from companion.shelf.words import vocabulary_of


class ListenedFor:
    """The active grammar, which grows by the ways that are affirmed.

    Args:
        state: Of the job at its start: its words are listened for.
        own_ways: Where the ways of whoever works are kept, and a new one is put; None to take and
            offer none.

    Attributes:
        grammar: The active one.
        left_out: A sentence for each way that does not fit the job.
        own_ways: As given.
    """

    def __init__(self, state: State, own_ways: WaysFile | None) -> None:
        vocabulary = vocabulary_of(state.card, state.sheet, state.call_sign)
        self.own_ways = own_ways
        self.grammar: CallGrammar
        self.left_out: tuple[str, ...] = ()
        if own_ways is None:
            self.grammar = load_grammar(vocabulary)
        else:
            self.grammar, self.left_out = grammar_of(vocabulary, own_ways, state.rules.dangers)
        self._forms = None if own_ways is None else used_by(own_ways.person)
        self.used: Mapping[str, int] = {} if self._forms is None else self._forms.read()
        """How often each form of a call was used before this session."""
        self._used_now: Counter[str] = Counter()
        self._mending: Collection[str] = mending_actions(state.rules.dangers)
        self._teaching = Teaching(self._mending)
        self._offered: Examined | None = None

    def count(self, decision: Decision) -> None:
        """Take in that a form was used; the plain ones weigh most without being counted."""
        words = decision.text.split()
        if not self.grammar.is_usual(words):
            form = frame_of(words, self.grammar)
            if form:
                self._used_now[form] += 1

    def keep_counts(self) -> None:
        """Keep which forms were used."""
        if self._forms is not None:
            # The counts only help hearing: not being able to keep them must not disturb the job.
            with suppress(CompanionError):
                self._forms.add(self._used_now)
            self._used_now.clear()

    def take_in(self, records: Iterable[Record]) -> None:
        """Take in what one happening brought: what failed may be said in other words later."""
        self._teaching.take_in(records, self.grammar)

    def recall(self, records: Iterable[Record]) -> None:
        """Learn from these records alone what failed and what was offered; each record is one
        happening."""
        self._teaching = Teaching(self._mending)
        self._teaching.recall(records, self.grammar)

    def offer(
        self,
        state: State,
        decision: Decision,
        decided: Iterable[AnyEvent],
        *,
        at: datetime,
        heard: int,
    ) -> tuple[AnyEvent, ...]:
        """Ask whether words that failed before are a way to say what is recorded now, unless
        something else is asked.

        Args:
            state: Before the call.
            decision: What the call is.
            decided: What is recorded for it.
            at: When.
            heard: Number of the record of what was heard.

        Returns:
            The question, or nothing.
        """
        if self.own_ways is None or state.question or state.standby or state.parked or state.closed:
            return ()
        if any(isinstance(event, Asked | JobParked | JobClosed) for event in decided):
            return ()
        way = self._teaching.offer(decision.text.split(), at, self.grammar)
        if way is None:
            return ()
        # Checked before the question, so that nobody affirms what cannot be kept.
        examined = examine(way, self.grammar, self._mending)
        if examined.refusal is not None:
            return ()
        self._offered = examined
        return (Asked(about="own-way", own=way.own, plain=way.plain, heard=heard),)

    def taught(
        self, state: State, decided: Iterable[AnyEvent], recognizer: Recognizer | None
    ) -> tuple[AnyEvent, ...]:
        """Take a way that was affirmed from now on, and keep it; what failed of that is told.

        Args:
            state: Before the call.
            decided: What is recorded for it.
            recognizer: That is to listen for it; None where calls are only typed.
        """
        question = state.question
        affirmed = any(isinstance(each, Answered) and each.answer == "affirm" for each in decided)
        if question is None or question.event.about != "own-way" or not affirmed:
            return ()
        examined = self._offered
        if examined is None or examined.grammar is None or self.own_ways is None:
            return ()
        self.grammar = examined.grammar
        try:
            if recognizer is not None:
                recognizer.listen_for(self.grammar)
            self.own_ways.keep(examined.way)
        except CompanionError as error:
            return (Trouble(what=f"For this session only: {error}"),)
        return ()
