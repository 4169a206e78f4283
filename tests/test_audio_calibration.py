"""The first seconds of a session, hints about how somebody speaks, and what the checkup says."""

from __future__ import annotations

import queue
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import TracebackType

import numpy as np
import pytest

from companion.audio.calibration import LOUD, OVERLOADED, SECONDS, Calibrating, calibrate
from companion.audio.endpointing import segment_sound
from companion.audio.microphone import Microphone
from companion.audio.silence import SENTENCE as SILENT
from companion.audio.utterance import Trouble, Utterance
from companion.checkup import check_all
from companion.files.sound_format import SAMPLE_RATE
from companion.job import events as ev
from companion.live.ears import Ears
from companion.live.happenings import Device, Happening
from companion.live.hints import AGAIN_AFTER, TOO_LOUD, TOO_QUIET, Hints
from companion.live.loop import LiveLoop
from companion.recognize.protocol import Hypothesis, Recognition
from companion.session.exchange import Exchange
from companion.session.opening import open_session
from companion.settings import Settings
from companion.speak.voice import SilentVoice, VoiceUnavailable
from tests.sounds import NOISES, Samples, mix, noise_gain, pause, speak

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
CALL = speak("gap thirty thou", "rms")
ROOM = np.asarray(NOISES["pink"](4.0, seed=1) * 0.01, dtype=np.float32)


def engine(below: float, seconds: float = 3.0) -> Samples:
    """An engine so many dB below a voice of usual level."""
    noise = NOISES["engine"](seconds, seed=1)
    return np.asarray(noise * noise_gain(CALL, noise, below), dtype=np.float32)


@pytest.mark.parametrize(
    ("sound", "trouble"),
    [
        (ROOM, None),
        (engine(20.0), None),
        (engine(10.0), None),
        (engine(3.0), LOUD),
        (pause(3.0), SILENT),
        (np.clip(engine(0.0) * 20, -1, 1), OVERLOADED),
        (np.concatenate((pause(0.5), CALL, pause(1.5))) + ROOM[: len(CALL) + 32_000], None),
    ],
    ids=["room", "engine 20", "engine 10", "engine 3", "muted", "overloaded", "a call in it"],
)
def test_what_the_first_seconds_say(sound: Samples, trouble: str | None) -> None:
    assert calibrate(sound).trouble == trouble


def test_it_is_told_once_when_enough_was_heard() -> None:
    calibrating = Calibrating()
    found = [calibrating.feed(ROOM[:480]) for _ in range(300)]
    (number,) = [place for place, each in enumerate(found) if each is not None]
    assert (number + 1) * 480 / SAMPLE_RATE == pytest.approx(SECONDS, abs=0.03)


def through_ears(sound: Samples) -> list[Happening]:
    out: queue.SimpleQueue[Happening] = queue.SimpleQueue()
    ears = Ears(Microphone(), out, calibrating=Calibrating())
    for begin in range(0, len(sound), 480):
        ears._take(sound[begin : begin + 480])
    happened = [out.get_nowait() for _ in range(out.qsize())]
    return [one for one in happened if isinstance(one, Device | Utterance)]


def test_a_call_in_the_first_seconds_is_heard_before_anything_is_said_of_them() -> None:
    loud = engine(5.0, 8.0) * 1.5
    sound = loud.copy()
    sound[24_000 : 24_000 + len(CALL)] += CALL * 2.0
    utterance, told = through_ears(np.clip(sound, -0.99, 0.99))
    assert isinstance(utterance, Utterance)
    assert utterance.start < 1.5
    assert told == Device(LOUD)


def test_of_a_good_start_nothing_is_said_and_of_a_muted_one_once() -> None:
    assert through_ears(np.tile(ROOM, 5)) == []
    assert through_ears(pause(30.0)) == [Device(SILENT)]


# --- hints ---------------------------------------------------------------------------------------
def heard(outcome: str = "record") -> ev.Heard:
    return ev.Heard.model_validate(
        {"text": "roger", "engine": "test", "confidence": 1, "call_confidence": 1}
        | {"outcome": outcome}
    )


def spoken(over_noise: float = 25.0, *troubles: Trouble) -> Utterance:
    return Utterance(CALL, 0.0, 1.0, troubles, over_noise)


def test_too_loud_and_too_quiet_are_told_each_at_most_once_in_five_minutes() -> None:
    hints = Hints()
    assert hints.after(spoken(), heard(), AT) is None
    assert hints.after(spoken(25.0, "clipped"), heard(), AT) == TOO_LOUD
    assert hints.after(spoken(5.0), heard(), AT) == TOO_QUIET
    for seconds in range(0, int(AGAIN_AFTER.total_seconds()), 20):
        at = AT + timedelta(seconds=seconds)
        assert hints.after(spoken(25.0, "clipped"), heard(), at) is None
        assert hints.after(spoken(5.0), heard(), at) is None
    assert hints.after(spoken(5.0), heard(), AT + AGAIN_AFTER) == TOO_QUIET


def test_a_faint_voice_in_a_quiet_room_is_too_quiet() -> None:
    faint = Utterance(CALL * 0.005, 0.0, 1.0, (), 20.0)
    assert Hints().after(faint, heard(), AT) == TOO_QUIET


def test_no_hint_for_talk_nor_before_an_answer_nor_twice_over() -> None:
    assert Hints().after(spoken(5.0), heard("ignore"), AT) is None
    assert Hints().after(spoken(5.0), heard("ask"), AT) is None
    assert Hints().after(spoken(25.0, "clipped"), heard("say-again"), AT) is None
    assert Hints().after(spoken(5.0), heard("say-again"), AT) == TOO_QUIET


@pytest.mark.parametrize(("below", "near"), [(20.0, False), (3.0, True)])
def test_how_far_speech_is_above_the_noise_is_measured(below: float, near: bool) -> None:
    sound = mix(np.concatenate((pause(4.0), CALL, pause(2.0))), NOISES["engine"](9.0), below)
    (utterance,) = segment_sound([sound])
    assert utterance.over_noise is not None
    assert (Hints().after(utterance, heard(), AT) == TOO_QUIET) == near


class Understanding:
    """An engine that hears the same call every time."""

    name = "test"

    def listen_for(self, grammar: object) -> None:
        pass

    def recognize(
        self, samples: Samples, *, call_sign_needed: bool = False, number_alone: bool = False
    ) -> Recognition:
        return Recognition(self.name, (Hypothesis("read tags", 0.0, 1.0),), 1.0, None, 0.0)

    def transcribe(self, samples: Samples) -> str | None:
        return None


def test_a_hint_follows_the_readback_and_is_in_the_log(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=AT, recognizer=Understanding())
    shown: list[Exchange] = []
    loop = LiveLoop(session, SilentVoice(VoiceUnavailable("none")), shown.append, clock=lambda: AT)
    for _ in range(3):
        loop.take(spoken(25.0, "clipped"))
    told = [
        record.event.what
        for exchange in shown
        for record in exchange.records
        if isinstance(record.event, ev.Trouble)
    ]
    assert told == [TOO_LOUD]
    assert len(shown) == 4
    assert shown[1].reply is not None
    assert shown[1].reply.text.startswith("Too loud")
    session.typed("stand by", AT)
    loop.take(spoken(5.0))
    assert TOO_QUIET not in session.state.troubles


# --- the checkup ---------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("sound", "works", "says"),
    [
        (ROOM, True, "bench microphone gives sound, noise at -"),
        (engine(3.0), True, LOUD),
        (pause(3.0), False, SILENT),
        (np.clip(engine(0.0) * 20, -1, 1), False, OVERLOADED),
    ],
)
def test_the_checkup_says_what_calibration_finds(
    monkeypatch: pytest.MonkeyPatch, sound: Samples, works: bool, says: str
) -> None:
    class Given:
        name = "bench microphone"

        def __init__(self, device: object) -> None:
            pass

        def __enter__(self) -> Given:
            return self

        def __exit__(
            self,
            kind: type[BaseException] | None,
            error: BaseException | None,
            where: TracebackType | None,
        ) -> None:
            pass

        def listen_for_seconds(self, seconds: float) -> Samples:
            return sound[: int(seconds * SAMPLE_RATE)]

    monkeypatch.setattr("companion.audio.microphone.Microphone", Given)
    for part in ("_speaker", "_recognizer", "_voice", "_disk"):
        monkeypatch.setattr(f"companion.checkup.{part}", lambda settings: "")
    microphone = check_all(Settings())[0]
    assert microphone.ok == works
    assert says in microphone.sentence
