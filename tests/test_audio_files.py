"""Sound files as a microphone gives sound, and one plain sentence for each of no use."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.audio.files import (
    SoundStream,
    SoundUnreadable,
    read_sound,
    stream_sound,
)
from companion.audio.one_call import read_one_call
from companion.audio.resample import Resampler, mono, resample
from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE


def tone(seconds: float, rate: int, frequency: float = 440.0, channels: int = 1) -> np.ndarray:
    wave = 0.4 * np.sin(2 * np.pi * frequency * np.arange(int(seconds * rate)) / rate)
    return np.repeat(wave[:, None], channels, axis=1).astype(np.float32)


def loudest_frequency(samples: np.ndarray) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(np.argmax(spectrum) * SAMPLE_RATE / len(samples))


@pytest.mark.parametrize("rate", [8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("channels", [1, 2, 6])
def test_any_rate_and_number_of_channels(tmp_path: Path, rate: int, channels: int) -> None:
    file = tmp_path / "call.wav"
    soundfile.write(file, tone(1.5, rate, channels=channels), rate)
    samples = read_sound(file)
    assert samples.dtype == np.float32
    assert samples.ndim == 1
    assert len(samples) == pytest.approx(1.5 * SAMPLE_RATE, abs=1)
    assert loudest_frequency(samples) == pytest.approx(440, abs=1)
    assert np.max(np.abs(samples)) == pytest.approx(0.4, abs=0.02)


@pytest.mark.parametrize("form", ["WAV", "FLAC", "OGG", "MP3", "AIFF", "AU", "W64"])
def test_common_formats(tmp_path: Path, form: str) -> None:
    file = tmp_path / f"call.{form.lower()}"
    soundfile.write(file, tone(1.0, 16_000), 16_000, format=form)
    stream = SoundStream(file)
    samples = np.concatenate(list(stream))
    assert not stream.truncated
    assert loudest_frequency(samples) == pytest.approx(440, abs=2)


def test_a_file_comes_in_blocks_that_join_without_a_seam(tmp_path: Path) -> None:
    file = tmp_path / "long.flac"
    soundfile.write(file, tone(20.0, 44_100), 44_100)
    blocks = list(stream_sound(file, SAMPLE_RATE // 2))
    assert max(map(len, blocks)) < SAMPLE_RATE
    whole = read_sound(file)
    joined = np.concatenate(blocks)
    assert joined.shape == whole.shape
    np.testing.assert_allclose(joined, whole, atol=1e-6)


@given(
    cuts=st.lists(st.integers(1, 4000), min_size=1, max_size=20),
    rate=st.sampled_from([8_000, 22_050, 44_100, 48_000]),
)
@settings(max_examples=30, deadline=None)
def test_blocks_of_any_length_resample_alike(cuts: list[int], rate: int) -> None:
    sound = np.random.default_rng(1).uniform(-0.5, 0.5, sum(cuts)).astype(np.float32)
    resampler = Resampler(rate)
    pieces = [resampler.feed(part) for part in np.split(sound, np.cumsum(cuts)[:-1])]
    joined = np.concatenate([*pieces, resampler.finish()])
    np.testing.assert_allclose(joined, resample(sound, rate), atol=1e-6)


def test_numbers_that_are_none_become_silence() -> None:
    block = np.array([0.5, np.nan, np.inf, -np.inf, 7.0], dtype=np.float32)
    np.testing.assert_array_equal(mono(block), np.array([0.5, 0, 1, -1, 1], dtype=np.float32))


@pytest.mark.parametrize("form", ["WAV", "FLAC", "MP3", "AIFF", "AU", "RF64", "W64"])
def test_of_a_file_cut_off_what_is_there_is_used(tmp_path: Path, form: str) -> None:
    file = tmp_path / f"cut.{form.lower()}"
    soundfile.write(file, tone(4.0, 16_000), 16_000, format=form)
    whole = file.read_bytes()
    file.write_bytes(whole[: len(whole) // 2])
    found = read_one_call(file)
    assert found.samples is not None
    assert 0.5 < len(found.samples) / SAMPLE_RATE < 3.0
    assert "truncated" in found.troubles


def test_a_whole_file_is_not_truncated(tmp_path: Path) -> None:
    file = tmp_path / "whole.wav"
    soundfile.write(file, tone(1.0, 16_000), 16_000)
    assert read_one_call(file).troubles == ()


def test_a_length_that_a_pipe_could_not_know_is_not_truncated(tmp_path: Path) -> None:
    """Programs that write WAV to a pipe put the largest length there is into the header."""
    file = tmp_path / "piped.wav"
    soundfile.write(file, tone(1.0, 16_000), 16_000)
    data = bytearray(file.read_bytes())
    place = data.index(b"data") + 4
    data[place : place + 4] = (0x7FFFF000).to_bytes(4, "little")
    data[4:8] = (0x7FFFF024).to_bytes(4, "little")
    file.write_bytes(bytes(data))
    assert read_one_call(file).troubles == ()


def test_silent_and_clipped(tmp_path: Path) -> None:
    file = tmp_path / "call.wav"
    soundfile.write(file, np.zeros(16_000), 16_000)
    assert read_one_call(file).troubles == ("silent",)
    soundfile.write(file, np.clip(8 * tone(1.0, 16_000), -1, 1), 16_000)
    assert read_one_call(file).troubles == ("clipped",)


def unusable(tmp_path: Path) -> dict[str, tuple[Path, str]]:
    files: dict[str, tuple[Path, str]] = {"missing": (tmp_path / "none.wav", "There is no sound")}
    files["a folder"] = (tmp_path, "is not a file")
    files["empty"] = (tmp_path / "empty.wav", "is empty")
    files["empty"][0].write_bytes(b"")
    files["text"] = (tmp_path / "text.wav", "not a sound file")
    files["text"][0].write_text("gap thirty thou")
    files["headerless"] = (tmp_path / "sound.raw", "not a sound file")
    files["headerless"][0].write_bytes(b"\0" * 100)
    files["header only"] = (tmp_path / "header.wav", "has a header but no sound")
    soundfile.write(files["header only"][0], np.zeros(0), 16_000)
    files["too low a rate"] = (tmp_path / "low.wav", "4000 samples a second")
    soundfile.write(files["too low a rate"][0], np.zeros(4_000), 4_000)
    files["start of an Ogg file only"] = (tmp_path / "cut.ogg", "")
    soundfile.write(files["start of an Ogg file only"][0], tone(1, 16_000), 16_000)
    whole = files["start of an Ogg file only"][0].read_bytes()
    files["start of an Ogg file only"][0].write_bytes(whole[:200])
    return files


@pytest.mark.parametrize(
    "case",
    [
        "missing",
        "a folder",
        "empty",
        "text",
        "headerless",
        "header only",
        "too low a rate",
        "start of an Ogg file only",
    ],
)
def test_what_cannot_be_used_is_told_in_one_sentence(tmp_path: Path, case: str) -> None:
    file, says = unusable(tmp_path)[case]
    with pytest.raises(SoundUnreadable) as caught:
        read_sound(file)
    sentence = str(caught.value)
    assert isinstance(caught.value, CompanionError)
    assert str(file) in sentence
    assert says in sentence
    assert "\n" not in sentence
    assert sentence.endswith(".")
