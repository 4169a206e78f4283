"""The voice: speech rendered and played where there is a loudspeaker, never in the job's way."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
import threading
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from companion.audio.devices import SpeakerUnavailable
from companion.files.sound_format import SAMPLE_RATE
from companion.speak import espeak, speech
from companion.speak.engines import InstalledEngine
from companion.speak.speech import SpeechEngine, VoiceUnavailable
from companion.speak.tones import tone
from companion.speak.voice import SilentVoice, SpokenVoice, open_voice
from companion.speak.wording import Reply

Sound = NDArray[np.float32]

READBACKS = (
    "Gap, thirty, three zero, thou. In.",
    "Gap, forty, four zero, thou. High by eight point five.",
    "Corrected: compression, one hundred fifteen, one one five, p s i. Low by seventy five.",
    "Engine speed, three thousand six hundred fifty, three six five zero, r p m. In.",
    "Drained eighteen, one eight, ounces of oil. Tag hung: no oil.",
    "Added one ounce of oil. Twenty two of twenty four ounces: two more at most.",
    "Added one ounce of oil. Twenty one of twenty ounces. One ounce too much. "
    "Let it out before a start.",
    "Oil: twenty four ounces. First about twenty one, then creep up on the dipstick. S A E thirty.",
    "Oil: the sheet's twenty imperial ounces are nineteen point two u s ounces. First about "
    "seventeen, then creep up on the dipstick.",
    "S A E thirty from eighty degrees fahrenheit, ten W thirty from twenty, five W thirty below. "
    "Call the air temperature.",
    "Oil level full. Oil was drained. Twenty ounces added since, oil level called full. "
    "Clear tag no oil?",
    "Soak timer, one hour fifty minutes left.",
    "Confirm: battery, thirteen point two, one three point two, volts?",
)


@dataclass
class Settings:
    speech_voice: str | None = None
    speech_rate: int = 170
    speaker: int | str | None = None


class FakePlayer:
    """A loudspeaker that keeps what it is given."""

    def __init__(self, failure: SpeakerUnavailable | None = None) -> None:
        self.failure = failure
        self.played: list[Sound] = []
        self.stopped = 0

    def play(self, samples: Sound, rate: int = SAMPLE_RATE) -> bool:
        if self.failure is not None:
            raise self.failure
        self.played.append(samples)
        return True

    def stop(self) -> None:
        self.stopped += 1


@pytest.fixture(scope="module")
def engine() -> SpeechEngine:
    return SpeechEngine()


def spoken(engine: SpeechEngine | VoiceUnavailable, player: FakePlayer) -> SpokenVoice:
    return SpokenVoice(engine, player)  # type: ignore[arg-type]


def assert_alike(one: Sound, other: Sound) -> None:
    """The same words: espeak-ng mixes a little chance into every sound it makes."""
    assert len(one) == pytest.approx(len(other), abs=0.02 * SAMPLE_RATE)
    length = min(len(one), len(other)) // 160 * 160
    loudness = [np.sqrt(np.mean(s[:length].reshape(-1, 160) ** 2, axis=1)) for s in (one, other)]
    assert np.corrcoef(*loudness)[0, 1] > 0.9


@pytest.mark.parametrize("text", READBACKS)
def test_an_ordinary_readback_takes_less_than_eight_seconds(
    engine: SpeechEngine, text: str
) -> None:
    sound = engine.render(text)
    assert 1.0 < len(sound) / SAMPLE_RATE < 8.0
    assert sound.dtype == np.float32
    assert 0.1 < np.max(np.abs(sound)) <= 1.0


PROSE = (
    "the belt guard goes back on when both belts have been fitted and the cable has been set so "
    "that the drive lets go as soon as the handle is let go and not a moment later"
)


def test_a_faster_pace_is_faster() -> None:
    slow, usual, fast = (
        len(SpeechEngine(words_per_minute=pace).render(PROSE)) for pace in (130, 170, 220)
    )
    assert slow / usual == pytest.approx(170 / 130, rel=0.1)
    assert usual / fast == pytest.approx(220 / 170, rel=0.1)


def test_a_long_text_is_rendered_to_its_end(engine: SpeechEngine) -> None:
    once, many = len(engine.render(f"{PROSE}.")), len(engine.render(f"{PROSE}. " * 10))
    assert many > 9.5 * once


def test_speech_has_no_long_pause_around_it(engine: SpeechEngine) -> None:
    sound = engine.render("Gap.")
    loud = np.flatnonzero(np.abs(sound) > 0.01)
    assert loud[0] < 0.1 * SAMPLE_RATE
    assert len(sound) - loud[-1] < 0.2 * SAMPLE_RATE


def test_nothing_to_say_is_no_sound(engine: SpeechEngine) -> None:
    assert len(engine.render("")) == 0
    assert len(engine.render(" … ")) == 0


def test_thou_is_said_as_in_thousand(engine: SpeechEngine) -> None:
    assert_alike(engine.render("thirty thou"), engine.render("thirty thow"))


def test_digits_and_symbols_are_spoken(engine: SpeechEngine) -> None:
    in_words = "three eighths inch, thirty one foot pounds"
    assert_alike(engine.render("3/8 inch, 31 ft·lbf"), engine.render(in_words))


def test_rendering_prints_nothing(engine: SpeechEngine, capfd: pytest.CaptureFixture[str]) -> None:
    engine.render("Gap, thirty one thou. In.")
    assert capfd.readouterr() == ("", "")


def test_many_threads_may_ask_at_once(engine: SpeechEngine) -> None:
    texts = [f"Gap, {number} thou." for number in range(8)]
    alone = [engine.render(text) for text in texts]
    together: dict[str, Sound] = {}
    threads = [
        threading.Thread(target=lambda text=text: together.update({text: engine.render(text)}))
        for text in texts
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for text, sound in zip(texts, alone, strict=True):
        assert_alike(together[text], sound)


def test_another_voice_by_part_of_its_name() -> None:
    text = "Gap, thirty one thou. In."
    lengths = [len(SpeechEngine(voice).render(text)) for voice in (None, "scotland", "en-us+f3")]
    assert len(set(lengths)) == 3


def test_a_voice_that_there_is_not() -> None:
    with pytest.raises(VoiceUnavailable, match="no voice 'nobody'; mend or remove 'speech_voice'"):
        SpeechEngine("nobody")


def test_without_a_system_library_the_one_in_the_wheel_speaks() -> None:
    """In a process of its own, in which the system's library cannot be found."""
    script = """
        import ctypes
        real = ctypes.CDLL.__init__
        def hidden(self, name, *others, **more):
            if name == "libespeak-ng.so.1":
                raise OSError("cannot open shared object file: No such file or directory")
            real(self, name, *others, **more)
        ctypes.CDLL.__init__ = hidden
        from companion.speak.speech import SpeechEngine
        sound = SpeechEngine().render("Gap, thirty one thou. In.")
        loaded = {line.split()[-1] for line in open("/proc/self/maps") if "libespeak" in line}
        assert loaded and all("espeakng_loader" in path for path in loaded), loaded
        print(len(sound) / 16000)
    """
    run = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(script)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert run.returncode == 0, run.stderr
    assert 1.0 < float(run.stdout) < 5.0


def test_without_any_library_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    def none() -> espeak.Espeak:
        raise espeak.EspeakMissing

    monkeypatch.setattr(espeak, "load_espeak", none)
    with pytest.raises(VoiceUnavailable, match=r" -m pip install espeakng-loader$"):
        SpeechEngine()


def test_a_library_without_its_voices_is_passed_over_and_ends_nothing(tmp_path: Path) -> None:
    script = f"""
        import ctypes
        from pathlib import Path
        from companion.speak import espeak
        import espeakng_loader
        library = ctypes.CDLL(espeakng_loader.get_library_path())
        try:
            espeak.Espeak(library, Path({str(tmp_path)!r}))
        except espeak.EspeakMissing:
            print("missing")
    """
    run = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(script)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        env={**os.environ, "ESPEAK_DATA_PATH": str(tmp_path)},
    )
    assert run.stdout == "missing\n", run.stderr


# --- an engine that misbehaves ------------------------------------------------------------------
class Failing:
    """An engine that raises what it should not."""

    def render(self, words: str) -> Sound:
        raise RuntimeError("internal error.\nmore")

    def speak(self, words: str) -> None:
        raise RuntimeError


class Hanging(Failing):
    """An engine that waits for the test."""

    def __init__(self) -> None:
        self.go_on = threading.Event()

    def render(self, words: str) -> Sound:
        self.go_on.wait()
        return np.zeros(1, dtype=np.float32)


def test_an_engine_that_fails_is_told_in_one_sentence() -> None:
    engine = SpeechEngine(start=lambda voice, pace: Failing())
    with pytest.raises(VoiceUnavailable) as caught:
        engine.render("gap")
    sentence = "The speech engine failed (internal error); see 'companion checkup'."
    assert str(caught.value) == sentence
    with pytest.raises(VoiceUnavailable, match=r"failed \(RuntimeError\)"):
        engine.speak("gap")


def test_an_engine_that_hangs_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    hanging = Hanging()
    engine = SpeechEngine(start=lambda voice, pace: hanging)
    monkeypatch.setattr(speech, "RENDER_SECONDS", 0.01)
    for _ in range(2):
        with pytest.raises(VoiceUnavailable, match="did not finish a sentence"):
            engine.render("gap")
    hanging.go_on.set()


def test_an_engine_that_does_not_start_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    never = threading.Event()

    def start(voice: str | None, pace: int) -> Failing:
        never.wait()
        return Failing()

    monkeypatch.setattr(speech, "START_SECONDS", 0.01)
    with pytest.raises(VoiceUnavailable, match="did not start"):
        SpeechEngine(start=start)
    never.set()


# --- the engine of another system, by way of pyttsx3 --------------------------------------------
class FakeInstalled:
    """What ``pyttsx3.init`` gives."""

    def __init__(self, renders: bool = True) -> None:
        self.renders = renders
        self.properties: dict[str, object] = {}
        self.said: list[str] = []
        self._file: str | None = None

    def getProperty(self, name: str) -> list[SimpleNamespace]:  # noqa: N802
        assert name == "voices"
        return [SimpleNamespace(id="v1", name="Zira"), SimpleNamespace(id="v2", name="Alex")]

    def setProperty(self, name: str, value: object) -> None:  # noqa: N802
        self.properties[name] = value

    def save_to_file(self, words: str, file: str) -> None:
        self._file = file if self.renders else None

    def say(self, words: str) -> None:
        self.said.append(words)

    def runAndWait(self) -> None:  # noqa: N802
        if self._file is not None:
            soundfile.write(self._file, np.full(11_025, 0.3), 22_050, format="AIFF")


def installed(monkeypatch: pytest.MonkeyPatch, fake: FakeInstalled) -> None:
    monkeypatch.setitem(sys.modules, "pyttsx3", SimpleNamespace(init=lambda: fake))


def test_another_systems_engine_renders_to_a_file_of_whatever_kind(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fake = FakeInstalled()
    installed(monkeypatch, fake)
    engine = SpeechEngine("alex", 165, start=InstalledEngine)
    assert len(engine.render("Gap.")) == pytest.approx(SAMPLE_RATE / 2, abs=100)
    assert fake.properties == {"rate": 165, "voice": "v2"}


def test_another_systems_engine_that_cannot_render_speaks(monkeypatch: pytest.MonkeyPatch) -> None:
    fake = FakeInstalled(renders=False)
    installed(monkeypatch, fake)
    player = FakePlayer()
    voice = spoken(SpeechEngine(start=InstalledEngine), player)
    voice.say(Reply("recorded", "Gap, 31 thou. In."))
    assert fake.said == ["Gap, thirty one thow. In."]
    np.testing.assert_array_equal(player.played[0], tone("recorded"))
    assert voice.trouble is None


def test_another_systems_engine_without_such_a_voice(monkeypatch: pytest.MonkeyPatch) -> None:
    installed(monkeypatch, FakeInstalled())
    with pytest.raises(VoiceUnavailable, match="no voice 'nobody'"):
        SpeechEngine("nobody", start=InstalledEngine)


def test_no_engine_on_another_system(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyttsx3", None)
    with pytest.raises(VoiceUnavailable, match="add a voice in the system's settings"):
        SpeechEngine(start=InstalledEngine)


# --- replies ------------------------------------------------------------------------------------
class Buzzing(Failing):
    """An engine whose speech is always the same buzz."""

    def render(self, words: str) -> Sound:
        return np.resize(np.array([0.5, -0.5], dtype=np.float32), 100 * len(words))


@pytest.fixture
def buzzing() -> SpeechEngine:
    return SpeechEngine(start=lambda voice, pace: Buzzing())


def test_a_reply_is_its_tone_then_its_words(buzzing: SpeechEngine) -> None:
    player = FakePlayer()
    voice = spoken(buzzing, player)
    voice.say(Reply("recorded", "Gap, thirty one thou. In."))
    (sound,) = player.played
    signal, words = tone("recorded"), buzzing.render("Gap, thirty one thou. In.")
    np.testing.assert_array_equal(sound[: len(signal)], signal)
    np.testing.assert_array_equal(sound[-len(words) :], words)
    assert voice.trouble is None


def test_a_reply_without_a_tone_is_its_words(buzzing: SpeechEngine) -> None:
    player = FakePlayer()
    spoken(buzzing, player).say(Reply("none", "No tag hangs."))
    np.testing.assert_array_equal(player.played[0], buzzing.render("No tag hangs."))


def test_without_an_engine_the_tone_is_left() -> None:
    player = FakePlayer()
    voice = spoken(VoiceUnavailable("There is no speech engine."), player)
    voice.say(Reply("question", "Clear to start?"))
    np.testing.assert_array_equal(player.played[0], tone("question"))
    assert voice.trouble == "There is no speech engine."
    with pytest.raises(VoiceUnavailable):
        voice.render("gap")


def test_a_lost_loudspeaker_is_told_and_forgotten_when_it_is_back(engine: SpeechEngine) -> None:
    player = FakePlayer(SpeakerUnavailable("The loudspeaker is gone; plug it in."))
    voice = spoken(engine, player)
    voice.say(Reply("recorded", "Gap."))
    assert voice.trouble == "The loudspeaker is gone; plug it in."
    player.failure = None
    voice.say(Reply("recorded", "Gap."))
    assert voice.trouble is None


def test_hushing_stops_the_loudspeaker(engine: SpeechEngine) -> None:
    player = FakePlayer()
    spoken(engine, player).hush()
    assert player.stopped == 1


def test_with_no_loudspeaker_the_voice_is_silent_and_says_why(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def none(device: object) -> None:
        raise SpeakerUnavailable("No loudspeaker was found; plug one in.")

    monkeypatch.setattr("companion.speak.voice.Player", none)
    voice = open_voice(Settings())
    assert isinstance(voice, SilentVoice)
    assert voice.trouble == "No loudspeaker was found; plug one in."
    voice.say(Reply("recorded", "Gap."))
    voice.hush()
    assert len(voice.render("Gap.")) > 0


def test_asked_to_be_quiet_there_is_no_trouble() -> None:
    voice = open_voice(Settings(), quiet=True)
    assert isinstance(voice, SilentVoice)
    assert voice.trouble is None


def test_with_a_loudspeaker_it_is_spoken(monkeypatch: pytest.MonkeyPatch) -> None:
    player = FakePlayer()
    monkeypatch.setattr("companion.speak.voice.Player", lambda device: player)
    open_voice(Settings()).say(Reply("ring", "Soak timer rings."))
    assert len(player.played) == 1


def test_a_voice_of_no_known_name_leaves_the_tones(monkeypatch: pytest.MonkeyPatch) -> None:
    player = FakePlayer()
    monkeypatch.setattr("companion.speak.voice.Player", lambda device: player)
    voice = open_voice(Settings(speech_voice="nobody"))
    assert voice.trouble is not None
    assert "nobody" in voice.trouble
    voice.say(Reply("ring", "Soak timer rings."))
    np.testing.assert_array_equal(player.played[0], tone("ring"))
