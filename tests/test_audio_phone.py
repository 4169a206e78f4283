"""Phones' recordings, decoded by ffmpeg: those that a phone makes, cut ones, hostile ones, and what
is said where ffmpeg is not there."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from companion.audio.files import SoundStream, SoundUnreadable, read_sound
from companion.audio.one_call import read_one_call
from companion.audio.phone import kind_of
from companion.files.sound_format import SAMPLE_RATE
from companion.shipped import shipped
from tests.ffmpeg import ffmpeg

CALL = "14-half-load.flac"
SECONDS = 4.0
ENCODED: dict[str, tuple[str, ...]] = {
    "memo.m4a": (),
    "memo.mp4": (),
    "memo.aac": (),
    "stereo.m4a": ("-ac", "2", "-ar", "44100"),
    "phone.3gp": ("-c:a", "aac"),
    "narrow.3gp": ("-ar", "8000", "-c:a", "amr_nb"),
    "memo.amr": ("-ar", "8000", "-c:a", "amr_nb"),
    "memo.webm": (),
    "memo.wma": (),
    "message.ogg": ("-c:a", "libopus"),
    "message.opus": ("-c:a", "libopus"),
    "memo.mp3": (),
}
"""What is encoded, by the name of its file, and how."""


@pytest.fixture(scope="module")
def source() -> Path:
    return shipped("demo_sessions") / "generator-load-check" / "audio" / CALL


@pytest.fixture(scope="module")
def recordings(source: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("recordings")
    for name, how in ENCODED.items():
        ffmpeg("-t", str(SECONDS), "-i", source, *how, folder / name)
    ffmpeg("-i", folder / "memo.m4a", "-c", "copy", "-movflags", "faststart", folder / "fast.m4a")
    return folder


@pytest.mark.parametrize("name", ENCODED)
def test_a_recording_is_the_sound_that_it_was_made_from(
    name: str, recordings: Path, source: Path
) -> None:
    sound = read_sound(recordings / name)
    first = read_sound(source)[: int(SECONDS * SAMPLE_RATE)]
    # Encoders put up to a tenth of a second of silence before and after.
    assert len(sound) / SAMPLE_RATE == pytest.approx(SECONDS, abs=0.2)
    spectrum = np.abs(np.fft.rfft(sound, 2 * len(first)))
    expected = np.abs(np.fft.rfft(first, 2 * len(first)))
    # Up to 3 kHz, which AMR keeps; loudness over time does not come into it.
    below = slice(0, int(3_000 / (SAMPLE_RATE / 2) * len(first)))
    alike = np.corrcoef(spectrum[below], expected[below])[0, 1]
    assert alike > 0.9, alike
    assert not SoundStream(recordings / name).truncated


def test_a_call_in_a_voice_memo_is_found_as_in_a_wav(recordings: Path, source: Path) -> None:
    memo, plain = read_one_call(recordings / "memo.m4a"), read_one_call(source)
    assert memo.samples is not None
    assert plain.samples is not None
    assert memo.troubles == plain.troubles == ()


def test_what_is_cut_off_is_heard_as_far_as_it_goes(recordings: Path, tmp_path: Path) -> None:
    whole = (recordings / "fast.m4a").read_bytes()
    cut = tmp_path / "cut.m4a"
    cut.write_bytes(whole[: len(whole) * 2 // 3])
    stream = SoundStream(cut)
    seconds = sum(map(len, stream)) / SAMPLE_RATE
    assert 1.0 < seconds < SECONDS
    assert stream.truncated
    assert "truncated" in read_one_call(cut).troubles


def test_an_index_at_the_end_that_is_cut_off_leaves_one_sentence(
    recordings: Path, tmp_path: Path
) -> None:
    cut = tmp_path / "cut.m4a"
    cut.write_bytes((recordings / "memo.m4a").read_bytes()[:15_000])
    with pytest.raises(SoundUnreadable, match=r"cut\.m4a is an M4A.* send it once more"):
        read_sound(cut)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("list.m4a", b"ffconcat version 1.0\nfile secret.wav\n"),
        ("list.m4a", b"#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\nsecret.wav\n#EXT-X-ENDLIST\n"),
        ("page.m4a", b"#EXTM3U\n#EXTINF:9,\nhttp://127.0.0.1:9/secret.wav\n"),
        ("drawn.m4a", b"<svg xmlns='http://www.w3.org/2000/svg'/>"),
        ("noise.m4a", b"\x00\x00\x00\x1cftypM4A " + bytes(range(256)) * 40),
        ("noise.webm", b"\x1a\x45\xdf\xa3" + bytes(4_000)),
        ("empty.m4a", b""),
    ],
)
def test_what_only_says_that_it_is_a_recording_opens_no_other_file(
    name: str, content: bytes, recordings: Path, tmp_path: Path
) -> None:
    shutil.copy(recordings / "memo.m4a", tmp_path / "secret.wav")
    (tmp_path / name).write_bytes(content)
    with pytest.raises(SoundUnreadable, match=name):
        read_sound(tmp_path / name)


@pytest.mark.parametrize("name", ["-i.m4a", "http:memo.m4a", "concat:a|b.m4a", "Ä ö 名.m4a"])
def test_a_name_is_a_name_and_no_order(
    name: str, recordings: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copy(recordings / "memo.m4a", tmp_path / name)
    monkeypatch.chdir(tmp_path)
    assert len(read_sound(name)) > SAMPLE_RATE


def test_without_ffmpeg_one_sentence_says_what_to_install(
    recordings: Path, source: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    for name in ("memo.m4a", "memo.aac"):
        with pytest.raises(SoundUnreadable, match=r"takes ffmpeg to be read; install it with '.*'"):
            read_sound(recordings / name)
    # What needs none is read all the same.
    assert len(read_sound(source)) > SAMPLE_RATE
    assert len(read_sound(recordings / "memo.mp3")) > SAMPLE_RATE


def test_a_program_that_gives_no_sound_is_not_waited_for(
    recordings: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stuck = tmp_path / "ffmpeg"
    stuck.write_text("#!/bin/sh\nexec tail -f /dev/null\n")
    stuck.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")
    monkeypatch.setattr("companion.audio.phone.LONGEST_WAIT_FOR_SOUND", 0.05)
    with pytest.raises(SoundUnreadable, match="holds no sound"):
        read_sound(recordings / "memo.m4a")


def test_a_stream_that_is_left_ends_its_decoder(recordings: Path) -> None:
    stream = SoundStream(recordings / "memo.m4a", block=800)
    blocks = iter(stream)
    next(blocks)
    running = stream._file._running  # type: ignore[union-attr]
    assert running.args[-1] == "pipe:1"
    blocks.close()  # type: ignore[attr-defined]
    assert running.returncode is not None


def test_mp3_is_no_aac() -> None:
    assert kind_of(b"\xff\xfb\x90\x64" + bytes(12)) is None
    assert kind_of(b"\xff\xf1\x50\x80" + bytes(12)) == ("aac", "an AAC recording")
    assert kind_of(b"RIFF" + bytes(12)) is None
    assert kind_of(b"") is None
