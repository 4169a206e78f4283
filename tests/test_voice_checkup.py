"""``companion checkup --voice``: ten calls to say, how well they are heard, and what to do."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from itertools import repeat
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st

from companion.enroll.fit import ReadOut
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.intent.meaning import meanings
from companion.recognize.held import HeldRecognizer
from companion.trial.drawn import CALLS, NEAR_PAIRS, PAGES, another_page, calls_of, every_call
from companion.trial.heard import LISTEN_SECONDS, Became, HeardCall, Trial
from companion.trial.told import Around, Cause, Told, Verdict, call_values, differing, tell
from tests.conftest import Run, one_sentence
from tests.sounds import NOISES, Samples, mix, pause, speak
from tools.hearing.surroundings import through

BLOCK = 480


@cache
def grammar() -> CallGrammar:
    return load_grammar()


@cache
def trial(*, open_mic: bool = False) -> Trial:
    ears = HeldRecognizer()
    ears.listen_for(grammar())
    return Trial(ears, grammar(), open_mic=open_mic)


# --- the calls -----------------------------------------------------------------------------------
@given(st.integers(1, PAGES))
def test_a_page_has_what_matters_and_its_number_gives_it_again(page: int) -> None:
    calls = calls_of(page)
    assert calls == calls_of(page)
    assert len(set(calls)) == CALLS == 10
    said = " ".join(calls)
    for pair in NEAR_PAIRS:
        assert sum(len(re.findall(rf"\b{number}\b", said)) for number in pair) >= 1
    assert re.search(r"\btag no (oil|fuel)\b", said)
    assert re.search(r"\bstart soak timer\b", said)
    assert {"affirm", "yes"} & set(calls)
    assert {"negative", "no"} & set(calls)


def test_another_page_is_another_one() -> None:
    pages = {another_page() for _ in range(20)}
    assert len(pages) > 10
    assert len({calls_of(page) for page in pages}) == len(pages)


def test_every_call_is_a_call_of_one_meaning_that_is_read_back() -> None:
    for call in every_call():
        assert meanings(call.split(), grammar()), call
    drawn = {call for page in range(1, 400) for call in calls_of(page)}
    assert drawn == set(every_call())


def test_with_the_call_sign_all_but_the_long_answers_begin_with_it() -> None:
    for page in range(1, 50):
        for call in calls_of(page, "bench"):
            assert call.startswith("bench ") != (call in ("affirm", "negative"))


# --- heard by a microphone -----------------------------------------------------------------------
class Shop:
    """A microphone in a quiet shop: it hears whatever sounds there, unless it is paused."""

    def __init__(self) -> None:
        self._waiting: list[Samples] = []
        self._paused = False
        self._noise = np.random.default_rng(4).normal(0.0, 0.002, BLOCK).astype(np.float32)
        self.given = 0

    def sound(self, samples: Samples) -> None:
        """Something sounds in the shop."""
        if not self._paused:
            whole = np.concatenate((samples, np.zeros(-len(samples) % BLOCK, np.float32)))
            self._waiting += [*(whole.reshape(-1, BLOCK) + self._noise)]

    def read(self, timeout: float) -> Samples | None:
        return self._waiting.pop(0) if self._waiting else None

    def blocks(self) -> Iterator[Samples]:
        while True:
            self.given += 1
            block = self.read(0.0)
            yield self._noise if block is None else block

    def pause(self) -> None:
        self._paused = True

    def resume(self) -> None:
        self._paused = False


class Person(Shop):
    """Somebody who says each call once it was read out, or whatever stands in its place."""

    def __init__(self, *says: Samples) -> None:
        super().__init__()
        self.says = iter(says)
        self.shown: list[str] = []

    def read_out(self, number: int, call: str) -> None:
        self.shown.append(f"{number} {call}")
        # The companion's own voice comes out of the loudspeaker, right beside the microphone.
        self.sound(speak(call, "us-woman"))

    def resume(self) -> None:
        super().resume()
        self.sound(np.concatenate((pause(0.8), next(self.says))))


def heard_of(person: Person, calls: Sequence[str], *, open_mic: bool = False) -> list[HeardCall]:
    found = trial(open_mic=open_mic).at_microphone(calls, person, person.read_out, end_pause=0.6)
    return [*found]


def test_each_call_is_read_out_then_heard_and_judged() -> None:
    calls = ("tag no oil", "added twenty ounces of oil", "affirm")
    person = Person(*(speak(call, "rms") for call in calls))
    heard = heard_of(person, calls)
    assert person.shown == ["1 tag no oil", "2 added twenty ounces of oil", "3 affirm"]
    assert [(call.said, call.became) for call in heard] == [(call, "right") for call in calls]
    assert all((call.over_noise or 0) > 20 for call in heard)


def test_it_never_hears_itself() -> None:
    """What it reads out is no answer: a person who says nothing is not heard."""
    calls = ("tag no oil", "affirm")
    person = Person(*repeat(pause(0.1), 2))
    assert [call.became for call in heard_of(person, calls)] == ["unheard", "unheard"]
    # And does not wait for ever.
    assert person.given * BLOCK / SAMPLE_RATE == pytest.approx(2 * LISTEN_SECONDS, abs=2.0)


def test_another_call_in_its_place_would_be_recorded_wrong() -> None:
    (call,) = heard_of(Person(speak("tag no fuel", "rms")), ["tag no oil"])
    assert (call.became, call.text) == ("wrong", "tag no fuel")


def test_in_open_mic_talk_is_passed_over_and_the_call_still_heard() -> None:
    talk = speak("did you see where the dog went with that glove", "awb")
    both = np.concatenate((talk, pause(1.5), speak("bench tag no oil", "rms")))
    (call,) = heard_of(Person(both), ["bench tag no oil"], open_mic=True)
    assert call.became == "right"
    (call,) = heard_of(Person(speak("tag no oil", "rms")), ["bench tag no oil"], open_mic=True)
    assert (call.became, call.reasons) == ("ignored", ("no call sign",))


def test_what_was_said_while_it_thought_is_no_answer_to_the_next_call() -> None:
    person = Person(speak("tag no oil", "rms"), speak("tag no fuel", "rms"))
    heard = trial().at_microphone(
        ["tag no oil", "tag no fuel"], person, person.read_out, end_pause=0.6
    )
    assert next(heard).became == "right"
    person.sound(np.concatenate((speak("roger", "rms"), pause(1.0))))
    assert next(heard).became == "right"


# --- what is told --------------------------------------------------------------------------------
def call(
    became: Became = "right",
    over_noise: float | None = 30.0,
    *,
    floor: float = -60.0,
    peak: float = -10.0,
    text: str = "gap thirty thou",
    **more: object,
) -> HeardCall:
    said = "gap thirty thou"
    if became == "unheard":
        return HeardCall(said, "unheard")
    return HeardCall(
        said,
        became,
        text,
        over_noise=over_noise,
        noise_floor=floor,
        peak=peak,
        **more,  # type: ignore[arg-type]
    )


ASKED, AGAIN, UNHEARD = call("asked"), call("say-again"), call("unheard")
UNSIGNED = call("ignored", reasons=("no call sign",))
SIGN = Around(call_sign="bench")


@pytest.mark.parametrize(
    ("calls", "around", "verdict", "cause"),
    [
        ([call()] * 10, SIGN, "well", "none"),
        ([call()] * 9 + [ASKED], SIGN, "well", "none"),
        ([call()] * 9 + [call("wrong", text="gap thirteen thou")], SIGN, "badly", "voice"),
        ([call()] * 6 + [ASKED] * 2 + [AGAIN] * 2, SIGN, "fairly", "voice"),
        ([call()] * 3 + [ASKED] * 3 + [AGAIN] * 4, SIGN, "badly", "voice"),
        ([call(clipped=0.1)] * 10, SIGN, "well", "clipped"),
        ([call(clipped=0.1)] + [call()] * 9, SIGN, "well", "none"),
        ([call("asked", 9.0, floor=-30.0)] * 10, SIGN, "fairly", "noise"),
        ([call("asked", 9.0, floor=-37.0)] * 10, SIGN, "fairly", "noise"),
        ([call("asked", 9.0, floor=-55.0)] * 10, SIGN, "fairly", "far"),
        ([call("asked", 25.0, floor=-64.0, peak=-41.0)] * 10, SIGN, "fairly", "faint"),
        ([call("asked", narrow=True)] * 6 + [call()] * 4, SIGN, "fairly", "narrow"),
        ([call("asked", narrow=True)] * 5 + [call()] * 5, SIGN, "fairly", "voice"),
        ([call(narrow=True)] * 10, SIGN, "well", "none"),
        ([UNHEARD] * 10, Around(noise_floor=-60.0), "badly", "nothing"),
        ([UNHEARD] * 10, Around(noise_floor=-30.0), "badly", "noise"),
        ([UNHEARD] * 5 + [call(over_noise=14.0)] * 5, Around(noise_floor=-32.0), "badly", "noise"),
        ([UNSIGNED] * 5 + [call()] * 5, SIGN, "badly", "call sign"),
        ([AGAIN] * 10, Around(lost=3), "badly", "lost"),
        ([call()] * 10, Around(lost=3), "well", "none"),
    ],
)  # fmt: skip
def test_what_is_in_the_way_follows_from_what_was_measured(
    calls: list[HeardCall], around: Around, verdict: Verdict, cause: Cause
) -> None:
    told = tell(calls, around)
    assert (told.verdict, told.cause) == (verdict, cause)


def told_of(*calls: HeardCall, around: Around = SIGN) -> str:
    return tell(calls, around).sentence


def test_one_sentence_tells_how_well_and_what_to_do() -> None:
    assert told_of(*[call()] * 10) == (
        "It hears you well here: 10 of 10 right at once, your voice is 30 dB over the noise; "
        "nothing needs to be done."
    )
    wrong = call("wrong", text="gap thirteen thou")
    assert told_of(*[call("asked", 9.0, floor=-30.0)] * 7, wrong, AGAIN, UNHEARD) == (
        "It hears you badly here: 0 of 10 right at once, 7 asked about rightly, 1 to be said "
        "again, 1 not heard, 1 RECORDED WRONG (“thirty” as “thirteen”), your voice is 9 dB over "
        "the noise; the noise is too loud for it, so stop the engine while you call, turn the "
        "microphone away from the machine, or use a headset."
    )
    assert "companion enroll NAME" in told_of(*[AGAIN] * 10)
    assert "enroll it anew" in told_of(*[AGAIN] * 10, around=Around(voice="Rosa"))


BECAME = st.sampled_from(["right", "asked", "say-again", "ignored", "unheard", "wrong"])


@given(
    st.lists(BECAME, min_size=1, max_size=10),
    st.floats(0, 60),
    st.floats(-70, -10),
    st.booleans(),
)
def test_it_is_one_sentence_whatever_was_heard(
    became: list[Became], over_noise: float, floor: float, clips: bool
) -> None:
    heard = [
        call(each, over_noise, floor=floor, text="gap thirteen thou", clipped=0.1 * clips)
        for each in became
    ]
    told = tell(heard, SIGN)
    assert told.sentence.startswith("It hears you ")
    assert told.sentence.endswith(".")
    assert "\n" not in told.sentence
    assert ". " not in told.sentence
    if "wrong" in became:
        assert told.verdict == "badly"
        assert "“thirty” as “thirteen”" in told.sentence


@pytest.mark.parametrize(
    ("said", "heard", "words"),
    [
        ("gap seventeen thou", "gap seventy thou", ("seventeen", "seventy")),
        ("bench gap one oh five thou", "bench gap one five thou", ("oh", "")),
        ("tag no oil", "clear tag no oil", ("tag no oil", "clear tag no oil")),
        ("affirm", "affirm", ("", "")),
    ],
)
def test_the_words_that_were_heard_otherwise(said: str, heard: str, words: tuple[str, str]) -> None:
    assert differing(HeardCall(said, "asked", heard)) == words


# --- beside a machine, with the real recognizer --------------------------------------------------
PAGE = calls_of(7)[4:]


def recorded(make: Callable[[Samples, int], Samples], voice: str = "rms") -> list[ReadOut]:
    """A page said into a microphone, somebody's voice and what is around it."""
    return [
        ReadOut(said, make(np.concatenate((pause(1.5), speak(said, voice), pause(1.0))), number))
        for number, said in enumerate(PAGE)
    ]


def beside(noise: str, ratio: float, gain: float = 0.0) -> Callable[[Samples, int], Samples]:
    """Noise so many dB below a voice, both turned up so far at the input, in dB."""

    def make(said: Samples, number: int) -> Samples:
        sound = mix(said, NOISES[noise](len(said) / SAMPLE_RATE + 0.1, seed=number), ratio)
        return np.asarray(np.clip(sound * 10 ** (gain / 20), -1, 1), dtype=np.float32)

    return make


def tried(page: list[ReadOut]) -> Told:
    return tell([*trial().of_recordings(page)], Around())


def test_a_good_voice_in_a_quiet_shop_is_heard_and_nothing_around_it_blamed() -> None:
    told = tried(recorded(beside("pink", 30.0)))
    # How many are right at once is measured elsewhere; numbers that sound alike may be asked about.
    assert told.verdict in ("well", "fairly"), told.sentence
    assert told.cause in ("none", "voice"), told.sentence
    assert told.over_noise is not None
    assert told.over_noise > 20


def test_beside_an_engine_the_noise_is_blamed() -> None:
    told = tried(recorded(beside("engine", -1.0)))
    assert told.cause == "noise", told.sentence
    assert told.verdict != "well"
    assert "stop the engine" in told.sentence


def test_far_from_the_microphone_it_is_to_be_held_nearer() -> None:
    told = tried(recorded(beside("pink", 3.0, gain=-28.0)))
    assert told.cause == "far", told.sentence
    assert "nearer to your mouth" in told.sentence


def test_an_input_that_is_turned_up_too_far_is_to_be_turned_down() -> None:
    told = tried(recorded(beside("pink", 30.0, gain=24.0)))
    assert told.cause == "clipped", told.sentence
    assert "turn its level down" in told.sentence


def test_through_a_telephone_its_band_is_blamed() -> None:
    quiet = beside("pink", 25.0)
    page = recorded(lambda said, number: through(quiet(said, number), "phone"))
    heard = [*trial().of_recordings(page)]
    assert all(call.narrow for call in heard if call.became != "unheard")
    told = tell(heard, Around())
    assert told.cause == ("none" if told.verdict == "well" else "narrow"), told.sentence


# --- the command ---------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three recordings: one right, one of another call, one of nothing."""
    made = tmp_path_factory.mktemp("clips")
    sounds = {
        "tag no oil": speak("tag no oil", "rms"),
        "bench tag no fuel": speak("bench tag no oil", "rms"),
        "roger": np.random.default_rng(1).normal(0, 0.002, SAMPLE_RATE).astype(np.float32),
    }
    lines = []
    for said, sound in sounds.items():
        name = said.replace(" ", "-") + ".wav"
        soundfile.write(made / name, np.concatenate((pause(0.8), sound, pause(0.8))), SAMPLE_RATE)
        lines.append(f'[[call]]\nfile = "{name}"\nsaid = "{said}"\n')
    (made / "calls.toml").write_text("\n".join(lines))
    return made


def test_recordings_are_tried_in_place_of_a_microphone(
    companion: Run, folder: Path, tmp_path: Path
) -> None:
    run = companion("checkup", "--voice", "--clips", folder)
    assert run.returncode == 1
    assert run.stdout.splitlines()[:3] == [
        "  tag no oil: right at once",
        "  bench tag no fuel: WRONG: it would have been recorded as “bench tag no oil”",
        "  roger: nothing was heard",
    ]
    assert run.stdout.splitlines()[3].startswith("It hears you badly here: 1 of 3 right at once, ")
    assert len(run.stdout.splitlines()) == 4
    # Nothing of it is kept anywhere.
    assert not (tmp_path / "data").exists() or not [*(tmp_path / "data").rglob("*.jsonl")]


def test_the_same_as_json(companion: Run, folder: Path) -> None:
    run = companion("checkup", "--voice", "--clips", folder, "--json")
    found = json.loads(run.stdout)
    assert run.returncode == 1
    assert (found["list"], found["of"], found["page"]) == ("heard", 3, None)
    assert [each["became"] for each in found["items"]] == ["right", "wrong", "unheard"]
    assert found["items"][1]["heard"] == "bench tag no oil"
    assert found["items"][2] == call_values(HeardCall("roger", "unheard"))
    assert not found["works"]
    assert found["sentence"].startswith("It hears you badly here")
    assert found["over_noise_db"] > 20


def test_what_cannot_be_done_is_told_in_one_sentence(companion: Run, tmp_path: Path) -> None:
    def fails(status: int, *arguments: str | Path) -> str:
        return one_sentence(companion("checkup", *arguments), status)

    assert "add --voice" in fails(2, "--page", "3")
    assert "add --voice" in fails(2, "--clips", tmp_path)
    assert "pages have the numbers 1 to 9,999" in fails(2, "--voice", "--page", "0")
    assert "no folder" in fails(1, "--voice", "--clips", tmp_path / "nowhere")
    assert "calls.toml" in fails(1, "--voice", "--clips", tmp_path)
    assert "No voice 'Rosa'" in fails(1, "--voice", "Rosa", "--clips", clips(tmp_path / "one"))


def clips(folder: Path) -> Path:
    folder.mkdir()
    soundfile.write(folder / "1.wav", pause(1.0), SAMPLE_RATE)
    (folder / "calls.toml").write_text('[[call]]\nfile = "1.wav"\nsaid = "roger"\n')
    return folder
