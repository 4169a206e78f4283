"""A file of a session replaced by a link, a pipe or a device holds no program and is not read."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from companion.errors import CompanionError
from companion.log.check import check_log
from companion.log.clips import clip_bytes
from companion.log.in_use import LIVE_NAME
from companion.log.live_status import STATUS_NAME, live_status
from companion.log.photos import add_photo
from companion.log.removed import REMOVED_NAME, removed_clips
from companion.log.thinned import old_clips, remove_clips
from companion.log.tip import TIP_NAME, read_tip
from companion.report.page import write_report
from tests.logs import invented_job


def device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def secret(path: Path) -> None:
    path.symlink_to("/etc/passwd")


ODD = [os.mkfifo, device, secret, Path.mkdir]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A session with clips and a photo."""
    made = tmp_path_factory.mktemp("odd")
    folder = made / "job"
    invented_job(folder)
    Image.new("RGB", (30, 20), "red").save(made / "seal.jpg")
    add_photo(folder, made / "seal.jpg", at=datetime.now(UTC))
    return folder


@pytest.fixture
def job(whole: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(whole, tmp_path / "job"))


@pytest.mark.parametrize("put", ODD)
@pytest.mark.parametrize("where", ["audio", "photos"])
def test_a_clip_or_photo_that_is_none_is_told_of_and_the_rest_goes_on(
    where: str, put: Callable[[Path], None], job: Path
) -> None:
    path = next((job / where).iterdir())
    path.unlink()
    put(path)
    told = [str(problem) for problem in check_log(job).problems]
    assert [each for each in told if path.name in each], told
    page = write_report(job).read_text()
    assert "root:" not in page
    assert len(page) < 5_000_000
    old = old_clips(job, datetime.now(UTC))
    remove_clips(old, datetime.now(UTC))
    assert os.path.lexists(path)


@pytest.mark.parametrize("put", ODD)
def test_nor_does_one_in_place_of_what_stands_beside_the_log(
    put: Callable[[Path], None], job: Path
) -> None:
    for name in (TIP_NAME, LIVE_NAME, STATUS_NAME, REMOVED_NAME):
        (job / name).unlink(missing_ok=True)
        put(job / name)
    assert read_tip(job) is None
    assert live_status(job) is None
    assert removed_clips(job) == {}
    assert check_log(job).problems == ()


def test_a_clip_of_any_length_is_not_read(job: Path) -> None:
    clip = next((job / "audio").iterdir())
    os.truncate(clip, 1 << 32)
    with pytest.raises(CompanionError, match="too large"):
        clip_bytes(job, f"audio/{clip.name}")
