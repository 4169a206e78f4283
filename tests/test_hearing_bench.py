"""The bench that hearing is measured by: the same clips every time, counted as they should be."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import load_grammar
from companion.intent.decision import Decision
from companion.intent.interpret import understand
from tests.noises import NOISES, in_a_shop
from tests.sounds import NOISE_RMS, VOICES
from tools.hearing import human, tables
from tools.hearing.manifest import CLEAN, ROOM, Clip, manifest, sound_of
from tools.hearing.material import (
    CALLS,
    FITTED_NOISES,
    OTHER_VOICES,
    TALK,
    TUNING_VOICES,
    listening_for,
    meaning_of,
)
from tools.hearing.measure import OUTCOMES, Heard, Outcome, outcome_of

GRAMMAR = load_grammar()


# --- what is measured --------------------------------------------------------------------------
def test_voices_to_fit_on_and_voices_to_measure_by_are_apart() -> None:
    assert not set(TUNING_VOICES) & set(OTHER_VOICES)
    assert {*TUNING_VOICES, *OTHER_VOICES} <= set(VOICES)


def test_every_call_is_one_and_no_talk_is() -> None:
    for said in CALLS:
        assert understand(said, GRAMMAR, listening_for(said)).outcome in ("record", "ask"), said
    for said in TALK:
        assert understand(said, GRAMMAR, listening_for(said)).outcome != "record", said


def test_every_voice_says_every_call_clean_and_every_noise_is_met_at_every_level() -> None:
    clips = manifest(OTHER_VOICES)
    clean = Counter((clip.said, clip.voice) for clip in clips if clip.noise == CLEAN)
    assert clean == {(said, voice): 1 for said in CALLS for voice in OTHER_VOICES}
    met = {(clip.noise, clip.level) for clip in clips}
    assert met == {(CLEAN, 0.0), (ROOM, 0.0), *((n, dB) for n in NOISES for dB in (20, 10, 5))}
    assert {clip.voice for clip in clips if clip.noise == "grinder"} == set(OTHER_VOICES)


def test_some_noises_are_met_nowhere_but_here() -> None:
    assert {"compressor", "babble", "grinder", "radio"} <= set(NOISES) - FITTED_NOISES


def test_the_same_clip_sounds_the_same_every_time() -> None:
    clip = Clip("gap thirty thou", "rms", "radio", 10.0, 1.15, 0.94, 3)
    assert np.array_equal(sound_of(clip), sound_of(clip))
    slower = Clip("gap thirty thou", "rms", CLEAN, 0.0, 0.88, 1.0, 3)
    assert len(sound_of(slower)) > len(sound_of(clip))


@pytest.mark.parametrize("name", sorted(NOISES))
def test_a_noise_is_as_long_and_as_loud_as_asked_and_never_the_same(name: str) -> None:
    sound = NOISES[name](1.5, seed=1)
    assert len(sound) == round(1.5 * SAMPLE_RATE)
    assert np.sqrt(np.mean(sound.astype(float) ** 2)) == pytest.approx(NOISE_RMS, rel=0.01)
    assert np.array_equal(sound, NOISES[name](1.5, seed=1))
    assert not np.array_equal(sound, NOISES[name](1.5, seed=2))


def test_the_grinder_is_brightest_where_steel_is_cut() -> None:
    spectrum = np.abs(np.fft.rfft(NOISES["grinder"](4.0, seed=2))) ** 2
    frequency = np.fft.rfftfreq(4 * SAMPLE_RATE, 1 / SAMPLE_RATE)
    cutting = spectrum[(frequency > 2000) & (frequency < 7000)].sum()
    assert cutting > spectrum[frequency < 1000].sum()


def test_an_echo_dies_as_slowly_as_asked() -> None:
    click = np.zeros(2 * SAMPLE_RATE, dtype=np.float32)
    click[0] = 1.0
    heard = in_a_shop(click, decay=0.5).astype(float)
    # Schroeder's backward integration: how much energy is left after each moment.
    left = 10 * np.log10(np.cumsum(heard[::-1] ** 2)[::-1] + 1e-12)
    tail = left[round(0.05 * SAMPLE_RATE)] - left[round(0.3 * SAMPLE_RATE)]
    assert tail == pytest.approx(60 * 0.25 / 0.5, abs=3)


# --- a human voice -----------------------------------------------------------------------------
def test_numbers_are_put_together_from_human_words() -> None:
    assert len(human.said("thirty one")) > len(human.word("thirty")) + len(human.word("one"))
    assert len(set(human.NUMBERS)) == len(human.NUMBERS) > 60


def test_human_sentences_are_longer_than_a_word_or_two() -> None:
    sentences = human.sentences()
    assert len(sentences) > 150
    assert min(map(len, sentences)) >= human.SHORTEST_SENTENCE * SAMPLE_RATE


# --- how it is counted ---------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("outcome", "heard_as", "counted"),
    [
        ("record", ("gap thirty thou",), "right"),
        ("record", ("gap thirteen thou",), "wrong"),
        ("ask", ("gap thirteen thou", "gap thirty thou"), "asked"),
        ("ask", ("gap thirteen thou",), "say-again"),
        ("say-again", (), "say-again"),
        ("ignore", (), "ignored"),
    ],
)
def test_outcomes(outcome: Outcome, heard_as: tuple[str, ...], counted: Outcome) -> None:
    meant = meaning_of("gap thirty thou", GRAMMAR)
    intents = tuple(meaning_of(text, GRAMMAR) for text in heard_as)
    decision = Decision(outcome, " ".join(heard_as[:1]), intents, 0.9, ())
    assert outcome_of(decision, (meant,)) == counted


def heard(outcome: Outcome, *, best: str = "gap thirty thou", sure: float = 0.9) -> Heard:
    clip = Clip("gap thirty thou", "rms", "engine", 10.0, 1.0, 1.0, 1)
    right = best == clip.said
    return Heard(clip, "reading", outcome, best, right, sure, 0.9, 0.25)


def test_a_table_gives_the_share_of_every_outcome() -> None:
    table = tables.by([heard("right"), heard("wrong")] + [heard("asked")] * 2, "noise", str_noise)
    header, rule, row, total = table.splitlines()
    assert [cell.strip() for cell in header.split("|")[1:4]] == ["noise", "calls", "recorded"]
    assert set(rule) <= set("|-:")
    cells = [cell.strip() for cell in row.split("|")[1:-1]]
    assert cells[:3] == ["engine 10 dB (fitted on)", "4", "25.0 %"]
    assert cells[3:7] == ["50.0 %", "0.0 %", "0.0 %", "25.0 %"]
    assert total.split("|")[1].strip() == "all"
    assert len(OUTCOMES) == 5


def str_noise(one: Heard) -> str:
    return tables.noise_of(one)


def test_wrong_records_stand_first_among_the_confusions() -> None:
    found = [
        *[heard("asked", best="gap fifty thou")] * 3,
        heard("wrong", best="gap thirteen thou"),
        heard("right"),
    ]
    rows = tables.confusions(found).splitlines()[2:]
    assert [row.split("|")[2].strip() for row in rows] == ["gap thirteen thou", "gap fifty thou"]


def test_confidence_is_set_against_the_share_that_was_right() -> None:
    found = [heard("right", sure=0.92)] * 9 + [heard("asked", best="gap fifty thou", sure=0.92)]
    row = tables.reliability(found).splitlines()[2]
    assert [cell.strip() for cell in row.split("|")[1:5]] == [
        "0.90 to 0.95",
        "10",
        "0.920",
        "0.900",
    ]
