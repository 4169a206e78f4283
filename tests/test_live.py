"""The live loop: sound, keys, typed lines and the clock, one after the other, to one session."""

from __future__ import annotations

import io
import queue
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from companion.audio.devices import MicrophoneUnavailable
from companion.audio.endpointing import Segmenter
from companion.audio.utterance import Interim, Utterance
from companion.files.sound_format import SAMPLE_RATE
from companion.job import events as ev
from companion.live import loop as live_loop
from companion.live.ears import Ears
from companion.live.happenings import Device, Happening, Key, Line
from companion.live.loop import LiveLoop
from companion.live.progress import ProgressLine
from companion.live.reading import read_lines
from companion.log.live_status import LiveSign, live_status
from companion.recognize.held import HeldRecognizer
from companion.session.exchange import Exchange
from companion.session.opening import open_session
from companion.session.session import Session
from companion.speak.voice import SilentVoice
from companion.speak.voice import VoiceUnavailable as NoVoice
from companion.speak.wording import Reply
from tests.sounds import Samples, pause, speak

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)


class Recorded:
    """Stands where the microphone does; the sound is real, and so is the loss of the device.

    Sound comes faster than from a microphone, so that each stretch waits, as a person does, until
    the companion has answered what came before.
    """

    def __init__(self, *stretches: Samples, waits: bool = True) -> None:
        self.waits = waits
        self.stretches = stretches
        self.paused = False
        self.answered = threading.Semaphore(0)
        self.name = "headset"
        self.overflows = 0

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        for sound in self.stretches:
            if self.waits and not self.answered.acquire(timeout=30.0):
                break
            for begin in range(0, len(sound), 480):
                yield sound[begin : begin + 480]
        raise MicrophoneUnavailable("The microphone 'headset' has stopped giving sound.")

    def pause(self) -> None:
        self.paused = True

    def resume(self) -> None:
        self.paused = False
        self.answered.release()

    def reopen(self) -> None:
        raise MicrophoneUnavailable("No microphone was found.")


class Listener(SilentVoice):
    """Notes what was said, and whether the microphone was closed meanwhile."""

    def __init__(self, microphone: Recorded | None = None) -> None:
        super().__init__(NoVoice("none"))
        self.said: list[str] = []
        self.deaf: list[bool] = []
        self._microphone = microphone

    def say(self, reply: Reply) -> None:
        self.said.append(reply.text)
        if self._microphone is not None:
            self.deaf.append(self._microphone.paused)


@cache
def recognizer() -> HeldRecognizer:
    return HeldRecognizer()


def session(folder: Path, *, spoken: bool = False) -> Session:
    ears = recognizer() if spoken else None
    return open_session(folder / "job", at=AT, recognizer=ears, open_mic=spoken)


def taken(out: queue.SimpleQueue[Happening]) -> list[Happening]:
    """What stands on the queue, but for interims."""
    waiting = [out.get_nowait() for _ in range(out.qsize())]
    return [one for one in waiting if not isinstance(one, Interim)]


def call(text: str) -> Samples:
    return np.concatenate((pause(1.0), speak(text, "rms"), pause(1.6)))


def test_utterances_from_the_microphone_become_records(tmp_path: Path) -> None:
    said = ("bench gap thirty thou", "bench tag no oil", "bench park job")
    microphone = Recorded(*map(call, said))
    voice = Listener(microphone)
    shown: list[Exchange] = []
    loop = LiveLoop(session(tmp_path, spoken=True), voice, shown.append, clock=lambda: AT)

    def end(_: float) -> bool:
        loop.happenings.put(Line(None))
        return True

    loop.ears = Ears(microphone, loop.happenings, wait=end)
    loop.ears.start()
    loop.run()
    kinds = [record.event.kind for exchange in shown for record in exchange.records]
    assert "reading" in kinds
    assert "tag.hung" in kinds
    assert kinds[-2:] == ["job.parked", "said"]
    # The companion never hears itself.
    assert voice.deaf
    assert all(voice.deaf)
    assert not microphone.paused


def test_a_lost_microphone_is_told_recorded_and_the_job_goes_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    voice = Listener()
    shown: list[Exchange] = []
    loop = LiveLoop(session(tmp_path), voice, shown.append, clock=lambda: AT)
    loop.happenings.put(Device("The microphone 'headset' has stopped giving sound."))
    read_lines(io.StringIO("gap thirty thou\n"), loop.happenings)
    loop.run()
    events = [record.event for exchange in shown for record in exchange.records]
    assert any(isinstance(event, ev.Trouble) and "headset" in event.what for event in events)
    assert any(isinstance(event, ev.ReadingRecorded) for event in events)
    assert "headset" in capsys.readouterr().err


class Unplugged(Recorded):
    """A microphone that is taken away after each stretch, and is there again at the third try."""

    def __init__(self, *stretches: Samples) -> None:
        super().__init__(*stretches, waits=False)
        self.tries = 0
        self._left = list(stretches)

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        sound = self._left.pop(0)
        for begin in range(0, len(sound), 480):
            yield sound[begin : begin + 480]
        raise MicrophoneUnavailable("The microphone 'headset' has stopped giving sound.")

    def reopen(self) -> None:
        self.tries += 1
        if self.tries % 3 or not self._left:
            raise MicrophoneUnavailable("No microphone was found.")


def listened(microphone: Recorded, tries: int) -> tuple[list[Happening], list[float]]:
    """What ears make of a microphone that goes away, until they have waited so often for it."""
    out: queue.SimpleQueue[Happening] = queue.SimpleQueue()
    waits: list[float] = []

    def wait(seconds: float) -> bool:
        waits.append(seconds)
        return len(waits) > tries

    Ears(microphone, out, wait=wait, clock=lambda: 0.0)._listen()
    return taken(out), waits


def test_a_lost_microphone_is_tried_until_it_is_back_and_then_hears() -> None:
    said = np.concatenate((call("gap thirty thou"), call("gap thi")[: 2 * SAMPLE_RATE]))
    happened, waits = listened(Unplugged(said, call("tag no oil")), tries=8)
    assert [type(one) for one in happened] == [Utterance, Device, Device, Utterance, Device]
    sentences = [one.sentence for one in happened if isinstance(one, Device)]
    assert sentences == [
        "The microphone 'headset' has stopped giving sound.",
        "The microphone 'headset' gives sound again.",
        "The microphone 'headset' has stopped giving sound.",
    ]
    assert waits[:6] == [1.0, 2.0, 4.0, 8.0, 16.0, 30.0]


def test_a_microphone_that_opens_and_gives_nothing_is_not_back() -> None:
    happened, _ = listened(Unplugged(call("roger"), pause(0.0), pause(0.0)), tries=12)
    assert [type(one) for one in happened] == [Utterance, Device]


def test_a_muted_microphone_is_told_of_once() -> None:
    happened, _ = listened(Recorded(pause(60.0), waits=False), tries=0)
    assert [one.sentence for one in happened if isinstance(one, Device)] == [
        "The microphone gives silence; check that it is not muted.",
        "The microphone 'headset' has stopped giving sound.",
    ]


def test_a_lost_loudspeaker_is_told_once_and_so_is_its_return(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told_lost = "The loudspeaker 'desk' does not take any sound. Replies are printed."

    class Unplugged(Listener):
        """Takes the opening, then nothing for four answers, and tells of it as ``Watched`` does."""

        def __init__(self) -> None:
            super().__init__()
            self.untold: list[str] = []

        def say(self, reply: Reply) -> None:
            super().say(reply)
            lost = 1 < len(self.said) <= 5
            if lost != (self.trouble is not None):
                self.untold.append(told_lost if lost else "The loudspeaker takes sound again.")
            self.trouble = told_lost if lost else None

        def news(self) -> list[str]:
            news, self.untold = self.untold, []
            return news

    voice = Unplugged()
    shown: list[Exchange] = []
    loop = LiveLoop(session(tmp_path), voice, shown.append, clock=lambda: AT)
    loop.watched = [voice]
    calls = ("gap thirty thou", "gap thirty one thou", "gap thirty two thou", "engine running")
    read_lines(io.StringIO("\n".join(calls)), loop.happenings)
    loop.run()
    assert capsys.readouterr().err.splitlines() == [
        "companion: The loudspeaker 'desk' does not take any sound. Replies are printed.",
        "companion: The loudspeaker takes sound again.",
    ]
    troubles = [
        record.event.what
        for exchange in shown
        for record in exchange.records
        if isinstance(record.event, ev.Trouble)
    ]
    assert troubles == [
        "The loudspeaker 'desk' does not take any sound. Replies are printed.",
        "The loudspeaker takes sound again.",
    ]
    # To tell of it costs nothing of what was to be said.
    assert sum(text.count(REST) for text in voice.said) == 1


def test_while_the_microphone_is_away_timers_ring_and_its_return_is_said_and_recorded(
    tmp_path: Path,
) -> None:
    now = [AT]
    voice = Listener()
    shown: list[Exchange] = []

    def show(exchange: Exchange) -> None:
        shown.append(exchange)
        if any(isinstance(record.event, ev.TimerStarted) for record in exchange.records):
            loop.happenings.put(Device("The microphone 'headset' has stopped giving sound."))
            now[0] = AT + timedelta(minutes=16)
        if any(isinstance(record.event, ev.TimerRang) for record in exchange.records):
            loop.happenings.put(Device("The microphone 'headset' gives sound again."))
            read_lines(io.StringIO("roger\n"), loop.happenings)

    loop = LiveLoop(session(tmp_path), voice, show, clock=lambda: now[0])
    loop.happenings.put(Line("tag no oil"))
    loop.happenings.put(Line("start soak timer fifteen minutes"))
    loop.run()
    kinds = [
        record.event.kind
        for exchange in shown
        for record in exchange.records
        if record.event.kind.startswith(("t", "acknowledged"))
    ]
    assert kinds.count("trouble") == 2
    assert kinds.index("timer.rang") < len(kinds) - 1
    assert "timer.acknowledged" in kinds
    assert any("gives sound again" in text for text in voice.said)
    assert [tag.tag for tag in loop.session.state.tags] == ["no oil"]


def test_what_fails_while_listening_is_told_and_listening_goes_on() -> None:
    class Short(Segmenter):
        left = 3

        def feed(self, block: Samples) -> tuple[Utterance, ...]:
            if self.left:
                self.left -= 1
                raise MemoryError
            return super().feed(block)

    out: queue.SimpleQueue[Happening] = queue.SimpleQueue()
    sound = Recorded(call("tag no oil"), waits=False)
    Ears(sound, out, segmenter=Short(), wait=lambda _: True)._listen()
    failed, utterance, _ = taken(out)
    assert failed == Device("Listening failed (MemoryError); say it again.")
    assert isinstance(utterance, Utterance)


def test_push_to_talk_hears_one_utterance_a_press() -> None:
    sound = np.concatenate((call("gap thirty thou"), call("tag no oil")))
    out: queue.SimpleQueue[Happening] = queue.SimpleQueue()
    pressed = Ears(Recorded(sound, waits=False), out, push_to_talk=True, wait=lambda _: True)
    pressed.open_once()
    pressed._listen()
    heard = taken(out)
    assert [type(one) for one in heard] == [Utterance, Device]
    assert isinstance(heard[0], Utterance)
    # It is the first of the two, whole.
    assert heard[0].start < 1.0 + len(speak("gap thirty thou", "rms")) / SAMPLE_RATE

    nobody = Ears(Recorded(sound, waits=False), out, push_to_talk=True, wait=lambda _: True)
    nobody._listen()
    assert [type(one) for one in taken(out)] == [Device]


def test_timers_ring_between_calls_until_roger(tmp_path: Path) -> None:
    now = [AT]
    happened: list[ev.AnyEvent] = []

    def show(exchange: Exchange) -> None:
        happened.extend(record.event for record in exchange.records)
        if any(isinstance(record.event, ev.TimerStarted) for record in exchange.records):
            now[0] = AT + timedelta(minutes=16)

    loop = LiveLoop(session(tmp_path), Listener(), show, clock=lambda: now[0])
    read_lines(io.StringIO("start soak timer fifteen minutes\nroger\n"), loop.happenings)
    loop.run()
    timer = [event.kind for event in happened if event.kind.startswith("timer")]
    assert timer == ["timer.started", "timer.rang", "timer.acknowledged"]


# --- a long answer, said in pieces ---------------------------------------------------------------
FIRST = "Engine running. Caution. Exhaust kills without a smell"
REST = "Caution. Hair, sleeves and gloves"


class Around(Ears):
    """Ears at which something goes on whenever the loop looks whether it does."""

    def __init__(self, loop: LiveLoop, goes_on: Callable[[], bool]) -> None:
        super().__init__(Recorded(), loop.happenings)
        self.goes_on = goes_on

    @property
    def hearing(self) -> bool:
        return self.goes_on()


def heard_around(
    folder: Path, goes_on: Callable[[LiveLoop], bool], *calls: str, hours: list[datetime]
) -> list[str]:
    """What is said aloud to these calls, until the job is parked; after a caution that was left
    over, it is."""
    voice = Listener()

    def show(exchange: Exchange) -> None:
        if exchange.reply is not None and REST in exchange.reply.text:
            loop.happenings.put(Line("park job"))

    loop = LiveLoop(session(folder), voice, show, clock=lambda: hours[0])
    loop.ears = Around(loop, lambda: goes_on(loop))
    for each in calls:
        loop.happenings.put(Line(each))
    loop.run()
    return voice.said[1:]  # after the opening


def test_the_rest_follows_where_nobody_speaks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live_loop, "BETWEEN_SECONDS", 0.0)
    said = heard_around(tmp_path, lambda _: False, "engine running", hours=[AT])
    assert said[0].startswith(FIRST)
    assert said[1].startswith(REST)


def test_a_call_between_the_pieces_is_answered_before_the_rest(tmp_path: Path) -> None:
    said = heard_around(tmp_path, lambda _: False, "engine running", "gap thirty thou", hours=[AT])
    assert said[0].startswith(FIRST)
    assert said[1].startswith("Gap, thirty")
    # The caution that the call came before is said all the same.
    assert sum(text.count(REST) for text in said) >= 1


def test_the_rest_waits_for_who_has_begun_to_speak(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live_loop, "BETWEEN_SECONDS", 0.0)
    begun: list[LiveLoop] = []

    def speaks(loop: LiveLoop) -> bool:
        if not begun:
            loop.happenings.put(Line("gap thirty thou"))
        begun.append(loop)
        return len(begun) == 1

    said = heard_around(tmp_path, speaks, "engine running", hours=[AT])
    assert said[0].startswith(FIRST)
    assert said[1].startswith("Gap, thirty")


def test_a_key_pressed_while_it_speaks_opens_the_microphone_before_the_rest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live_loop, "BETWEEN_SECONDS", 0.0)
    voice = Listener()
    opened: list[int] = []

    class Pressed(Around):
        def open_once(self) -> None:
            opened.append(len(voice.said))
            loop.happenings.put(Line("park job"))

    def show(exchange: Exchange) -> None:
        if exchange.reply is not None and exchange.reply.text.startswith(FIRST):
            loop.happenings.put(Key())

    loop = LiveLoop(session(tmp_path), voice, show, clock=lambda: AT)
    loop.ears = Pressed(loop, lambda: False)
    loop.happenings.put(Line("engine running"))
    loop.run()
    assert voice.said[opened[0] - 1].startswith(FIRST)
    assert voice.said[opened[0]].startswith("Job parked. Caution. Hair, sleeves")


def test_noise_that_passes_for_speech_keeps_no_caution_from_being_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live_loop, "BETWEEN_SECONDS", 0.0)
    hours = [AT]

    def noise(loop: LiveLoop) -> bool:
        hours[0] += timedelta(seconds=1)
        return True

    said = heard_around(tmp_path, noise, "engine running", hours=hours)
    assert said[1].startswith(REST)
    assert timedelta(seconds=5) <= hours[0] - AT <= timedelta(seconds=8)


def test_the_line_is_not_drawn_over_what_is_being_typed(tmp_path: Path) -> None:
    running = session(tmp_path)
    screen = io.StringIO()
    line = ProgressLine(screen, prompt=" › ")
    line.draw("ready", running, AT)
    line.draw("ready", running, AT + timedelta(seconds=1))
    assert screen.getvalue().count("›") == 1
    line.clear()
    line.draw("ready", running, AT + timedelta(seconds=2))
    assert screen.getvalue().count("›") == 2


def test_the_progress_line_shows_what_runs_and_what_hangs(tmp_path: Path) -> None:
    running = session(tmp_path)
    running.typed("start soak timer two hours", AT)
    running.typed("tag no oil", AT)
    screen = io.StringIO()
    ProgressLine(screen, width=200).draw("listening", running, AT + timedelta(minutes=5))
    drawn = screen.getvalue()
    assert "[listening]" in drawn
    assert "soak 1:55:00" in drawn
    assert "no oil" in drawn


def test_other_programs_are_told_whether_it_listens(tmp_path: Path) -> None:
    microphone = Recorded()
    told: list[str | None] = []

    class Telling(Listener):
        def say(self, reply: Reply) -> None:
            tell()

    job = session(tmp_path)

    def tell(*_: Exchange) -> None:
        status = live_status(job.folder)
        assert status is not None
        told.append(status.mode)

    loop = LiveLoop(job, Telling(microphone), tell, sign=LiveSign(job.folder), clock=lambda: AT)
    calls = [Line("gap thirty thou"), Key(), Line("roger"), Line("tag no oil"), Line(None)]
    for happening in calls:
        loop.happenings.put(happening)
    loop.ears = Ears(microphone, loop.happenings, push_to_talk=True)
    loop.run()
    # The key is waited for, then what follows it is heard; while it speaks it hears nothing.
    assert told == [None, "speaking", "key", "speaking", "listening", "listening", "speaking"]
    loop.ears.lost = True
    loop.happenings.put(Line("gap thirty one thou"))
    loop.happenings.put(Line(None))
    told.clear()
    loop.run()
    assert told[-2:] == ["no microphone", "speaking"]
    job.close()
    assert live_status(job.folder) is None
