"""What is fitted on, and what is kept back to measure by, never meet."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import tokenizers

from companion.errors import CompanionError
from companion.recognize.model import packaged_folder
from companion.recognize.phonemes import PHONEMES
from tools.fit_encoder.index import phonemes_of, tokens_of
from tools.fit_encoder.joined import FILE, LONGEST, PARTS, joined
from tools.fit_encoder.layout import SAMPLE_RATE, Clip, Rival, read_clips, write_clips
from tools.fit_encoder.many_voices import LANGUAGES, symbols_of
from tools.fit_encoder.noises import PACKAGES, shared_out, sounds_of
from tools.fit_encoder.people import ADULTS_HELD, CHILDREN_HELD, GROWN_UP, ages_in, held_back
from tools.fit_encoder.rivals import MOST, NUMBERS, Rivals

AGES = {f"{number:04}": 8 + number % 40 for number in range(200)}


@pytest.fixture(scope="module")
def tokenizer() -> tokenizers.Tokenizer:
    return tokenizers.Tokenizer.from_file(str(packaged_folder() / "tokenizer.json"))


def test_the_same_speakers_are_kept_back_whatever_order_they_come_in() -> None:
    shuffled = list(AGES.items())
    random.Random(1).shuffle(shuffled)
    assert held_back(dict(shuffled)) == held_back(AGES)


def test_four_children_and_fourteen_adults_are_kept_back() -> None:
    held = held_back(AGES)
    children = {speaker for speaker in held if AGES[speaker] < GROWN_UP}
    assert (len(children), len(held - children)) == (CHILDREN_HELD, ADULTS_HELD) == (4, 14)
    assert held < set(AGES)


def test_every_speaker_has_an_age(tmp_path: Path) -> None:
    lines = '{"speaker": "anna", "age": 30}\n\n{"speaker": "ben"}\n'
    (tmp_path / "segments.jsonl").write_text(lines, encoding="utf-8")
    with pytest.raises(CompanionError, match=r"segments\.jsonl, line 3: give the speaker's age"):
        ages_in(tmp_path)


def test_a_sentence_has_its_phonemes_and_the_tokens_of_both_ways_to_write_it(
    tokenizer: tokenizers.Tokenizer,
) -> None:
    names = {index: name for name, index in PHONEMES.items()}
    assert [names[one] for one in phonemes_of("gap ten")] == ["G", "AE", "P", "T", "EH", "N"]
    ways = tokens_of("gap thirty thou", lambda text: tokenizer.encode(text).ids)
    written = [tokenizer.decode(list(way), skip_special_tokens=True) for way in ways]
    assert [text.strip() for text in written] == ["gap thirty thou", "Gap thirty thou"]


def test_a_sentence_with_an_unknown_word_has_no_phonemes() -> None:
    assert phonemes_of("gap xqzzt") == ()


def test_the_list_of_clips_is_read_as_it_was_written(tmp_path: Path) -> None:
    clips = [
        Clip("a.ogg", 0, 16_000, ((1, 2), (3, 4)), (5, 6), "people", "kept"),
        Clip("a.ogg", 0, 9, ((1,), (3,)), (5,), "people", "fit", (Rival(((2,), (4,)), (6,)),)),
        Clip("b.ogg", 800, 9_000, ((7,), (8,)), (), "synthetic", "fit"),
    ]
    write_clips(tmp_path, clips)
    assert read_clips(tmp_path) == clips


@pytest.mark.parametrize(
    "number", ["thirteen", "thirty", "nine", "one twenty", "point oh four two"]
)
def test_a_number_is_set_against_numbers_that_sound_like_it(number: str) -> None:
    draw, rivals = random.Random(1), Rivals(())
    found = {rival for _ in range(50) for rival in rivals.of(f"gap {number} thou", draw)}
    assert all(rival.startswith("gap ") and rival.endswith(" thou") for rival in found)
    assert f"gap {number} thou" not in found
    assert all(set(rival.split()) - {"gap", "thou"} <= NUMBERS for rival in found)
    nearest = {
        "thirteen": "thirty",
        "thirty": "thirteen",
        "nine": "five",
        "one twenty": "twenty",
        "point oh four two": "point oh four",
    }
    assert f"gap {nearest[number]} thou" in found


def test_another_word_is_set_against_words_one_phoneme_away_that_are_not_said_the_same() -> None:
    rivals = Rivals(("gap", "cap", "gaps", "tap", "tank", "two", "too"))
    found = {rival for seed in range(20) for rival in rivals.of("gap", random.Random(seed))}
    assert found == {"cap", "gaps", "tap"}
    assert len(rivals.of("gap", random.Random(1))) <= MOST
    assert rivals.of("too", random.Random(1)) == []


def test_short_clips_to_fit_on_are_joined_with_pauses_between_them() -> None:
    sound = np.arange(1, 24_001, dtype=np.int16)
    five = Clip("a", 0, 8_000, ((5,), (55,)), (1, 2), "synthetic", "fit")
    two = Clip(
        "a", 8_000, 14_000, ((2,), (22,)), (3,), "people", "fit", (Rival(((7,), (77,)), (4,)),)
    )
    kept = Clip("a", 0, 8_000, ((9,), (99,)), (9,), "people", "kept")
    long = Clip("a", 0, 24_000, ((8,), (88,)), (8,), "synthetic", "fit")
    made, sounds = joined([five, two, kept, long] * 30, {"a": sound})
    assert made
    assert {one.file for one in made} == {FILE}
    assert [one.start for one in made] == [0, *(one.end for one in made[:-1])]
    assert made[-1].end == len(sounds)
    for one in made:
        assert one.end - one.start < LONGEST * SAMPLE_RATE
        small, capital = one.tokens
        assert PARTS[0] <= len(small) <= PARTS[1]
        assert set(small) <= {5, 2}
        assert capital == (11 * small[0], *small[1:])
        written = {5: (1, 2), 2: (3,), 7: (4,)}
        assert one.phonemes == tuple(kind for token in small for kind in written[token])
        for rival in one.rivals:
            (other,) = [at for at, token in enumerate(rival.tokens[0]) if token == 7]
            assert small[other] == 2
            assert rival.phonemes == tuple(
                kind for token in rival.tokens[0] for kind in written[token]
            )
    assert any(one.rivals for one in made)
    between = sounds[made[0].start : made[0].end] == 0
    assert between.sum() >= 0.03 * SAMPLE_RATE * (PARTS[0] - 1)


def test_where_no_clip_is_short_none_are_joined() -> None:
    long = Clip("a", 0, 24_000, ((8,), (88,)), (8,), "synthetic", "fit")
    made, sounds = joined([long], {"a": np.ones(24_000, dtype=np.int16)})
    assert made == []
    assert len(sounds) == 0


@pytest.mark.parametrize(
    ("voice", "pronounced"),
    [("a", "θˈɜɹTi θˈW"), ("b", "θˈɜːtɪ θˈW")],
)
def test_voices_are_given_the_sounds_of_their_own_english(voice: str, pronounced: str) -> None:
    assert symbols_of("thirty thou", LANGUAGES[voice]) == pronounced


def test_no_noise_to_fit_on_is_one_to_measure_by() -> None:
    found = {
        package: [Path(package.folder, f"{number}.wav") for number in range(10)]
        for package in PACKAGES
    }
    fit, kept = shared_out(found)
    assert not set(fit) & set(kept)
    assert sorted(fit + kept) == sorted(path for paths in found.values() for path in paths)
    share = {package.name: len(set(paths) & set(kept)) for package, paths in found.items()}
    assert share == {
        "torcs-data": 3,
        "lincity-ng-data": 3,
        "unknown-horizons": 0,
        "colobot-common-sounds": 0,
        "stormbaancoureur-data": 10,
        "xmoto-data": 10,
    }


def test_a_missing_package_is_named_with_what_brings_it(tmp_path: Path) -> None:
    with pytest.raises(CompanionError, match=r"torcs-data are in none of .*apt-get download"):
        sounds_of(PACKAGES[0], [tmp_path])


def test_sounds_are_found_below_any_root_but_no_clicks_and_no_voices(tmp_path: Path) -> None:
    package = next(one for one in PACKAGES if one.name == "unknown-horizons")
    audio = tmp_path / "second" / package.folder / "content" / "audio"
    for name, size in (("b.ogg", 70_000), ("a.ogg", 70_000), ("click.ogg", 900)):
        (audio / "sounds").mkdir(parents=True, exist_ok=True)
        (audio / "sounds" / name).write_bytes(bytes(size))
    (audio / "voice").mkdir()
    (audio / "voice" / "c.ogg").write_bytes(bytes(70_000))
    found = sounds_of(package, [tmp_path / "first", tmp_path / "second"])
    assert found == [audio / "sounds" / "a.ogg", audio / "sounds" / "b.ogg"]


def test_fitting_loads_nothing_of_the_program_and_says_what_its_folder_lacks(
    tmp_path: Path,
) -> None:
    code = (
        "import sys, runpy\n"
        "try:\n"
        "    runpy.run_module('tools.fit_encoder.fit', run_name='__main__')\n"
        "finally:\n"
        "    print([name for name in sys.modules if name.startswith('companion')])\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path), str(tmp_path / "out")],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[1],
    )
    assert run.returncode == 1
    assert run.stdout == "[]\n"
    assert run.stderr == (
        f"tools.fit_encoder.fit: {tmp_path} has no clips.jsonl; make it with "
        "tools.fit_encoder.gather.\n"
    )
