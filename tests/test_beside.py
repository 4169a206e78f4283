"""Recognizer, voice and board beside a session: each fails, hangs and comes back, and the session
goes on."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from companion.audio.utterance import Utterance
from companion.errors import CompanionError
from companion.job import events as ev
from companion.live import recognizer_beside, voice_beside
from companion.live.beside import Ended, Late, ProgramBeside
from companion.live.board_beside import BACK as BOARD_BACK
from companion.live.board_beside import GONE as BOARD_GONE
from companion.live.board_beside import BoardBeside
from companion.live.ears import Ears
from companion.live.happenings import Line
from companion.live.loop import LiveLoop
from companion.live.recognizer_beside import BACK, EngineFailed, RecognizerBeside
from companion.live.recognizer_program import Wanted
from companion.live.voice_beside import VoiceBeside
from companion.live.watchdog import Again
from companion.recognize import second as second_module
from companion.recognize.protocol import Hypothesis, Recognition, RecognizerUnavailable
from companion.recognize.second import SECOND_BACK, SECOND_GONE, WithSecond
from companion.session.opening import open_session
from companion.session.session import Session
from companion.settings import Settings
from companion.speak.voice import SilentVoice
from companion.speak.voice import VoiceUnavailable as NoVoice
from companion.speak.wording import Reply
from tests import ears_program, speaking_program
from tests.sounds import speak, with_pauses
from tests.test_live import Recorded

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
LONG = 60.0
"""A time that no test takes, in seconds."""


def until(true: Callable[[], bool]) -> None:
    """Wait until something is so that another program brings about."""
    end = time.monotonic() + LONG
    while not true():
        assert time.monotonic() < end
        os.sched_yield()


@dataclass
class Clock:
    """A clock that is set by hand."""

    at: float = 0.0

    def __call__(self) -> float:
        return self.at


def sound(what: float) -> Utterance:
    samples = np.zeros(16_000, dtype=np.float32)
    samples[0] = what
    return Utterance(samples, 0.0, 1.0)


# --- the recognizer ------------------------------------------------------------------------------
@pytest.fixture
def model(tmp_path: Path) -> Path:
    folder = tmp_path / "model"
    folder.mkdir()
    return folder


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def ears(model: Path, clock: Clock) -> Iterator[RecognizerBeside]:
    wanted = Wanted(Settings(), model=model)
    made = RecognizerBeside(wanted, module="tests.ears_program", clock=clock)
    yield made
    made.close()


@pytest.fixture
def session(ears: RecognizerBeside, tmp_path: Path) -> Iterator[Session]:
    opened = open_session(tmp_path / "job", at=AT, recognizer=ears)
    yield opened
    opened.close()


def said(session: Session, utterance: Utterance) -> str:
    reply = session.hear(utterance, AT).reply
    assert reply is not None
    return reply.text


def back(ears: RecognizerBeside) -> list[str]:
    """What it tells until it hears again."""
    told: list[str] = []

    def hears() -> bool:
        told.extend(ears.news())
        return BACK in told

    until(hears)
    return told


def test_what_it_hears_beside_is_what_it_hears(session: Session) -> None:
    assert said(session, sound(ears_program.HEARS)).startswith("Gap, thirty")


def test_what_it_raises_is_told_and_it_lives_on(ears: RecognizerBeside, session: Session) -> None:
    before = ears.pid
    assert "recognizer failed at that call" in said(session, sound(ears_program.RAISES))
    assert said(session, sound(ears_program.HEARS)).startswith("Gap, thirty")
    assert ears.pid == before
    with pytest.raises(EngineFailed, match="ValueError: bad shape"):
        ears.recognize(sound(ears_program.RAISES).samples)


@pytest.mark.parametrize(
    ("what", "how"),
    [(ears_program.HANGS, "did not answer"), (ears_program.BREAKS, "has ended")],
)
def test_a_call_at_which_it_hangs_or_breaks_is_asked_for_again_and_the_next_one_heard(
    what: float,
    how: str,
    ears: RecognizerBeside,
    session: Session,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    if what == ears_program.HANGS:
        monkeypatch.setattr(recognizer_beside, "HEAR_SECONDS", 0.05)
        monkeypatch.setattr(recognizer_beside, "TIMES_ITS_LENGTH", 0.0)
    before = ears.pid
    assert said(session, sound(what)) == (
        f"The recognizer {how} and is started again, say it again."
    )
    monkeypatch.undo()
    assert not session.state.readings
    (heard,) = (r.event for r in _records(session) if isinstance(r.event, ev.Heard))
    assert heard.outcome == "say-again"
    assert heard.clip is not None
    # Killed for certain.
    assert before is not None
    with pytest.raises(ProcessLookupError):
        os.kill(before, 0)
    assert back(ears) == [BACK]
    assert said(session, sound(ears_program.HEARS)).startswith("Gap, thirty")
    assert ears.news() == []


def test_one_that_is_stopped_by_others_is_told_killed_and_started_again(
    ears: RecognizerBeside, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert ears.pid is not None
    os.kill(ears.pid, signal.SIGSTOP)
    monkeypatch.setattr(recognizer_beside, "HEAR_SECONDS", 0.05)
    monkeypatch.setattr(recognizer_beside, "TIMES_ITS_LENGTH", 0.0)
    # So much sound does not fit into a pipe that nobody empties.
    long = Utterance(np.zeros(60 * 16_000, dtype=np.float32), 0.0, 60.0)
    assert "did not answer" in said(session, long)
    monkeypatch.undo()
    back(ears)
    assert said(session, sound(ears_program.HEARS)).startswith("Gap, thirty")


def test_one_that_is_killed_between_two_calls_is_told_and_back_before_the_next(
    ears: RecognizerBeside, session: Session
) -> None:
    assert ears.pid is not None
    os.kill(ears.pid, signal.SIGKILL)
    told: list[str] = []
    until(lambda: bool(told.extend(ears.news()) or told))
    assert told == ["The recognizer has ended and is started again. " + recognizer_beside.MEANWHILE]
    assert back(ears) == [BACK]
    assert said(session, sound(ears_program.HEARS)).startswith("Gap, thirty")


def test_a_model_that_is_gone_is_told_once_and_looked_for_until_it_is_back(
    ears: RecognizerBeside, session: Session, model: Path, clock: Clock
) -> None:
    model.rmdir()
    assert "has ended" in said(session, sound(ears_program.BREAKS))
    until(lambda: ears.pid is None or bool(ears.news()))
    # Again and again, at growing times; what is called meanwhile is not half heard.
    for _ in range(3):
        clock.at += 5.0
        until(lambda: not ears.news() and ears.pid is None)
        assert "is away" in said(session, sound(ears_program.HEARS)) or _say_again(session)
    assert not session.state.readings
    model.mkdir()
    clock.at += 200.0
    assert back(ears) == [BACK]
    assert said(session, sound(ears_program.HEARS)).startswith("Gap, thirty")


def _say_again(session: Session) -> bool:
    return _records(session)[-1].event.text == "Say again."  # type: ignore[union-attr]


def _records(session: Session) -> list:  # type: ignore[type-arg]
    from companion.log.reader import read_log

    return list(read_log(session.folder).records)


def test_what_fails_at_the_very_start_ends_the_command_with_its_sentence(tmp_path: Path) -> None:
    wanted = Wanted(Settings(), model=tmp_path / "none")
    with pytest.raises(CompanionError, match=r"The model in '.*none' is gone; put it back"):
        RecognizerBeside(wanted, module="tests.ears_program")
    with pytest.raises(RecognizerUnavailable, match="does not start"):
        RecognizerBeside(wanted, module="tests.no_such_program")


def test_the_recognizer_of_the_bench_hears_beside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A machine that runs other tests beside is slower than any bench.
    monkeypatch.setattr(recognizer_beside, "HEAR_SECONDS", LONG)
    monkeypatch.setattr(recognizer_beside, "WAIT_SECONDS", LONG)
    ears = RecognizerBeside(Wanted(Settings()))
    try:
        session = open_session(tmp_path / "job", at=AT, recognizer=ears)
        call = with_pauses(speak("tag no oil", "rms"))
        utterance = Utterance(call, 0.0, len(call) / 16_000)
        assert said(session, utterance).startswith("Tag hung")
        assert ears.pid is not None
        os.kill(ears.pid, signal.SIGKILL)
        assert "say it again" in said(session, utterance)
        assert back(ears) == [BACK]
        assert said(session, utterance).startswith("Tag no oil hangs already")
        session.close()
    finally:
        ears.close()


# --- the second recognizer -----------------------------------------------------------------------
class First:
    name = "first"

    def listen_for(self, grammar: object) -> None: ...

    def recognize(
        self, samples: object, *, call_sign_needed: bool = False, number_alone: bool = False
    ) -> Recognition:
        return Recognition(self.name, (Hypothesis("gap thirty thou", 0.0, 1.0),), 1.0, None, 0.0)

    def transcribe(self, samples: object) -> None: ...


class Second:
    """Hangs until the test lets go of it."""

    name = "second"

    def __init__(self, go_on: threading.Event) -> None:
        self.go_on = go_on

    def listen_for(self, grammar: object) -> None:
        self.go_on.wait()

    def recognize(self, samples: object) -> Recognition:
        return Recognition(self.name, (), 0.0, None, 0.0)


def test_a_second_that_hangs_holds_nothing_back_and_a_fresh_one_takes_its_place(
    session: Session, monkeypatch: pytest.MonkeyPatch, clock: Clock
) -> None:
    monkeypatch.setattr(second_module, "HEAR_SECONDS", 0.0)
    never, works = threading.Event(), threading.Event()
    works.set()
    fresh = [Second(never), Second(works)]
    both = WithSecond(First(), Second(never), fresh=lambda: fresh.pop(0), clock=clock)
    both.listen_for(session.grammar)
    short = np.zeros(400, dtype=np.float32)
    assert both.recognize(short).second is None
    assert both.news() == [SECOND_GONE]
    # Not asked for a while; then another, which hangs too, and is not told of again.
    assert both.recognize(short).second is None
    assert len(fresh) == 2
    clock.at += 31.0
    assert both.recognize(short).second is None
    assert len(fresh) == 1
    assert both.news() == []
    clock.at += 31.0
    monkeypatch.undo()
    assert both.recognize(short).second is not None
    assert both.news() == [SECOND_BACK]
    never.set()


def test_threads_that_hang_are_left_behind_only_so_often(
    session: Session, monkeypatch: pytest.MonkeyPatch, clock: Clock
) -> None:
    monkeypatch.setattr(second_module, "HEAR_SECONDS", 0.0)
    never = threading.Event()
    both = WithSecond(First(), Second(never), fresh=lambda: Second(never), clock=clock)
    both.listen_for(session.grammar)
    before = threading.active_count()
    for _ in range(8):
        assert both.recognize(np.zeros(16, dtype=np.float32)).second is None
        clock.at += 31.0
    assert threading.active_count() - before == 3
    never.set()


# --- the voice -----------------------------------------------------------------------------------
@dataclass
class Manner:
    speaker: str
    speech_voice: str | None = None
    speech_rate: int = 170


@pytest.fixture
def speaker(tmp_path: Path) -> Path:
    path = tmp_path / "loudspeaker"
    path.touch()
    return path


@pytest.fixture
def voice(speaker: Path, clock: Clock) -> Iterator[VoiceBeside]:
    made = VoiceBeside(Manner(str(speaker)), module="tests.speaking_program", clock=clock)
    yield made
    made.close()


def speaks_again(voice: VoiceBeside) -> list[str]:
    told: list[str] = []

    def speaks() -> bool:
        told.extend(voice.news())
        return voice.trouble is None

    until(speaks)
    return told


GAP = Reply("recorded", "Gap, thirty one thou. In.")


def test_what_is_said_beside_sounds(voice: VoiceBeside, speaker: Path) -> None:
    voice.say(GAP)
    (length,) = speaker.read_text().split()
    assert 1.0 < float(length) < 8.0
    assert voice.trouble is None
    assert voice.news() == []
    assert len(voice.render("Gap.")) > 0


def test_an_engine_that_is_killed_is_told_once_and_speaks_again(
    voice: VoiceBeside, speaker: Path
) -> None:
    assert voice.pid is not None
    os.kill(voice.pid, signal.SIGKILL)
    until(lambda: voice.trouble is not None or bool(voice._look_after()))
    told = speaks_again(voice)
    assert told == [
        "The voice has ended and is started again. I cannot speak; read the screen.",
        "I can speak again.",
    ]
    voice.say(GAP)
    assert len(speaker.read_text().split()) == 1


@pytest.mark.parametrize("how", ["stopped", "stuck"])
def test_a_voice_that_hangs_in_the_middle_is_not_waited_for(
    how: str, voice: VoiceBeside, speaker: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert voice.pid is not None
    if how == "stopped":
        os.kill(voice.pid, signal.SIGSTOP)
        monkeypatch.setattr(voice_beside, "BEGIN_SECONDS", 0.05)
    else:
        # It has begun to sound, and so may take as long as it is.
        speaker.with_name("stuck").touch()
        monkeypatch.setattr(voice_beside, "PLAYING_SECONDS", -1.5)
    voice.say(GAP)
    assert voice.trouble == "The voice does not answer and is started again."
    speaker.with_name("stuck").unlink(missing_ok=True)
    monkeypatch.undo()
    assert speaks_again(voice)[-1] == "I can speak again."
    voice.say(GAP)
    assert len(speaker.read_text().split()) == 1


def test_a_loudspeaker_that_is_gone_is_told_and_found_again(
    voice: VoiceBeside, speaker: Path, clock: Clock
) -> None:
    speaker.unlink()
    voice.say(GAP)
    assert voice.news() == [f"{speaking_program.GONE} I cannot speak; read the screen."]
    voice.say(GAP)
    assert voice.news() == []
    speaker.touch()
    before = voice.pid
    assert voice.news() == []
    clock.at += 11.0
    assert speaks_again(voice) == ["I can speak again."]
    # A fresh program, which sees what was plugged in since.
    assert voice.pid != before


def test_a_key_cuts_short_what_is_said_beside(voice: VoiceBeside, speaker: Path) -> None:
    voice.hush()
    until(speaker.with_name("hushed").exists)


def test_a_voice_that_never_starts_is_tried_at_growing_times(clock: Clock) -> None:
    voice = VoiceBeside(Manner("none"), module="tests.no_such_program", clock=clock)
    assert voice.trouble == "The voice does not start."
    tries: list[float] = []
    true_way = voice._begin

    def begin() -> None:
        tries.append(clock.at)
        true_way()
        assert voice._fresh is not None
        until(lambda: voice._fresh is None or voice._fresh.ended)

    voice._begin = begin  # type: ignore[method-assign]
    for _ in range(120):
        clock.at += 1.0
        assert voice.news() == []
    assert 4 <= len(tries) <= 9


# --- in the session ------------------------------------------------------------------------------
class Listener(SilentVoice):
    def __init__(self) -> None:
        super().__init__(NoVoice("none"))
        self.said: list[str] = []

    def say(self, reply: Reply) -> None:
        self.said.append(reply.text)


def test_what_became_of_it_is_said_recorded_and_printed_once(
    session: Session, capsys: pytest.CaptureFixture[str]
) -> None:
    class Told:
        def __init__(self) -> None:
            self.left = [
                "The voice has ended and is started again. I cannot speak; read the screen."
            ]

        def news(self) -> list[str]:
            news, self.left = self.left, []
            return news

    voice = Listener()
    loop = LiveLoop(session, voice, lambda exchange: None, clock=lambda: AT)
    loop.watched = [Told()]
    loop.take(None)
    loop.take(None)
    loop.take(Line("tag no oil"))
    assert [text for text in voice.said if "cannot speak" in text] == voice.said[:1]
    assert len(session.state.troubles) == 1
    assert capsys.readouterr().err.count("I cannot speak; read the screen.") == 1
    assert [tag.tag for tag in session.state.tags] == ["no oil"]


def test_a_microphone_whose_thread_hangs_is_told_once_and_when_it_answers(clock: Clock) -> None:
    go_on = threading.Event()
    opened = threading.Event()

    class Hanging(Recorded):
        def reopen(self) -> None:
            opened.set()
            go_on.wait()
            raise OSError("Input/output error")

    import queue

    waited = threading.Event()

    def wait(seconds: float) -> bool:
        if go_on.is_set():
            waited.set()
        return False

    ears = Ears(Hanging(waits=False), queue.SimpleQueue(), clock=clock, wait=wait)
    ears.start()
    opened.wait(LONG)
    assert ears.news() == ()
    clock.at += 50.0
    (told,) = ears.news()
    assert told.startswith("The microphone 'headset' does not answer. Calls are not heard; timers")
    assert ears.news() == ()
    go_on.set()
    waited.wait(LONG)
    until(lambda: ears._alive == clock.at)
    assert ears.news() == ("The microphone 'headset' answers again.",)
    ears._stopped.set()


def test_whatever_a_sound_driver_raises_the_microphone_is_tried_again() -> None:
    import queue

    class Odd(Recorded):
        tries = 0

        def blocks(self) -> Iterator[np.ndarray]:
            raise SystemError("PortAudio: internal error")
            yield

        def reopen(self) -> None:
            self.tries += 1
            if self.tries < 3:
                raise OSError("Input/output error")

    out: queue.SimpleQueue = queue.SimpleQueue()  # type: ignore[type-arg]
    odd, waits = Odd(), list[float]()

    def wait(seconds: float) -> bool:
        waits.append(seconds)
        return len(waits) > 5

    Ears(odd, out, wait=wait, clock=lambda: 0.0)._listen()
    assert odd.tries >= 3
    assert out.get_nowait().sentence == "The microphone failed (SystemError) and is opened again."
    assert out.empty()


# --- the board -----------------------------------------------------------------------------------
BOARD = (
    "import sys; print('Board: http://127.0.0.1:1/ (stop with Ctrl-C)', flush=True);"
    "print('noise' * 100_000, file=sys.stderr); sys.stdin.read()"
)


def test_a_board_that_ends_is_told_started_again_and_told(
    clock: Clock, capsys: pytest.CaptureFixture[str]
) -> None:
    board = BoardBeside((sys.executable, "-c", BOARD), clock=clock)
    assert capsys.readouterr().out == "Board: http://127.0.0.1:1/\n"
    assert board.news() == []
    assert board.pid is not None
    os.kill(board.pid, signal.SIGKILL)
    told: list[str] = []
    until(lambda: bool(told.extend(board.news()) or BOARD_BACK in told))
    assert told == [BOARD_GONE, BOARD_BACK]
    assert capsys.readouterr().out == "Board: http://127.0.0.1:1/\n"
    board.close()


def test_a_board_that_says_nothing_is_not_waited_for(
    monkeypatch: pytest.MonkeyPatch, clock: Clock
) -> None:
    monkeypatch.setattr("companion.live.board_beside.ADDRESS_SECONDS", 0.05)
    monkeypatch.setattr("companion.live.board_beside.STOPPING_SECONDS", 0.05)
    board = BoardBeside((sys.executable, "-c", "import signal; signal.pause()"), clock=clock)
    assert board.news() == []
    board.close()


def test_a_board_that_cannot_be_shown_says_why_and_is_left_alone(
    clock: Clock, capsys: pytest.CaptureFixture[str]
) -> None:
    script = "import sys; sys.exit('companion: The port is taken; name another.')"
    board = BoardBeside((sys.executable, "-c", script), clock=clock)
    until(lambda: bool(board.news()) or board.pid is None)
    clock.at += 500.0
    assert board.news() == []
    assert board.pid is None
    assert "The port is taken" in capsys.readouterr().err


# --- programs beside -----------------------------------------------------------------------------
def test_a_program_beside_ends_with_its_input_though_a_library_hangs_in_it(model: Path) -> None:
    program = ProgramBeside("tests.ears_program")
    from companion.live.recognizer_program import Hear

    program.send(Wanted(Settings(), model=model))
    assert program.receive(LONG).value == "told what to do"
    program.send(Hear(sound(ears_program.HANGS).samples, False, False))
    with pytest.raises(Late):
        program.receive(0.05)
    # As when this program is killed: its end of the pipe is closed.
    program._out.put(None)
    until(lambda: program.ended)
    with pytest.raises(Ended):
        program.receive(LONG)
    program.kill()


def test_without_threads_or_processes_it_is_said_and_not_raised(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def none(thread: threading.Thread) -> None:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(threading.Thread, "start", none)
    with pytest.raises(Ended):
        ProgramBeside("tests.ears_program")


def test_what_fails_again_and_again_is_started_again_more_and_more_seldom() -> None:
    again, at, tries = Again(), 0.0, 0
    while at < 3600.0:
        if again.may_try(at):
            tries += 1
            again.began(at)
            again.failed(at + 0.5)
        at += 1.0
    assert 20 <= tries <= 45
    # One that was steady is started at once.
    again.began(at)
    again.failed(at + 100.0)
    assert again.may_try(at + 100.0)
