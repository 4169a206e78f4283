"""A folder for replay names its machine and job; they may be the shop's own."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.errors import CompanionError
from companion.replay import load_replay, open_replay
from tests.conftest import Run, one_sentence

PLAN = """
title = "A first reading"
job = "{job}"
machine = "{machine}"
mode = "push-to-talk"
call_sign = "bench"
ounce = "us"
licence = "made for this test"

[[recording]]
file = "01.wav"
at = 2026-11-02T10:00:00+01:00
"""


@pytest.fixture
def recordings(tmp_path: Path) -> Path:
    """A folder with one recording."""
    folder = tmp_path / "recordings"
    folder.mkdir()
    soundfile.write(folder / "01.wav", np.zeros(1600, np.float32), 16_000)
    return folder


@pytest.fixture
def own(companion: Run, shop: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    """A shop with a sheet of its own, and another one that has the name of a shipped one."""
    for name in ("my-tiller", "quillmoor-tiller"):
        made = companion("new", "sheet", name, "--kind", "tiller", "--cycle", "four-stroke")
        assert made.returncode == 0, made.stderr
    monkeypatch.setenv("BENCH_COMPANION_DATA", shop["BENCH_COMPANION_DATA"])


def opened(folder: Path, machine: str, job: str = "four-stroke-service") -> str | None:
    """Name of the machine that a replay is of."""
    (folder / "session.toml").write_text(PLAN.format(machine=machine, job=job), "utf-8")
    session = open_replay(load_replay(folder), folder, folder.parent / "heard", None)
    return None if session.state.sheet is None else session.state.sheet.name


@pytest.mark.usefixtures("own")
def test_a_machine_of_the_shops_own_is_found(recordings: Path) -> None:
    assert opened(recordings, "my-tiller") == "my-tiller"


@pytest.mark.usefixtures("own")
def test_a_shipped_name_means_the_same_in_every_shop(recordings: Path) -> None:
    assert opened(recordings, "quillmoor-tiller") == "Quillmoor rear tine tiller"


@pytest.mark.usefixtures("own")
@pytest.mark.parametrize("outside", ["../sheets/my-tiller", "../../data/sheets/my-tiller"])
def test_no_file_outside_is_reached_by_a_name(recordings: Path, outside: str) -> None:
    with pytest.raises(CompanionError, match="There is no spec sheet"):
        opened(recordings, outside)


def test_a_folder_without_its_file_is_shown_one_that_has_it(companion: Run, tmp_path: Path) -> None:
    said = one_sentence(companion("replay", tmp_path, "--out", tmp_path / "out"), 1)
    shown = Path(said.split("'")[-2])
    assert (shown / "session.toml").is_file()
