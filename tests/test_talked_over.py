"""Listening while the companion speaks: its own voice is taken out of what the microphone hears,
the call sign stops the talk, the call after it is heard, and it never hears itself.

The voice is the real one, so are canceller and recognizer; the way from loudspeaker to microphone
is worked out, and its clock counts samples (``tests/echoing_shop.py``).
"""

from __future__ import annotations

import importlib.util
import queue
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from companion.audio.echo import Cleaned, EchoRemover, EchoUnavailable, level_of, require_canceller
from companion.audio.echo_delay import LONGEST, delay_of
from companion.audio.endpointing import Segmenter
from companion.audio.own_sound import OwnSound
from companion.audio.stream_clock import StreamClock
from companion.audio.utterance import Utterance
from companion.files.sound_format import SAMPLE_RATE
from companion.job import events as ev
from companion.live.ears import Ears
from companion.live.happenings import Happening, Line
from companion.live.loop import LiveLoop
from companion.live.recognizer_beside import RecognizerBeside
from companion.live.recognizer_program import Wanted
from companion.live.talked_over import Spot, TalkedOver
from companion.session.exchange import Exchange
from companion.session.opening import open_session
from companion.settings import Settings
from companion.speak.speech import SpeechEngine
from companion.speak.voice import SilentVoice, VoiceUnavailable
from companion.speak.wording import Reply
from tests.echoing_shop import BLOCK, EchoingShop, Way
from tests.sounds import Samples, pause, speak
from tools.talked_over import ANSWERS, WITH_CALLS, Conversation

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
LONG_WAIT = 20.0
"""Seconds after which a test that waits for another thread fails."""


@cache
def engine() -> SpeechEngine:
    return SpeechEngine()


@pytest.fixture(scope="module")
def recognizer() -> Iterator[RecognizerBeside]:
    ears = RecognizerBeside(Wanted(Settings()))
    yield ears
    ears.close()


# --- the canceller -------------------------------------------------------------------------------
def cleaned(way: Way, *, call: Samples | None = None) -> tuple[list[Cleaned], int]:
    """Two answers one after the other, and a call over the second; what is left of them, and where
    the second begins."""
    own = OwnSound()
    begins: list[int] = []

    def script(shop: EchoingShop) -> Iterator[None]:
        for number, text in enumerate(ANSWERS[:2]):
            begins.append(shop.now)
            shop.sound(engine().render(text))
            while shop.sounding:
                if number == 1 and shop.now - begins[1] == 50 * BLOCK and call is not None:
                    shop.call(call)
                yield
            for _ in range(30):
                yield

    shop = EchoingShop(own, way, script)
    remover = EchoRemover(own)
    return [remover.feed(block, shop.captured_at) for block in shop.blocks()], begins[1]


def whole(pieces: list[Cleaned], which: str) -> Samples:
    return np.concatenate([getattr(each, which) for each in pieces])


@pytest.mark.parametrize("level", [-10.0, 6.0])
@pytest.mark.parametrize("delay", [0.02, 0.3])
def test_of_its_own_voice_little_is_left_and_of_a_caller_all(level: float, delay: float) -> None:
    alone, second = cleaned(Way(level, delay))
    after = slice(second + SAMPLE_RATE // 2, second + 4 * SAMPLE_RATE)
    heard = level_of(whole(alone, "heard")[after])
    assert level_of(whole(alone, "linear")[after]) < heard - 12
    assert level_of(whole(alone, "suppressed")[after]) < heard - 20

    call = speak("bench gap thirty thou", "rms")
    called, second = cleaned(Way(level, delay), call=call)
    there = slice(second + 50 * BLOCK, second + 50 * BLOCK + len(call))
    left = level_of(whole(called, "linear")[there])
    # The caller's own level, his pauses among it, and no more than a little of ours.
    without, _ = cleaned(Way(-90.0, delay), call=call)
    assert abs(left - level_of(whole(without, "linear")[there])) < 2


def test_a_headset_and_silence_are_left_as_they_are() -> None:
    call = speak("bench gap thirty thou", "rms")
    pieces, _ = cleaned(Way(-90.0), call=call)
    heard, linear = whole(pieces, "heard"), whole(pieces, "linear")
    assert level_of(linear - heard) < level_of(heard) - 20


@pytest.mark.parametrize("seconds", [0.0, 0.035, 0.25, 0.6])
def test_how_late_it_is_heard_is_found_to_the_sample(seconds: float) -> None:
    sound = engine().render(ANSWERS[0])
    way = Way(0.0, decay=0.5, drive=1.5)
    late = round(seconds * SAMPLE_RATE)
    heard = np.concatenate((np.zeros(LONGEST + late), way.heard(sound)))[: 4 * SAMPLE_RATE]
    sounded = np.concatenate((np.zeros(LONGEST), sound))[: 4 * SAMPLE_RATE].astype(np.float32)
    found = delay_of(heard[LONGEST:].astype(np.float32), sounded)
    assert found is not None
    assert abs(found - late) <= 1


def test_where_it_is_not_heard_no_delay_is_found() -> None:
    sound = engine().render(ANSWERS[0])
    other = speak("so I told him the weather would hold until the weekend at least", "rms")
    count = 3 * SAMPLE_RATE
    assert delay_of(np.resize(other, count - LONGEST), np.resize(sound, count)) is None


def test_what_sounded_is_known_by_its_time_and_where_it_was_cut_short() -> None:
    own = OwnSound()
    assert own.quiet_for(5.0) == float("inf")
    own.began(np.ones(48_000, dtype=np.float32), 10.0, 48_000)
    assert own.between(9.5, SAMPLE_RATE).sum() == pytest.approx(SAMPLE_RATE / 2, abs=50)
    own.ended(10.25)
    assert own.between(10.0, SAMPLE_RATE)[SAMPLE_RATE // 4 :].sum() == 0
    assert own.quiet_for(10.75) == pytest.approx(0.5)


def test_blocks_that_come_in_bunches_are_timed_evenly() -> None:
    clock = StreamClock(48_000)
    arrivals = [0.1, 0.1, 0.1, 0.19, 0.19, 0.19, 0.28]
    times = [clock.arrived(1440, at) for at in arrivals]
    assert np.diff(times[3:]) == pytest.approx([0.03, 0.03, 0.03])


# --- a call over the talk ------------------------------------------------------------------------
@pytest.mark.parametrize("way", [Way(-10.0, 0.02, seed=2), Way(6.0, 0.2, seed=3)])
def test_the_call_sign_stops_the_talk_and_the_call_after_it_is_heard(way: Way) -> None:
    found = Conversation(way, (ANSWERS[-1], *ANSWERS[:3]), called=True).hold()
    assert found.calls == found.stopped == 3
    # What lay too long under its own voice, louder than the caller's, is asked about.
    assert found.right + found.asked == 3
    assert found.right >= 2
    assert (found.false, found.wrong) == (0, 0)
    assert max(found.after) < 1.5


@pytest.mark.parametrize("way", [Way(6.0, 0.1, seed=4), Way(-10.0, 0.3, drive=2.0, seed=6)])
def test_it_never_hears_itself_whatever_it_says(way: Way) -> None:
    """Neither the call sign nor whole calls, also in its very first words."""
    for said in ((*WITH_CALLS, ANSWERS[0]), WITH_CALLS[1:2], WITH_CALLS[2:3]):
        found = Conversation(way, said, called=False).hold()
        assert (found.false, found.right, found.asked, found.wrong) == (0, 0, 0, 0)


def test_what_is_said_over_it_without_the_call_sign_is_no_call() -> None:
    """Nor does it stop for it; and the same call, said afterwards, does come in."""
    heard = [
        len(spoken_over(at, "gap thirty thou", Way(0.0, 0.1), lambda _: None)) for at in (1.0, 7.5)
    ]
    assert heard == [0, 1]


def spoken_over(at: float, said: str, way: Way, spot: Spot, **ears: bool) -> list[Utterance]:
    """What comes out of ears when something is said so long after an answer has begun."""
    own = OwnSound()
    out: queue.SimpleQueue[Happening] = queue.SimpleQueue()

    def script(shop: EchoingShop) -> Iterator[None]:
        over.begin(spot, shop.stop)
        shop.sound(engine().render(ANSWERS[0]))
        begun = ended = False
        while shop.seconds < at + 4.0:
            if not begun and shop.seconds >= at:
                begun = True
                shop.call(speak(said, "rms"))
            if not ended and not shop.sounding:
                ended = True
                over.end()
            yield

    shop = EchoingShop(own, way, script)
    over = TalkedOver(own, EchoRemover(own), lambda: shop.captured_at)
    listening = Ears(shop, out, segmenter=Segmenter(), talked_over=over, wait=lambda _: True)
    listening._listen()
    found = [out.get() for _ in range(out.qsize())]
    return [each for each in found if isinstance(each, Utterance)]


# --- a whole session -----------------------------------------------------------------------------
@dataclass
class AtTheBench:
    """A session whose companion speaks into an echoing shop.

    Args:
        folder: For its log.
        recognizer: In its own program.
        way: From loudspeaker to microphone.
        calls: By how many answers were said before: when after it begins what is called, and what.
        lines: Typed before the answer with this number ends.
        key: Whether a key is pressed when the call begins, and no call sign is needed.
        voice: Of whoever calls.
        afterwards: Seconds that pass after each answer before the next may begin.
    """

    folder: Path
    recognizer: RecognizerBeside
    way: Way
    calls: Mapping[int, tuple[float, str]]
    lines: Mapping[int, str] = field(default_factory=dict)
    key: bool = False
    afterwards: float = 3.5
    voice: str = "rms"
    said: list[str] = field(default_factory=list)
    lengths: list[tuple[float, float]] = field(default_factory=list)
    shown: list[Exchange] = field(default_factory=list)

    def work(self) -> list[ev.AnyEvent]:
        """Work until the job is parked; what was recorded."""
        own = OwnSound()
        self.orders: queue.SimpleQueue[Samples | None] = queue.SimpleQueue()
        self.over = threading.Semaphore(0)
        self.ended = threading.Semaphore(0)
        self.shop = shop = EchoingShop(own, self.way, self._script)
        running = open_session(
            self.folder / "job", at=AT, recognizer=self.recognizer, open_mic=not self.key
        )
        bench = self

        class Voice(SilentVoice):
            def say(self, reply: Reply) -> None:
                bench.said.append(reply.text)
                bench.orders.put(engine().render(reply.text))
                assert bench.over.acquire(timeout=LONG_WAIT)

            def hush(self) -> None:
                shop.stop()

        class Over(TalkedOver):
            def end(self) -> bool:
                by_sign = super().end()
                bench.ended.release()
                return by_sign

        self.loop = LiveLoop(
            running,
            Voice(VoiceUnavailable("none")),
            self.shown.append,
            clock=lambda: AT + timedelta(seconds=shop.seconds),
        )
        self.loop.ears = Ears(
            shop,
            self.loop.happenings,
            push_to_talk=self.key,
            talked_over=Over(own, EchoRemover(own), lambda: shop.captured_at),
            wait=lambda _: True,
        )
        self.loop.ears.start()
        try:
            self.loop.run()
        finally:
            self.orders.put(None)
            running.close()
        return [record.event for each in self.shown for record in each.records]

    def _next_order(self) -> Samples | None:
        """What is said next; None once nothing will be."""
        try:
            return self.orders.get(timeout=LONG_WAIT)
        except queue.Empty:
            self.loop.happenings.put(Line(None))
            return None

    def _script(self, shop: EchoingShop) -> Iterator[None]:
        number = 0
        while (sound := self._next_order()) is not None:
            began = shop.seconds
            shop.sound(sound)
            at, call = self.calls.get(number, (0.0, ""))
            while shop.sounding:
                if call and shop.seconds - began >= at:
                    if self.key:
                        self.loop.press()
                    shop.call(np.concatenate((pause(0.4 * self.key), speak(call, self.voice))))
                    call = ""
                yield
            self.lengths.append((shop.seconds - began, len(sound) / SAMPLE_RATE))
            self.over.release()
            assert self.ended.acquire(timeout=LONG_WAIT)
            if number in self.lines:
                self.loop.happenings.put(Line(self.lines[number]))
            for _ in range(round(self.afterwards * SAMPLE_RATE / BLOCK)):
                yield
            number += 1


def readings(events: list[ev.AnyEvent]) -> list[str]:
    return [str(each.value) for each in events if isinstance(each, ev.ReadingRecorded)]


def test_a_call_in_the_middle_of_an_answer_is_recorded_and_the_answer_ends(
    tmp_path: Path, recognizer: RecognizerBeside
) -> None:
    bench = AtTheBench(
        tmp_path,
        recognizer,
        Way(0.0, 0.15),
        calls={1: (1.5, "bench gap one twenty two thou"), 2: (1.0, "bench park job")},
        lines={0: "engine running"},
    )
    events = bench.work()
    assert readings(events) == ["122"]
    assert bench.said[1].startswith("Engine running. Caution.")
    assert bench.said[2].startswith("Gap, one hundred")
    # What was being said when the call came, and what would have followed.
    assert any("Caution. Exhaust kills" in each for each in bench.said[2:])
    heard = [each for each in events if isinstance(each, ev.Heard)][1:]
    assert [each.text for each in heard] == ["bench gap one twenty two thou", "bench park job"]
    for sounded, length in bench.lengths[1:3]:
        assert sounded < 3.0 < length


def test_with_the_key_a_call_in_the_middle_of_an_answer_needs_no_call_sign(
    tmp_path: Path, recognizer: RecognizerBeside
) -> None:
    bench = AtTheBench(
        tmp_path,
        recognizer,
        Way(0.0, 0.15),
        calls={0: (2.0, "torque sixteen foot pounds"), 1: (1.5, "park job")},
        key=True,
    )
    assert readings(bench.work()) == ["16"]
    sounded, length = bench.lengths[0]
    assert sounded < 2.5 < length


def test_what_the_call_sign_cut_short_is_said_again_if_no_call_comes(
    tmp_path: Path, recognizer: RecognizerBeside
) -> None:
    bench = AtTheBench(
        tmp_path,
        recognizer,
        Way(-10.0, 0.15),
        calls={0: (2.8, "bench")},
        lines={2: "park job"},
        afterwards=8.0,
        voice="us-man",
    )
    events = bench.work()
    assert bench.lengths[0][0] < bench.lengths[0][1] - 0.5
    # A call sign by itself is no call.
    assert bench.said[1:3] == ["Say again.", bench.said[0]]
    assert bench.lengths[2][0] == pytest.approx(bench.lengths[2][1], abs=0.1)
    assert readings(events) == []


def test_an_answer_that_was_begun_over_its_question_needs_the_call_sign(
    tmp_path: Path, recognizer: RecognizerBeside
) -> None:
    running = open_session(tmp_path / "job", at=AT, recognizer=recognizer, open_mic=True)
    running.typed("tag no oil", AT)
    running.typed("clear tag no oil", AT)
    sound = np.concatenate((pause(0.3), speak("affirm", "rms"), pause(0.7)))
    over = Utterance(sound, 1.0, 1.0 + len(sound) / SAMPLE_RATE, over_talk=True)
    at = AT + timedelta(seconds=2)
    refused = running.hear(over, at)
    assert refused.heard is not None
    assert refused.heard.outcome == "ignore"
    assert running.state.tags
    taken = running.hear(Utterance(sound, 1.0, over.speech_end), at)
    assert taken.heard is not None
    assert taken.heard.outcome == "record"
    assert not running.state.tags
    running.close()


def test_a_call_that_lay_under_its_own_voice_is_asked_about(
    tmp_path: Path, recognizer: RecognizerBeside
) -> None:
    """Where computer or sound server are too busy to stop it at once."""
    running = open_session(tmp_path / "job", at=AT, recognizer=recognizer, open_mic=True)
    sound = np.concatenate((pause(0.3), speak("bench gap thirty thou", "rms"), pause(0.7)))
    end = 1.0 + len(sound) / SAMPLE_RATE
    for under, outcome in ((0.3, "record"), (0.8, "ask")):
        exchange = running.hear(Utterance(sound, 1.0, end, over_talk=True, under_talk=under), AT)
        assert exchange.heard is not None
        assert exchange.heard.outcome == outcome
    running.close()


def test_a_caution_that_was_cut_short_follows_the_answer_to_the_call(tmp_path: Path) -> None:
    running = open_session(tmp_path / "job", at=AT)
    exchange = running.typed("engine running", AT)
    assert exchange.reply is not None
    assert exchange.reply.cautions
    running.cut_short(exchange.reply)
    answer = running.typed("gap thirty thou", AT)
    assert answer.reply is not None
    for caution in exchange.reply.cautions:
        assert answer.reply.whole.count(caution) == 1
    while running.tick(AT) is not None:
        pass
    after = running.typed("gap thirty one thou", AT)
    assert after.reply is not None
    assert exchange.reply.cautions[0] not in after.reply.whole
    running.close()


# --- without the package -------------------------------------------------------------------------
def test_without_a_canceller_it_says_how_to_get_one(monkeypatch: pytest.MonkeyPatch) -> None:
    found: Callable[..., object] = importlib.util.find_spec

    def find(name: str, package: str | None = None) -> object:
        return None if name == "pywebrtc_audio" else found(name, package)

    monkeypatch.setattr(importlib.util, "find_spec", find)
    with pytest.raises(EchoUnavailable, match="nothing is heard while the companion speaks"):
        require_canceller()
