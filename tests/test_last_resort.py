"""What nobody thought of: whatever fails inside a session, it goes on by what its log says."""

from __future__ import annotations

import errno
import io
import os
import re
import resource
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from types import FrameType
from typing import Any

import numpy as np
import pytest

from companion.audio.utterance import Utterance
from companion.errors import CompanionError
from companion.job import events as ev
from companion.job.folding.evolve import fold
from companion.live import last_resort
from companion.live.happenings import Device, Key, Line
from companion.live.last_resort import AGAIN, HOW_TO_END, NOTHING_CALLED, STANDS, UNSURE, WENT_WRONG
from companion.live.loop import LiveLoop
from companion.live.reading import NO_KEY, read_keys, read_lines
from companion.live.run import _gone_on
from companion.log.check import check_log
from companion.log.reader import read_log
from companion.session.exchange import Exchange
from companion.session.opening import open_session
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet
from companion.shelf.rules import shipped_rules
from companion.speak.voice import SilentVoice
from companion.speak.voice import VoiceUnavailable as NoVoice
from companion.speak.worded.table import event_line
from companion.speak.wording import Reply
from tests.test_recognize_failing import Failing

SOUND = Utterance(np.zeros(16_000, dtype=np.float32), 0.0, 1.0)
AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)


class Listener(SilentVoice):
    """Notes what was said."""

    def __init__(self) -> None:
        super().__init__(NoVoice("none"))
        self.said: list[str] = []

    def say(self, reply: Reply) -> None:
        self.said.append(reply.text)


def bench(folder: Path, *, card: bool = False) -> tuple[LiveLoop, Listener, list[Exchange]]:
    session = open_session(
        folder / "job",
        at=AT,
        card=load_card("four-stroke-service") if card else None,
        sheet=load_sheet("quillmoor-tiller") if card else None,
    )
    voice, shown = Listener(), list[Exchange]()
    return LiveLoop(session, voice, shown.append, clock=lambda: AT), voice, shown


def run(loop: LiveLoop, *calls: str) -> None:
    for call in calls:
        loop.happenings.put(Line(call))
    loop.happenings.put(Line(None))
    loop.run()


def typed_in(session: Session) -> list[str]:
    events = (record.event for record in read_log(session.folder).records)
    return [event.text for event in events if isinstance(event, ev.Heard)]


def facts(session: Session) -> list[str]:
    """What the log holds beside what was said and what went wrong."""
    told = ev.Said | ev.Trouble | ev.SessionOpened
    events = (record.event for record in read_log(session.folder).records)
    lines = [event_line(event) for event in events if not isinstance(event, told)]
    # What went wrong stands between them, and counts.
    return [re.sub(r"(record|corrects|;) \d+", r"\1", line) for line in lines]


def crash_files(session: Session) -> list[Path]:
    return sorted(session.folder.glob("crash*.txt"))


# --- a fault anywhere ----------------------------------------------------------------------------
CALLS = (
    "gap thirty thou",
    "compression eighty five psi",
    "tag no oil",
    "clear tag no oil",
    "affirm",
    "negative",
    "drained eighteen ounces of oil",
    "added ten ounces of oil",
    "disregard",
    "correction thirty one",
    "start soak timer two hours",
    "cancel soak timer",
    "engine running",
    "next step",
    "status",
    "say again",
    "clear to start",
    "gap thirty thou tomorrow maybe",
    "note the cable is frayed",
)
ROOMS = ("job", "log", "speak", "intent", "session")


class Unthought(Exception):
    """What nobody thought of."""


@contextmanager
def fault_at(entry: int) -> Iterator[Callable[[int], None]]:
    """Raise at the given entry of a function of the rooms from now on; gives what sets another."""
    folders = tuple(f"{os.sep}companion{os.sep}{room}{os.sep}" for room in ROOMS)

    def arm(number: int) -> None:
        left = [number]

        def look(frame: FrameType, what: str, argument: Any) -> None:
            file = frame.f_code.co_filename
            if what != "call" or not any(folder in file for folder in folders):
                return
            left[0] -= 1
            if left[0] < 0:
                raise Unthought("gap thirty thou")

        sys.setprofile(look)

    arm(entry)
    try:
        yield arm
    finally:
        sys.setprofile(None)


def check_fault(calls: list[str], entry: int, again: int | None) -> None:
    with tempfile.TemporaryDirectory() as folder:
        loop, voice, shown = bench(Path(folder), card=True)
        session = loop.session
        with fault_at(entry) as arm:
            if again is not None:
                # A second fault, while the first is being got over.
                true_way, left = session.recover, [again]

                def recover(mark: int, at: datetime) -> Any:
                    if left:
                        arm(left.pop())
                    return true_way(mark, at)

                session.recover = recover  # type: ignore[method-assign]
            run(loop, *calls)
        assert loop.happenings.empty()
        records = read_log(session.folder).records
        # The state is what the log says, and the log is whole.
        assert session.state == fold(records, shipped_rules())
        kept = typed_in(session)
        answered = [x.heard.text for x in shown if x.heard is not None]
        # What was answered is in the log, in order; a call is there unless it was asked for again.
        left_over = iter(kept)
        assert all(call in left_over for call in answered)
        asked_again = sum(text.startswith((AGAIN, UNSURE)) for text in voice.said)
        assert len(calls) - asked_again <= len(kept) <= len(calls)
        if again is None:
            # Where it fails twice, it may be said twice.
            assert len(kept) == len(calls) - asked_again
        session.close()
        assert check_log(session.folder).ok
        # It is the log of those calls, made where nothing fails.
        with tempfile.TemporaryDirectory() as other:
            quiet, _, _ = bench(Path(other), card=True)
            run(quiet, *kept)
            if facts(session)[0] == facts(quiet.session)[0]:
                # It was opened, whatever failed then.
                assert facts(session) == facts(quiet.session)
            quiet.session.close()


def any_calls(chance: Random) -> list[str]:
    return [chance.choice(CALLS) for _ in range(chance.randint(1, 6))]


@pytest.mark.parametrize("seed", range(24))
def test_a_fault_at_any_function_costs_one_call_at_most(seed: int) -> None:
    chance = Random(seed)
    check_fault(any_calls(chance), int(10 ** chance.uniform(0.0, 4.2)), None)


@pytest.mark.parametrize("seed", range(12))
def test_two_faults_the_second_while_the_first_is_got_over(seed: int) -> None:
    chance = Random(seed)
    again = int(10 ** chance.uniform(0.0, 3.0))
    check_fault(any_calls(chance), int(10 ** chance.uniform(0.0, 4.2)), again)


# --- what is said of it --------------------------------------------------------------------------
def failing(monkeypatch: pytest.MonkeyPatch, target: object, name: str, *errors: BaseException):
    """Let a function raise these, call after call, before it works."""
    left, true_way = list(errors), getattr(target, name)

    def fail(*arguments: Any, **more: Any) -> Any:
        if left:
            raise left.pop(0)
        return true_way(*arguments, **more)

    monkeypatch.setattr(target, name, fail)


@pytest.mark.parametrize(
    "error", [ValueError("gap"), MemoryError(), RecursionError(), KeyError("gap"), AssertionError()]
)
def test_before_it_is_recorded_the_call_is_asked_for_again(
    error: Exception, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loop, voice, _ = bench(tmp_path)
    failing(monkeypatch, loop.session, "_act", error)
    run(loop, "tag no oil", "gap thirty thou")
    assert voice.said[-2] == AGAIN
    assert voice.said[-1].startswith("Gap, thirty")
    assert typed_in(loop.session) == ["gap thirty thou"]
    assert loop.session.state.tags == ()
    (trouble,) = loop.session.state.troubles
    assert trouble == AGAIN


def test_once_it_is_on_the_disk_it_is_not_asked_for_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loop, voice, _ = bench(tmp_path)
    failing(monkeypatch, loop.session.listened_for, "take_in", MemoryError())
    loop.take(Line("gap thirty thou"))
    assert voice.said[-1].startswith(f"{STANDS} Gap, thirty, three zero, thou.")
    assert len(loop.session.state.readings) == 1
    assert typed_in(loop.session) == ["gap thirty thou"]


def test_a_question_that_could_not_be_shown_is_asked_all_the_same(tmp_path: Path) -> None:
    loop, voice, shown = bench(tmp_path)
    broken = [True]

    def show(exchange: Exchange) -> None:
        asked = any(isinstance(record.event, ev.Asked) for record in exchange.records)
        if asked and broken:
            broken.clear()
            raise OSError(errno.EIO, "Input/output error")
        shown.append(exchange)

    loop.show = show
    run(loop, "tag no oil", "clear tag no oil", "affirm")
    (asked,) = (text for text in voice.said if text.startswith(WENT_WRONG))
    assert asked.endswith("Clear tag no oil?")
    assert loop.session.state.tags == ()


def test_after_the_answer_nothing_is_asked_for_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loop, voice, _ = bench(tmp_path)
    failing(monkeypatch, loop, "_hint", ValueError())

    loop.session.recognizer = Failing()
    loop.happenings.put(SOUND)
    run(loop)
    assert voice.said[-1] == NOTHING_CALLED
    assert typed_in(loop.session) == ["gap thirty thou"]


def test_where_the_log_cannot_be_read_just_then_it_is_said_later_what_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loop, voice, _ = bench(tmp_path)
    failing(monkeypatch, loop.session.listened_for, "take_in", MemoryError())
    failing(monkeypatch, loop.session, "recover", MemoryError())
    loop.take(Line("gap thirty thou"))
    loop.take(Line("tag no oil"))
    assert voice.said[-3].startswith(UNSURE)
    assert voice.said[-2].startswith(f"{STANDS} Gap, thirty")
    assert typed_in(loop.session) == ["gap thirty thou", "tag no oil"]
    assert [tag.tag for tag in loop.session.state.tags] == ["no oil"]


# --- the crash file ------------------------------------------------------------------------------
def test_the_crash_file_says_where_and_nothing_that_was_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    loop, _, _ = bench(tmp_path)

    def deep(*arguments: Any, text: str = "secret frayed cable") -> None:
        try:
            raise KeyError(text)
        except KeyError as error:
            raise RuntimeError(f"cannot do {text}") from error

    monkeypatch.setattr(loop.session, "_act", deep)
    run(loop, "note the secret frayed cable", "note another frayed cable")
    # The same again is not written again.
    (file,) = crash_files(loop.session)
    written = file.read_text(encoding="ascii")
    for word in ("secret", "frayed", "cable", "note", str(tmp_path), str(Path.home())):
        assert word not in written
    assert "companion/session/session.py, line " in written
    assert "in _typed" in written
    assert written.index("builtins.KeyError") < written.index("builtins.RuntimeError")
    assert "Python 3" in written
    printed = capsys.readouterr().err
    assert str(file) in printed
    assert "Traceback" not in printed
    assert "frayed" not in printed


def test_a_recursion_fills_no_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    loop, voice, _ = bench(tmp_path)

    def deeper(*arguments: Any) -> Any:
        return deeper(*arguments)

    monkeypatch.setattr(loop.session, "_act", deeper)
    run(loop, "gap thirty thou")
    (file,) = crash_files(loop.session)
    assert voice.said[-1] == AGAIN
    assert "RecursionError" in file.read_text()
    assert len(file.read_text().splitlines()) < 80


# --- again and again -----------------------------------------------------------------------------
def test_a_clock_that_fails_for_ever_neither_spins_nor_keeps_calls_from_being_heard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loop, voice, _ = bench(tmp_path)
    now, tried = [AT], [0]
    loop.clock = lambda: now[0]
    loop.take(Line("start soak timer one minute"))
    now[0] += timedelta(minutes=2)

    def broken(at: datetime) -> None:
        tried[0] += 1
        raise ZeroDivisionError

    monkeypatch.setattr(loop.session, "tick", broken)
    waits = []
    for _ in range(100):
        loop.take(None)
        waits.append(loop._wait())
        now[0] += timedelta(seconds=1)
    assert sum(wait == 0.0 for wait in waits) <= 1
    assert tried[0] < 12
    assert voice.said.count(NOTHING_CALLED) == 1
    assert voice.said.count(HOW_TO_END) == 1
    loop.take(Line("gap thirty thou"))
    assert voice.said[-1].startswith("Gap, thirty")
    assert len(crash_files(loop.session)) == 1


def test_calls_that_fail_again_and_again_tell_how_to_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loop, voice, _ = bench(tmp_path)
    failing(monkeypatch, loop.session, "_act", *(ValueError() for _ in range(4)))
    run(loop, *["gap thirty thou"] * 6)
    assert voice.said[1:5] == [AGAIN, AGAIN, f"{AGAIN} {HOW_TO_END}", f"{AGAIN} {HOW_TO_END}"]
    assert len(loop.session.state.readings) >= 1


def test_a_screen_that_fails_keeps_nothing_from_being_said(tmp_path: Path) -> None:
    loop, voice, _ = bench(tmp_path)

    class Broken:
        tries = 0

        def draw(self, *_: object) -> None:
            self.tries += 1
            raise ValueError

        def clear(self) -> None: ...

    loop.progress = Broken()
    run(loop, "gap thirty thou", "tag no oil")
    assert voice.said[-1].startswith("Tag hung")
    assert loop.progress.tries < 4


# --- what ends a session still does --------------------------------------------------------------
@pytest.mark.parametrize(
    "error",
    [
        KeyboardInterrupt(),
        SystemExit(3),
        BrokenPipeError(),
        OSError(errno.ENOSPC, "No space left on device"),
        CompanionError("The log in job cannot be written (No space left on device)."),
    ],
)
def test_what_ends_a_session_ends_it(
    error: BaseException, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loop, _, _ = bench(tmp_path)
    failing(monkeypatch, loop.session, "_act", error)
    with pytest.raises(type(error)):
        run(loop, "gap thirty thou")
    assert not crash_files(loop.session)


# --- out of handles, threads and memory ----------------------------------------------------------
@contextmanager
def no_more_handles() -> Iterator[None]:
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    lowest = os.dup(0)
    os.close(lowest)
    resource.setrlimit(resource.RLIMIT_NOFILE, (lowest, hard))
    try:
        with pytest.raises(OSError, match="Too many open files"):
            os.dup(0)
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def test_out_of_handles_nothing_is_half_recorded_and_the_session_goes_on(tmp_path: Path) -> None:
    loop, voice, _ = bench(tmp_path)
    loop.take(Line("tag no oil"))
    with no_more_handles():
        loop.take(Line("gap thirty thou"))
        loop.session.recognizer = Failing()
        loop.take(SOUND)
        loop.take(None)
    loop.take(Line("compression eighty five psi"))
    assert voice.said[-1].startswith("Compression, eighty five")
    session = loop.session
    assert session.state == fold(read_log(session.folder).records, shipped_rules())
    kept = typed_in(session)
    assert kept[0] == "tag no oil"
    assert kept[-1] == "compression eighty five psi"
    session.close()
    assert check_log(session.folder).ok


def test_without_handles_a_clip_that_cannot_be_kept_costs_that_call_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loop, voice, _ = bench(tmp_path)
    with no_more_handles():
        loop._done("a call", lambda: void(loop.session.log.keep_clip(np.zeros(9, np.float32))))
    assert voice.said[-1].startswith((NOTHING_CALLED, UNSURE))
    loop.take(Line("gap thirty thou"))
    assert voice.said[-1].startswith("Gap, thirty")


def void(_: object) -> None:
    """For what gives something that is not needed."""


def test_out_of_threads_the_session_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from companion.live.ears import Ears
    from tests.test_live import Recorded

    loop, voice, _ = bench(tmp_path)
    ears = Ears(Recorded(), loop.happenings, clock=lambda: 0.0, wait=lambda _: True)
    ears.start()
    ears._thread.join()
    loop.watched = [ears]

    def none(thread: threading.Thread) -> None:
        raise RuntimeError("can't start new thread")

    with monkeypatch.context() as patch:
        patch.setattr(threading.Thread, "start", none)
        for _ in range(3):
            loop._look_after()
    assert sum("no more threads" in text for text in voice.said) == 1
    loop._look_after()
    assert "Listening had ended and goes on" in voice.said[-1]


class Torn(io.StringIO):
    """A standard input that fails after its first lines."""

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.reads = 0

    def read(self, size: int | None = -1, /) -> str:
        self.reads += 1
        if self.reads > 1:
            raise MemoryError
        return super().read(size)


def test_an_input_that_cannot_be_read_ends_the_session_as_its_end_does_and_is_told(
    tmp_path: Path,
) -> None:
    loop, voice, _ = bench(tmp_path)
    read_lines(Torn("gap thirty thou\n"), loop.happenings)
    loop.run()
    assert typed_in(loop.session) == ["gap thirty thou"]
    assert "cannot be read any more" in voice.said[-1]


def test_a_key_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    loop, _, _ = bench(tmp_path)
    read_keys(Torn("\n"), loop).join()
    assert loop.happenings.get_nowait() == Key()
    assert loop.happenings.get_nowait() == Device(NO_KEY)


def test_another_job_that_cannot_be_opened_ends_it_with_a_sentence(tmp_path: Path) -> None:
    loop, _, _ = bench(tmp_path)

    def broken(name: str, before: Session) -> Session:
        raise ZeroDivisionError("gap")

    with pytest.raises(CompanionError, match="The other job could not be opened"):
        _gone_on(broken, loop.session)
    assert len(crash_files(loop.session)) == 1


def test_short_of_memory_for_real_a_call_is_asked_for_again(tmp_path: Path) -> None:
    loop, voice, _ = bench(tmp_path)
    true_way = loop.session._act

    def hungry(*arguments: Any) -> Any:
        bytearray(2**46)
        return true_way(*arguments)

    loop.session._act = hungry  # type: ignore[method-assign]
    loop.take(Line("gap thirty thou"))
    loop.session._act = true_way  # type: ignore[method-assign]
    loop.take(Line("gap thirty thou"))
    assert voice.said[-2] == AGAIN
    assert voice.said[-1].startswith("Gap, thirty")
    assert "MemoryError" in crash_files(loop.session)[0].read_text()


def test_what_is_said_of_it_names_no_state_that_is_not_so() -> None:
    assert last_resort.what_stands((), called=True) == AGAIN
    assert last_resort.what_stands((), called=False) == NOTHING_CALLED
    assert WENT_WRONG in AGAIN
