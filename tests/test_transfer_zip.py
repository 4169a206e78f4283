"""``companion export --zip`` and ``companion import``: a session on another machine is the same."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sys
import zipfile
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.job import events as ev
from companion.log.check import check_log
from companion.log.sessions import sessions_folder
from companion.log.writer import LogWriter
from companion.session.opening import resume_session
from companion.transfer.placing import LOCK_NAME
from tests.conftest import Run
from tests.logs import GAP, MACHINE, MONDAY, Bench, any_event, reading, tone
from tests.shops import Shop, contents, environment_kept


@pytest.fixture(scope="module", autouse=True)
def _environment() -> Iterator[None]:
    with environment_kept():
        yield


@pytest.fixture(scope="module")
def _tiller(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A tiller's job with three clips; not to be changed."""
    folder = tmp_path_factory.mktemp("tiller") / "tiller"
    bench = Bench(folder)
    bench.open()
    bench.call("compression 75 psi", reading("compression", "75", "psi", verdict="low"), said="Low")
    bench.call("gap thirty thou", reading("gap", "30", "thou", verdict="in", window=GAP))
    bench.call("note", ev.NoteKept(text="the cable is frayed", draft=True))
    bench.clips = False
    bench.call("oil level full", ev.LevelRead(fluid="oil", level="full"))
    for _ in range(20):
        bench.happen(
            ev.CautionSpoken(caution="plug-wire", text="Plug wire off before hands go in.")
        )
    bench.writer.close()
    return folder


@pytest.fixture
def here(tmp_path: Path, _tiller: Path) -> Shop:
    """A shop with the tiller's session and a short one of another machine."""
    here = Shop(tmp_path / "here", "Marsh Lane Engines")
    shutil.copytree(_tiller, sessions_folder() / "tiller")
    bench = Bench(sessions_folder() / "saw job (2)", start=MONDAY + timedelta(days=3))
    bench.open(machine={**MACHINE, "name": "Tarrant saw"}, card=None)
    bench.call("gap thirty thou", reading("gap", "30", "thou", verdict="unknown"))
    bench.writer.close()
    return here


@pytest.fixture
def there(tmp_path: Path, here: Shop) -> Shop:
    other = Shop(tmp_path / "elsewhere")
    here.enter()
    return other


def call(folder: Path, text: str) -> None:
    """Go on with a session by one call with its clip."""
    bench = Bench.__new__(Bench)
    bench.folder, bench.now, bench.clips = folder, MONDAY + timedelta(days=30), True
    bench.writer = LogWriter.open(folder)
    bench.call(text, ev.NoteKept(text=text, draft=False))
    bench.writer.close()


def packed(shop: Shop, *arguments: str, name: str = "out.zip") -> Path:
    assert shop.run("export", *arguments, "--zip", shop.folder / name) == 0
    return shop.folder / name


def test_a_session_arrives_byte_for_byte_with_its_clips(
    here: Shop, there: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    file = packed(here, "tiller")
    assert there.run("import", file) == 0
    assert "tiller was imported (30 records, 3 clips)" in capsys.readouterr().out
    assert there.sessions() == ["tiller"]
    assert contents(there.data / "sessions") == contents_of_one(here, "tiller")
    assert there.run("log", "check", "tiller") == 0
    resume_session(there.data / "sessions" / "tiller", at=MONDAY).close()


def contents_of_one(shop: Shop, name: str) -> dict[str, bytes | None]:
    found = contents(shop.data / "sessions")
    return {path: data for path, data in found.items() if path.split(os.sep)[0] == name}


def test_it_works_as_a_command(companion: Run, here: Shop, tmp_path: Path) -> None:
    shutil.copytree(here.data, tmp_path / "data")
    run = companion("export", "tiller", "--zip", "tiller.zip")
    assert run.returncode == 0
    assert run.stdout.startswith("tiller.zip: 1 session, ")
    again = companion("import", "tiller.zip")
    assert again.stdout == "tiller is here already as tiller, the same; nothing was done.\n"


def test_all_of_a_machine_and_all_of_a_shop(here: Shop, there: Shop) -> None:
    file = packed(here, "--machine", "quillmoor tiller", name="machine.zip")
    assert there.run("import", file) == 0
    assert there.sessions() == ["tiller"]
    assert there.run("import", packed(here)) == 0
    assert there.sessions() == ["saw-job-2", "tiller"]


def test_the_manifest_lists_every_file_with_its_hash(here: Shop) -> None:
    file = packed(here)
    with zipfile.ZipFile(file) as zipped:
        assert zipped.testzip() is None
        names = zipped.namelist()
        manifest = json.loads(zipped.read("manifest.json"))
        for session in manifest["sessions"]:
            for each in session["files"]:
                name = f"{session['folder']}/{each['path']}"
                data = zipped.read(name)
                assert hashlib.sha256(data).hexdigest() == each["sha256"]
                assert len(data) == each["bytes"]
                names.remove(name)
    assert names == ["manifest.json"]
    assert manifest["made_by"] == "bench-companion sessions"
    assert manifest["shop"] == "Marsh Lane Engines"
    assert [session["name"] for session in manifest["sessions"]] == ["saw job (2)", "tiller"]


def test_a_zip_that_is_there_is_replaced_only_if_asked(
    here: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    file = here.folder / "mine.zip"
    file.write_text("mine")
    assert here.run("export", "tiller", "--zip", file) == 1
    assert "is there already; name another place, or replace it with --replace" in (
        capsys.readouterr().err
    )
    assert file.read_text() == "mine"
    assert here.run("export", "tiller", "--zip", file, "--replace") == 0
    assert zipfile.is_zipfile(file)


def test_the_same_sessions_make_the_same_zip(here: Shop) -> None:
    assert packed(here).read_bytes() == packed(here, name="again.zip").read_bytes()


def test_a_session_that_went_on_there_goes_on_here(
    here: Shop, there: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    there.run("import", packed(here, "tiller"))
    call(here.data / "sessions" / "tiller", "the lever is back")
    later = packed(here, "tiller", name="later.zip")
    capsys.readouterr()
    assert there.run("import", later) == 0
    assert capsys.readouterr().out == "tiller went on by 2 records.\n"
    assert contents(there.data / "sessions") == contents_of_one(here, "tiller")
    assert check_log(there.data / "sessions" / "tiller").ok


def test_a_shorter_copy_changes_nothing(
    here: Shop, there: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    earlier = packed(here, "tiller")
    call(here.data / "sessions" / "tiller", "the lever is back")
    before = contents(here.data)
    capsys.readouterr()
    assert here.run("import", earlier) == 0
    assert "with more records; nothing was done" in capsys.readouterr().out
    assert contents(here.data) == before


def test_a_session_that_went_on_differently_is_kept_beside(
    here: Shop, there: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    there.run("import", packed(here, "tiller"))
    call(here.data / "sessions" / "tiller", "here")
    call(there.data / "sessions" / "tiller", "there")
    its = contents_of_one(there, "tiller")
    file = packed(here, "tiller", name="here.zip")
    capsys.readouterr()
    assert there.run("import", file) == 0
    out = capsys.readouterr().out
    assert "differs from tiller here; it is kept beside it as tiller-2" in out
    assert contents_of_one(there, "tiller") == its
    assert there.sessions() == ["tiller", "tiller-2"]
    assert there.run("import", file) == 0
    assert "here already as tiller-2" in capsys.readouterr().out
    assert there.sessions() == ["tiller", "tiller-2"]
    # Both copies travel on together, and are two there as well.
    third = Shop(there.folder / "third")
    assert third.run("import", packed(there, name="both.zip")) == 0
    assert third.sessions() == ["tiller", "tiller-2"]


def test_another_session_of_the_same_name_gets_a_free_one(here: Shop, there: Shop) -> None:
    bench = Bench(there.data / "sessions" / "tiller", clips=False, start=MONDAY)
    bench.open(card=None)
    bench.writer.close()
    (there.data / "sessions" / "tiller-2").mkdir()
    mine = contents_of_one(there, "tiller")
    assert there.run("import", packed(here, "tiller")) == 0
    assert there.sessions() == ["tiller", "tiller-2", "tiller-3"]
    assert contents_of_one(there, "tiller") == mine


def test_a_session_that_is_being_worked_on_is_not_written_to(
    here: Shop, there: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    there.run("import", packed(here, "tiller"))
    call(here.data / "sessions" / "tiller", "later")
    later = packed(here, name="later.zip")
    capsys.readouterr()
    with LogWriter.open(there.data / "sessions" / "tiller"):
        before = contents_of_one(there, "tiller")
        assert there.run("import", later) == 1
        assert contents_of_one(there, "tiller") == before
    told = capsys.readouterr()
    assert "tiller was not imported: The log in" in told.err
    assert "in use by another program" in told.err
    assert "saw job (2) was imported as saw-job-2" in told.out


def test_a_session_in_use_is_exported_as_far_as_it_is_written(here: Shop) -> None:
    with LogWriter.open(here.data / "sessions" / "tiller"):
        packed(here, "tiller")


def test_a_torn_line_stays_behind_and_is_told_of(
    here: Shop, there: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    log = here.data / "sessions" / "tiller" / "log.jsonl"
    whole = log.read_bytes()
    log.write_bytes(whole + b'{"v":1,"seq":31,"at":"2026-')
    file = here.folder / "torn.zip"
    assert here.run("export", "tiller", "--zip", file) == 1
    assert "tiller: its last line is torn" in capsys.readouterr().err
    assert there.run("import", file) == 0
    assert (there.data / "sessions" / "tiller" / "log.jsonl").read_bytes() == whole


def test_a_torn_line_that_was_set_aside_goes_along(here: Shop, there: Shop) -> None:
    folder = here.data / "sessions" / "tiller"
    with (folder / "log.jsonl").open("ab") as log:
        log.write(b'{"v":1,"seq":31')
    LogWriter.open(folder).close()
    assert there.run("import", packed(here, "tiller")) == 0
    assert contents(there.data / "sessions") == contents_of_one(here, "tiller")


@pytest.mark.parametrize("spoil", ["changed", "cut", "foreign", "newer"])
def test_a_log_that_cannot_be_trusted_is_not_exported(
    here: Shop, capsys: pytest.CaptureFixture[str], spoil: str
) -> None:
    log = here.data / "sessions" / "tiller" / "log.jsonl"
    lines = log.read_bytes().splitlines(keepends=True)
    log.write_bytes(
        {
            "changed": b"".join(lines).replace(b'"75"', b'"95"'),
            "cut": b"".join(lines[:-1]),
            "foreign": b"dear diary\n",
            "newer": b"".join(lines).replace(b'"v":1,', b'"v":99,'),
        }[spoil]
    )
    assert here.run("export", "tiller", "--zip", here.folder / "x.zip") == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "There is no session to export: tiller is left out: " in line
    assert not (here.folder / "x.zip").exists()
    capsys.readouterr()
    assert here.run("export", "--zip", here.folder / "rest.zip") == 1
    assert "tiller is left out" in capsys.readouterr().err
    with zipfile.ZipFile(here.folder / "rest.zip") as rest:
        assert "saw-job-2/log.jsonl" in rest.namelist()


@pytest.mark.skipif(sys.platform == "win32", reason="Windows lets few people make links")
@pytest.mark.parametrize("trap", ["link", "pipe", "folder", "empty", "no sound"])
def test_what_is_no_clip_stays_behind_and_is_told_of(
    here: Shop, capsys: pytest.CaptureFixture[str], trap: str
) -> None:
    secret = here.folder / "secret"
    secret.write_text("a secret")
    clip = next((here.data / "sessions" / "tiller" / "audio").iterdir())
    clip.unlink()
    match trap:
        case "link":
            clip.symlink_to(secret)
        case "pipe":
            os.mkfifo(clip)
        case "folder":
            clip.mkdir()
        case "empty":
            clip.touch()
        case "no sound":
            clip.write_text("a secret")
    file = here.folder / "out.zip"
    assert here.run("export", "tiller", "--zip", file) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert f"tiller: audio/{clip.name}" in line
    with zipfile.ZipFile(file) as zipped:
        assert f"tiller/audio/{clip.name}" not in zipped.namelist()
        assert not any(b"a secret" in zipped.read(name) for name in zipped.namelist())


@pytest.mark.skipif(sys.platform == "win32", reason="Windows lets few people make links")
def test_a_folder_of_clips_that_is_a_link_is_not_entered(here: Shop, there: Shop) -> None:
    audio = here.data / "sessions" / "tiller" / "audio"
    moved = audio.rename(here.folder / "moved")
    audio.symlink_to(moved)
    with zipfile.ZipFile(packed(here, "tiller")) as zipped:
        assert sorted(zipped.namelist()) == ["manifest.json", "tiller/log.jsonl", "tiller/log.tip"]


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux takes any bytes for a name")
def test_a_name_in_no_encoding_is_made_plain(here: Shop, there: Shop) -> None:
    odd = sessions_folder() / os.fsdecode(b"job-\xff")
    shutil.copytree(here.data / "sessions" / "tiller", odd)
    shutil.rmtree(here.data / "sessions" / "tiller")
    assert here.run("export", "--tables", here.folder / "tables", "--form", "parquet") == 0
    assert there.run("import", packed(here)) == 0
    assert there.sessions() == ["job", "saw-job-2"]


def test_only_files_of_a_session_go_along(here: Shop) -> None:
    folder = here.data / "sessions" / "tiller"
    for name in ("report.html", ".hidden", "log.jsonl.bak", "audio/notes.txt", "audio/.x.flac"):
        (folder / name).write_text("left here")
    with zipfile.ZipFile(packed(here, "tiller")) as zipped:
        assert not any(b"left here" in zipped.read(name) for name in zipped.namelist())


def test_what_a_killed_import_left_is_removed_and_a_running_one_is_not(
    here: Shop, there: Shop
) -> None:
    import fcntl

    for name in (".import-killed", ".import-running"):
        (there.data / name / "1").mkdir(parents=True)
        (there.data / name / "1" / "log.jsonl").write_text("half")
    with (there.data / ".import-running" / LOCK_NAME).open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        assert there.run("import", packed(here, "tiller")) == 0
        left = sorted(path.name for path in there.data.iterdir())
    assert left == [".import-running", "sessions"]


def test_a_full_disk_at_import_leaves_nothing_behind(
    here: Shop, there: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    # The system itself refuses the write here, after taking part of it: setrlimit(2), RLIMIT_FSIZE.
    import resource

    file = packed(here)
    capsys.readouterr()
    _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (3_000, most))
    try:
        assert there.run("import", file) == 1
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    (line,) = capsys.readouterr().err.splitlines()
    assert "free some space" in line
    assert contents(there.data) == {}


def test_a_full_disk_while_a_session_goes_on_leaves_it_as_it_was(
    here: Shop, there: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    import resource

    there.run("import", packed(here, "tiller"))
    before = contents(there.data)
    folder = here.data / "sessions" / "tiller"
    with LogWriter.open(folder) as writer:
        writer.append([ev.NoteKept(text="x" * 9_000, draft=False)], MONDAY)
    later = packed(here, "tiller", name="later.zip")
    size = (there.data / "sessions" / "tiller" / "log.jsonl").stat().st_size
    capsys.readouterr()
    _, most = resource.getrlimit(resource.RLIMIT_FSIZE)
    # Enough to unpack it, not to write the log on: the copy here is made a little longer first.
    with (there.data / "sessions" / "tiller" / "log.jsonl").open("ab") as log:
        log.write(b'{"v":1,' + b" " * 20_000)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size + 9_500, most))
    try:
        assert there.run("import", later) == 1
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
    assert "tiller was not imported: The log in" in capsys.readouterr().err
    log_now = (there.data / "sessions" / "tiller" / "log.jsonl").read_bytes()
    assert log_now.startswith(before[os.path.join("sessions", "tiller", "log.jsonl")] or b"?")
    assert there.run("import", later) == 0
    assert check_log(there.data / "sessions" / "tiller").records == 31


NAMES = st.text(st.characters(codec="utf-8", exclude_characters="/\0"), min_size=1, max_size=40)
CALLS = st.lists(
    st.tuples(st.text(st.characters(codec="utf-8"), max_size=30), st.floats(0.05, 0.3)), max_size=5
)


@settings(max_examples=10)
@given(NAMES.filter(lambda name: name.strip(".") and len(name.encode()) < 200), CALLS)
def test_whatever_is_said_under_whatever_name_arrives_whole(
    tmp_path_factory: pytest.TempPathFactory, name: str, calls: list[tuple[str, float]]
) -> None:
    here = Shop(tmp_path_factory.mktemp("any") / "here")
    source = sessions_folder() / name
    bench = Bench(source)
    bench.open()
    for text, seconds in calls:
        bench.call(text, ev.NoteKept(text=text, draft=True), sound=tone(seconds))
    bench.writer.close()
    there = Shop(here.folder / "there")
    assert there.run("import", packed(here)) == 0
    (arrived,) = there.sessions()
    files = {path: data for path, data in contents(source).items() if data is not None}
    arrived_files = contents(there.data / "sessions" / arrived)
    assert {path: data for path, data in arrived_files.items() if data is not None} == files
    assert check_log(there.data / "sessions" / arrived).ok


@settings(max_examples=10)
@given(st.lists(any_event(), min_size=1, max_size=20))
def test_any_log_at_all_arrives_whole(
    tmp_path_factory: pytest.TempPathFactory, events: list[ev.AnyEvent]
) -> None:
    here = Shop(tmp_path_factory.mktemp("any") / "here")
    # Units and times are those of any bench; a card or sheet that is none is refused.
    anywhere = (ev.SessionOpened, ev.MachineKnown, ev.ReadingRecorded, ev.FluidMoved)
    with LogWriter.create(sessions_folder() / "job") as writer:
        writer.append(
            [ev.EngineStopped(), *(e for e in events if not isinstance(e, anywhere))], MONDAY
        )
    there = Shop(here.folder / "there")
    assert there.run("import", packed(here)) == 0
    for name in ("log.jsonl", "log.tip"):
        arrived = (there.data / "sessions" / "job" / name).read_bytes()
        assert arrived == (here.data / "sessions" / "job" / name).read_bytes()
