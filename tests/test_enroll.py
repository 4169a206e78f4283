"""A voice enrolled: the page, the fit, what is kept, and the whole command."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.enroll.fit import Enrolled, Outcome, helps, report_lines
from companion.enroll.page import PAGE, SHORT, from_microphone, from_profile
from companion.enroll.voice_profile import (
    EnrolledCall,
    VoiceProfile,
    in_base64,
    load_voice,
    remove_voice,
    save_voice,
    use_voice,
    voice_paths,
)
from companion.errors import CompanionError, WrongUse
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import load_grammar
from companion.log.clips import keep_clip
from companion.recognize.ctc import BLANK, occupancy
from companion.recognize.fit_to_voice import Spoken, fitted
from companion.recognize.held import HeldRecognizer
from companion.recognize.phonemes import KINDS, PHONEMES, LastLayer
from companion.recognize.pronunciation import ways_to_say
from tests.conftest import Run, one_sentence
from tests.hard_voices import speak_hard
from tests.sounds import Samples, speak, with_pauses
from tests.test_recognize_second import OneAnswer


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path))
    return tmp_path


# --- the page ---
def test_the_page_is_of_calls_with_nearly_every_phoneme() -> None:
    grammar = load_grammar()
    assert all(grammar.parse(call.split()) for call in PAGE)
    said = {phoneme for call in PAGE for phoneme in ways_to_say(call.split())[0]}
    missing = {name for name, number in PHONEMES.items() if number not in said}
    assert missing <= {"DH", "ZH"}  # no word of a call has them
    assert len(PAGE) >= 25 > SHORT


class Reader:
    """A microphone before which somebody reads."""

    def __init__(self, *sounds: Samples) -> None:
        self.sound = np.concatenate(sounds)

    def blocks(self) -> Iterator[Samples]:
        yield from (self.sound[i : i + 480] for i in range(0, len(self.sound), 480))


def test_a_page_is_recorded_call_by_call() -> None:
    calls = ("gap thirteen thou", "oil level low")
    pause = np.zeros(SAMPLE_RATE, np.float32)
    shown: list[str] = []
    reader = Reader(pause, *(part for call in calls for part in (speak(call), pause)))
    read = from_microphone(calls, reader, shown.append)
    assert [one.said for one in read] == list(calls)
    assert all(len(one.samples) > SAMPLE_RATE // 2 for one in read)
    assert shown == ["1 of 2: gap thirteen thou", "2 of 2: oil level low"]


def test_a_microphone_that_ends_is_said_so() -> None:
    with pytest.raises(CompanionError, match="could not be recorded"):
        from_microphone(("roger",), Reader(np.zeros(SAMPLE_RATE, np.float32)), lambda _: None)


# --- the fit ---
@settings(max_examples=30)
@given(
    st.integers(0, 10**4), st.integers(3, 5), st.lists(st.integers(1, 3), min_size=1, max_size=2)
)
def test_frames_are_shared_out_by_every_path_that_says_the_sequence(
    seed: int, frames: int, sequence: list[int]
) -> None:
    """Graves et al., 2006, by the definition: all paths enumerated."""
    log_probabilities = np.log(np.random.default_rng(seed).dirichlet(np.ones(4), size=frames))
    wanted = np.zeros((frames, 4))
    for path in itertools.product(range(4), repeat=frames):
        if [kind for kind, _ in itertools.groupby(path) if kind != BLANK] == sequence:
            weight = np.exp(sum(log_probabilities[frame, kind] for frame, kind in enumerate(path)))
            wanted[np.arange(frames), path] += weight
    wanted /= wanted.sum(axis=1, keepdims=True)
    assert occupancy(log_probabilities, sequence) == pytest.approx(wanted, abs=1e-6)


def sound_of(sequence: Sequence[int], shown_as: dict[int, int]) -> np.ndarray:
    """Frames of a made-up network that shows each phoneme plainly, some of them as others."""
    kinds = [kind for phoneme in sequence for kind in (shown_as.get(phoneme, phoneme), BLANK)]
    return np.eye(KINDS, dtype=np.float32)[np.repeat(kinds, 2)]


def test_a_person_whose_w_is_a_v_is_heard_after_the_fit() -> None:
    layer = LastLayer(4 * np.eye(KINDS, dtype=np.float32), np.zeros(KINDS, np.float32))
    swapped = {PHONEMES["W"]: PHONEMES["V"]}
    ways = [ways_to_say(call.split()) for call in PAGE]
    page = [Spoken(sound_of(way[0], swapped), way) for way in ways]
    after = fitted(layer, page)
    shown_v = np.eye(KINDS, dtype=np.float32)[PHONEMES["V"]]

    def share(layer: LastLayer) -> float:
        """How much nearer a shown V is to W than to the phonemes in general."""
        scores = shown_v @ layer.weight + layer.bias
        return float(scores[PHONEMES["W"]] - np.median(scores))

    assert share(after) > share(layer) + 0.1
    # Held harder, it moves less.
    assert share(fitted(layer, page, pull=300.0)) < share(after)


def test_a_fit_is_taken_only_if_nothing_new_is_misheard() -> None:
    assert helps(["wrong", "asked"], ["right", "asked"])
    assert helps(["wrong"], ["wrong"])
    assert not helps(["asked", "asked"], ["right", "wrong"])
    assert not helps(["right", "asked"], ["asked", "asked"])


OUTCOMES = st.sampled_from(["right", "asked", "say-again", "ignored", "wrong"])


@given(st.lists(st.tuples(OUTCOMES, OUTCOMES)))
def test_no_fit_that_is_taken_mishears_more(pairs: list[tuple[Outcome, Outcome]]) -> None:
    before, after = [then for then, _ in pairs], [now for _, now in pairs]
    if helps(before, after):
        assert after.count("wrong") <= before.count("wrong")
        assert after.count("right") >= before.count("right")


# --- what is kept ---
def profile(name: str = "Rosa") -> VoiceProfile:
    return VoiceProfile(
        name=name,
        made=datetime(2026, 3, 4, tzinfo=UTC),
        model="a" * 64,
        network="b" * 64,
        calls=(EnrolledCall(said="roger", clip="audio/0001.flac", heard="roger", outcome="right"),),
        weight=in_base64(np.ones((3, KINDS), np.float32)),
        bias=in_base64(np.zeros(KINDS, np.float32)),
    )


def test_a_voice_is_found_by_its_name_and_removed(data: Path) -> None:
    path = save_voice(profile("Rosa Lind"))
    assert path == data / "voices" / "rosa-lind.json"
    assert load_voice("rosa lind") == profile("Rosa Lind")
    layer = load_voice("Rosa Lind").layer()
    assert layer is not None
    assert layer.weight.shape == (3, KINDS)
    assert remove_voice("Rosa Lind")
    assert not path.exists()
    with pytest.raises(CompanionError, match="companion enroll"):
        load_voice("Rosa Lind")


@pytest.mark.parametrize("name", ["", "../rosa", "a/b", ".", " ", "rosa\n", "-x", "x" * 60, "C:x"])
def test_a_name_that_could_be_a_path_is_refused(name: str, data: Path) -> None:
    with pytest.raises(WrongUse, match="cannot name a voice"):
        voice_paths(name)


@pytest.mark.parametrize(
    "damage",
    [
        lambda text: text[:200],
        lambda text: text.replace('"v": 1', '"v": 7'),
        lambda text: text.replace('"bias": "AAAA', '"bias": "!AAA'),
        lambda text: text.replace('"bias": "AAAAAAAA', '"bias": "'),
    ],
)
def test_a_damaged_voice_is_said_so(damage: object, data: Path) -> None:
    path = save_voice(profile())
    text = path.read_text()
    damaged = damage(text)  # type: ignore[operator]
    assert damaged != text
    path.write_text(damaged)
    with pytest.raises(CompanionError, match="damaged"):
        load_voice("Rosa")


def test_the_page_can_be_taken_again_from_the_clips_that_were_kept(data: Path) -> None:
    _, folder = voice_paths("Rosa")
    folder.mkdir(parents=True)
    said = speak("roger")
    clip = keep_clip(folder, 1, said).path
    (again,) = from_profile(profile())
    assert again.clip is not None
    assert (again.said, again.clip.path) == ("roger", clip)
    assert again.samples == pytest.approx(said, abs=1e-4)
    (folder / clip).unlink()
    with pytest.raises(CompanionError, match="cannot be read"):
        from_profile(profile())


def test_a_voice_is_used_only_with_what_it_was_fitted_to() -> None:
    with pytest.raises(CompanionError, match="--again"):
        use_voice(HeldRecognizer(), profile())
    with pytest.raises(CompanionError, match="for the Whisper recognizer"):
        use_voice(OneAnswer("roger"), profile())


def test_the_report_says_what_was_misheard_and_as_what() -> None:
    calls = (
        EnrolledCall(said="roger", clip="audio/0001.flac", heard="roger", outcome="right"),
        EnrolledCall(
            said="gap thirteen thou",
            clip="audio/0002.flac",
            heard="gap seventeen thou",
            outcome="wrong",
        ),
        EnrolledCall(said="step done", clip="audio/0003.flac", heard="", outcome="ignored"),
        EnrolledCall(said="affirm", clip="audio/0004.flac", heard="affirm", outcome="say-again"),
    )
    fitted_voice = profile().model_copy(update={"calls": calls})
    told = report_lines(Enrolled(fitted_voice, Path("rosa.json"), ("right",) * 4))
    assert told[:4] == [
        "Heard right at once: 1 of 4.",
        "  gap thirteen thou: MISHEARD as “gap seventeen thou”",
        "  step done: not heard as a call",
        "  affirm: heard, but not surely enough",
    ]
    assert "the other half is heard right: 4 of 4" in told[4]
    left = fitted_voice.model_copy(update={"weight": None, "bias": None})
    told = report_lines(Enrolled(left, Path("rosa.json"), ("wrong",) * 4))
    assert told[4] == "Fitting to this voice would not help: it is heard as it was."


# --- the whole command ---
def recordings(folder: Path, voice: str, calls: Sequence[str]) -> Path:
    folder.mkdir()
    lines = []
    for number, call in enumerate(calls, start=1):
        soundfile.write(
            folder / f"{number:02}.wav", with_pauses(speak_hard(call, voice)), SAMPLE_RATE
        )
        lines.append(f'[[call]]\nfile = "{number:02}.wav"\nsaid = "{call}"\n')
    (folder / "calls.toml").write_text("\n".join(lines))
    return folder


def test_the_command_enrolls_a_voice_and_then_hears_by_it(companion: Run, tmp_path: Path) -> None:
    folder = recordings(tmp_path / "clips", "german", PAGE[:6])
    run = companion("enroll", "Rosa", "--clips", folder)
    assert run.returncode == 0, run.stderr
    assert "of 6." in run.stdout
    kept = json.loads((tmp_path / "data" / "voices" / "rosa.json").read_text())
    assert [call["said"] for call in kept["calls"]] == list(PAGE[:6])
    clips = sorted((tmp_path / "data" / "voices" / "rosa" / "audio").iterdir())
    assert len(clips) == 6
    for call in kept["calls"]:
        assert call["outcome"] == "right" or call["said"] in run.stdout
    heard = companion("hear", folder / "06.wav", "--voice", "rosa", "--json")
    assert json.loads(heard.stdout)["file"].endswith("06.wav"), heard.stderr
    assert "enrolled already" in one_sentence(companion("enroll", "Rosa", "--clips", folder), 1)
    assert "Removed" in companion("enroll", "Rosa", "--remove").stdout
    assert not (tmp_path / "data" / "voices" / "rosa").exists()


def test_bad_input_is_one_sentence(companion: Run, tmp_path: Path) -> None:
    def fails(status: int, *arguments: str | Path) -> str:
        return one_sentence(companion("enroll", *arguments), status)

    assert "no folder" in fails(1, "Rosa", "--clips", tmp_path / "nowhere")
    (tmp_path / "empty").mkdir()
    assert "calls.toml" in fails(1, "Rosa", "--clips", tmp_path / "empty")
    assert "cannot name a voice" in fails(2, "../Rosa", "--clips", tmp_path)
    few = recordings(tmp_path / "few", "german", PAGE[:2])
    assert "too few" in fails(1, "Rosa", "--clips", few)
    manifest = few / "calls.toml"
    lines = [f'[[call]]\nfile = "01.wav"\nsaid = "{call}"\n' for call in (*PAGE[:6], "gap 13 thou")]
    manifest.write_text("\n".join(lines))
    assert "'gap 13 thou' is no call" in fails(1, "Rosa", "--clips", few)
    manifest.write_text(f'[[call]]\nfile = "01.wav"\nsaid = "{PAGE[0]}"\n' * 1001)
    assert "keep at most 1,000" in fails(1, "Rosa", "--clips", few)
    heard = companion("hear", few / "01.wav", "--voice", "Rosa")
    assert "No voice 'Rosa'" in one_sentence(heard, 1)
