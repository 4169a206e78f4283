"""A session whose log is cut short, replaced, moved away, removed, or on a disk that takes nothing
more: it says so before it acknowledges anything, and goes on in a new log beside it."""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from companion.cli import main
from companion.errors import CompanionError
from companion.files.disk import write_all
from companion.job import events as ev
from companion.job.folding.evolve import fold
from companion.live.happenings import Line
from companion.live.loop import LiveLoop
from companion.log.check import check_log
from companion.log.identity import Identity
from companion.log.in_use import is_live
from companion.log.kept_lines import KeptLines
from companion.log.live_status import live_status
from companion.log.machine_folders import folders_of
from companion.log.machine_watch import MachineWatch
from companion.log.reader import read_log
from companion.log.sessions import gone_sessions, session_folders, sessions_folder
from companion.log.went_on import put_signpost, went_on_in
from companion.log.writer import LogWriter
from companion.session.exchange import Exchange
from companion.session.opening import open_session, resume_session
from companion.session.other_timers import OtherTimers
from companion.session.session import Session
from companion.shelf.load import load_sheet
from companion.shelf.rules import shipped_rules
from companion.web.board_follower import Follower
from tests.logs import events_of, invented_job
from tests.test_recognize_failing import CALL, Failing
from tests.test_session_sharing import Listener

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    with closing(open_session(tmp_path / "shop" / "job", at=AT, recognizer=Failing())) as opened:
        yield opened


def cut_short(folder: Path) -> None:
    log = folder / "log.jsonl"
    os.truncate(log, log.stat().st_size // 2)


def emptied(folder: Path) -> None:
    os.truncate(folder / "log.jsonl", 0)


def changed(folder: Path) -> None:
    log = folder / "log.jsonl"
    data = bytearray(log.read_bytes())
    data[-80] ^= 1
    with log.open("r+b") as opened:
        opened.write(data)


def replaced_by_a_copy(folder: Path) -> None:
    shutil.copy(folder / "log.jsonl", folder / "copy")
    os.replace(folder / "copy", folder / "log.jsonl")


def log_removed(folder: Path) -> None:
    (folder / "log.jsonl").unlink()


def moved_with_the_folder(folder: Path) -> None:
    folder.rename(folder.with_name("archive"))


def folder_removed(folder: Path) -> None:
    shutil.rmtree(folder)


def folder_replaced(folder: Path) -> None:
    shutil.copytree(folder, folder.with_name("copy"))
    shutil.rmtree(folder)
    folder.with_name("copy").rename(folder)


def foreign_line(folder: Path) -> None:
    with (folder / "log.jsonl").open("ab") as log:
        log.write(b"written by something else\n")


HARMS = [
    cut_short,
    emptied,
    changed,
    replaced_by_a_copy,
    log_removed,
    moved_with_the_folder,
    folder_removed,
    folder_replaced,
    foreign_line,
]


def contents(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def said(exchange: Exchange | None) -> str:
    assert exchange is not None
    assert exchange.reply is not None
    return exchange.reply.text


@pytest.mark.parametrize("harm", HARMS)
def test_it_is_said_before_anything_is_acknowledged_and_nothing_acknowledged_is_lost(
    harm: Callable[[Path], None], session: Session
) -> None:
    old = session.folder
    session.typed("tag no oil", AT)
    session.typed("start soak timer two hours", AT)
    session.hear(CALL, AT)
    acknowledged = read_log(old).records
    before = (old / "log.jsonl").read_bytes()
    tags, timers = session.state.tags, session.state.timers
    harm(old)
    left = contents(old) if old.exists() else None
    exchange = session.typed("gap thirty one thou", AT)
    # Told first, then read back; both are on the disk, in a folder beside the old one.
    warning, _, readback = said(exchange).partition(" new log. ")
    assert warning.startswith("The log was ")
    assert readback.startswith("Gap, thirty one")
    assert session.folder == old.with_name("job-2")
    log = (session.folder / "log.jsonl").read_bytes()
    assert log.startswith(before)
    records = read_log(session.folder).records
    assert records[: len(acknowledged)] == acknowledged
    assert [record for record in records if record in exchange.records] == list(exchange.records)
    trouble = records[len(acknowledged)].event
    assert isinstance(trouble, ev.Trouble)
    assert trouble.left == str(old)
    assert f"{session.folder}, where the job goes on" in trouble.what
    # What stood, stands; and the old one, where it is there, is as it was.
    assert (session.state.tags, session.state.timers) == (tags, timers)
    assert fold(records, shipped_rules()) == session.state
    assert (contents(old) if old.exists() else None) == left
    rang = session.tick(AT + timedelta(hours=2))
    assert "Soak" in said(rang)
    # Told once; the next call is as any other.
    assert said(session.typed("gap thirty thou", AT)).startswith("Gap, thirty")
    if harm is folder_removed:
        assert "clips or photos could not be taken along" in trouble.what
    else:
        assert check_log(session.folder).whole
        assert "could not be taken along" not in trouble.what


@pytest.mark.parametrize("harm", [cut_short, folder_removed])
def test_it_is_told_while_nobody_calls_too(harm: Callable[[Path], None], session: Session) -> None:
    harm(session.folder)
    exchange = session.catch_up(AT)
    assert said(exchange).startswith("The log was ")
    assert exchange is not None
    assert [record.event.kind for record in exchange.records] == ["trouble", "said"]
    assert session.catch_up(AT) is None


def test_a_spoken_call_is_told_so_too_and_its_clip_stands_in_the_new_folder(
    session: Session,
) -> None:
    cut_short(session.folder)
    exchange = session.hear(CALL, AT)
    assert "new log. Gap, thirty" in said(exchange)
    assert exchange.heard is not None
    assert exchange.heard.clip is not None
    assert (session.folder / exchange.heard.clip).is_file()
    assert check_log(session.folder).whole


def test_a_log_that_only_grew_is_gone_on_with(session: Session) -> None:
    old = session.folder
    with LogWriter.beside(old) as page:
        page.append([ev.PartNeeded(part="shear pin", count=1)], AT)
    assert session.typed("gap thirty thou", AT).records
    assert session.folder == old
    assert sorted(path.name for path in old.parent.iterdir()) == ["job"]


def test_what_a_page_wrote_last_is_taken_along(session: Session) -> None:
    with LogWriter.beside(session.folder) as page:
        page.append([ev.PartNeeded(part="shear pin", count=1)], AT)
    assert "shear pin" in said(session.catch_up(AT))
    emptied(session.folder)
    session.typed("gap thirty thou", AT)
    kinds = [event.kind for event in events_of(read_log(session.folder).records)]
    assert "part.needed" in kinds


def test_lost_twice_it_goes_on_twice(session: Session) -> None:
    first = session.folder
    for number in (2, 3):
        cut_short(session.folder)
        assert "new log. Gap, thirty" in said(session.typed("gap thirty thou", AT))
        assert session.folder == first.with_name(f"job-{number}")
        assert check_log(session.folder).whole, number
    assert len({record.seq for record in read_log(session.folder).records}) == (
        session.writer.next_seq - 1
    )


def test_taken_up_again_the_log_that_was_left_rings_no_timers_of_another_job(
    session: Session,
) -> None:
    old = session.folder
    session.typed("start soak timer two hours", AT)
    replaced_by_a_copy(old)
    session.typed("park job", AT)
    session.close()
    again = resume_session(session.folder, at=AT)
    again.watch_other_timers(OtherTimers(again.folder, lambda: [old, again.folder]))
    rang = again.tick(AT + timedelta(hours=2))
    assert rang is not None
    assert not any(isinstance(r.event, ev.ElsewhereRang) for r in rang.records)
    assert again.tick(AT + timedelta(hours=2)) is None
    again.close()


def test_the_loop_goes_on_and_other_programs_see_where(session: Session) -> None:
    voice, shown = Listener(), list[Exchange]()
    loop = LiveLoop(session, voice, shown.append, clock=lambda: AT)
    from companion.live.run import showing_life

    old = session.folder
    with showing_life(loop):
        loop.take(Line("tag no oil"))
        moved_with_the_folder(old)
        loop.take(Line("gap thirty thou"))
        loop.take(None)
        loop._look("ready")
        status = live_status(session.folder)
        assert status is not None
        assert status.mode == "typed"
    assert any("Every record is kept: the job goes on in a new log" in text for text in voice.said)
    assert is_live(session.folder)
    assert not is_live(old.with_name("archive"))
    assert [tag.tag for tag in session.state.tags] == ["no oil"]


@pytest.mark.parametrize("harm", HARMS)
def test_what_nobody_thought_of_at_the_same_time_costs_nothing_either(
    harm: Callable[[Path], None], session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    voice, shown = Listener(), list[Exchange]()
    loop = LiveLoop(session, voice, shown.append, clock=lambda: AT)
    loop.take(Line("tag no oil"))
    before = (session.folder / "log.jsonl").read_bytes()
    old = session.folder
    harm(old)
    stood = old.exists()

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    with monkeypatch.context() as patched:
        patched.setattr("companion.session.session.word", broken)
        loop.take(Line("gap thirty thou"))
    assert session.folder.name == "job-2"
    assert (session.folder / "log.jsonl").read_bytes().startswith(before)
    (told,) = (text for text in voice.said if "went wrong" in text)
    assert "goes on in a new log. Something went wrong. What you called is safe." in told
    assert old.exists() == stood
    assert len(list((old if stood else session.folder).glob("crash*.txt"))) == 1
    loop.take(Line("gap thirty thou"))
    assert voice.said[-1].startswith("Gap, thirty")
    assert check_log(session.folder).whole
    assert [tag.tag for tag in session.state.tags] == ["no oil"]


# --- a disk that takes nothing more ---------------------------------------------------------------
@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of its own, where this user may mount one."""
    place = tmp_path / "disk"
    place.mkdir()
    try:
        mounted = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=16m", "none", str(place)], capture_output=True
        )
    except OSError:
        pytest.skip("this system has no mount")
    if mounted.returncode:
        pytest.skip("this user may mount no disk")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=False)


@pytest.fixture
def read_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """What turns the folder ``disk`` read-only under files that are open, as a system does with a
    disk that fails; nobody may do that by hand."""

    def refuse(descriptor: int, data: bytes) -> None:
        if Path(os.readlink(f"/proc/self/fd/{descriptor}")).is_relative_to(tmp_path / "disk"):
            raise OSError(errno.EROFS, os.strerror(errno.EROFS))
        write_all(descriptor, data)

    def turn() -> None:
        monkeypatch.setattr("companion.log.writer.write_all", refuse)
        monkeypatch.setattr("companion.files.disk.write_all", refuse)

    return turn


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="names no open files")
@pytest.mark.parametrize("spoken", [False, True])
def test_on_a_disk_turned_read_only_it_goes_on_in_the_data_folder(
    read_only: Callable[[], None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, spoken: bool
) -> None:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    old = tmp_path / "disk" / "job"
    session = open_session(old, at=AT, recognizer=Failing())
    session.typed("tag no oil", AT)
    session.hear(CALL, AT)
    before = (old / "log.jsonl").read_bytes()
    read_only()
    exchange = session.hear(CALL, AT) if spoken else session.typed("gap thirty thou", AT)
    assert "The log cannot be written any more." in said(exchange)
    assert "Gap, thirty" in said(exchange)
    assert session.folder == tmp_path / "data" / "sessions" / "job-2"
    assert sorted(path.name for path in old.parent.iterdir()) == ["job"]
    assert (old / "log.jsonl").read_bytes() == before
    assert (session.folder / "log.jsonl").read_bytes().startswith(before)
    assert check_log(session.folder).whole
    assert fold(read_log(session.folder).records, shipped_rules()) == session.state
    assert any(isinstance(r.event, ev.Trouble) and r.event.left for r in exchange.records)
    session.close()


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="names no open files")
def test_where_nothing_else_can_be_written_it_goes_on_in_the_systems_folder_and_says_so(
    read_only: Callable[[], None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "disk" / "data"))
    (tmp_path / "for-now").mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "for-now"))
    session = open_session(tmp_path / "disk" / "job", at=AT)
    read_only()
    exchange = session.typed("gap thirty thou", AT)
    assert "copy it before the computer is switched off" in said(exchange)
    assert session.folder.is_relative_to(tmp_path / "for-now")
    assert check_log(session.folder).whole
    session.close()


def test_a_disk_that_was_taken_away_is_a_folder_that_is_gone(
    disk: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    session = open_session(disk / "job", at=AT)
    session.typed("tag no oil", AT)
    subprocess.run(["umount", "-l", str(disk)], check=True)
    assert "new log. Gap, thirty" in said(session.typed("gap thirty thou", AT))
    assert [tag.tag for tag in fold(read_log(session.folder).records, shipped_rules()).tags] == [
        "no oil"
    ]
    session.close()


# --- the lines in memory --------------------------------------------------------------------------
def test_lines_in_memory_come_back_byte_for_byte_whatever_stands_in_them(tmp_path: Path) -> None:
    invented_job(tmp_path / "job", clips=False)
    with LogWriter.open(tmp_path / "job") as writer:
        odd = ',"prev":"' + "0" * 64 + '"}\n\0'
        writer.append([ev.NoteKept(text=odd, draft=False)], AT)
        log = (tmp_path / "job" / "log.jsonl").read_bytes()
        assert writer.kept() == log
    kept = KeptLines()
    for line in log.splitlines(keepends=True):
        kept.add(line)
    assert kept.lines() == log
    assert kept.lines() == log


# --- counted once ---------------------------------------------------------------------------------
@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Session]:
    """A session in the shop's own folder, at a machine, with a timer and a tag that it hung."""
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    with closing(at_mower("job")) as opened:
        for call in ("removed blade", "start soak timer one hour", "gap thirty thou"):
            opened.typed(call, AT)
        yield opened


def at_mower(name: str, at: datetime = AT) -> Session:
    sheet = load_sheet("tarnfield-mower")
    folder = sessions_folder() / name
    watch = MachineWatch(Identity(sheet.name), folder, lambda: folders_of(sheet.name))
    session = open_session(folder, at=at, sheet=sheet, machine=watch)
    session.watch_other_timers(OtherTimers(folder))
    return session


READABLE = [
    cut_short,
    emptied,
    replaced_by_a_copy,
    log_removed,
    moved_with_the_folder,
    folder_removed,
    folder_replaced,
]
"""Of which nothing stands anywhere that the new log does not have too."""


@pytest.mark.parametrize("harm", READABLE)
def test_in_the_next_job_the_log_that_was_lost_is_no_other_session(
    harm: Callable[[Path], None], shop: Session, capsys: pytest.CaptureFixture[str]
) -> None:
    harm(shop.folder)
    for call in ("installed blade", "affirm", "cancel soak timer", "close job"):
        shop.typed(call, AT)
    assert shop.folder.name == "job-2"
    shop.close()
    later = AT + timedelta(hours=5)
    with closing(at_mower("next", later)) as session:
        # Neither the tag nor the job that stands open there, nor the timer that was cancelled.
        assert "left open" not in said(session.open(later))
        for _ in range(5):
            assert session.tick(later) is None
        assert "No tag hangs." in said(session.typed("clear to start", later))
        assert session.state.known is not None
        assert session.state.known.event.unread == ()
    assert main(["sessions"]) == 0
    listed = [line.split()[0] for line in capsys.readouterr().out.splitlines()]
    assert sorted(listed) == ["job-2", "next"]
    assert gone_sessions() == {}
    assert main(["history", "Tarnfield walk-behind mower"]) == 0
    assert capsys.readouterr().out.count("removed blade") == 1


def test_lost_twice_and_parked_it_is_one_job_with_one_timer(shop: Session) -> None:
    for harm in (replaced_by_a_copy, moved_with_the_folder):
        harm(shop.folder)
        shop.typed("gap thirty one thou", AT)
    shop.typed("park job", AT)
    shop.close()
    assert [folder.name for folder in session_folders()] == ["job-3"]
    due = AT + timedelta(hours=1)
    with closing(at_mower("next", due)) as session:
        rings = [session.tick(due) for _ in range(5)]
        assert [each is not None for each in rings].count(True) == 1


def test_a_log_that_was_gone_on_with_all_the_same_counts(shop: Session) -> None:
    old = shop.folder
    replaced_by_a_copy(old)
    shop.typed("gap thirty one thou", AT)
    with pytest.raises(CompanionError, match=f"goes on in {shop.folder}"):
        LogWriter.beside(old)
    # As a program that knows of no such thing would.
    signpost = (shop.folder / "log.left").read_bytes()
    (shop.folder / "log.left").unlink()
    with LogWriter.beside(old) as page:
        page.append([ev.PartNeeded(part="shear pin", count=1)], AT)
    (shop.folder / "log.left").write_bytes(signpost)
    assert [folder.name for folder in session_folders()] == ["job", "job-2"]


def test_a_damaged_one_is_still_told_of(shop: Session) -> None:
    changed(shop.folder)
    shop.typed("gap thirty one thou", AT)
    assert [folder.name for folder in session_folders()] == ["job", "job-2"]


def test_a_session_that_claims_to_go_on_for_another_hides_nothing(shop: Session) -> None:
    other = sessions_folder() / "other-2"
    open_session(other, at=AT).close()
    put_signpost(other, [shop.folder], (shop.folder / "log.jsonl").stat())
    assert [folder.name for folder in session_folders()] == ["job", "other-2"]
    assert went_on_in(shop.folder) is None


def test_resume_of_the_log_that_was_lost_names_the_one_that_goes_on(
    shop: Session, capsys: pytest.CaptureFixture[str]
) -> None:
    old = shop.folder
    replaced_by_a_copy(old)
    shop.typed("gap thirty one thou", AT)
    before = contents(old)
    assert main(["resume", "--typed", "--quiet", str(old)]) == 1
    assert f"goes on in {shop.folder}, which has every record" in capsys.readouterr().err
    assert contents(old) == before


@pytest.mark.parametrize("harm", READABLE)
def test_the_board_on_the_wall_follows_to_the_new_log(
    harm: Callable[[Path], None], shop: Session
) -> None:
    clock = [AT]
    follower = Follower(shop.folder, clock=lambda: clock[0])
    assert follower.look().board is not None
    harm(shop.folder)
    shop.typed("tag no oil", AT)
    clock[0] += timedelta(seconds=3)
    looked = follower.look()
    assert follower.folder == shop.folder
    assert looked.board is not None
    assert [each.tag for each in looked.board.start.holds] == ["drive open", "no oil"]
