"""A page asked for in place of something else leaves that as it is; it names the machine."""

from __future__ import annotations

import hashlib
import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from companion.cli import main
from companion.log.identity import Identity
from companion.log.machine_watch import MachineWatch
from companion.log.sessions import sessions_folder
from companion.session.opening import open_session
from companion.shelf.load import load_sheet
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
    (tmp_path / "settings.toml").touch()
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


def test_every_paper_names_the_very_machine_and_not_its_model(shop: Path) -> None:
    session = open_session(
        Path("own"),
        at=datetime(2026, 3, 2, 9, 15, tzinfo=UTC),
        card=None,
        sheet=load_sheet("quillmoor-tiller"),
        machine=MachineWatch(Identity("The red <tiller>", "A 7"), Path("own")),
    )
    session.open(datetime(2026, 3, 2, 9, 15, tzinfo=UTC))
    session.typed("tag no oil", datetime(2026, 3, 2, 9, 16, tzinfo=UTC))
    session.typed("need two shear pins", datetime(2026, 3, 2, 9, 17, tzinfo=UTC))
    session.close()
    assert main(["report", "own", "--html", "r.html", "--handover", "h.html"]) == 0
    assert main(["report", "own", "--parts", "p.html"]) == 0
    assert main(["tags", "own", "--html", "t.html"]) == 0
    for name in ("r.html", "h.html", "p.html", "t.html"):
        page = Path(name).read_text()
        assert "The red &lt;tiller&gt;" in page.replace("\u00a0", " "), name
