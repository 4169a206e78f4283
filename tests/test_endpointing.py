"""When an utterance ends: a call that is whole soon, half a call only after a pause for thought."""

from __future__ import annotations

import queue
from datetime import UTC, datetime
from functools import cache
from itertools import product
from pathlib import Path
from random import Random

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from companion.audio.endpointing import (
    CLEAR_INTERIM_SHARE,
    INTERIM_SHARE,
    UNDECIDED,
    Segmentation,
    Segmenter,
    segment_sound,
)
from companion.audio.noise_floor import FRAME
from companion.audio.utterance import Interim, Utterance
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.going_on import completeness
from companion.grammar.jsgf import parse_jsgf
from companion.grammar.linking import link
from companion.intent.decision import Listening, decide_utterance
from companion.intent.ending import OPEN, SOON, UNFINISHED, USUAL, WHOLE, pause_after
from companion.job.events import Heard
from companion.live.ears import Ears
from companion.live.loop import LiveLoop
from companion.recognize.held import HeldRecognizer
from companion.recognize.protocol import Hypothesis, Recognition
from companion.replay import load_replay, open_replay, replay
from companion.session.exchange import Exchange
from companion.session.opening import open_session
from companion.session.session import Session
from companion.settings import Settings
from companion.speak.voice import SilentVoice, VoiceUnavailable
from tests.sounds import Samples, idling_engine, mix, pause, speak

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
END_PAUSE = Segmentation().end_pause
"""The pause that ends a call, in seconds, where nothing else is set."""
GRAMMAR = load_grammar()
KEY_HELD = Listening()
OPEN_MIC = Listening(call_sign_needed=True)


# --- can this sentence go on? --------------------------------------------------------------------
@pytest.mark.parametrize(
    ("said", "stands"),
    [
        ("gap", "begun"),
        ("gap thirty", "begun"),
        ("gap thirty thou", "whole"),
        ("bench gap thirty thou", "whole"),
        ("engine stopped", "whole"),
        ("start soak timer", "open"),
        ("start soak timer two hours", "open"),  # … and twenty minutes
        ("battery twelve", "open"),  # … point six
        ("battery twelve point six volts", "whole"),
        ("added one more ounce", "open"),  # … of oil
        ("hello there", "no call"),
        ("", "begun"),
    ],
)
def test_how_words_stand_as_a_call(said: str, stands: str) -> None:
    assert completeness(said.split(), GRAMMAR) == stands


@given(st.integers(0, 10_000))
def test_a_call_is_whole_exactly_if_no_longer_one_begins_with_it(seed: int) -> None:
    """Against every sentence of a small grammar, written out."""
    random = Random(seed)
    sentences = {
        tuple(random.choices("abc", k=random.randint(1, 4))) for _ in range(random.randint(1, 8))
    }
    body = " | ".join(" ".join(sentence) for sentence in sorted(sentences))
    text = f"#JSGF V1.0;\ngrammar toys;\npublic <call> = {body};"
    toys = CallGrammar(link(parse_jsgf(text, "toys.gram"), "call", lambda name: None))
    for length in range(5):
        for words in product("abc", repeat=length):
            longer = any(each[:length] == words and len(each) > length for each in sentences)
            expected = {
                (True, True): "open",
                (True, False): "whole",
                (False, True): "begun",
                (False, False): "no call",
            }[words in sentences, longer]
            assert completeness(words, toys) == expected


# --- how long to wait ----------------------------------------------------------------------------
def waited(
    *hypotheses: tuple[str, float],
    call: float = 0.99,
    transcript: str | None = None,
    listening: Listening = KEY_HELD,
    seconds: float = 2.0,
    clear: bool = False,
) -> float:
    ranked = tuple(Hypothesis(text, -float(at), sure) for at, (text, sure) in enumerate(hypotheses))
    recognition = Recognition("test", ranked, call, transcript, 0.0)
    decision = decide_utterance(recognition, GRAMMAR, listening)
    return pause_after(decision, recognition, GRAMMAR, listening, seconds, clear=clear)


def test_a_whole_call_ends_soonest_and_one_that_may_go_on_later() -> None:
    assert waited(("gap thirty thou", 0.99)) == WHOLE
    assert waited(("start soak timer", 0.99)) == OPEN
    # Whoever calls plainly does not go on with "… out" after a pause.
    assert waited(("drained eighteen ounces of oil", 0.99)) == WHOLE
    assert waited(("bench gap thirty thou", 0.99), listening=OPEN_MIC) == WHOLE
    assert SOON < WHOLE < USUAL < OPEN < UNFINISHED


def test_of_clear_speech_only_a_whole_call_ends_sooner() -> None:
    assert waited(("gap thirty thou", 0.99), clear=True) == SOON
    assert waited(("bench gap thirty thou", 0.99), listening=OPEN_MIC, clear=True) == SOON
    # Half a call.
    assert waited(("gap thirty thou", 0.99), call=0.6, clear=True) == UNFINISHED
    assert waited(("start soak timer", 0.99), clear=True) == OPEN
    assert waited(("gap thirty thou", 0.55), ("gap thirteen thou", 0.45), clear=True) == OPEN
    assert waited(("gap thirty", 0.99), clear=True) == UNFINISHED


def test_half_a_call_is_waited_for_longest() -> None:
    # Held to whole calls, an engine puts one in its place, and does not believe in it.
    assert waited(("gap thirty thou", 0.99), call=0.6) == UNFINISHED
    assert waited(("gap thirty thou", 0.99), call=0.1) == UNFINISHED
    assert waited() == UNFINISHED
    # One that holds to words alone gives the words.
    assert waited(("gap thirty", 0.99)) == UNFINISHED


def test_a_doubt_between_whole_calls_is_no_reason_to_wait_long() -> None:
    assert waited(("gap thirty thou", 0.55), ("gap thirteen thou", 0.45)) == OPEN


def test_a_note_is_waited_for_while_its_words_are_sought() -> None:
    assert waited(("note", 0.9), transcript="Note the guard is loose") == UNFINISHED


def test_talk_is_waited_for_no_longer_than_ever() -> None:
    """Else a call soon after it would be taken for its end."""
    assert waited(("gap thirty thou", 0.9), call=0.2, listening=OPEN_MIC) == USUAL
    # Half a call seems to begin with the call sign, believed or not.
    assert waited(("bench gap nine inch", 0.9), call=0.2, listening=OPEN_MIC) == UNFINISHED


def test_what_may_be_the_call_sign_alone_is_waited_for() -> None:
    assert waited(("bolt bent", 0.5), call=0.2, listening=OPEN_MIC, seconds=0.8) == UNFINISHED
    # The engine found no trace of it.
    assert waited(listening=OPEN_MIC, seconds=0.8) == USUAL


# --- interim utterances --------------------------------------------------------------------------
def interims_and_ends(
    sound: Samples, end_pause: float | None = None, settings: Segmentation | None = None
) -> tuple[list[tuple[float, Interim]], list[tuple[float, Utterance]]]:
    """Each interim and each utterance, with the second of the sound at which it came."""
    segmenter = Segmenter(settings, interims=True)
    interims: list[tuple[float, Interim]] = []
    ended: list[tuple[float, Utterance]] = []
    for begin in range(0, len(sound), FRAME):
        now = (begin + FRAME) / SAMPLE_RATE
        ended += [(now, each) for each in segmenter.feed(sound[begin : begin + FRAME])]
        interim = segmenter.interim
        if interim is not None and interim not in [each for _, each in interims]:
            interims.append((now, interim))
            if end_pause is not None:
                segmenter.end_after(interim.number, end_pause)
    return interims, ended


CALL = speak("gap thirty thou", "slt")
ALONE = np.concatenate((pause(1.0), CALL, pause(3.0)))
THOUGHT = np.concatenate(
    (pause(1.0), speak("gap", "rms"), pause(0.8), speak("thirty thou", "rms"), pause(3.0))
)


def test_an_interim_comes_within_the_pause_and_holds_all_that_was_said() -> None:
    ((at, interim),), ((ended_at, utterance),) = interims_and_ends(ALONE)
    pause_before = at - interim.utterance.speech_end
    assert pause_before == pytest.approx(CLEAR_INTERIM_SHARE * END_PAUSE, abs=0.02)
    assert interim.utterance.speech_end == utterance.speech_end
    assert utterance.interim == interim.number
    np.testing.assert_array_equal(
        interim.utterance.samples, utterance.samples[: len(interim.utterance.samples)]
    )
    # Nobody having said what it is, it is waited for.
    assert ended_at - utterance.speech_end == pytest.approx(UNDECIDED * END_PAUSE, abs=0.02)


def test_in_noise_an_interim_comes_later_and_only_once_a_pause() -> None:
    """Weak last sounds are lost in noise: what seems to be a pause may be none."""
    in_noise = mix(ALONE, idling_engine(len(ALONE) / SAMPLE_RATE, seed=1)[: len(ALONE)], 10.0)
    interims, ((_, utterance),) = interims_and_ends(in_noise)
    assert not utterance.clear
    assert [each.utterance.clear for _, each in interims] == [False] * len(interims)
    at, last = interims[-1]
    pause_before = at - last.utterance.speech_end
    assert pause_before == pytest.approx(INTERIM_SHARE * END_PAUSE, abs=0.02)
    assert CLEAR_INTERIM_SHARE < INTERIM_SHARE
    assert interims_and_ends(ALONE)[1][0][1].clear


@pytest.mark.parametrize("seconds", [0.3, 0.45, 0.6, 0.9, 1.2])
def test_the_pause_that_was_chosen_ends_it(seconds: float) -> None:
    _, ((ended_at, utterance),) = interims_and_ends(ALONE, end_pause=seconds)
    assert ended_at - utterance.speech_end == pytest.approx(seconds, abs=0.02)


def test_a_verdict_that_comes_late_ends_it_at_once() -> None:
    segmenter = Segmenter(interims=True)
    end = SAMPLE_RATE + len(CALL) + int(0.8 * SAMPLE_RATE)
    assert segmenter.feed(ALONE[:end]) == ()
    assert segmenter.interim is not None
    segmenter.end_after(segmenter.interim.number, 0.45)
    assert len(segmenter.feed(ALONE[end : end + 2 * FRAME])) == 1


def test_speech_that_goes_on_ends_the_interim_and_what_was_chosen_for_it() -> None:
    interims, ended = interims_and_ends(THOUGHT, end_pause=0.9)
    assert len(interims) == 2
    ((_, utterance),) = ended
    assert utterance.interim == interims[1][1].number
    late = Segmenter(interims=True)
    late.feed(THOUGHT[: 2 * SAMPLE_RATE])
    first = late.interim
    late.feed(THOUGHT[2 * SAMPLE_RATE : int(2.6 * SAMPLE_RATE)])
    assert first is not None
    late.end_after(first.number, 0.0)
    assert late.speaking


def test_what_an_interim_of_half_a_call_is_not_told_to_wait_for_is_cut_off() -> None:
    assert len(interims_and_ends(THOUGHT, end_pause=0.6)[1]) == 2
    assert len(list(segment_sound([THOUGHT]))) == 2


def test_no_interims_of_clicks_of_long_talk_or_unasked() -> None:
    click = pause(3.0)
    click[SAMPLE_RATE : SAMPLE_RATE + 200] = 0.7
    assert interims_and_ends(click)[0] == []
    talk = np.concatenate(
        [pause(1.0), *[speak("added twenty ounces of oil", "slt")] * 6, pause(2.0)]
    )
    interims, ((ended_at, utterance),) = interims_and_ends(talk)
    assert interims == []
    assert ended_at - utterance.speech_end == pytest.approx(END_PAUSE, abs=0.02)
    unasked = Segmenter()
    unasked.feed(ALONE[: int(2.6 * SAMPLE_RATE)])
    assert unasked.interim is None


def test_forgetting_drops_the_interim() -> None:
    segmenter = Segmenter(interims=True)
    segmenter.feed(ALONE[: SAMPLE_RATE + len(CALL) + int(0.6 * SAMPLE_RATE)])
    assert segmenter.interim is not None
    segmenter.forget()
    assert segmenter.interim is None


def test_all_pauses_follow_the_one_that_is_set() -> None:
    interims, ended = interims_and_ends(ALONE, settings=Segmentation(end_pause=1.0))
    assert interims[0][0] - interims[0][1].utterance.speech_end == pytest.approx(0.3, abs=0.02)
    assert ended[0][0] - ended[0][1].speech_end == pytest.approx(2.0, abs=0.02)


# --- at the bench and in a replay, with the real recognizer --------------------------------------
@cache
def recognizer() -> HeldRecognizer:
    return HeldRecognizer()


class Nowhere:
    """A microphone whose blocks the test gives to the ears itself."""

    name = "none"
    overflows = 0

    def pause(self) -> None:
        pass

    def resume(self) -> None:
        pass

    def reopen(self) -> None:
        pass

    def blocks(self) -> list[Samples]:  # type: ignore[override]
        return []


def heard_live(
    session: Session, sound: Samples, *, push_to_talk: bool = False, deaf_at: float | None = None
) -> tuple[list[Exchange], int]:
    """What a session makes of sound given block by block, the loop keeping step with it; and how
    often it recognized."""
    shown: list[Exchange] = []
    counted = 0
    real = recognizer().recognize

    def recognize(
        samples: Samples, *, call_sign_needed: bool = False, number_alone: bool = False
    ) -> Recognition:
        nonlocal counted
        counted += 1
        return real(samples, call_sign_needed=call_sign_needed, number_alone=number_alone)

    session.recognizer.recognize = recognize  # type: ignore[union-attr, method-assign]
    loop = LiveLoop(session, SilentVoice(VoiceUnavailable("none")), shown.append, clock=lambda: AT)
    loop.ears = Ears(Nowhere(), loop.happenings, push_to_talk=push_to_talk)  # type: ignore[arg-type]
    if push_to_talk:
        loop.ears.open_once()
    try:
        for begin in range(0, len(sound), 480):
            loop.ears._take(sound[begin : begin + 480])
            if deaf_at is not None and begin >= deaf_at * SAMPLE_RATE:
                deaf_at = None
                with loop.ears.deaf():
                    pass
            while True:
                try:
                    loop.take(loop.happenings.get_nowait())
                except queue.Empty:
                    break
    finally:
        session.recognizer.recognize = real  # type: ignore[union-attr, method-assign]
    return shown, counted


def understood(exchanges: list[Exchange]) -> list[Heard]:
    """What was heard and recorded, or asked about: of an odd voice much is asked."""
    heard = [record.event for each in exchanges for record in each.records]
    return [e for e in heard if isinstance(e, Heard) and e.outcome in ("record", "ask")]


@pytest.mark.parametrize("voice", ["us-man", "gb"])
def test_the_call_sign_may_be_said_alone_first(tmp_path: Path, voice: str) -> None:
    session = open_session(tmp_path / "job", at=AT, recognizer=recognizer(), open_mic=True)
    parts = (pause(1.0), speak("bench", voice), pause(0.8), speak("oil level full", voice))
    exchanges, _ = heard_live(session, np.concatenate((*parts, pause(2.0))))
    assert [heard.text for heard in understood(exchanges)] == ["bench oil level full"]


def thinking(voice: str) -> Samples:
    parts = [pause(1.0)]
    for part in ("bench gap", "thirty", "thou"):
        parts += [speak(part, voice), pause(0.8)]
    return np.concatenate((*parts, pause(1.0)))


def test_a_call_with_pauses_for_thought_is_one_call(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=AT, recognizer=recognizer(), open_mic=True)
    exchanges, _ = heard_live(session, thinking("rms"))
    assert [heard.text for heard in understood(exchanges)] == ["bench gap thirty thou"]
    assert len(list((session.folder / "audio").iterdir())) == 1


def test_a_whole_call_is_recognized_once_and_ends_before_the_usual_pause(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=AT, recognizer=recognizer())
    speech = speak("oil level full", "rms")
    sound = np.concatenate((pause(1.0), speech, pause(2.0)))
    exchanges, counted = heard_live(session, sound, push_to_talk=True)
    (heard,) = understood(exchanges)
    assert (heard.text, heard.outcome) == ("oil level full", "record")
    assert counted == 1
    clip, rate = soundfile.read(session.folder / str(heard.clip))
    # Sound from some 0.35 s before speech, and half of the usual 0.6 s after it, nearly.
    assert len(clip) / rate - len(speech) / SAMPLE_RATE < 0.35 + 0.45


def test_what_was_half_heard_before_the_companion_spoke_is_forgotten(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=AT, recognizer=recognizer())
    spoken = len(speak("gap thirty thou", "rms")) / SAMPLE_RATE
    sound = np.concatenate((pause(1.0), speak("gap thirty thou", "rms"), pause(2.0)))
    exchanges, counted = heard_live(session, sound, deaf_at=1.0 + spoken + 0.1)
    assert (exchanges, counted) == ([], 0)


def test_a_replay_waits_for_thought_as_the_bench_does(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "call.wav", thinking("us-man"), SAMPLE_RATE)
    (tmp_path / "session.toml").write_text(
        'title = "thinking"\nmode = "open-mic"\n'
        '[[recording]]\nfile = "call.wav"\nat = 2026-04-11T09:00:00Z\n'
    )
    plan = load_replay(tmp_path)
    session = open_replay(plan, tmp_path, tmp_path / "out", recognizer())
    shown: list[Exchange] = []
    replay(plan, tmp_path, session, shown.append)
    assert [heard.text for heard in understood(shown)] == ["bench gap thirty thou"]


def test_talk_without_end_in_a_replay_is_cut_and_the_call_after_it_is_heard(tmp_path: Path) -> None:
    """However long a recording is, no more of it is held than the longest utterance."""
    talk = np.concatenate([speak("added twenty ounces of oil", "slt")] * 60)
    sound = np.concatenate((pause(1.0), talk, pause(2.0), speak("roger", "slt"), pause(2.0)))
    soundfile.write(tmp_path / "long.wav", sound, SAMPLE_RATE)
    (tmp_path / "session.toml").write_text(
        'title = "long"\n[[recording]]\nfile = "long.wav"\nat = 2026-04-11T09:00:00Z\n'
    )
    lengths: list[float] = []

    class Counting:
        name = "counting"

        def listen_for(self, grammar: CallGrammar) -> None:
            pass

        def recognize(
            self, samples: Samples, *, call_sign_needed: bool = False, number_alone: bool = False
        ) -> Recognition:
            lengths.append(len(samples) / SAMPLE_RATE)
            said = "roger" if lengths[-1] < 3 else "disregard"
            return Recognition(self.name, (Hypothesis(said, 0.0, 1.0),), 1.0, None, 0.0)

        def transcribe(self, samples: Samples) -> str | None:
            return None

    plan = load_replay(tmp_path)
    session = open_replay(plan, tmp_path, tmp_path / "out", Counting())
    shown: list[Exchange] = []
    replay(plan, tmp_path, session, shown.append)
    heard = [r.event for e in shown for r in e.records if isinstance(r.event, Heard)]
    assert max(lengths) <= 15.0
    assert sum("too-long" in each.reasons for each in heard) >= len(talk) / SAMPLE_RATE / 15 - 1
    assert heard[-1].text == "roger"


def test_a_file_is_cut_by_the_pause_that_is_usual_at_the_bench() -> None:
    assert Settings().end_pause == END_PAUSE
