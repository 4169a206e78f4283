"""Whole commands over a shop in which other users, or other people's folders, are in the way."""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.cli import main
from tests.bad_sessions import ODD_LOGS, ODD_RECORDS
from tests.conftest import Run
from tests.logs import invented_job
from tests.shops import environment_kept

NOBODY = 65534
"""Number of a user who owns nothing."""

GOOD = "good-quillmoor-tiller"
BAD = ["link to a device", "FIFO", "blank lines only", "exponent", "exponent below", "deep JSON"]


@pytest.fixture
def sessions(shop: dict[str, str]) -> Path:
    """The sessions of a shop: a good one, and many that are none."""
    sessions = Path(shop["BENCH_COMPANION_DATA"]) / "sessions"
    invented_job(sessions / GOOD, clips=False)
    for kind in BAD:
        folder = sessions / f"bad {kind}".replace(" ", "-")
        shutil.copytree(sessions / GOOD, folder)
        {**ODD_LOGS, **ODD_RECORDS}[kind](folder)
    return sessions


def test_one_shop_of_bad_folders_is_worked_in_as_ever(
    sessions: Path, companion: Run, tmp_path: Path
) -> None:
    for command in (["sessions"], ["sessions", "--json"], ["history"], ["history", "--json"]):
        run = companion(*command)
        assert run.returncode == 0, run.stderr
        assert "Traceback" not in run.stderr
        assert "uillmoor tiller" in run.stdout
    assert f"{len(BAD)} sessions could not be read" in companion("sessions").stderr
    run = companion("history", "Quillmoor tiller")
    assert sum(line.startswith("not read: bad-") for line in run.stdout.splitlines()) == len(BAD)
    run = companion(
        "work", "--typed", "--quiet", "--machine", "quillmoor-tiller", typed="gap thirty thou\n"
    )
    assert run.returncode == 0, run.stderr
    assert "thirty" in run.stdout
    run = companion("resume", GOOD, "--typed", "--quiet", typed="gap thirty thou\n")
    assert run.returncode == 0, run.stderr
    run = companion("export", "--tables", tmp_path / "tables")
    assert run.returncode == 1
    assert run.stderr.count("is left out") == len(BAD)
    assert GOOD in (tmp_path / "tables" / "sessions.csv").read_text()


def test_a_session_that_cannot_be_read_is_refused_by_every_command_in_one_sentence(
    sessions: Path, companion: Run
) -> None:
    for kind in BAD:
        name = f"bad-{kind}".replace(" ", "-")
        for command in (["report", name], ["log", "show", name], ["resume", name, "--typed"]):
            run = companion(*command)
            assert run.returncode == 1
            assert name in run.stderr
            assert len(run.stderr.splitlines()) == 1, run.stderr


@pytest.mark.parametrize("name", ["n" * 300, "n" * 5_000, "ä" * 200, "a\nb", "\x1b[2J"])
def test_a_name_of_any_length_is_no_session(name: str, companion: Run) -> None:
    for command in (["report", name], ["resume", name, "--typed"], ["log", "check", name]):
        run = companion(*command)
        assert run.returncode == 1
        assert "Traceback" not in run.stderr


def test_a_folder_whose_name_is_no_text_is_listed(sessions: Path, companion: Run) -> None:
    os.rename(os.fsencode(sessions / GOOD), os.fsencode(sessions) + b"/\xff\xfe-quillmoor-tiller")
    run = companion("sessions")
    assert run.returncode == 0, run.stderr
    assert "Quillmoor tiller" in run.stdout


@pytest.fixture
def open_shop() -> Iterator[Path]:
    """A shop that every user of the computer may look into."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o777)
    try:
        with environment_kept():
            os.environ["BENCH_COMPANION_DATA"] = str(folder / "data")
            os.environ["BENCH_COMPANION_SETTINGS"] = str(folder / "settings.toml")
            (folder / "settings.toml").touch()
            for name in (GOOD, "shut-quillmoor-tiller"):
                invented_job(folder / "data" / "sessions" / name)
            for path in (folder, *folder.rglob("*")):
                path.chmod(0o777 if path.is_dir() else 0o666)
            yield folder
    finally:
        for path in folder.rglob("*"):
            if path.is_dir():
                path.chmod(stat.S_IRWXU)
        shutil.rmtree(folder)


def as_nobody(folder: Path, *arguments: str) -> tuple[int, str, str]:
    """Run a command as a user whom permissions stop."""
    # What a command loads may lie where that user may not look.
    assert main([*arguments]) in (0, 1)
    for made in (folder / "data").glob("index*"):
        made.unlink()
    (folder / "page.html").unlink(missing_ok=True)
    out, err = folder / "out", folder / "err"
    child = os.fork()
    if not child:
        status = 99
        try:
            for number, path in ((1, out), (2, err)):
                os.dup2(os.open(path, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o666), number)
            if os.geteuid() == 0:
                os.setgroups([])
                os.setgid(NOBODY)
                os.setuid(NOBODY)
            os.chdir(folder)
            with (
                os.fdopen(1, "w", closefd=False) as stdout,
                os.fdopen(2, "w", closefd=False) as two,
            ):
                import sys

                sys.stdout, sys.stderr = stdout, two
                status = main([*arguments])
        finally:
            os._exit(status)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), out.read_text(), err.read_text()


@pytest.mark.parametrize("what", ["", "log.jsonl"])
def test_what_may_not_be_read_is_named_and_the_rest_goes_on(what: str, open_shop: Path) -> None:
    shut = open_shop / "data" / "sessions" / "shut-quillmoor-tiller"
    (shut / what).chmod(0)
    status, out, err = as_nobody(open_shop, "sessions")
    assert status == 0, err
    assert f"{GOOD}  " in out
    assert f"{shut.name}  unreadable: " in out
    assert "Permission denied" in out
    assert "1 session could not be read" in err
    status, out, err = as_nobody(open_shop, "history", "Quillmoor tiller")
    assert status == 0, err
    assert f"not read: {shut.name}" in out
    # What its log says is not known, and holds the start.
    status, out, err = as_nobody(open_shop, "history")
    assert "DO NOT START" in out
    status, _, err = as_nobody(
        open_shop, "report", shut.name, "--html", str(open_shop / "page.html")
    )
    assert status == 1
    assert "Permission denied" in err
    assert len(err.splitlines()) == 1, err


def test_clips_that_may_not_be_read_are_told_of_by_the_check(open_shop: Path) -> None:
    folder = open_shop / "data" / "sessions" / GOOD
    (folder / "audio").chmod(0)
    status, out, err = as_nobody(open_shop, "log", "check", GOOD)
    assert (status, err) == (1, "")
    assert "Permission denied" in out
    status, _, err = as_nobody(open_shop, "report", GOOD, "--html", str(open_shop / "page.html"))
    assert status == 0, err


def test_a_page_that_may_not_be_written_is_named_itself(open_shop: Path) -> None:
    shut = open_shop / "shut"
    shut.mkdir()
    page = shut / "ours.html"
    shut.chmod(0)
    status, _, err = as_nobody(open_shop, "report", GOOD, "--html", str(page))
    assert status == 1
    assert str(page) in err, err
    assert "with space and leave to write" in err


def test_sessions_that_cannot_be_read_are_not_said_to_be_none(open_shop: Path) -> None:
    for shut in (open_shop / "data" / "sessions").iterdir():
        shut.chmod(0)
    for arguments in (["report"], ["tags"]):
        status, _, err = as_nobody(open_shop, *arguments)
        assert status == 1
        assert "and 2 that cannot; 'companion sessions' says why of each" in err, err


def test_a_session_that_was_never_begun_is_not_to_be_resumed(open_shop: Path) -> None:
    shut = open_shop / "shut"
    shut.mkdir(mode=0)
    shut.chmod(0)
    work = ["work", "--typed", "--quiet", "--out", str(shut / "job")]
    status, _, err = as_nobody(open_shop, *work)
    assert status == 1
    assert "Permission denied" in err
    assert "--out" in err
    assert "resume" not in err
