"""A page that is asked for in place of something else leaves that as it is."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from companion.cli import main
from companion.log.sessions import sessions_folder
from tests.logs import invented_job

PAGES = (
    ["history", "Quillmoor tiller", "--html"],
    ["report", "one", "--html"],
    ["report", "one", "--handover"],
    ["tags", "one", "--html"],
)


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two sessions, settings, and a picture of the shop's own."""
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("BENCH_COMPANION_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.chdir(tmp_path)
    for name in ("one", "two"):
        invented_job(sessions_folder() / name)
    (tmp_path / "settings.toml").write_text('shop_name = "Shop"\n')
    (tmp_path / "own.jpg").write_bytes(b"\xff\xd8 no page")
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "data" / "elsewhere.jsonl").write_text("")
    assert main(["sessions"]) == 0
    return tmp_path


def files(shop: Path) -> dict[str, str]:
    return {
        str(path.relative_to(shop)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in shop.rglob("*")
        if path.is_file() and "index" not in path.name
    }


@pytest.mark.parametrize("command", PAGES, ids=lambda each: " ".join(each))
def test_nothing_that_is_no_page_is_replaced(
    command: list[str], shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = files(shop)
    odd = [*before, "pipe", "data/index.sqlite"]
    assert len(odd) > 8
    for name in odd:
        assert main([*command, name]) == 1, name
        err = capsys.readouterr().err
        assert "name another file" in err
        assert len(err.splitlines()) == 1
    assert files(shop) == before
    assert main(["log", "check", "two"]) == 0


@pytest.mark.parametrize("command", PAGES, ids=lambda each: " ".join(each))
def test_a_page_is_replaced_whatever_it_is_called(command: list[str], shop: Path) -> None:
    for name in ("page.html", "page"):
        assert main([*command, name]) == 0
        assert main([*command, name]) == 0
