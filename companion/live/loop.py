"""The live loop: microphone, key, typed line and clock, one after the other, to one session."""

from __future__ import annotations

import queue
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import datetime

from companion.audio.utterance import Interim, Utterance
from companion.live.ears import Ears
from companion.live.happenings import Device, Happening, Key, Line
from companion.live.hints import Hints
from companion.live.last_resort import (
    END_AFTER,
    HOW_TO_END,
    UNSURE,
    Failures,
    ends_session,
    what_stands,
)
from companion.live.progress import Progress
from companion.live.talked_over import Spot
from companion.live.watchdog import Watched
from companion.log.cannot_record import LogBusy
from companion.log.live_status import LiveSign, Mode
from companion.recognize.spotting import SpotsCallSign
from companion.session.exchange import Considered, Exchange
from companion.session.session import Session
from companion.speak.voice import Voice
from companion.speak.wording import Reply, word_trouble

IDLE_SECONDS = 1.0
"""Longest wait between two looks at the clock; the progress line moves at this pace."""
BETWEEN_SECONDS = 0.8
"""How long the microphone is open between two pieces of an answer; if somebody begins to speak in
it, the rest waits."""
HELD_SECONDS = 6.0
"""How long the rest of an answer waits at most, for speech under way or for a pressed key: noise
that passes for speech must not keep a caution from being said."""

MODES: dict[str, Mode] = {
    "ready": "typed",
    "listening": "listening",
    "waits for the key": "key",
    "speaking": "speaking",
    "no microphone": "no microphone",
}
"""What other programs are told of the loop; while it thinks it still listens."""


def now() -> datetime:
    """Wall-clock time with the shop's own offset."""
    return datetime.now().astimezone()


class LiveLoop:
    """Takes happenings off a queue and drives a session until the job is parked or closed.

    Args:
        session: Just opened or resumed.
        voice: Speaks the replies.
        show: Prints an exchange.
        progress: Shows what is going on; None where standard error is no terminal.
        sign: Tells other programs that this one runs, and whether it listens.
        clock: Gives the time; the wall clock at the bench.

    Attributes:
        watched: What may fail beside the session and is looked after.
    """

    def __init__(
        self,
        session: Session,
        voice: Voice,
        show: Callable[[Exchange], None],
        *,
        progress: Progress | None = None,
        sign: LiveSign | None = None,
        clock: Callable[[], datetime] = now,
    ) -> None:
        self.session = session
        self.voice = voice
        self.show = show
        self.progress = progress
        self.sign = sign
        self.clock = clock
        self.happenings: queue.SimpleQueue[Happening] = queue.SimpleQueue()
        self.ears: Ears | None = None
        self._answered_at = clock()
        self._caught_up_at = clock()
        self._pressed = False
        self._let_in = False
        self._cut: Reply | None = None
        self._hints = Hints()
        self._considered: tuple[int, Considered] | None = None
        self.watched: list[Watched] = []
        self._failures = Failures(session.folder)
        self._mark = session.writer.next_seq
        self._unsure = False

    def run(self) -> None:
        """Go on until the job is parked or closed, the typed input ends, or Ctrl-C."""
        # The loop may go on with another job, in which nothing has failed yet.
        self._failures = Failures(self._failures.folder)
        if not self._done("opening", self._open):
            # Reports what hangs, once more, before anybody works.
            self._done("opening", self._open)
        while not (self.session.state.parked or self.session.state.closed):
            self._look(self._doing())
            try:
                happening = self.happenings.get(timeout=self._wait())
            except queue.Empty:
                happening = None
            if isinstance(happening, Line) and happening.text is None:
                self._done("the clock", self._ring)
                self._last_look()
                return
            self.take(happening)
        while self.session.more_to_say and self._done("the clock", self._ring):
            pass
        self._last_look()

    def _open(self) -> None:
        self._failures.folder = self.session.folder
        self._answer(self.session.open(self.clock()))

    def _last_look(self) -> None:
        self._done("what others wrote", self._catch_up)
        self._done("what runs beside", self._look_after)

    def take(self, happening: Happening | None) -> None:
        """Let one thing happen, and before it whatever the clock brings; None for the clock
        alone."""
        try:
            self._take(happening)
        except LogBusy as error:
            print(f"companion: {error}", file=sys.stderr)
            self._say(word_trouble("The log is held by another program, say it again"))

    def _take(self, happening: Happening | None) -> None:
        if not self._rest_waits(happening):
            self._done("the clock", self._ring)
        self._pressed = isinstance(happening, Key)
        if happening is not None:
            called = isinstance(happening, Utterance | Line)
            doing = "a call" if called else type(happening).__name__.lower()
            self._done(doing, lambda: self._handle(happening), called=called)
        if self._may_catch_up(happening):
            self._done("what others wrote", self._catch_up)
            self._done("what runs beside", self._look_after)

    def _handle(self, happening: Happening) -> None:
        match happening:
            case Utterance():
                self._look("thinking")
                considered = self._considered_already(happening)
                exchange = self.session.hear(happening, self.clock(), considered)
                if exchange.heard is not None and exchange.heard.outcome in ("record", "ask"):
                    # The call has taken the place of what it cut short.
                    self._cut = None
                self._answer(exchange)
                self._hint(happening, exchange)
            case Interim():
                self._consider(happening)
            case Key():
                self._cut = None
                if self.ears is not None and not self._let_in:
                    self.ears.open_once()
                self._let_in = False
            case Line(text=text):
                if text and text.strip():
                    self._answer(self.session.typed(text, self.clock()))
            case Device(sentence=sentence):
                self._tell(sentence)

    def _tell(self, sentence: str) -> None:
        self._answer(self.session.trouble(sentence, self.clock()))
        print(f"companion: {sentence}", file=sys.stderr)

    def _look_after(self) -> None:
        """Start again what ended beside the session, and tell of it."""
        for each in self.watched:
            for sentence in each.news():
                self._tell(sentence)

    # --- the last resort -------------------------------------------------------------------------
    def _done(self, doing: str, work: Callable[[], None], *, called: bool = False) -> bool:
        """Do one thing, and go on whatever it raises; what ends a session still does.

        Args:
            doing: What it is, in our own words.
            work: The thing.
            called: Whether somebody waits for an answer to a call; it is then tried each time, else
                left alone for a while where it failed again and again.

        Returns:
            Whether it was done: what it recorded is on the disk.
        """
        if not called and self._failures.left_alone(doing, self.clock()):
            return False
        began = self._mark
        try:
            if self._unsure:
                self._stand_by_the_log()
            began = self._mark = self.session.writer.next_seq
            work()
        except Exception as error:
            if ends_session(error):
                raise
            return self._went_wrong(error, doing, called=called and self._mark == began)
        self._failures.went_well(doing)
        return True

    def _went_wrong(self, error: Exception, doing: str, *, called: bool) -> bool:
        """Write a crash file, go back to what the log says, and say what is true now; whether
        something of it stands."""
        at = self.clock()
        file = self._failures.write(error, doing, at)
        row = self._failures.count(doing, at)
        with suppress(OSError, ValueError):
            kept = "" if file is None else f"; where, but not what was said, is in {file}"
            print(f"companion: {type(error).__name__} at {doing}{kept}.", file=sys.stderr)
        self._unsure = True
        try:
            records = self.session.recover(self._mark, at)
        except Exception as again:
            if ends_session(again):
                raise
            self._failures.write(again, "going back to the log", at)
            self._only_say(UNSURE if row < END_AFTER else f"{UNSURE} {HOW_TO_END}")
            return False
        self._unsure = False
        if self._failures.folder != self.session.folder:
            # The log was lost as well: nothing could be written to its old place, or nobody would
            # look there.
            self._failures.folder = self.session.folder
            if file is None:
                self._failures.write(error, doing, at)
        sentence = what_stands(records, called=called)
        if row >= END_AFTER and (called or row == END_AFTER):
            sentence = f"{sentence} {HOW_TO_END}" if called else HOW_TO_END
        elif row > 1 and not called and not records:
            return False
        if doing == "interim" and row < END_AFTER:
            # The utterance is recognized again when it has ended.
            return False
        self._say_all_the_same(sentence)
        return bool(records)

    def _stand_by_the_log(self) -> None:
        """Go back to what the log says, where that failed before."""
        records = self.session.recover(self._mark, self.clock())
        self._unsure = False
        self._mark = self.session.writer.next_seq
        if records:
            self._tell(what_stands(records, called=False))

    def _say_all_the_same(self, sentence: str) -> None:
        """Record and say a sentence; where it cannot be recorded, say it, where that fails, print
        it."""
        try:
            self._tell(sentence)
        except Exception as error:
            if ends_session(error) and not isinstance(error, LogBusy):
                raise
            self._unsure = True
            self._only_say(sentence)

    def _only_say(self, sentence: str) -> None:
        """Say and print a sentence; nothing is written while it is not known what the log says."""
        with suppress(Exception):
            print(f"companion: {sentence}", file=sys.stderr)
            self._say(word_trouble(sentence))

    def _wait(self) -> float:
        """How long the next happening is waited for, in seconds: never no time at all for what
        failed just now."""
        try:
            wait = self._patience()
        # What fails here fails again when the clock is handled, and is reported there.
        except Exception:
            return IDLE_SECONDS
        return IDLE_SECONDS if self._failures.left_alone("the clock", self.clock()) else wait

    def _may_catch_up(self, happening: Happening | None) -> bool:
        """Whether nobody speaks, so that it may be told what was written beside; noise that passes
        for speech holds it back for a while only."""
        if happening is None and not (self.ears is not None and self.ears.hearing):
            return True
        return (self.clock() - self._caught_up_at).total_seconds() >= HELD_SECONDS

    def _catch_up(self) -> None:
        exchange = self.session.catch_up(self.clock())
        self._caught_up_at = self.clock()
        if exchange is not None:
            self._answer(exchange)

    def press(self) -> None:
        """Take a press of the key, from whatever thread: what is being said ends at once, for the
        loop itself waits while the companion speaks."""
        self._let_in = self.ears is not None and self.ears.let_in()
        self.voice.hush()
        self.happenings.put(Key())

    def _doing(self) -> str:
        if self.ears is None:
            return "ready"
        if self.ears.lost:
            return "no microphone"
        return "listening" if self.ears.wanted else "waits for the key"

    def _rest_waits(self, happening: Happening | None) -> bool:
        """Whether what is left of an answer is held back for a call, made or under way."""
        if self.ears is None or not (self.session.more_to_say or self._cut):
            return False
        if happening is not None and not isinstance(happening, Interim):
            return True
        held = (self.clock() - self._answered_at).total_seconds()
        return (self.ears.hearing or self._cut is not None) and held < HELD_SECONDS

    def _hint(self, utterance: Utterance, exchange: Exchange) -> None:
        """Say how to speak, where a call was too loud or too near the noise."""
        if exchange.heard is None or self.session.more_to_say or self.session.state.standby:
            return
        hint = self._hints.after(utterance, exchange.heard, self.clock())
        if hint is not None:
            self._answer(self.session.trouble(hint, self.clock()))

    def _consider(self, interim: Interim) -> None:
        """Recognize in the pause what may be the whole call, and end the pause by what it is."""
        if self.ears is None or not self.ears.waits_for(interim):
            return
        utterance = self.ears.guarded(interim.utterance)
        considered = self.session.consider(utterance, self.clock())
        if considered is not None:
            self._considered = (interim.number, considered)
            self.ears.end_after(interim, considered.pause)

    def _considered_already(self, utterance: Utterance) -> Considered | None:
        number, considered = self._considered or (None, None)
        return considered if number is not None and utterance.interim == number else None

    def _patience(self) -> float:
        if self.ears is not None and (self.session.more_to_say or self._cut):
            return HELD_SECONDS if self._pressed else BETWEEN_SECONDS
        deadline = self.session.next_deadline()
        if deadline is None:
            return IDLE_SECONDS
        return min(IDLE_SECONDS, max(0.0, (deadline - self.clock()).total_seconds()))

    def _ring(self) -> None:
        if self._cut is not None:
            # The call sign stopped it, and no call came.
            cut, self._cut = self._cut, None
            self._say(replace(cut, tone="none"))
            if self._cut is not None or (self.ears is not None and self.session.more_to_say):
                return
        while (exchange := self.session.tick(self.clock())) is not None:
            self._answer(exchange)
            if self.ears is not None and self.session.more_to_say:
                # The microphone is opened before the next piece.
                return

    def _answer(self, exchange: Exchange) -> None:
        self.show(exchange)
        if exchange.reply is not None:
            self._say(exchange.reply)
        # The exchange is shown and said: a failure from here on takes nothing of it back.
        self._mark = self.session.writer.next_seq

    def _say(self, reply: Reply) -> None:
        self._look("speaking")
        # What the microphone hears while the companion speaks is its own voice, mostly.
        if self.ears is not None:
            with self.ears.talked_over(self._spot(), self.voice.hush) as interrupted:
                self.voice.say(reply)
            if interrupted.by_call_sign:
                self._cut = reply
                self.session.cut_short(reply)
        else:
            self.voice.say(reply)
        self._answered_at = self.clock()

    def _spot(self) -> Spot | None:
        """What looks for the call sign while the companion speaks; None where nothing can."""
        ears = self.session.recognizer
        return ears.spot if self.session.open_mic and isinstance(ears, SpotsCallSign) else None

    def _look(self, doing: str) -> None:
        """Show what is going on; that it cannot be shown keeps nothing from being said."""
        at = self.clock()
        if self._failures.left_alone("the screen", at):
            return
        try:
            if self.sign is not None and doing in MODES:
                if self.sign.folder != self.session.folder:
                    # The log was lost, and the session goes on in another folder.
                    self.sign.close()
                    self.sign = LiveSign(self.session.folder)
                    self._failures.folder = self.session.folder
                self.sign.show(MODES[doing], at)
            if self.progress is not None:
                self.progress.draw(doing, self.session, at)
        except Exception as error:
            if ends_session(error):
                raise
            self._failures.write(error, "the screen", at)
            self._failures.count("the screen", at)
        else:
            self._failures.went_well("the screen")
