"""Where the rooms meet: what happens comes in, records go to disk, then an answer goes out.

A ``Session`` is told what happened and when: an utterance, a typed call, the clock. It reads
no clock and plays no sound; whoever drives it (the live loop, a replay) speaks the ``Exchange`` it
gives back. Others may write into the same log: everything that happens is decided in a turn, after
what they wrote was taken in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from companion.audio.utterance import Utterance
from companion.enroll.ways_file import WaysFile
from companion.errors import CompanionError
from companion.grammar.compiled import CallGrammar
from companion.intent.decision import Listening, decide_utterance
from companion.intent.ending import pause_after
from companion.intent.intents import Acknowledge
from companion.intent.interpret import understand
from companion.intent.outcome import Decision
from companion.intent.suggested import take_instead
from companion.job import decide as job
from companion.job.answers import Answer
from companion.job.events import (
    AnyEvent,
    ElsewhereAcknowledged,
    Heard,
    Said,
    Trouble,
)
from companion.job.folding.evolve import evolve, fold
from companion.job.record import Record
from companion.job.state import State
from companion.log.cannot_record import LogBusy, require_clock
from companion.log.log_file import PATIENCE_SECONDS
from companion.log.machine_watch import MachineWatch
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from companion.recognize.attempt import HearingFailed, attempt
from companion.recognize.protocol import Recognition, Recognizer
from companion.session.exchange import Considered, Exchange
from companion.session.heard_records import nothing_heard, sound_heard, text_heard
from companion.session.known_machine import news_of_machine
from companion.session.listened_for import ListenedFor
from companion.session.listening import HeardBefore, heard_before, how_to_listen
from companion.session.other_timers import OtherTimers
from companion.session.own_log import OwnLog, left_by
from companion.session.unsaid import cautions_left, then_the_rest, warned
from companion.shelf.rules import shipped_rules
from companion.speak.wording import Reply, word, word_not_understood, word_trouble

MOST_UNDER_TALK = 0.5
"""Seconds of a call under the companion's own voice from which it is asked about whatever it was
heard as: the voice stops sooner, unless computer or sound server are too busy, and then what is
left of it may turn a call into another (``docs/hearing.md``)."""
FAILURE_TOLD = timedelta(minutes=2)
"""A recognizer that goes on failing is reported in full again only after this time; in between,
only "say again" is said."""


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
        self.log = OwnLog(writer, self._leave_out)
        self.state = state
        self.opened = opened
        self.open_mic = open_mic
        self.listened_for = ListenedFor(state, own_ways)
        self.recognizer = recognizer
        self.other_timers: OtherTimers | None = None
        self.machine: MachineWatch | None = None
        # Of a machine that no sheet and no name was given for, once a call says which it is.
        self.watch_when_named: Callable[[State], MachineWatch | None] = lambda state: None
        self._told_of_failure: datetime | None = None
        self._untold: list[Record] = []
        self._cut_short: tuple[str, ...] = ()
        self._before: HeardBefore | None = None
        if recognizer is not None:
            recognizer.listen_for(self.grammar)

    def watch_other_timers(self, timers: OtherTimers) -> None:
        """Ring the timers of other jobs here from now on."""
        self.other_timers = timers
        self._leave_out(self.log.left)

    def watch_machine(self, machine: MachineWatch) -> None:
        """Take in what other jobs of the machine do to it, whenever the start is asked for."""
        self.machine = machine
        self.log.machine = machine.identity.name
        self._leave_out(self.log.left)

    @property
    def folder(self) -> Path:
        """The session folder."""
        return self.log.folder

    @property
    def writer(self) -> LogWriter:
        """The log that is written now: another one after it was lost."""
        return self.log.writer

    @property
    def grammar(self) -> CallGrammar:
        """What is listened for now."""
        return self.listened_for.grammar

    @property
    def left_out(self) -> tuple[str, ...]:
        """A sentence for each way of one's own that does not fit the job."""
        return self.listened_for.left_out

    def close(self) -> None:
        """Release the log, and keep which forms were used in it."""
        self.writer.close()
        self.listened_for.keep_counts()

    # --- what can happen -------------------------------------------------------------------------
    def consider(self, utterance: Utterance, at: datetime) -> Considered | None:
        """Recognize an utterance that may not have ended; nothing is recorded. None where the
        recognizer fails: it is tried again when the utterance has ended.

        Args:
            utterance: So far: the segmenter's interim utterance.
            at: When its last speech ended.
        """
        listening = self._listening_to(utterance, at)
        try:
            recognition = self._recognize(utterance, listening)
        except HearingFailed:
            return None
        decision = decide_utterance(recognition, self.grammar, listening)
        seconds = utterance.speech_end - utterance.start
        pause = pause_after(
            decision, recognition, self.grammar, listening, seconds, clear=utterance.clear
        )
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
            # Done before the log is held: it takes a while, and others may want to write meanwhile.
            recognition = (
                considered.recognition
                if considered
                else self._recognize(utterance, self._listening_to(utterance, at))
            )
        except HearingFailed as error:
            with self._turn(at):
                return self._not_heard(utterance, error, at)
        with self._turn(at):
            return self._recognized(utterance, recognition, at)

    def _recognized(self, utterance: Utterance, recognition: Recognition, at: datetime) -> Exchange:
        listening = self._listening_to(utterance, at)
        decision = decide_utterance(recognition, self.grammar, listening)
        if decision.outcome == "record" and utterance.under_talk > MOST_UNDER_TALK:
            reasons = (*decision.reasons, "said under the companion's own voice")
            decision = replace(decision, outcome="ask", reasons=reasons)
        # Talk that is not for the companion leaves no trace of what was said: no words, no sound.
        kept = decision.outcome != "ignore"
        clip = self.log.keep_clip(utterance.samples) if kept else None
        take = take_instead(decision, recognition.transcript, self.grammar)
        heard = sound_heard(utterance, recognition, decision, clip=clip, take=take)
        exchange = self._act(heard, decision, at)
        # Kept last: a call that was not written was not heard.
        self._before = heard_before(decision, self._before, at)
        return exchange

    def typed(self, text: str, at: datetime) -> Exchange:
        """Take in a typed call.

        Raises:
            CompanionError: If the log cannot be written; nothing is then acknowledged.
        """
        with self._turn(at):
            return self._typed(text, at)

    def _typed(self, text: str, at: datetime) -> Exchange:
        self._before = None
        decision = understand(text, self.grammar, self.listening(at, spoken=False))
        heard = text_heard(text, decision, take=take_instead(decision, None, self.grammar))
        return self._act(heard, decision, at)

    def cut_short(self, reply: Reply) -> None:
        """A call has cut a reply short: cautions in it follow the answer to that call, for nobody
        asks for a caution that was never heard."""
        self._cut_short = reply.cautions

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
            # It reads other logs, and so is not done while this one is held.
            rang = None if self.other_timers is None else self.other_timers.ring(at)
            if rang is None:
                return None
            with self._turn(at):
                return self._record(None, (rang,), (), at)
        with self._turn(at):
            if self.state.unsaid:
                piece, *rest = self.state.unsaid
                reply = Reply("none", piece.text, rest=tuple(rest), cautions=piece.cautions)
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
            return self._record(
                None, (event,), (), at, then_the_rest(word_trouble(what), self.state)
            )

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
        if not (self._untold or self.log.warns or self.writer.grown):
            return None
        try:
            with self._turn(at, patience=0.0):
                told = self._tell(at)
                return self._record(None, (), (), at) if told is None and self.log.warns else told
        except LogBusy:
            return None

    def recover(self, mark: int, at: datetime) -> tuple[Record, ...]:
        """Go back to what the log says, after an unexpected failure: nothing that was worked out
        before counts.

        Args:
            mark: Number that the next record had before what failed was begun.
            at: When.

        Returns:
            The records of this program from there on: they are on the disk, whatever failed after.

        Raises:
            CompanionError: As ``typed``.
        """
        with self.log.alone(PATIENCE_SECONDS) as news:
            records = read_log(self.folder).records
            self.state = fold(records, shipped_rules())
            self._untold.extend(news)
        if self.other_timers is not None:
            self.other_timers = OtherTimers(self.folder)
        self.recall(records)
        others = {record.seq for record in self._untold}
        return tuple(each for each in records[mark - 1 :] if each.seq not in others)

    def _recognize(self, utterance: Utterance, listening: Listening) -> Recognition:
        if self.recognizer is None:
            raise CompanionError(
                "This session has no recognizer; start it again with one, or type the calls."
            )
        return attempt(
            self.recognizer,
            utterance.samples,
            listening.call_sign_needed,
            number_alone=bool(listening.doubted),
        )

    def _not_heard(self, utterance: Utterance, error: HearingFailed, at: datetime) -> Exchange:
        """Keep the sound at which the recognizer failed, and say so; the next call may work."""
        try:
            clip = self.log.keep_clip(utterance.samples)
        except MemoryError:
            clip = None
        heard = nothing_heard(utterance, self.recognizer, error, clip=clip)
        told = self._told_of_failure
        reply = word_trouble(str(error))
        if told is not None and at - told < FAILURE_TOLD:
            reply = word_not_understood(())
        else:
            self._told_of_failure = at
        event = Trouble(what=str(error))
        return self._record(heard, (event,), (), at, then_the_rest(reply, self.state))

    # --- what others wrote -----------------------------------------------------------------------
    @contextmanager
    def _turn(self, at: datetime, patience: float = PATIENCE_SECONDS) -> Iterator[None]:
        """Have the log alone, and know everything that is in it."""
        require_clock(at)
        with self.log.alone(patience) as news:
            # Taken first: whatever fails from here on, these records are still to be reported.
            self._untold.extend(news)
            for record in news:
                self.state = evolve(self.state, record)
            for record in self.log.append([], at):
                self.state = evolve(self.state, record)
            recovered = self.writer.recovered()
            if recovered is not None:
                for record in self.log.append([Trouble(what=recovered)], at):
                    self.state = evolve(self.state, record)
                    self._untold.append(record)
            yield

    def _leave_out(self, left: Iterable[Path]) -> None:
        """Keep the logs that this one replaces from counting as other sessions."""
        for folder in left:
            if self.other_timers is not None:
                self.other_timers.leave_out(folder)
            if self.machine is not None:
                self.machine.leave_out(folder)

    def _warned(self, reply: Reply | None) -> Reply | None:
        """Put what happened to the log before an answer, once."""
        return warned(reply, self.log.take_warning(), self.state)

    def _tell(self, at: datetime) -> Exchange | None:
        """Give what others wrote, once, with what follows from it."""
        news = tuple(self._untold)
        if not news:
            return None
        response = job.beside(self.state, [record.event for record in news], at=at)
        reply = word(self.state, response.events, response.answers, beside=news)
        if reply is not None:
            reply = then_the_rest(reply, self.state)
        exchange = self._record(None, response.events, response.answers, at, reply)
        self._untold.clear()
        return replace(exchange, records=(*news, *exchange.records))

    # --- how it is handled -----------------------------------------------------------------------
    def listening(self, at: datetime, *, spoken: bool = True) -> Listening:
        """What the decision about an utterance at this time needs to know."""
        return how_to_listen(
            self.state,
            at,
            spoken=spoken,
            open_mic=self.open_mic,
            used=self.listened_for.used,
            before=self._before,
        )

    def _listening_to(self, utterance: Utterance, at: datetime) -> Listening:
        """The same for one utterance: over the companion's own voice even an answer needs the call
        sign, so that it never answers itself."""
        listening = self.listening(at)
        return replace(listening, call_sign_needed=True) if utterance.over_talk else listening

    def _act(self, heard: Heard, decision: Decision, at: datetime) -> Exchange:
        if self.machine is None and (named := self.watch_when_named(self.state)) is not None:
            self.watch_machine(named)
        known = news_of_machine(self.machine, self.opened, self.state, decision)
        for record in self.log.append([known], at) if known is not None else ():
            self.state = evolve(self.state, record)
        number = self.writer.next_seq
        match decision.outcome:
            case "record":
                intent = decision.intents[0]
                if heard.engine != "typed":
                    self.listened_for.count(decision)
                response = job.decide(
                    self.state,
                    intent,
                    at=at,
                    heard=number,
                    clip=heard.clip,
                    clip_sha256=heard.clip_sha256,
                )
                taught = self.listened_for.taught(
                    self.state, response.events, self.recognizer
                ) or self.listened_for.offer(
                    self.state, decision, response.events, at=at, heard=number
                )
                if taught:
                    events = (*response.events, *taught)
                    return self._record(heard, events, response.answers, at)
                if isinstance(intent, Acknowledge):
                    quieted = self._acknowledge_others(at, number)
                    events = (*response.events, *quieted)
                    return self._record(heard, events, response.answers, at)
            case "ask":
                response = job.ask(
                    self.state, decision.intents, at=at, heard=number, figure=decision.figure
                )
            case "say-again":
                reply = word_not_understood(decision.reasons, heard.take)
                return self._record(heard, (), (), at, then_the_rest(reply, self.state))
            case "ignore":
                return self._record(heard, (), (), at)
        return self._record(heard, response.events, response.answers, at)

    def recall(self, records: Iterable[Record]) -> None:
        """Take in what failed, what was offered, and which logs were left, before this program was
        started."""
        known = tuple(records)
        self.listened_for.recall(known)
        self.log.leave(left_by(known))
        self._leave_out(self.log.left)

    def _acknowledge_others(self, at: datetime, heard: int) -> tuple[ElsewhereAcknowledged, ...]:
        """Quiet the timers of other jobs that ring here. Their own logs come first: what is
        acknowledged here is then known to be on disk there, or said not to be."""
        if self.other_timers is None:
            return ()
        return tuple(
            ElsewhereAcknowledged(
                session=watched.folder.name,
                machine=watched.machine,
                name=watched.timer.name,
                kept=kept,
                heard=heard,
            )
            for watched, kept in self.other_timers.acknowledge(at)
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
            left = cautions_left(self.state, events, answers, self._cut_short)
            reply = word(state, events, answers, left)
            self._cut_short = ()
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
        records = tuple(self.log.append(written, at)) if written else ()
        for record in records[len(written) :]:
            state = evolve(state, record)
        self.state = state
        self.listened_for.take_in(records)
        return self._exchange(heard, records, reply)

    def _exchange(
        self, heard: Heard | None, records: tuple[Record, ...], reply: Reply | None
    ) -> Exchange:
        """Give what a happening came to, and with it what happened to the log meanwhile."""
        told = tuple(each for each in self.log.what_was_told() if each not in records)
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
        records = tuple(self.log.append([said], at))
        for record in records:
            self.state = evolve(self.state, record)
        return self._exchange(None, records, reply)
