"""Sound clips beside the log: lossless, never written over, never read from outside the session."""

from __future__ import annotations

import errno
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE
from companion.log.clips import clip_bytes, keep_clip, read_clip
from tests.logs import tone

HALF_STEP = 0.5 / 2**15
"""What rounding to 16 bits may change a sample by."""


def test_a_clip_is_a_flac_file_named_by_its_record(tmp_path: Path) -> None:
    assert keep_clip(tmp_path, 7, tone()).path == "audio/0007.flac"
    assert keep_clip(tmp_path, 12345, tone()).path == "audio/12345.flac"
    # RFC 9639, section 6: the stream marker "fLaC".
    assert clip_bytes(tmp_path, "audio/0007.flac")[:4] == b"fLaC"
    info = soundfile.info(tmp_path / "audio" / "0007.flac")
    assert (info.samplerate, info.channels, info.subtype) == (SAMPLE_RATE, 1, "PCM_16")


@given(samples=arrays.arrays(np.float32, st.integers(1, 4000), elements=st.floats(-1, 1, width=32)))
@settings(max_examples=40, deadline=None)
def test_a_clip_sounds_as_it_was_heard(
    tmp_path_factory: pytest.TempPathFactory, samples: np.ndarray
) -> None:
    folder = tmp_path_factory.mktemp("session")
    back = read_clip(folder, keep_clip(folder, 1, samples).path)
    assert back.shape == samples.shape
    # Full scale is one step short of 1 on the positive side, in 16 bits.
    assert np.max(np.abs(back - samples)) <= 2 * HALF_STEP + 1e-6


def test_sound_out_of_range_is_clipped_not_wrapped(tmp_path: Path) -> None:
    loud = np.array([0.0, 3.0, -3.0, np.nan, np.inf], dtype=np.float32)
    back = read_clip(tmp_path, keep_clip(tmp_path, 1, loud).path)
    assert back == pytest.approx([0, 1, -1, 0, 1], abs=2 * HALF_STEP)


def test_a_clip_left_from_before_a_crash_is_not_written_over(tmp_path: Path) -> None:
    first = keep_clip(tmp_path, 7, tone(pitch=300)).path
    second = keep_clip(tmp_path, 7, tone(pitch=600)).path
    assert (first, second) == ("audio/0007.flac", "audio/0007-2.flac")
    assert read_clip(tmp_path, first) == pytest.approx(tone(pitch=300), abs=2 * HALF_STEP)
    assert read_clip(tmp_path, second) == pytest.approx(tone(pitch=600), abs=2 * HALF_STEP)


def test_a_full_disk_leaves_no_half_clip(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("companion.files.disk.write_all", fail)
    with pytest.raises(CompanionError, match="No space left on device"):
        keep_clip(tmp_path, 7, tone())
    assert list((tmp_path / "audio").iterdir()) == []


@pytest.mark.parametrize(
    "clip",
    [
        "../secret.flac",
        "audio/../../secret.flac",
        "/etc/hostname",
        "audio/../log.jsonl",
        "audio/x/y.flac",
        "audio\\..\\secret.flac",
        "audio/..",
        "audio",
        "",
        "audio/\0",
    ],
)
def test_a_clip_outside_the_session_is_never_read(tmp_path: Path, clip: str) -> None:
    session = tmp_path / "session"
    session.mkdir()
    keep_clip(session, 1, tone())
    (session / "log.jsonl").write_text("{}")
    (tmp_path / "secret.flac").write_bytes(b"not for a report")
    with pytest.raises(CompanionError, match="outside the session"):
        clip_bytes(session, clip)


def test_missing_broken_and_wrong_rate_clips_are_told(tmp_path: Path) -> None:
    (tmp_path / "audio").mkdir()
    with pytest.raises(CompanionError, match="cannot be read"):
        read_clip(tmp_path, "audio/0001.flac")
    (tmp_path / "audio" / "0001.flac").write_bytes(b"no sound at all")
    with pytest.raises(CompanionError, match="is damaged"):
        read_clip(tmp_path, "audio/0001.flac")
    soundfile.write(tmp_path / "audio" / "0002.flac", tone(), 44_100)
    with pytest.raises(CompanionError, match="not 16 kHz mono"):
        read_clip(tmp_path, "audio/0002.flac")
