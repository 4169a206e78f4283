"""Review after the job: calls marked, corrected, set aside and confirmed, as records of the log.

Others, the bench or another page, may write to the log at the same time: before a ``Reviewer``
decides anything it takes in what they wrote, and what it decides is written in one append.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from types import TracebackType
from typing import Literal, Self

from companion.errors import CompanionError
from companion.grammar.compiled import CallGrammar
from companion.intent.intents import Note
from companion.intent.interpret import understand
from companion.intent.outcome import Listening
from companion.job import events as ev
from companion.job.decide import expectations
from companion.job.events import AnyEvent
from companion.job.expected import awaited, tenfold_words
from companion.job.folding.evolve import evolve, fold
from companion.job.record import Record
from companion.job.review import Said, confirm_note, correct, mark, set_aside
from companion.job.review_photo import is_photo, move_photo, set_photo_aside
from companion.job.review_turn import Change, Looked, NotReviewed
from companion.job.reviewed_call import ReviewedCall, find_call
from companion.job.state import State
from companion.log.folded import folded_log
from companion.log.identity import SeveralMachines, identity_of
from companion.log.in_use import is_live
from companion.log.machine_watch import MachineWatch
from companion.log.signatures import sign_log
from companion.log.writer import LogWriter
from companion.review.kept import ASKED, QUESTIONS_KEPT, WATCHES, WATCHES_KEPT, grammar_for, keep
from companion.review.told import besides, readback, told, why_not_understood
from companion.shelf.rules import shipped_rules
from companion.shelf.words import vocabulary_of
from companion.speak.numbers import number_words
from companion.speak.questions import question_phrase, which_number
from companion.speak.wording import word


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a review.

    Attributes:
        kind: ``recorded``; ``needs-affirm``, where something would come off the machine that holds
            the start, or what was typed is doubtful: nothing is recorded yet; ``refused``.
        text: The readback; what "affirm" would mean; or why not, in one sentence.
        records: What was written, in order.
    """

    kind: Literal["recorded", "needs-affirm", "refused"]
    text: str
    records: tuple[Record, ...] = ()


def open_review(folder: Path) -> Reviewer:
    """Review a session, whether or not somebody works at it.

    Args:
        folder: The session folder.

    Raises:
        CompanionError: If there is no log, it is damaged or from a newer version, or it cannot be
            written.
    """
    writer = LogWriter.beside(folder)
    try:
        return Reviewer(folder, writer)
    except BaseException:
        writer.close()
        raise


class Reviewer:
    """Somebody who looks over the log of one session; ``close`` it, or use it in ``with``.

    Attributes:
        folder: The session folder.
        state: Folded from the log, as far as it was taken in.
        records: The same, record by record.
    """

    def __init__(self, folder: Path, writer: LogWriter) -> None:
        """Use ``open_review``."""
        self.folder = folder
        self._writer = writer
        # Taken after the log was opened and read as a whole, so that no record is missed.
        log = folded_log(folder)
        self.records: list[Record] = list(log.records)
        self.state: State = log.state
        self._learned: tuple[AnyEvent, ...] = ()
        self._then: tuple[int, State] | None = None
        recovered = writer.recovered()
        if recovered is not None:
            with self._turn():
                self._write((ev.Trouble(what=recovered),), self.records[-1].at)

    @property
    def grammar(self) -> CallGrammar:
        """What could be said in the session: the words of its sheet and its card."""
        return grammar_for(vocabulary_of(self.state.card, self.state.sheet, self.state.call_sign))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the log."""
        self._writer.close()

    # --- what can be said of a call --------------------------------------------------------------
    def right(self, record: int, *, by: str, at: datetime) -> Outcome:
        """Say that a call was understood rightly; of several marks of one call the last counts.

        Args:
            record: Number of what was heard, or of what was recorded of it.
            by: Who says so.
            at: When, with its offset from UTC.

        Raises:
            CompanionError: If the log cannot be written; nothing of it is then recorded. So it is
                with all that follow.
        """
        return self._mark(record, "right", Looked(by, at))

    def wrong(self, record: int, *, by: str, why: str, at: datetime) -> Outcome:
        """Say that a call was misunderstood, without saying what it was; it changes nothing else.

        Args:
            record: Number of what was heard, or of what was recorded of it.
            by: Who says so.
            why: In a few words; may be empty.
            at: When.
        """
        return self._mark(record, "wrong", Looked(by, at, why))

    def correct(
        self,
        record: int,
        text: str,
        *,
        by: str,
        why: str,
        at: datetime,
        affirmed: bool = False,
        read: str | None = None,
    ) -> Outcome:
        """Put what was really said in the place of what was recorded.

        Args:
            record: Number of what was heard, or of what was recorded of it. Of a fact that was set
                aside or corrected, whatever stands in its place is corrected, or it counts again;
                of a call, what a later call at the bench made of it stands.
            text: The whole call that was really said, as it could be typed at the bench.
            by: Who corrects it.
            why: In a few words; may be empty.
            at: When.
            affirmed: The question that this put before is affirmed.
            read: The question that was read, where the page has it; it must still be the same.
                Left out, the one counts that was put last to ``by`` in this program.
        """
        looked = Looked(by, at, why)
        about = ("correct", str(record), " ".join(text.split()), by)
        # Done before the log is held, since it takes long and the bench would have to wait.
        grammar, known = self.grammar, self._known()
        self._as_it_was(find_call(self.records, record))
        try:
            with self._turn():
                call = self._answered(self._call(record, looked))
                state = self._learn(known, at)
                change = correct(state, call, self._understood(call, text, grammar), looked)
                outcome = self._decide(about, change, at, affirmed, read)
        except NotReviewed as error:
            return Outcome("refused", str(error))
        if outcome.kind != "recorded":
            return outcome
        return replace(outcome, text=outcome.text + besides(call, change, state))

    def set_aside(
        self,
        record: int,
        *,
        by: str,
        why: str,
        at: datetime,
        affirmed: bool = False,
        read: str | None = None,
    ) -> Outcome:
        """Let a call not count, or one thing that it recorded; of a correction that is named by its
        own number, what it had corrected counts again. So may a photo be set aside.

        Args:
            record: Number of what was heard, or of what was recorded of it, or of a photo.
            by: Who sets it aside.
            why: In a few words; may be empty.
            at: When.
            affirmed: As for ``correct``.
            read: As for ``correct``.
        """
        looked = Looked(by, at, why)
        if is_photo(self.records, record):
            return self._photo(record, looked, None)
        known = self._known()
        try:
            with self._turn():
                call = self._answered(self._call(record, looked))
                change = set_aside(self._learn(known, at), call, looked)
                about = ("set-aside", str(record), "", by)
                return self._decide(about, change, at, affirmed, read)
        except NotReviewed as error:
            return Outcome("refused", str(error))

    def move_photo(self, record: int, step: str, *, by: str, why: str, at: datetime) -> Outcome:
        """Let a photo stand at another step; its file stays as it is.

        Args:
            record: Number of the photo's record.
            step: Name of the step of the card; empty for none.
            by: Who moves it.
            why: In a few words; may be empty.
            at: When.
        """
        return self._photo(record, Looked(by, at, why), step)

    def note(self, record: int, text: str, *, by: str, why: str, at: datetime) -> Outcome:
        """Confirm the draft of a note, as it is or with other words.

        Args:
            record: Number of the note, or of what was heard.
            text: The words of the note.
            by: Who confirms it.
            why: In a few words; may be empty.
            at: When.
        """
        looked = Looked(by, at, why)
        try:
            with self._turn():
                call = self._call(record, looked)
                change = confirm_note(self.state, call, text, looked)
                written = readback(change.after, change.events)
                return Outcome("recorded", written, self._write(change.events, at))
        except NotReviewed as error:
            return Outcome("refused", str(error))

    def sign_off(self, *, by: str, at: datetime) -> Outcome:
        """Answer for the record as it stands; what is changed later shows as changed since.

        Args:
            by: Who.
            at: When.
        """
        if not by.strip():
            return Outcome("refused", _NOBODY)
        with self._turn():
            events: tuple[AnyEvent, ...] = (ev.SignedOff(by=by),)
            text = readback(self.state, events)
            drafts = sum(fact.event.draft for fact in self.state.effective(self.state.notes))
            if drafts:
                notes = "note is still a draft" if drafts == 1 else "notes are still drafts"
                text += f" {number_words(Decimal(drafts)).capitalize()} {notes}."
            written = self._write(events, at)
            try:
                sign_log(self.folder, at)
            except CompanionError as error:
                # The sign-off is recorded all the same.
                text += f" {error}"
            return Outcome("recorded", text, written)

    # --- how it is done --------------------------------------------------------------------------
    def _mark(self, record: int, judgement: Literal["right", "wrong"], looked: Looked) -> Outcome:
        try:
            with self._turn():
                call = self._call(record, looked)
                change = mark(self.state, call, judgement, looked)
                text = readback(change.after, change.events)
                return Outcome("recorded", text, self._write(change.events, looked.at))
        except NotReviewed as error:
            return Outcome("refused", str(error))

    def _photo(self, record: int, looked: Looked, step: str | None) -> Outcome:
        """Set a photo aside, or move it to a step."""
        try:
            with self._turn():
                if not looked.by.strip():
                    raise NotReviewed(_NOBODY)
                if not is_photo(self.records, record):
                    raise NotReviewed(f"Record {record} is no photo.")
                photo = self.records[record - 1]
                if step is None:
                    change, text = set_photo_aside(self.state, photo, looked), "Photo set aside."
                else:
                    change = move_photo(self.state, photo, step, looked)
                    where = f"to step {step.replace('-', ' ')}" if step else "away from its step"
                    text = f"Photo moved {where}."
                return Outcome("recorded", text, self._write(change.events, looked.at))
        except NotReviewed as error:
            return Outcome("refused", str(error))

    @contextmanager
    def _turn(self) -> Iterator[None]:
        """Have the log alone, with all that others wrote taken in."""
        with self._writer.turn() as news:
            self._take_in(news)
            yield

    def _take_in(self, records: Iterable[Record]) -> None:
        for record in records:
            # What came between opening the log and reading it is known already.
            if record.seq > self.state.seq:
                self.state = evolve(self.state, record)
                self.records.append(record)

    def _call(self, record: int, looked: Looked) -> ReviewedCall:
        """Find a call."""
        if not looked.by.strip():
            raise NotReviewed(_NOBODY)
        call = find_call(self.records, record)
        if call is None:
            there = 1 <= record <= len(self.records)
            what = "is of no call" if there else "is not in this log"
            raise NotReviewed(f"Record {record} {what}: name a call, or what was recorded of it.")
        return call

    def _answered(self, call: ReviewedCall) -> ReviewedCall:
        """Refuse a call that the bench is asking about just now: its answer would record what the
        call may have been once more."""
        question = self.state.question
        if (
            question is not None
            and question.event.about in ("doubt", "cannot-be")
            and call.heard is not None
            and question.event.heard == call.heard.seq
            and is_live(self._writer.folder)
        ):
            raise NotReviewed(
                "The bench is asking about this call just now: answer it there, then look again."
            )
        return call

    def _known(self) -> ev.MachineKnown | None:
        """What the other sessions of the machine say now: what comes off it comes off in all of
        them. None where nobody could know the machine again."""
        identity = identity_of(self.state)
        if self.state.known is None or identity is None:
            return None
        key = (self.folder.resolve(), identity)
        watch = WATCHES.get(key) or MachineWatch(identity, self.folder)
        keep(WATCHES, key, watch, WATCHES_KEPT)
        try:
            return watch.known(self.records[0].at)
        except SeveralMachines:
            # Which machine it is was said when the session was opened, and that holds.
            return None

    def _learn(self, known: ev.MachineKnown | None, at: datetime) -> State:
        """Take in what is new of the machine; it is written with the decision that it leads to."""
        before = self.state.known
        self._learned = ()
        if known is None or before is None:
            return self.state
        if (known.facts, known.unread) == (before.event.facts, before.event.unread):
            return self.state
        self._learned = (known,)
        return evolve(self.state, Record(self.state.seq + 1, at, known))

    def _as_it_was(self, call: ReviewedCall | None) -> State:
        """The state just before a call was made, folded once."""
        first = None if call is None else call.heard or call.fact
        before = 0 if first is None else first.seq - 1
        if self._then is None or self._then[0] != before:
            self._then = (before, fold(self.records[:before], shipped_rules()))
        return self._then[1]

    def _understood(self, call: ReviewedCall, text: str, grammar: CallGrammar) -> Said:
        """Understand what was really said as the bench would have when it was called."""
        then = self._as_it_was(call)
        corrected = next(iter(call.counting(self.state)), None)
        unit = getattr(corrected.event, "unit", None) if corrected is not None else None
        listening = Listening(
            answer_awaited=True,
            ounce=then.ounce,
            expectations=expectations(then),
            correcting_unit=unit,
            awaited=awaited(then),
        )
        decision = understand(text, grammar, listening)
        doubt = None
        if decision.outcome == "ask":
            doubt = tenfold_words(then, decision.intents)
            if doubt is None:
                # A typed call cannot be misheard, so that a value far from the sheet is no reason
                # for doubt.
                unexpected = replace(listening, expectations={})
                decision = understand(text, grammar, unexpected)
                if decision.outcome == "ask":
                    doubt = which_number(decision.intents)
        if decision.outcome not in ("record", "ask"):
            raise NotReviewed(why_not_understood(decision, grammar))
        intent = decision.intents[0]
        words = f"{intent.intent} {intent.text}" if isinstance(intent, Note) else decision.text
        return Said(words, intent, then, doubt)

    def _decide(
        self,
        about: tuple[str, ...],
        change: Change,
        at: datetime,
        affirmed: bool,
        read: str | None,
    ) -> Outcome:
        """Write a change, or ask for what it takes off the machine."""
        if change.asks:
            asked = " ".join(question_phrase(change.after, each).text for each in change.asks)
            key = (str(self.folder.resolve()), *about)
            if not affirmed or (ASKED.get(key) if read is None else read) != asked:
                keep(ASKED, key, asked, QUESTIONS_KEPT)
                return Outcome("needs-affirm", asked)
            ASKED.pop(key, None)
        said = word(change.after, told(change.events), change.answers)
        text = "" if said is None else said.whole
        return Outcome("recorded", text, self._write((*self._learned, *change.events), at))

    def _write(self, events: Sequence[AnyEvent], at: datetime) -> tuple[Record, ...]:
        records = tuple(self._writer.append(events, at))
        self._take_in(records)
        return records


_NOBODY = "Say who looks it over: there is no name."
