"""How well people are heard: what is measured, and that it is counted as it should be."""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar
from companion.grammar.pronounce import pronunciations
from companion.recognize.held import HeldRecognizer
from companion.recognize.pronunciation import ways_to_say
from tests.people_folder import one_after_the_other, packages_in, people_in
from tests.sounds import noise_gain, pause, speak, with_pauses
from tools.fit_encoder.noises import PACKAGES
from tools.fit_encoder.people import held_back
from tools.hearing import (
    digits,
    open_slots,
    page,
    people_tables,
    phoneme_errors,
    recordings,
    word_strings,
)
from tools.hearing.alignment import words_in
from tools.hearing.closed import Answer, grammar_of, hear_task
from tools.hearing.measure import JobNames
from tools.hearing.people import Sentence, sentences
from tools.hearing.speakers import for_belief, groups_of, kept_back
from tools.hearing.surroundings import (
    CONDITIONS,
    ROOMS,
    Condition,
    arriving,
    in_a_room,
    room_response,
    shoebox,
    through,
)

SAID = (
    ("slt", "the river was wide and cold", 30, "f"),
    ("slt", "nobody wanted the last apple", 30, "f"),
    ("rms", "four of them left for the station", 12, "m"),
)
CLEAN, NOISY, AWAY = (
    Condition(None, away=False),
    Condition(10.0, away=False),
    Condition(None, away=True),
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return people_in(tmp_path_factory.mktemp("people"), SAID)


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[recordings.Recording, ...]:
    return recordings.kept_back([packages_in(tmp_path_factory.mktemp("packages"))])


@pytest.fixture(scope="module")
def ears() -> HeldRecognizer:
    return HeldRecognizer()


def sentence(speaker: str, age: int | None, gender: str | None = None) -> Sentence:
    return Sentence(file="a", start=0, end=1, text="hello", speaker=speaker, age=age, gender=gender)


def accepts(grammar: CallGrammar, words: Sequence[str]) -> bool:
    state = grammar.walk(words)
    return state is not None and grammar.is_final(state)


# --- by whom and over what it is measured --------------------------------------------------------
def test_nobody_is_measured_by_whom_something_was_fitted_on() -> None:
    crowd = [sentence(f"{number:03}", 8 + number % 40) for number in range(200)]
    measured = {one.speaker for one in kept_back(crowd)}
    believed = {one.speaker for one in for_belief(crowd)}
    assert len(measured) == 12
    assert len(believed) == 6
    ages = {one.speaker: one.age for one in crowd if one.age is not None}
    assert measured | believed == held_back(ages)
    assert len(kept_back(crowd, everybody=True)) == 200
    without_ages = [*crowd, sentence("other", None)]
    assert len(kept_back(without_ages)) == 201


def test_a_speaker_counts_with_those_alike() -> None:
    assert groups_of(sentence("a", 17, "m")) == ("children", "men, boys")
    assert groups_of(sentence("a", 18, "f")) == ("adults", "women, girls")
    assert groups_of(sentence("a", None)) == ()


def test_only_recordings_that_are_kept_back_are_heard_over(
    kept: Sequence[recordings.Recording],
) -> None:
    counts = {package.name: 0 for package in PACKAGES if package.kept}
    for one in kept:
        counts[one.package] += 1
    # Of three sounds the third of a package that is shared out, and all of one that is kept.
    assert counts == {
        "torcs-data": 1,
        "lincity-ng-data": 1,
        "stormbaancoureur-data": 3,
        "xmoto-data": 3,
    }


def test_a_package_that_is_missing_is_told_and_what_is_clean_is_still_measured(
    tmp_path: Path,
) -> None:
    none, told = recordings.found([tmp_path])
    assert none == ()
    assert "apt-get download torcs-data" in told
    with pytest.raises(CompanionError, match="torcs-data"):
        recordings.kept_back([tmp_path])


def test_a_stretch_is_as_long_as_asked_and_the_same_every_time(
    kept: Sequence[recordings.Recording],
) -> None:
    for one in kept:
        for count in (SAMPLE_RATE, 30 * SAMPLE_RATE):
            stretch = recordings.stretch(one, count, 5)
            assert len(stretch) == count
            assert np.array_equal(stretch, recordings.stretch(one, count, 5))


def test_speech_is_as_far_above_a_recording_as_the_condition_says(
    kept: Sequence[recordings.Recording],
) -> None:
    speech = with_pauses(speak("watch your fingers", "slt")) * np.float32(0.3)
    noise = arriving(speech, NOISY, kept, 3) - speech
    assert noise_gain(speech, noise, 10.0) == pytest.approx(1.0, rel=0.01)


# --- rooms and microphones -----------------------------------------------------------------------
def test_a_room_answers_two_meters_away_as_its_size_and_decay_have_it() -> None:
    size, decay = np.array([7.0, 5.0, 3.0]), 0.5
    microphone, mouth = np.array([2.0, 2.0, 1.0]), np.array([4.0, 2.0, 1.0])
    response = shoebox(size, decay, mouth, microphone)
    # The first echo comes off the floor: two meters across, two down and up.
    floor = (np.sqrt(2**2 + 2**2) - 2) / 343 * SAMPLE_RATE
    echoes = np.flatnonzero(response > 0.1)
    assert echoes[0] == 0
    assert echoes[1] == pytest.approx(floor, abs=1)
    left = 10 * np.log10(np.cumsum(response[::-1] ** 2)[::-1] + 1e-12)
    fallen = left[round(0.05 * SAMPLE_RATE)] - left[round(0.2 * SAMPLE_RATE)]
    # Sabine's formula is a little long for a box.
    assert fallen == pytest.approx(60 * 0.15 / decay, rel=0.35)


def test_every_room_echoes_and_none_as_another() -> None:
    clarities = set()
    for number in (0, 1, ROOMS - 1):
        response = room_response(number) ** 2
        early = response[: round(0.05 * SAMPLE_RATE)].sum()
        clarities.add(round(float(early / response.sum()), 4))
    assert len(clarities) == 3
    assert max(clarities) < 0.99


def test_a_room_keeps_length_and_peak() -> None:
    speech = with_pauses(speak("hello", "slt"))
    heard = in_a_room(speech, 1)
    assert len(heard) == len(speech)
    assert np.abs(heard).max() == pytest.approx(np.abs(speech).max(), rel=1e-3)


def test_a_telephone_takes_nothing_above_four_kilohertz() -> None:
    hiss = np.random.default_rng(1).standard_normal(SAMPLE_RATE).astype(np.float32)
    power = np.abs(np.fft.rfft(through(hiss, "phone"))) ** 2
    hertz = np.fft.rfftfreq(SAMPLE_RATE, 1 / SAMPLE_RATE)
    assert power[hertz > 4000].sum() < 1e-3 * power.sum()
    assert power[hertz < 100].sum() < 1e-3 * power.sum()
    flat = np.abs(np.fft.rfft(through(hiss, "plain"))) ** 2
    assert flat[hertz > 4000].sum() == pytest.approx(0.5 * flat.sum(), rel=0.1)


# --- sentences with one word open ----------------------------------------------------------------
def test_what_may_stand_in_a_slot_sounds_near_and_never_the_same() -> None:
    words = ("seventeen", "severity", "won", "one", "cat", "seventy", "dog")
    found = open_slots.others("seventeen", words, random.Random(1))
    assert found[0] in ("seventy", "severity")
    assert "seventeen" not in found
    assert "won" not in open_slots.others("one", words, random.Random(1))


def test_only_one_word_of_a_sentence_is_open(folder: Path) -> None:
    chosen = sentences(folder)
    found = list(open_slots.tasks(chosen, folder, ("apple", "chapel", "ample")))
    assert [task.said for task in found] == [text for _, text, _, _ in SAID]
    for task in found:
        grammar = grammar_of(task.expansion)
        assert accepts(grammar, task.said.split())
        before, inside = task.expansion.split("(")
        choices = inside.split(")")[0].split(" | ")
        assert len(choices) == 1 + open_slots.NEAR_SOUNDING + open_slots.BY_CHANCE
        other = next(one for one in choices if one not in task.said.split())
        said = f"{before}{other}{inside.split(')')[1]}".split()
        assert accepts(grammar, said)
        assert not accepts(grammar, task.said.split()[:-1])


def test_of_a_sentence_with_a_number_only_that_is_open(folder: Path) -> None:
    said = sentences(folder)[0]
    counted = said.model_copy(update={"text": "we need one or two of them"})
    task, *others = open_slots.number_tasks([said, counted], folder)
    assert not others
    grammar = grammar_of(task.expansion)
    for number in ("zero", "one", "seventeen", "seventy"):
        assert accepts(grammar, f"we need {number} or two of them".split())
    assert not accepts(grammar, ["we", "need", "one", "or", "three", "of", "them"])


def test_a_sentence_with_one_word_open_is_heard(
    folder: Path, kept: Sequence[recordings.Recording]
) -> None:
    task = next(open_slots.tasks(sentences(folder), folder, ()))
    answers = hear_task(task, (CLEAN, NOISY), kept, "whisper")
    assert [one.condition for one in answers] == [CLEAN, NOISY]
    assert answers[0].right
    assert answers[0].sure


# --- strings of words ----------------------------------------------------------------------------
def test_words_are_found_where_they_are_said(ears: HeldRecognizer) -> None:
    words = ["river", "station", "apple", "wanted"]
    sound, places = one_after_the_other(words, "slt")
    found = words_in(ears, sound, words)
    assert len(found) == len(words)
    for (begin, end), (first, last) in zip(found, places, strict=True):
        middle = (first + last) / 2
        assert begin < middle < end
        assert begin <= first + 0.08 * SAMPLE_RATE
        assert end >= last - 0.12 * SAMPLE_RATE
    for (_, end), (begin, _) in pairwise(found):
        assert end == begin


def test_words_that_cannot_be_there_are_not_found(ears: HeldRecognizer) -> None:
    sound = with_pauses(speak("hello", "slt"))
    assert words_in(ears, sound, ["xqzzy"]) == ()
    assert words_in(ears, sound, ["hello"] * 30) == ()
    assert words_in(ears, pause(1.0), ["hello"]) == ()


def test_a_phrase_may_be_any_string_of_its_words_and_others(folder: Path) -> None:
    found = {task.said: task for task in word_strings.phrases(sentences(folder), folder)}
    # "four" and "for" sound the same: nobody could tell them apart.
    assert set(found) == {SAID[0][1], SAID[1][1]}
    task = found[SAID[1][1]]
    grammar = grammar_of(task.expansion)
    assert accepts(grammar, task.said.split())
    assert accepts(grammar, ["apple"] * 7)
    assert len(grammar.words) == len({*SAID[0][1].split(), *SAID[1][1].split()})


def test_a_list_has_what_sounds_like_digits_and_nothing_twice() -> None:
    said = "to two for ate apple apples river station wanted nobody cold wide last"
    words = {word: [pause(0.3)] for word in said.split()}
    listed = word_strings.closed_list(words, random.Random(2))
    assert len(listed) == word_strings.LIST
    assert {"two", "for", "ate"} <= set(listed)
    assert "to" not in listed
    assert len({pronunciations(word)[0] for word in listed}) == len(listed)


def test_words_are_joined_with_pauses_over_a_hiss() -> None:
    one = np.full(3000, 0.4, dtype=np.float32)
    sound = word_strings.joined([one, one], random.Random(1))
    assert len(sound) > 6000 + SAMPLE_RATE
    between = sound[:4000]
    assert 0 < np.sqrt(np.mean(between.astype(float) ** 2)) < 0.01 * 0.4 * 1.2


def test_digits_that_are_missing_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(digits, "PACKAGE", "no_such_package")
    digits._memory_digit.cache_clear()
    found, missing = digits.tasks()
    assert len(found) == digits.EACH
    (told,) = missing
    assert "pip install no_such_package" in told
    for task in found[:5]:
        assert accepts(grammar_of(task.expansion), task.said.split())


# --- phonemes ------------------------------------------------------------------------------------
def test_phoneme_errors_are_counted_against_the_way_that_fits_best() -> None:
    assert phoneme_errors.fewest_errors([1, 2, 3], [[1, 2, 3, 4], [9, 9, 9]]) == (1, 4)
    assert phoneme_errors.fewest_errors([], [[5, 6]]) == (2, 2)


def test_a_plain_voice_has_few_phoneme_errors_and_more_in_noise(
    folder: Path, kept: Sequence[recordings.Recording]
) -> None:
    found = [
        error
        for numbered in enumerate(sentences(folder))
        for error in phoneme_errors._heard(
            numbered, folder, (CLEAN, Condition(-5.0, away=False)), kept
        )
    ]
    clean = [one for one in found if one.condition == CLEAN]
    noisy = [one for one in found if one.condition != CLEAN]
    wrong, count = sum(one.wrong for one in clean), sum(one.count for one in clean)
    assert wrong < 0.25 * count < sum(one.wrong for one in noisy)
    rows = phoneme_errors.table(found).splitlines()
    names = [row.split("|")[1].strip() for row in rows[2:]]
    assert names == ["all", "adults", "children", "men, boys", "women, girls", "slt 30f", "rms 12m"]
    assert rows[2].split("|")[3].strip() == f"{100 * wrong / count:.1f} %"


def test_every_way_to_say_a_sentence_counts() -> None:
    assert len(ways_to_say(["the", "apple"])) > 1


# --- how it is counted ---------------------------------------------------------------------------
def answer(best: str, sure: float, call: float = 0.5, speaker: str = "slt") -> Answer:
    return Answer(speaker, CLEAN, "seventeen", best, sure, call)


def test_sure_and_wrong_are_counted_by_condition_and_voice() -> None:
    found = [
        answer("seventeen", 0.99),
        answer("seventeen", 0.5),
        answer("seventy", 0.95, 0.95),
        answer("seventy", 0.95, 0.2),
        answer("", 0.0),
    ]
    row = people_tables.by_condition(found, "slot").splitlines()[2]
    cells = [cell.strip() for cell in row.split("|")[1:-1]]
    assert cells == ["near, clean", "5", "0.400", "0.200", "0.400", "0.200"]
    voices = people_tables.by_voice(found, [sentence("slt", 30, "f")]).splitlines()[2:]
    assert [row.split("|")[1].strip() for row in voices] == ["adults", "women, girls", "slt"]
    assert "seventy" in people_tables.confused(found)
    assert people_tables.confused(found[:2]) == "nothing was wrong and sure"


def test_it_is_told_whether_few_enough_are_wrong_and_sure() -> None:
    many = [answer("seventeen", 0.99)] * 199
    assert people_tables.reached([*many, answer("seventy", 0.95)]) == (
        "near, clean, wrong and sure: 0.005, at most 0.005 wanted: reached"
    )
    assert people_tables.reached([*many, *[answer("seventy", 0.95)] * 2]).endswith(
        "wanted: too many by 0.005"
    )


def test_what_is_heard_near_and_far_clean_and_in_noise() -> None:
    assert [str(one) for one in CONDITIONS] == [
        f"{place}, {noise}"
        for place in ("near", "2 m")
        for noise in ("clean", "20 dB", "10 dB", "5 dB")
    ]


def test_tables_are_put_where_those_of_their_name_stand(tmp_path: Path) -> None:
    file = tmp_path / "page.md"
    mark = "<!-- hearing: people, slots -->\nold\n<!-- end of hearing: people, slots -->"
    file.write_text(f"before\n\n{mark}\n\nafter\n", encoding="utf-8")
    page.write_into("people, slots", "--people FOLDER", "| new |", file)
    written = file.read_text(encoding="utf-8")
    assert written.startswith("before\n\n<!-- hearing: people, slots -->\n")
    assert written.endswith("| new |\n<!-- end of hearing: people, slots -->\n\nafter\n")
    assert "`python -m tools.hearing --people FOLDER`" in written
    assert "old" not in written
    with pytest.raises(CompanionError, match="no marks"):
        page.write_into("people, talk", "", "", file)


@pytest.mark.parametrize(
    "name",
    [*(f"people, {name}" for name in people_tables.TABLES), "calls", "calls with a number"],
)
def test_the_page_of_measurements_has_a_place_for_every_table(name: str) -> None:
    whole = page.PAGE.read_text(encoding="utf-8")
    assert whole.count(f"<!-- hearing: {name} -->") == 1
    assert whole.count(f"<!-- end of hearing: {name} -->") == 1


def test_what_people_said_does_not_go_to_the_page(folder: Path) -> None:
    asked = people_tables.Asked(folder, "whisper", 1, True, True, JobNames(), [folder / "none"])
    measured = people_tables.talk(asked)
    assert "| typed" in measured.tables
    assert not any(text in measured.tables for _, text, _, _ in SAID)
