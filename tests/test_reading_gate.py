"""A folder or list that somebody else made is read through one gate: what is amiss is named, set
aside and counted, and everything else goes on."""

from __future__ import annotations

import json
import os
import shutil
import signal
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import process_time

import numpy as np
import pytest
import soundfile

from companion.cli import main
from companion.enroll.used_forms import UsedForms
from companion.enroll.voice_profile import load_voice, voice_paths
from companion.enroll.ways_file import WaysFile
from companion.errors import CompanionError
from companion.live.typed_calls import TypedCalls
from companion.log.archive import ARCHIVE_NAME, archive, archived
from companion.log.check import check_log
from companion.log.clips import clip_bytes, read_clip
from companion.log.index_file import INDEX_NAME
from companion.log.live_status import live_status
from companion.log.other_places import LIST_NAME, list_other_place
from companion.log.reader import read_log
from companion.log.sessions import session_folders
from companion.log.summaries import summarize
from companion.log.tip import TIP_NAME, Tip, write_tip
from companion.session.opening import open_session, resume_session
from companion.session.other_timers import OtherTimers
from companion.web.sounds import clip_file, clip_seconds
from tests.bad_sessions import DEEP, ODD_LOGS, ODD_RECORDS, Spoil, a_socket
from tests.logs import invented_job
from tests.shops import Shop, environment_kept

GOOD, BAD = "good-quillmoor-tiller", "bad-quillmoor-tiller"
MANY_SECONDS = 60.0
"""Of the processor: far more than it takes."""
FOR_EVER = 900
"""Seconds by the clock after which what still waits for something is said to hang."""

ODD = {**ODD_LOGS, **ODD_RECORDS}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A session folder, made once."""
    folder = tmp_path_factory.mktemp("made") / "job"
    invented_job(folder)
    return folder


@pytest.fixture
def shop(tmp_path: Path, made: Path) -> Iterator[Shop]:
    """A shop with a good session and one to be spoiled."""
    with environment_kept():
        shop = Shop(tmp_path / "shop")
        for name in (GOOD, BAD):
            shutil.copytree(made, shop.data / "sessions" / name)
        yield shop


@pytest.fixture
def no_waiting() -> Iterator[None]:
    """What waits for ever, as for a pipe into which nobody writes, fails."""

    def hangs(*_: object) -> None:
        raise AssertionError("It waits for ever.")

    before = signal.signal(signal.SIGALRM, hangs)
    signal.alarm(FOR_EVER)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture
def bad(shop: Shop) -> Path:
    return shop.data / "sessions" / BAD


def one_sentence(capsys: pytest.CaptureFixture[str]) -> str:
    told = capsys.readouterr().err.strip().splitlines()
    assert len(told) == 1, told
    assert len(told[0]) < 700
    return told[0]


# --- logs ----------------------------------------------------------------------------------------
@pytest.mark.usefixtures("no_waiting")
@pytest.mark.parametrize("spoil", ODD.values(), ids=ODD)
def test_a_log_that_no_bench_wrote_is_named_and_all_others_go_on(
    spoil: Spoil, shop: Shop, bad: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    spoil(bad)
    began = process_time()
    assert shop.run("sessions") == 0
    told = capsys.readouterr()
    assert f"{GOOD}  " in told.out
    assert f"{BAD}  " in told.out
    if f"{BAD}  unreadable: " in told.out:
        assert "1 session could not be read" in told.err
        # A report reckons nothing out, and may show what no list can take in.
        if shop.run("report", bad, "--html", shop.folder / "bad.html") != 0:
            assert BAD in one_sentence(capsys)
            assert not (shop.folder / "bad.html").exists()
        capsys.readouterr()
    else:
        # What can be read can also be told, whatever it says.
        assert shop.run("report", bad, "--html", shop.folder / "bad.html") == 0
    assert shop.run("history", "Quillmoor tiller") == 0
    assert "READ" in capsys.readouterr().out
    assert shop.run("report", GOOD, "--html", shop.folder / "good.html") == 0
    assert process_time() - began < MANY_SECONDS


SET_ASIDE = set(ODD) - {
    # Odd, and yet everything can be told of it.
    "infinite float",
    "timer of an age",
    "a line of a megabyte",
    "an answer of a megabyte",
    "a note of a megabyte",
}


@pytest.mark.parametrize("kind", sorted(SET_ASIDE))
def test_what_no_bench_wrote_is_refused_by_name(kind: str, bad: Path) -> None:
    ODD[kind](bad)
    with pytest.raises(CompanionError, match=BAD):
        summarize(bad)


def test_a_session_folder_may_itself_be_named_through_a_link(shop: Shop, tmp_path: Path) -> None:
    link = tmp_path / "link"
    link.symlink_to(shop.data / "sessions" / GOOD)
    assert shop.run("report", link, "--html", shop.folder / "through.html") == 0


def test_sane_figures_and_times_of_old_logs_are_read(made: Path) -> None:
    assert check_log(made).ok
    assert len(read_log(made).records) > 60


def test_timers_of_other_jobs_ring_whatever_stands_beside_them(shop: Shop) -> None:
    at = datetime(2026, 4, 13, 9, 0, tzinfo=UTC)
    sessions = shop.data / "sessions"
    with closing(open_session(sessions / "parked", at=at)) as parked:
        parked.typed("start soak timer two hours", at)
        parked.typed("park job", at)
    for place, spoil in enumerate(ODD.values()):
        folder = sessions / f"bad-{place}"
        shutil.copytree(sessions / GOOD, folder)
        spoil(folder)
    (sessions / "loop").symlink_to("loop")
    (shop.data / LIST_NAME).write_bytes(odd_list(shop.folder))
    with closing(open_session(sessions / "bench", at=at)) as bench:
        watch = OtherTimers(bench.folder)
        due = at + timedelta(hours=2)
        rings = [ring for _ in range(len(ODD) + 20) if (ring := watch.ring(due)) is not None]
    assert "parked" in {ring.session for ring in rings}


# --- lists ---------------------------------------------------------------------------------------
def odd_list(folder: Path) -> bytes:
    """A list of sessions with everything in it that is none."""
    loop = folder / "loop-a"
    loop.symlink_to("loop-b")
    (folder / "loop-b").symlink_to("loop-a")
    named = ["/" + "n" * 300, "/\0", str(loop), "relative", "/dev/zero", "/etc/passwd", "/\ud800"]
    lines = [json.dumps({"path": name, "machine": "Quillmoor tiller"}).encode() for name in named]
    odd = [b"\xff\xfe", b"[" * 200_000, b'{"path":' * 100_000, b'{"path":1e999}', b"9" * 100_000]
    return b"\n".join([*lines, *odd]) + b"\n"


@pytest.mark.parametrize("command", [["sessions"], ["history"], ["history", "Quillmoor tiller"]])
def test_a_line_of_the_list_that_leads_nowhere_hinders_no_other(
    command: list[str], shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    outside = tmp_path / "outside"
    shutil.move(shop.data / "sessions" / BAD, outside)
    list_other_place(outside, "Quillmoor tiller")
    path = shop.data / LIST_NAME
    path.write_bytes(odd_list(shop.folder) + path.read_bytes())
    assert shop.run(*command) == 0
    assert "uillmoor tiller" in capsys.readouterr().out
    assert outside in session_folders()


def a_device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def a_link(path: Path) -> None:
    secret = path.parent / "secret"
    secret.write_text("[]\n")
    path.symlink_to(secret)


def too_large(path: Path) -> None:
    path.touch()
    os.truncate(path, 1 << 36)


def deep(path: Path) -> None:
    path.write_bytes(DEEP)


def no_text(path: Path) -> None:
    path.write_bytes(b"\xff\xfe\x00\n" * 100)


INSTEAD = [os.mkfifo, a_socket, a_device, a_link, Path.mkdir, too_large, deep, no_text]


@pytest.mark.parametrize("put", INSTEAD)
def test_whatever_lies_in_the_place_of_a_list_the_sessions_are_listed(
    put: Callable[[Path], object], shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in (LIST_NAME, ARCHIVE_NAME, INDEX_NAME):
        put(shop.data / name)
    assert shop.run("sessions") == 0
    told = capsys.readouterr()
    assert GOOD in told.out
    assert (LIST_NAME in told.err) == (put not in (deep, no_text))
    assert archived() == frozenset()


@pytest.mark.parametrize("put", INSTEAD)
def test_a_list_that_cannot_be_read_is_not_written_over(
    put: Callable[[Path], object], shop: Shop, tmp_path: Path
) -> None:
    put(shop.data / ARCHIVE_NAME)
    if put is not a_link:
        with pytest.raises(CompanionError, match=ARCHIVE_NAME):
            archive([shop.data / "sessions" / GOOD])
    if put not in (too_large, deep, no_text):
        put(shop.data / LIST_NAME) if put is not a_link else (shop.data / LIST_NAME).symlink_to(
            shop.data / "secret"
        )
        with pytest.raises(CompanionError, match=LIST_NAME):
            list_other_place(tmp_path / "outside")
    if put is a_link:
        assert (shop.data / "secret").read_text() == "[]\n"


@pytest.mark.parametrize("put", INSTEAD)
def test_what_is_kept_of_a_person_counts_as_none_or_is_told_of(
    put: Callable[[Path], object], shop: Shop
) -> None:
    def placed(path: Path) -> Path:
        path.parent.mkdir(parents=True, exist_ok=True)
        put(path)
        return path

    assert TypedCalls(placed(shop.data / "one" / "typed-calls.txt")).read() == ()
    assert UsedForms(None, placed(shop.data / "two" / "forms-used.json")).read() == {}
    with pytest.raises(CompanionError, match=r"ways\.toml"):
        print(WaysFile(None, placed(shop.data / "three" / "ways.toml")).read())
    placed(voice_paths("rosa")[0])
    with pytest.raises(CompanionError, match=r"rosa\.json"):
        load_voice("rosa")


# --- what lies beside a log ----------------------------------------------------------------------
def test_a_folder_of_clips_that_is_a_link_is_neither_read_nor_written(
    shop: Shop, bad: Path, tmp_path: Path
) -> None:
    outside = tmp_path / "outside"
    shutil.move(bad / "audio", outside)
    (bad / "audio").symlink_to(outside)
    clip = next(outside.iterdir()).name
    before = sorted(outside.iterdir())
    with pytest.raises(CompanionError, match="cannot be read"):
        clip_bytes(bad, f"audio/{clip}")
    with pytest.raises(CompanionError):
        clip_file(bad, clip)
    assert clip_seconds(bad, f"audio/{clip}") is None
    assert not check_log(bad).ok
    assert shop.run("report", bad, "--html", shop.folder / "page.html") == 0
    assert "data:audio" not in (shop.folder / "page.html").read_text()
    assert sorted(outside.iterdir()) == before


@pytest.mark.parametrize("put", [os.mkfifo, a_device, a_link, Path.mkdir])
def test_a_clip_that_is_none_is_not_served(put: Callable[[Path], object], bad: Path) -> None:
    clip = sorted((bad / "audio").iterdir())[0]
    clip.unlink()
    put(clip)
    with pytest.raises(CompanionError):
        clip_file(bad, clip.name)
    assert clip_seconds(bad, f"audio/{clip.name}") is None


def test_a_clip_that_claims_a_hundred_hours_takes_no_memory(bad: Path) -> None:
    clip = sorted((bad / "audio").iterdir())[0]
    data = bytearray(clip.read_bytes())
    # The 36 bits of the total of samples (RFC 9639, 8.2).
    data[21] |= 0x0F
    data[22:26] = b"\xff" * 4
    clip.write_bytes(data)
    with pytest.raises(CompanionError, match=r"longer than an hour|damaged"):
        read_clip(bad, f"audio/{clip.name}")


def test_a_clip_in_another_form_that_claims_any_rate_is_refused(bad: Path) -> None:
    clip = sorted((bad / "audio").iterdir())[0]
    soundfile.write(clip, np.zeros((1, 1000), np.float32), 1_000_000_000, format="WAV")
    with pytest.raises(CompanionError, match="16 kHz mono"):
        read_clip(bad, f"audio/{clip.name}")


def test_a_tip_that_leads_elsewhere_is_not_followed_when_it_is_written(
    bad: Path, tmp_path: Path
) -> None:
    outside = tmp_path / "letter.txt"
    outside.write_text("not of this session, and longer than a tip may be " * 10)
    before = outside.read_bytes()
    (bad / TIP_NAME).unlink()
    (bad / TIP_NAME).symlink_to(outside)
    at = datetime(2026, 4, 13, 9, 0, tzinfo=UTC)
    with closing(resume_session(bad, at=at)) as session:
        session.typed("gap thirty thou", at)
    assert outside.read_bytes() == before
    assert check_log(bad).ok
    write_tip(bad, Tip(1, "0" * 64))
    assert outside.read_bytes() == before


def test_a_lock_that_leads_to_that_of_another_session_says_nothing(bad: Path, shop: Shop) -> None:
    at = datetime(2026, 4, 13, 9, 0, tzinfo=UTC)
    with closing(resume_session(shop.data / "sessions" / GOOD, at=at)) as session:
        assert live_status(session.folder) is not None
        (bad / "log.live").unlink(missing_ok=True)
        (bad / "log.live").symlink_to(session.folder / "log.live")
        assert live_status(bad) is None


# --- sound and recordings ------------------------------------------------------------------------
@pytest.mark.parametrize("file", ["../secret.wav", "/dev/zero", "link.wav", "pipe.wav", "n" * 300])
def test_a_folder_of_recordings_is_read_inside_itself_alone(
    file: str, shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = shop.folder / "recordings"
    folder.mkdir()
    soundfile.write(shop.folder / "secret.wav", np.zeros(16_000, np.float32), 16_000)
    (folder / "link.wav").symlink_to(shop.folder / "secret.wav")
    os.mkfifo(folder / "pipe.wav")
    (folder / "session.toml").write_text(
        f'title = "x"\n[[recording]]\nfile = "{file}"\nat = 2026-03-02T09:00:00+01:00\n'
    )
    assert shop.run("replay", folder) == 1
    assert "is not there" in one_sentence(capsys)


# --- sheets and cards ----------------------------------------------------------------------------
@pytest.mark.parametrize(
    "figure",
    [
        "1e999999999",
        "1e-999999999",
        "1e99999999999999999999",
        "1" + "0" * 5_000,
        "1" + "0" * 100_000,
        "0." + "3" * 100_000,
        "inf",
        "nan",
    ],
    ids=lambda figure: f"{figure[:8]} of {len(figure)}",
)
@pytest.mark.parametrize("key", ["capacity", "mix"])
def test_a_figure_beyond_all_measure_in_a_sheet_is_told_with_its_line(
    key: str, figure: str, shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = shop.folder / "sheet.toml"
    sheet.write_text(
        'name = "Quillmoor tiller"\nkind = "garden tiller"\ninvented = true\n\n'
        f'[[fluid]]\nname = "oil"\nunit = "ounce"\n{key} = {figure}\n'
    )
    assert main(["sheets", str(sheet)]) == 1
    told = capsys.readouterr().err
    assert "sheet.toml:8: " in told
    assert len(told) < 500
