"""Logs and clips read by programs of others: JSON Lines, RFC 3339 and FLAC are what they say."""

from __future__ import annotations

from pathlib import Path

import jsonlines
import numpy as np
import pytest
from numpy.typing import NDArray
from rfc3339_validator import validate_rfc3339

from companion.files.sound_format import SAMPLE_RATE
from companion.log.clips import keep_clip, read_clip
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from companion.shelf.load import shipped_cards
from tests.ffmpeg import ffmpeg
from tests.full_service import full_service
from tests.logs import invented_job, tone


@pytest.fixture(scope="module")
def logs(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The log of a full service by each shipped card, and one with something of everything."""
    folder = tmp_path_factory.mktemp("outside")
    for name in shipped_cards():
        job, _ = full_service(name)
        with LogWriter.create(folder / name) as writer:
            for record in job.records:
                writer.append([record.event], record.at)
    invented_job(folder / "everything", clips=False)
    return sorted(folder.iterdir())


def test_a_reader_of_json_lines_reads_every_record(logs: list[Path]) -> None:
    assert len(logs) > 5
    for folder in logs:
        records = read_log(folder).records
        with jsonlines.open(folder / "log.jsonl") as reader:
            lines = list(reader.iter(type=dict, allow_none=False, skip_empty=False))
        assert [line["seq"] for line in lines] == [record.seq for record in records]
        assert [line["kind"] for line in lines] == [record.event.kind for record in records]


def test_a_validator_of_rfc_3339_takes_every_time(logs: list[Path]) -> None:
    for folder in logs:
        with jsonlines.open(folder / "log.jsonl") as reader:
            times = [time for line in reader for time in _times(line)]
        assert times
        assert [time for time in times if not validate_rfc3339(time)] == []


def _times(value: object) -> list[str]:
    """What stands under "at" or "due", however deep."""
    if isinstance(value, list):
        return [time for each in value for time in _times(each)]
    if not isinstance(value, dict):
        return []
    found = [value[key] for key in ("at", "due") if isinstance(value.get(key), str)]
    return found + [time for each in value.values() for time in _times(each)]


def by_another_decoder(clip: Path) -> NDArray[np.int16]:
    """The samples of a FLAC file by the decoder of ffmpeg."""
    of_all = ("-f", "s16le", "-acodec", "pcm_s16le", "-")
    return np.frombuffer(ffmpeg("-i", clip, *of_all), "<i2")


def test_clips_decode_alike_by_another_decoder(tmp_path: Path) -> None:
    noise = np.random.default_rng(5).uniform(-1.2, 1.2, SAMPLE_RATE // 3).astype(np.float32)
    sounds = {
        "a tone": tone(1.3),
        "noise beyond full scale": noise,
        "silence": np.zeros(4096, np.float32),
        "one sample": np.full(1, -1.0, np.float32),
        "steps": np.repeat(np.float32([1.0, -1.0, 0.0]), 777),
    }
    for number, (what, sound) in enumerate(sounds.items()):
        keep_clip(tmp_path, number, sound)
        path = f"audio/{number:04d}.flac"
        theirs = by_another_decoder(tmp_path / path)
        ours = np.round(read_clip(tmp_path, path) * 32768).astype(np.int32)
        assert len(theirs) == len(sound), what
        assert np.array_equal(ours, theirs.astype(np.int32)), what
        assert np.abs(theirs / 32768 - np.clip(sound, -1, 1)).max() < 2 / 32768, what
