"""What is written is nobody else's to read, and on the disk with the names that lead to it."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from companion.cli import main
from companion.enroll.used_forms import used_by
from companion.files.disk import append_line, make_folders, replace_file
from companion.job.events import NoteKept
from companion.log.archive import archive as put_away
from companion.log.clips import keep_clip
from companion.log.live_status import LiveSign
from companion.log.other_places import list_other_place
from companion.log.photos import add_photo
from companion.log.writer import LogWriter
from companion.web.board_server import kept_token
from tests.logs import MONDAY, invented_job
from tests.review_pages import picture

pytestmark = pytest.mark.skipif(os.name != "posix", reason="Windows knows no such rights")

UNSYNCED = ("log.tip", "log.live", "live.json", "index", "lock")
"""Names of files that may be lost in a power cut, as their modules say."""


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop without a folder yet."""
    base = tmp_path / "shop"
    base.mkdir()
    (base / "settings.toml").touch(mode=0o600)
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(base / "deep" / "data"))
    monkeypatch.setenv("BENCH_COMPANION_SETTINGS", os.devnull)
    monkeypatch.chdir(base)
    return base


def everything(base: Path) -> None:
    """Write every kind of file that the program writes, without a microphone."""
    folder = invented_job_in(base / "deep" / "data" / "sessions" / "one")
    keep_clip(folder, 900, np.zeros(160, np.float32))
    add_photo(folder, picture(), at=MONDAY + timedelta(days=3), name="seal.jpg")
    LiveSign(folder).show("typed", MONDAY)
    invented_job_in(base / "away" / "further" / "two")
    list_other_place(base / "away" / "further" / "two", "Quillmoor tiller")
    put_away([folder])
    kept_token()
    used_by(None).add({"added": 1})
    for command in (
        ["sessions"],
        ["calls", "--add", "fed her", "--as", "added"],
        ["report", "one"],
        ["report", "one", "--html", "r.html", "--handover", "h.html", "--parts", "p.csv"],
        ["tags", "one"],
        ["history", "Quillmoor tiller", "--html", "m.html"],
        ["export", "one", "--zip", "one.zip"],
        ["export", "one", "--tables", "tables"],
        ["export", "one", "--tables", "book", "--form", "xlsx"],
    ):
        assert main(command) == 0, command
    os.environ["BENCH_COMPANION_DATA"] = str(base / "other" / "data")
    assert main(["import", "one.zip"]) == 0


def invented_job_in(folder: Path) -> Path:
    invented_job(folder)
    return folder


def open_to_others(base: Path) -> list[str]:
    return sorted(
        f"{stat.filemode(path.lstat().st_mode)} {path.relative_to(base)}"
        for path in base.rglob("*")
        if path.lstat().st_mode & 0o077 and not path.is_symlink()
    )


@pytest.fixture
def nothing_masked() -> Iterator[None]:
    before = os.umask(0)
    yield
    os.umask(before)


@pytest.mark.usefixtures("nothing_masked")
def test_every_file_and_folder_is_for_its_owner_alone_also_with_no_umask(shop: Path) -> None:
    everything(shop)
    written = [path for path in shop.rglob("*") if path.is_file()]
    assert len(written) > 40
    assert open_to_others(shop) == []


def test_a_whole_session_of_the_program_is_for_its_owner_alone(shop: Path) -> None:
    job = ("--job", "four-stroke-service", "--machine", "quillmoor-tiller")
    program = subprocess.run(
        [sys.executable, "-m", "companion", "work", "--typed", "--quiet", *job],
        input="gap thirty thou\nnote ours alone\npark job\n",
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parent.parent)},
        umask=0,
        timeout=120,
        check=False,
    )
    assert program.returncode == 0, program.stderr
    assert len(list((shop / "deep").rglob("log.*"))) == 3
    assert open_to_others(shop) == []


def test_what_was_left_open_is_closed_when_a_session_is_opened_for_writing(shop: Path) -> None:
    folder = invented_job_in(shop / "deep" / "data" / "sessions" / "one")
    assert main(["report", "one"]) == 0
    for path in [shop / "deep", *(shop / "deep").rglob("*")]:
        path.chmod(0o777 if path.is_dir() else 0o666)
    (folder / "log.torn-7").symlink_to(shop / "outside")
    (shop / "outside").write_bytes(b"")
    (shop / "outside").chmod(0o644)
    with LogWriter.open(folder):
        pass
    # The one above the data folder is not the program's to change.
    assert open_to_others(shop) == ["-rw-r--r-- outside", "drwxrwxrwx deep"]
    clips = list((folder / "audio").iterdir())
    assert clips
    assert {path.stat().st_mode & 0o777 for path in clips} == {0o600}


def test_what_is_somebody_elses_stays_as_open_as_it_is(shop: Path) -> None:
    folder = invented_job_in(shop / "common")
    (folder / "manual.pdf").write_bytes(b"")
    os.link(folder / "manual.pdf", folder / "log.torn-3")
    for path in folder.rglob("*"):
        path.chmod(0o755 if path.is_dir() else 0o644)
    folder.chmod(0o755)
    with LogWriter.open(folder):
        pass
    # Others may still get at what is theirs in that folder, and at nothing of the session.
    assert open_to_others(shop) == [
        "-rw-r--r-- common/log.torn-3",
        "-rw-r--r-- common/manual.pdf",
        "drwxr-xr-x common",
    ]


def test_a_page_that_was_opened_to_others_stays_so_when_it_is_written_anew(shop: Path) -> None:
    invented_job_in(shop / "one")
    command = ["report", "one", "--html", "r.html"]
    assert main(command) == 0
    assert (shop / "r.html").stat().st_mode & 0o777 == 0o600
    (shop / "r.html").chmod(0o644)
    assert main(command) == 0
    assert (shop / "r.html").stat().st_mode & 0o777 == 0o644


# --- what is synced -------------------------------------------------------------------------------
class Watched:
    """What was made, named and synced, in order."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.happened: list[tuple[str, str]] = []
        self._watch(monkeypatch, "mkdir", lambda path, *_: ("made", path))
        self._watch(monkeypatch, "replace", lambda _, path: ("named", path))
        self._watch(monkeypatch, "rename", lambda _, path: ("named", path))
        true_sync, true_open, true_replace = os.fsync, os.open, os.replace

        def fsync(descriptor: int) -> None:
            true_sync(descriptor)
            self.happened.append(("synced", os.readlink(f"/proc/self/fd/{descriptor}")))

        def opened(path: str, flags: int, *more: int, **named: int) -> int:
            is_new = bool(flags & os.O_CREAT) and not os.path.lexists(path)
            descriptor = true_open(path, flags, *more, **named)
            if is_new:
                self.happened.append(("made", os.path.abspath(path)))
            return descriptor

        def replaced(part: str, path: str) -> None:
            self.happened.append(("about to name", os.path.abspath(part)))
            true_replace(part, path)

        monkeypatch.setattr(os, "fsync", fsync)
        monkeypatch.setattr(os, "open", opened)
        monkeypatch.setattr(os, "replace", replaced)

    def _watch(
        self,
        monkeypatch: pytest.MonkeyPatch,
        name: str,
        told: Callable[..., tuple[str, str | Path]],
    ) -> None:
        true = getattr(os, name)

        def watched(*arguments: str, **named: object) -> None:
            true(*arguments, **named)
            what, path = told(*arguments)
            self.happened.append((what, os.path.abspath(path)))

        monkeypatch.setattr(os, name, watched)

    def lost_in_a_power_cut(self) -> list[str]:
        """Names that are on no disk when all is done, and files that got theirs before their
        content."""
        lost = []
        for place, (what, path) in enumerate(self.happened):
            before, after = self.happened[:place], self.happened[place + 1 :]
            if any(each in Path(path).name for each in UNSYNCED):
                continue
            if what in ("made", "named") and ("synced", os.path.dirname(path)) not in after:
                lost.append(f"{what}, but its folder not synced: {path}")
            if what == "about to name" and ("synced", path) not in before:
                lost.append(f"named before it was synced: {path}")
        return lost


@pytest.fixture
def watched(shop: Path, monkeypatch: pytest.MonkeyPatch) -> Watched:
    return Watched(monkeypatch)


def _begins(base: Path) -> None:
    with LogWriter.create(base / "a" / "b" / "session") as writer:
        writer.append([NoteKept(text="a note", draft=False)], MONDAY)


def _folders(base: Path) -> None:
    make_folders(base / "a" / "b" / "c")
    make_folders(base / "a" / "b" / "c")


WRITTEN: dict[str, Callable[[Path], object]] = {
    "a session in new folders": _begins,
    "folders": _folders,
    "a file": lambda base: replace_file(base / "a" / "b" / "list.json", b"{}"),
    "a line": lambda base: append_line(base / "a" / "b" / "list.jsonl", b"{}"),
    "the list of sessions": lambda base: list_other_place(base / "elsewhere", "tiller"),
    "what is put away": lambda base: put_away([base / "elsewhere"]),
    "the token": lambda base: kept_token(),
    "the forms": lambda base: used_by(None).add({"added": 1}),
}


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="names of open files are needed")
@pytest.mark.parametrize("what", WRITTEN)
def test_a_name_is_on_the_disk_as_soon_as_the_file_is(
    what: str, shop: Path, watched: Watched
) -> None:
    WRITTEN[what](shop)
    assert [each for each, _ in watched.happened].count("synced") > 1
    assert watched.lost_in_a_power_cut() == []


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="names of open files are needed")
def test_pages_and_exports_are_on_the_disk_before_they_get_their_name(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = invented_job_in(shop / "deep" / "data" / "sessions" / "one")
    assert main(["sessions"]) == 0
    watched = Watched(monkeypatch)
    photo = add_photo(folder, picture(), at=MONDAY + timedelta(days=3), name="seal.jpg")
    assert photo.file.startswith("photos/")
    for command in (
        ["report", "one", "--html", "r.html", "--handover", "h.html", "--parts", "p.txt"],
        ["tags", "one"],
        ["history", "Quillmoor tiller", "--html", "m.html"],
        ["export", "one", "--zip", "one.zip"],
    ):
        assert main(command) == 0, command
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(shop / "other" / "data"))
    assert main(["import", "one.zip"]) == 0
    named = [path for what, path in watched.happened if what == "named"]
    assert len(named) == 7
    # A session is unpacked in a folder that is renamed: what is in that folder is synced there.
    lost = [each for each in watched.lost_in_a_power_cut() if "named before" not in each]
    assert [each for each in lost if "/.import" not in each] == []
