"""Where the rooms meet: what happens comes in, records go to disk, then an answer goes out.

A ``Session`` is told what happened and when: an utterance, a typed call, the clock. It reads
no clock and plays no sound; whoever drives it (the live loop, a replay) speaks the ``Exchange`` it
gives back. Others may write into the same log: everything that happens is decided in a turn, after
what they wrote was taken in.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from companion.audio.utterance import Utterance
from companion.enroll.used_forms import used_by
from companion.enroll.ways_file import WaysFile
from companion.errors import CompanionError
from companion.files.plain import real_path
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.intent.decision import Listening, decide_utterance
from companion.intent.ending import pause_after
from companion.intent.frame import frame_of
from companion.intent.intents import Acknowledge
from companion.intent.interpret import understand
from companion.intent.outcome import Decision
from companion.intent.own_ways import Examined, examine
from companion.intent.suggested import take_instead
from companion.job import decide as job
from companion.job.answers import Answer, SayAgain
from companion.job.events import (
    Answered,
    AnyEvent,
    Asked,
    ElsewhereAcknowledged,
    Heard,
    JobClosed,
    JobParked,
    Rival,
    Said,
    Trouble,
)
from companion.job.folding.evolve import evolve, fold
from companion.job.mending import mending_actions
from companion.job.record import Record
from companion.job.state import State
from companion.job.steps import awaits_answer
from companion.job.undo import correctable
from companion.log.anew import go_on_anew
from companion.log.clips import Clip, keep_clip
from companion.log.lost import LogLost
from companion.log.machine_watch import MachineWatch
from companion.log.other_places import list_elsewhere
from companion.log.reader import read_log
from companion.log.writer import PATIENCE_SECONDS, LogBusy, LogWriter, require_clock
from companion.recognize.attempt import HearingFailed, attempt
from companion.recognize.protocol import Recognition, Recognizer
from companion.session.exchange import Considered, Exchange
from companion.session.other_timers import Elsewhere
from companion.session.own_grammar import grammar_of
from companion.session.teaching import Teaching
from companion.shelf.rules import shipped_rules
from companion.shelf.words import vocabulary_of
from companion.speak.wording import Reply, word, word_not_understood, word_trouble

ANSWER_WINDOW = timedelta(seconds=20)
"""How long after a question an answer needs no call sign."""

FAILURE_TOLD = timedelta(minutes=2)
"""A recognizer that goes on failing is told of in full no sooner than this after the last time; in
between it is only asked to say the call again."""

RIVALS_KEPT = 4
"""How many other hypotheses the log keeps beside the best."""


class Session:
    """One job at the bench: its log on disk, the state folded from it, and the grammar that is
    listened for."""

    def __init__(
        self,
        writer: LogWriter,
        state: State,
        *,
        opened: datetime,
        recognizer: Recognizer | None = None,
        open_mic: bool = False,
        own_ways: WaysFile | None = None,
    ) -> None:
        """Use ``open_session`` or ``resume_session``.

        Args:
            writer: The log, of this program while it lives.
            state: Folded from what the log holds.
            opened: When the session began.
            recognizer: The engine, or None where calls are only typed.
            open_mic: Whether a spoken call must begin with the call sign.
            own_ways: Where the ways of whoever works are kept, and a new one is put; None to take
                and offer none.
        """
        self.writer = writer
        self.state = state
        self.opened = opened
        self.open_mic = open_mic
        vocabulary = vocabulary_of(state.card, state.sheet, state.call_sign)
        self.own_ways = own_ways
        self.grammar: CallGrammar
        self.left_out: tuple[str, ...] = ()
        if own_ways is None:
            self.grammar = load_grammar(vocabulary)
        else:
            self.grammar, self.left_out = grammar_of(vocabulary, own_ways, state.rules.dangers)
        self._forms = None if own_ways is None else used_by(own_ways.person)
        self._used = {} if self._forms is None else self._forms.read()
        self._used_now: Counter[str] = Counter()
        self._mending = mending_actions(state.rules.dangers)
        self._teaching = Teaching(self._mending)
        self._offered: Examined | None = None
        self.recognizer = recognizer
        self.elsewhere: Elsewhere | None = None
        self.machine: MachineWatch | None = None
        self._told_of_failure: datetime | None = None
        self._untold: list[Record] = []
        self._left: set[Path] = set()
        self._went_on: Trouble | None = None
        self._told_on: list[Record] = []
        self._warning: str | None = None
        if recognizer is not None:
            recognizer.listen_for(self.grammar)

    def watch_elsewhere(self, elsewhere: Elsewhere) -> None:
        """Ring the timers of other jobs here from now on."""
        self.elsewhere = elsewhere
        self._leave_out()

    def watch_machine(self, machine: MachineWatch) -> None:
        """Take in what other jobs of the machine do to it, whenever the start is asked for."""
        self.machine = machine
        self._leave_out()

    @property
    def folder(self) -> Path:
        """The session folder."""
        return self.writer.folder

    def close(self) -> None:
        """Release the log, and keep which forms were used in it."""
        self.writer.close()
        if self._forms is not None:
            # They only help hearing: that they cannot be kept is no trouble of the job's.
            with suppress(CompanionError):
                self._forms.add(self._used_now)
            self._used_now.clear()

    # --- what can happen -------------------------------------------------------------------------
    def consider(self, utterance: Utterance, at: datetime) -> Considered | None:
        """Recognize an utterance that may not have ended; nothing is recorded. None where the
        recognizer fails: it is tried again when the utterance has ended.

        Args:
            utterance: So far, from the segmenter's draft.
            at: When its last speech ended.
        """
        listening = self.listening(at)
        try:
            recognition = self._recognize(utterance, listening)
        except HearingFailed:
            return None
        decision = decide_utterance(recognition, self.grammar, listening)
        seconds = utterance.speech_end - utterance.start
        pause = pause_after(decision, recognition, self.grammar, listening, seconds)
        return Considered(recognition, pause)

    def hear(
        self, utterance: Utterance, at: datetime, considered: Considered | None = None
    ) -> Exchange:
        """Take in an utterance.

        Args:
            utterance: From the segmenter.
            at: When it ended.
            considered: What ``consider`` made of its speech already; nothing came after that.

        Raises:
            CompanionError: If the log cannot be written; nothing is then acknowledged.
        """
        try:
            # It takes a while, and others may write meanwhile.
            recognition = (
                considered.recognition
                if considered
                else self._recognize(utterance, self.listening(at))
            )
        except HearingFailed as error:
            with self._turn(at):
                return self._not_heard(utterance, error, at)
        with self._turn(at):
            return self._recognized(utterance, recognition, at)

    def _recognized(self, utterance: Utterance, recognition: Recognition, at: datetime) -> Exchange:
        listening = self.listening(at)
        decision = decide_utterance(recognition, self.grammar, listening)
        # Talk that is not for the companion leaves no trace of what was said: no words, no sound.
        kept = decision.outcome != "ignore"
        clip = self._keep_clip(utterance.samples) if kept else None
        take = take_instead(decision, recognition.draft, self.grammar)
        heard = Heard(
            text=decision.text,
            engine=recognition.engine,
            confidence=round(decision.confidence, 4),
            call_confidence=round(recognition.call_confidence, 4),
            rivals=_rivals(recognition, decision) if kept else (),
            clip=None if clip is None else clip.path,
            clip_sha256=None if clip is None else clip.sha256,
            draft=recognition.draft if kept else None,
            outcome=decision.outcome,
            reasons=(*decision.reasons, *utterance.troubles),
            decode_seconds=round(recognition.decode_seconds, 4),
            take=take,
        )
        return self._act(heard, decision, at)

    def typed(self, text: str, at: datetime) -> Exchange:
        """Take in a typed call.

        Raises:
            CompanionError: If the log cannot be written; nothing is then acknowledged.
        """
        with self._turn(at):
            return self._typed(text, at)

    def _typed(self, text: str, at: datetime) -> Exchange:
        decision = understand(text, self.grammar, self.listening(at, spoken=False))
        heard = Heard(
            text=text.strip(),
            engine="typed",
            confidence=decision.confidence,
            call_confidence=1.0,
            outcome=decision.outcome,
            reasons=decision.reasons,
            take=take_instead(decision, None, self.grammar),
        )
        return self._act(heard, decision, at)

    @property
    def more_to_say(self) -> bool:
        """Whether pieces of the last answer are left, which ``tick`` brings one by one."""
        return bool(self.state.unsaid)

    def next_deadline(self) -> datetime | None:
        """When ``tick`` will next bring something, or None."""
        cut = self.state.cut
        return job.next_deadline(self.state) if cut is None else cut.at

    def tick(self, at: datetime) -> Exchange | None:
        """Let the clock bring what is due by ``at``: the next piece of an answer, or else at most
        one ring a call; None when nothing is."""
        if not (self.more_to_say or self._due(at)):
            # Other logs are read for it: not while this one is held.
            rang = None if self.elsewhere is None else self.elsewhere.due(at)
            if rang is None:
                return None
            with self._turn(at):
                return self._record(None, (rang,), (), at)
        with self._turn(at):
            if self.state.unsaid:
                piece, *rest = self.state.unsaid
                reply = Reply("none", piece.text, rest=tuple(rest))
                return self._go_on(reply, at)
            if not self._due(at):
                # Somebody else has quieted the timer.
                return None
            response = job.ring_timers(self.state, at)
            return self._record(None, response.events, response.answers, at)

    def _due(self, at: datetime) -> bool:
        deadline = self.next_deadline()
        return deadline is not None and deadline <= at

    def trouble(self, what: str, at: datetime) -> Exchange:
        """Keep and say that something around the program failed: a device lost, say."""
        event = Trouble(what=what)
        with self._turn(at):
            return self._record(None, (event,), (), at, self._then_the_rest(word_trouble(what)))

    def open(self, at: datetime) -> Exchange:
        """Say what stands at the start: hanging tags first, overdue timers, the current step."""
        with self._turn(at):
            response = job.opening(self.state, at=at)
            return self._record(None, response.events, response.answers, at)

    def catch_up(self, at: datetime) -> Exchange | None:
        """Take in what others wrote into the log, and tell of it where it changes what counts.

        To be called about once a second: where nothing was written it costs one look at the file.

        Returns:
            Their records, and what was recorded and is said for them; None where there is nothing,
            or where somebody is writing just now.

        Raises:
            CompanionError: If the log cannot be written, nor a new one in its place.
        """
        if not (self._untold or self._warning or self.writer.grown):
            return None
        try:
            with self._turn(at, patience=0.0):
                told = self._tell(at)
                return self._record(None, (), (), at) if told is None and self._warning else told
        except LogBusy:
            return None

    def recover(self, mark: int, at: datetime) -> tuple[Record, ...]:
        """Stand by what the log says, after something failed that nobody thought of: nothing that
        was worked out before it counts.

        Args:
            mark: Number that the next record had before what failed was begun.
            at: When.

        Returns:
            The records of this program from there on: they are on the disk, whatever failed after.

        Raises:
            CompanionError: As ``typed``.
        """
        with self._log_alone() as news:
            records = read_log(self.folder).records
            self.state = fold(records, shipped_rules())
            self._untold.extend(news)
        self._teaching = Teaching(self._mending)
        self.recall(records)
        if self.elsewhere is not None:
            self.elsewhere = Elsewhere(self.folder)
            self._leave_out()
        others = {record.seq for record in self._untold}
        return tuple(each for each in records[mark - 1 :] if each.seq not in others)

    def _recognize(self, utterance: Utterance, listening: Listening) -> Recognition:
        if self.recognizer is None:
            raise CompanionError(
                "This session has no recognizer; start it again with one, or type the calls."
            )
        return attempt(self.recognizer, utterance.samples, listening.call_sign_needed)

    def _not_heard(self, utterance: Utterance, error: HearingFailed, at: datetime) -> Exchange:
        """Keep the sound of what the recognizer failed at, and say so; the next call may do."""
        try:
            clip = self._keep_clip(utterance.samples)
        except MemoryError:
            clip = None
        heard = Heard(
            text="",
            engine="" if self.recognizer is None else self.recognizer.name,
            confidence=0.0,
            call_confidence=0.0,
            clip=None if clip is None else clip.path,
            clip_sha256=None if clip is None else clip.sha256,
            outcome="say-again",
            reasons=(error.reason, *utterance.troubles),
        )
        told = self._told_of_failure
        reply = word_trouble(str(error))
        if told is not None and at - told < FAILURE_TOLD:
            reply = word_not_understood(())
        else:
            self._told_of_failure = at
        event = Trouble(what=str(error))
        return self._record(heard, (event,), (), at, self._then_the_rest(reply))

    # --- what others wrote -----------------------------------------------------------------------
    @contextmanager
    def _log_alone(self, patience: float = PATIENCE_SECONDS) -> Iterator[list[Record]]:
        """Have the log alone, a new one where it is lost, and give what others wrote."""
        with ExitStack() as alone:
            try:
                news = alone.enter_context(self.writer.turn(patience))
            except LogLost as lost:
                self._go_on_anew(lost)
                news = alone.enter_context(self.writer.turn(patience))
            yield news

    @contextmanager
    def _turn(self, at: datetime, patience: float = PATIENCE_SECONDS) -> Iterator[None]:
        """Have the log alone, and know everything that is in it."""
        require_clock(at)
        with self._log_alone(patience) as news:
            # First of all: whatever fails from here on, they are still to be told.
            self._untold.extend(news)
            for record in news:
                self.state = evolve(self.state, record)
            for record in self._append([], at):
                self.state = evolve(self.state, record)
            recovered = self.writer.recovered()
            if recovered is not None:
                for record in self._append([Trouble(what=recovered)], at):
                    self.state = evolve(self.state, record)
                    self._untold.append(record)
            yield

    def _append(self, events: Sequence[AnyEvent], at: datetime) -> list[Record]:
        """Write events; where their log is lost, into a new one, after which stands what happened.

        Raises:
            CompanionError: If they can be written nowhere.
        """
        try:
            records = self.writer.append(events, at)
        except LogLost as lost:
            self._go_on_anew(lost)
            records = self.writer.append(events, at)
        if self._went_on is None:
            return records
        told = self.writer.append([self._went_on], at)
        self._went_on = None
        self._told_on += told
        return [*records, *told]

    def _go_on_anew(self, lost: LogLost) -> None:
        """Go on in a new log beside the one that is lost: it gets every record that was ever
        acknowledged, and the state stands as it is.

        Raises:
            CompanionError: If it can be written nowhere.
        """
        before = self.writer
        last = before.next_seq - 1
        anew = go_on_anew(before, sorted(self._left))
        self.writer = anew.writer
        before.close()
        what = (
            f"The log in {before.folder} {lost.how} while in use, and is left as it is. All "
            f"records up to {last} stand in {anew.writer.folder}, where the job goes on."
        )
        warning = f"The log {lost.how}. Every record is kept: the job goes on in a new log."
        if anew.for_now:
            what += " Copy that folder to a disk of yours before the computer is switched off."
            warning = (
                f"The log {lost.how}. The job goes on in a folder for now: copy it before the "
                "computer is switched off."
            )
        if anew.lacking:
            what += f" {anew.lacking} clips or photos could not be taken along."
        self._went_on = Trouble(what=what, left=str(real_path(before.folder)))
        self._warning = warning
        self._left |= {real_path(before.folder), real_path(anew.writer.folder)}
        self._leave_out()
        # It is found by its path in any case.
        with suppress(CompanionError):
            name = None if self.machine is None else self.machine.identity.name
            list_elsewhere(self.folder, name)

    def _leave_out(self) -> None:
        """Let nothing of the logs that this one goes on in place of count as another session's."""
        for folder in self._left:
            if self.elsewhere is not None:
                self.elsewhere.leave_out(folder)
            if self.machine is not None:
                self.machine.leave_out(folder)

    def _warned(self, reply: Reply | None) -> Reply | None:
        """Put what happened to the log before an answer, once."""
        warning, self._warning = self._warning, None
        if warning is None:
            return reply
        if reply is None:
            return self._then_the_rest(Reply("warning", warning))
        return replace(reply, tone="warning", text=f"{warning} {reply.text}")

    def _tell(self, at: datetime) -> Exchange | None:
        """Give what others wrote, once, with what follows from it."""
        news = tuple(self._untold)
        if not news:
            return None
        response = job.beside(self.state, [record.event for record in news], at=at)
        reply = word(self.state, response.events, response.answers, beside=news)
        if reply is not None:
            reply = self._then_the_rest(reply)
        exchange = self._record(None, response.events, response.answers, at, reply)
        self._untold.clear()
        return replace(exchange, records=(*news, *exchange.records))

    # --- how it is handled -----------------------------------------------------------------------
    def listening(self, at: datetime, *, spoken: bool = True) -> Listening:
        """What the decision about an utterance at this time needs to know."""
        asked_at = self.state.question.at if self.state.question is not None else None
        name, unit = correctable(self.state) or (None, None)
        answering = asked_at is not None and at - asked_at <= ANSWER_WINDOW
        return Listening(
            call_sign_needed=spoken and self.open_mic and not answering,
            # Whoever types "yes" to no question is told so; who is heard to say it may not mean us.
            answer_awaited=asked_at is not None
            or not spoken
            or awaits_answer(self.state) is not None,
            ounce=self.state.ounce,
            expectations=job.expectations(self.state),
            correcting=name,
            correcting_unit=unit,
            awaited=job.awaited(self.state),
            used=self._used,
            open_mic=spoken and self.open_mic,
        )

    def _count_form(self, decision: Decision) -> None:
        """Take in that a form was used; the plain ones weigh most without being counted."""
        words = decision.text.split()
        if not self.grammar.is_usual(words):
            form = frame_of(words, self.grammar)
            if form:
                self._used_now[form] += 1

    def _learn(self, decision: Decision, at: datetime) -> None:
        """Take in how the machine stands by its other sessions before the start is decided on."""
        if self.machine is None or decision.outcome != "record" or self.state.known is None:
            return
        question = self.state.question
        answers_it = question is not None and question.event.about in ("start", "clear-tag")
        intent = decision.intents[0].intent
        if intent != "start.check" and not (intent == "affirm" and answers_it):
            return
        known = self.machine.known(self.opened)
        before = self.state.known.event
        if (known.facts, known.unread) != (before.facts, before.unread):
            for record in self._append([known], at):
                self.state = evolve(self.state, record)

    def _act(self, heard: Heard, decision: Decision, at: datetime) -> Exchange:
        self._learn(decision, at)
        number = self.writer.next_seq
        match decision.outcome:
            case "record":
                intent = decision.intents[0]
                if heard.engine != "typed":
                    self._count_form(decision)
                response = job.decide(
                    self.state,
                    intent,
                    at=at,
                    heard=number,
                    clip=heard.clip,
                    clip_sha256=heard.clip_sha256,
                )
                taught = self._taught(response.events) or self._offer(decision, response, at)
                if taught:
                    events = (*response.events, *taught)
                    return self._record(heard, events, response.answers, at)
                if isinstance(intent, Acknowledge):
                    quieted = self._acknowledge_elsewhere(at, number)
                    events = (*response.events, *quieted)
                    return self._record(heard, events, response.answers, at)
            case "ask":
                response = job.ask(self.state, decision.intents, at=at, heard=number)
            case "say-again":
                reply = word_not_understood(decision.reasons, heard.take)
                return self._record(heard, (), (), at, self._then_the_rest(reply))
            case "ignore":
                return self._record(heard, (), (), at)
        return self._record(heard, response.events, response.answers, at)

    def _offer(
        self, decision: Decision, response: job.Response, at: datetime
    ) -> tuple[AnyEvent, ...]:
        """Ask whether words that failed before are a way to say what is recorded now, unless
        something else is asked."""
        state = self.state
        if self.own_ways is None or state.question or state.standby or state.parked or state.closed:
            return ()
        if any(isinstance(event, Asked | JobParked | JobClosed) for event in response.events):
            return ()
        way = self._teaching.offer(decision.text.split(), at, self.grammar)
        if way is None:
            return ()
        # Before the question, so that nobody affirms what cannot be kept.
        examined = examine(way, self.grammar, self._mending)
        if examined.refusal is not None:
            return ()
        self._offered = examined
        return (Asked(about="own-way", own=way.own, plain=way.plain, heard=self.writer.next_seq),)

    def _taught(self, events: Sequence[AnyEvent]) -> tuple[AnyEvent, ...]:
        """Take a way that was affirmed from now on, and keep it; what failed of that is told."""
        question = self.state.question
        affirmed = any(isinstance(each, Answered) and each.answer == "affirm" for each in events)
        if question is None or question.event.about != "own-way" or not affirmed:
            return ()
        examined = self._offered
        if examined is None or examined.grammar is None or self.own_ways is None:
            return ()
        self.grammar = examined.grammar
        try:
            if self.recognizer is not None:
                self.recognizer.listen_for(self.grammar)
            self.own_ways.keep(examined.way)
        except CompanionError as error:
            return (Trouble(what=f"For this session only: {error}"),)
        return ()

    def recall(self, records: Iterable[Record]) -> None:
        """Take in what failed, what was offered, and which logs were left, before this program was
        started."""
        for record in records:
            self._teaching.take_in((record,), self.grammar)
            self._left |= left_by((record,))
        self._leave_out()

    def _acknowledge_elsewhere(self, at: datetime, heard: int) -> tuple[ElsewhereAcknowledged, ...]:
        """Quiet the timers of other jobs that ring here. Their own logs come first: what is
        acknowledged here is then known to be on disk there, or said not to be."""
        if self.elsewhere is None:
            return ()
        return tuple(
            ElsewhereAcknowledged(
                session=watched.folder.name,
                machine=watched.machine,
                name=watched.timer.name,
                kept=kept,
                heard=heard,
            )
            for watched, kept in self.elsewhere.acknowledge(at)
        )

    def _record(
        self,
        heard: Heard | None,
        events: Sequence[AnyEvent],
        answers: Sequence[Answer],
        at: datetime,
        reply: Reply | None = None,
    ) -> Exchange:
        """Write everything that one happening brought in one synced append; the state moves on
        only after it."""
        state = self.state
        before = self.writer.next_seq
        written: list[AnyEvent] = [*([heard] if heard is not None else []), *events]
        for seq, event in enumerate(written, start=before):
            state = evolve(state, Record(seq, at, event))
        if reply is None:
            reply = word(state, events, answers, self._cautions_left(events, answers))
        reply = self._warned(reply)
        if reply is not None:
            said = Said(
                text=reply.text,
                tone=reply.tone,
                source=reply.source,
                heard=before if heard is not None else None,
                rest=reply.rest,
            )
            written.append(said)
            state = evolve(state, Record(before + len(written) - 1, at, said))
        records = tuple(self._append(written, at)) if written else ()
        for record in records[len(written) :]:
            state = evolve(state, record)
        self.state = state
        self._teaching.take_in(records, self.grammar)
        return self._exchange(heard, records, reply)

    def _exchange(
        self, heard: Heard | None, records: tuple[Record, ...], reply: Reply | None
    ) -> Exchange:
        """Give what a happening came to, and with it what happened to the log meanwhile."""
        told = tuple(record for record in self._told_on if record not in records)
        self._told_on.clear()
        return Exchange(heard=heard, records=(*told, *records), reply=self._warned(reply))

    def _go_on(self, reply: Reply, at: datetime) -> Exchange:
        """Say a further piece of an answer; it belongs to the same call."""
        cut = self.state.cut
        reply = self._warned(reply) or reply
        said = Said(
            text=reply.text,
            tone=reply.tone,
            heard=None if cut is None else cut.event.heard,
            rest=reply.rest,
            goes_on=True,
        )
        records = tuple(self._append([said], at))
        for record in records:
            self.state = evolve(self.state, record)
        return self._exchange(None, records, reply)

    def _then_the_rest(self, reply: Reply) -> Reply:
        """What is no answer to a call takes nothing away from the answer that it came between."""
        return replace(reply, rest=(*reply.rest, *self.state.unsaid))

    def _cautions_left(
        self, events: Sequence[AnyEvent], answers: Sequence[Answer]
    ) -> tuple[str, ...]:
        """Of what is still unsaid, the cautions: a step can be asked for again, and nobody asks for
        a caution that was never heard."""
        if not (events or answers) or any(isinstance(each, SayAgain) for each in answers):
            return ()
        return tuple(text for piece in self.state.unsaid for text in piece.cautions)

    def _keep_clip(self, samples: NDArray[np.float32]) -> Clip:
        try:
            return keep_clip(self.folder, self.writer.next_seq, samples)
        except LogLost as lost:
            self._go_on_anew(lost)
            return keep_clip(self.folder, self.writer.next_seq, samples)


def _rivals(recognition: Recognition, decision: Decision) -> tuple[Rival, ...]:
    others = [h for h in recognition.hypotheses if h.text != decision.text]
    return tuple(
        Rival(text=h.text, confidence=round(h.confidence, 4)) for h in others[:RIVALS_KEPT]
    )


def left_by(records: Iterable[Record]) -> set[Path]:
    """Folders whose logs were lost, and this one goes on in place of."""
    return {
        Path(record.event.left)
        for record in records
        if isinstance(record.event, Trouble) and record.event.left is not None
    }
