"""What is asked for by name is written over nothing that the program did not make for that purpose;
what it keeps for itself is written through no link, into no pipe and over no folder."""

from __future__ import annotations

import contextlib
import os
import resource
import shutil
import signal
import stat
from collections.abc import Callable, Iterable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from companion.cli import main
from companion.enroll.used_forms import used_by
from companion.enroll.voice_profile import FOLDER as VOICES
from companion.enroll.ways_file import ways_of
from companion.errors import CompanionError
from companion.files import own
from companion.files.fresh import FreshFiles
from companion.files.page import write_page
from companion.job.events import NoteKept
from companion.live.typed_calls import TypedCalls
from companion.log import archive, in_use, index_file, line, live_status, other_places, removed, tip
from companion.log.archive import archive as put_away
from companion.log.clips import CLIP_FOLDER, keep_clip
from companion.log.live_status import LiveSign
from companion.log.other_places import list_other_place
from companion.log.photos import PHOTO_FOLDER, add_photo
from companion.log.thinned import OldClips, remove_clips
from companion.log.tip import Tip, write_tip
from companion.log.writer import LogWriter
from companion.session.opening import open_session
from companion.web.board_server import TOKEN_NAME, kept_token
from tests.logs import MONDAY, invented_job
from tests.review_pages import picture

OUTPUTS: dict[str, tuple[list[str], str]] = {
    "report": (["report", "one", "--html"], ".html"),
    "owner's sheet": (["report", "one", "--handover"], ".html"),
    "parts page": (["report", "one", "--parts"], ".html"),
    "parts text": (["report", "one", "--parts"], ".txt"),
    "parts table": (["report", "one", "--parts"], ".csv"),
    "tags": (["tags", "one", "--html"], ".html"),
    "machine": (["history", "Quillmoor tiller", "--html"], ".html"),
    "export": (["export", "one", "--zip"], ".zip"),
}
"""By what is written, the command and the end of the file's name."""

STRANGERS: dict[str, bytes] = {
    "page": b"<!DOCTYPE html>\n<html lang='en'><title>Ours</title><p>Prices of 2025</p></html>\n",
    "page that quotes": b"<!doctype html>\n<!-- <meta name='generator' content='Bench Companion; "
    b'report"> -->\n<meta name="generator" content="Bench Companion; report">\n',
    "table": b"list,name,amount\r\nmine,2,\r\n",
    "text": b"Parts list: tiller\nask the shop\nbolts\n",
    "log": b'{"v":1,"seq":1,"event":{"kind":"note_kept","text":"<!DOCTYPE html>"}}\n',
    "clip": b"fLaC\x00\x00\x00\x22",
    "card": b'name = "my-card"\ntitle = "Mine"\n',
    "sheet": b'name = "my tiller"\nkind = "tiller"\n',
    "settings": b'shop_name = "Mine"\n',
    "empty": b"",
}
"""Plain files of somebody else's."""


@pytest.fixture(autouse=True)
def _no_waiting() -> Iterator[None]:
    """Nothing that stands in the way may hold the program: a pipe would for ever."""

    def held(*_: object) -> None:
        pytest.fail("the program waits for what stands in the way")

    before = signal.signal(signal.SIGALRM, held)
    signal.alarm(60)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture(scope="module")
def pattern(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with two sessions, its lists and an index."""
    base = tmp_path_factory.mktemp("pattern")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCH_COMPANION_DATA", str(base / "data"))
        patch.setenv("BENCH_COMPANION_SETTINGS", str(base / "settings.toml"))
        for name in ("one", "two"):
            invented_job(base / "data" / "sessions" / name)
        (base / "settings.toml").write_text('shop_name = "Shop"\n')
        list_other_place(base / "away", "Quillmoor tiller")
        put_away([base / "data" / "sessions" / "two"])
        kept_token()
        assert main(["sessions"]) == 0
    return base


@pytest.fixture
def shop(pattern: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop of a test's own, and the folder that its commands run in."""
    base = tmp_path / "shop"
    shutil.copytree(pattern, base)
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(base / "data"))
    monkeypatch.setenv("BENCH_COMPANION_SETTINGS", str(base / "settings.toml"))
    monkeypatch.chdir(base)
    (base / "precious").write_bytes(b"precious")
    return base


def contents(folder: Path) -> dict[str, bytes | str]:
    """Everything there by its path; what is no plain file by its kind. The index changes alone."""
    found: dict[str, bytes | str] = {}
    for path in sorted(folder.rglob("*")):
        mode = path.lstat().st_mode
        name = str(path.relative_to(folder))
        if "index" in path.name:
            continue
        if stat.S_ISLNK(mode):
            found[name] = f"link to {os.readlink(path)}"
        else:
            found[name] = path.read_bytes() if stat.S_ISREG(mode) else stat.filemode(mode)[0]
    return found


def refused(capsys: pytest.CaptureFixture[str], command: list[str]) -> str:
    """The one sentence of a command that does nothing."""
    capsys.readouterr()
    status = main(command)
    said = capsys.readouterr()
    assert status in (1, 2), f"{command} is done: {said.out}"
    lines = said.err.splitlines()
    assert len(lines) == 1, lines
    assert lines[0].startswith("companion: ")
    return lines[0]


def of_each(kinds: Iterable[str]) -> list[tuple[str, str]]:
    """Every kind of thing in the way of the report, and three of them of every other output."""
    listed = list(kinds)
    return [
        (output, kind)
        for place, output in enumerate(OUTPUTS)
        for kind in (listed if output == "report" else listed[place % 4 :: 4][:3])
    ]


# --- what a person names --------------------------------------------------------------------------
@pytest.mark.parametrize(("output", "stranger"), of_each(STRANGERS))
def test_a_file_of_somebody_else_is_left_alone_unless_replacing_is_asked_for(
    output: str, stranger: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command, suffix = OUTPUTS[output]
    name = f"mine{suffix}"
    (shop / name).write_bytes(STRANGERS[stranger])
    before = contents(shop)
    said = refused(capsys, [*command, name])
    assert "--replace" in said
    assert "name another" in said
    assert contents(shop) == before
    assert main([*command, name, "--replace"]) == 0
    assert (shop / name).read_bytes() != STRANGERS[stranger]
    assert contents(shop).keys() == before.keys()


def _link(place: Path, shop: Path) -> None:
    place.symlink_to(shop / "precious")


def _link_to_nothing(place: Path, shop: Path) -> None:
    place.symlink_to(shop / "nothing")


def _link_in_a_loop(place: Path, shop: Path) -> None:
    place.symlink_to(place)


def _link_to_a_page(place: Path, shop: Path) -> None:
    assert main(["report", "one", "--html", str(shop / "precious.html")]) == 0
    place.symlink_to(shop / "precious.html")


def _link_to_a_device(place: Path, shop: Path) -> None:
    place.symlink_to("/dev/null")


def _pipe(place: Path, shop: Path) -> None:
    os.mkfifo(place)


def _folder(place: Path, shop: Path) -> None:
    place.mkdir()
    (place / "in it").write_bytes(b"precious")


NO_PLAIN_FILES: dict[str, Callable[[Path, Path], None]] = {
    "link": _link,
    "link to nothing": _link_to_nothing,
    "link in a loop": _link_in_a_loop,
    "link to a page": _link_to_a_page,
    "link to a device": _link_to_a_device,
    "pipe": _pipe,
    "folder": _folder,
}


@pytest.mark.parametrize(("output", "kind"), of_each(NO_PLAIN_FILES))
def test_links_pipes_devices_and_folders_are_never_replaced(
    output: str, kind: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command, suffix = OUTPUTS[output]
    NO_PLAIN_FILES[kind](shop / f"mine{suffix}", shop)
    before = contents(shop)
    for more in ([], ["--replace"]):
        assert "name a" in refused(capsys, [*command, f"mine{suffix}", *more])
        assert contents(shop) == before


KEPT = {
    "log": "data/sessions/two/log.jsonl",
    "tip": "data/sessions/two/log.tip",
    "own log": "data/sessions/one/log.jsonl",
    "torn line to come": "data/sessions/two/log.torn-1",
    "status to come": "data/sessions/two/live.json",
    "clip": "data/sessions/two/audio/0002.flac",
    "clip to come": "data/sessions/two/audio/9999.flac",
    "photo to come": "data/sessions/two/photos/9999.jpg",
    "in another case": "data/sessions/two/LOG.jsonl",
    "clips in another case": "data/sessions/two/Audio",
    "by a way round": "data/sessions/one/../two/./log.jsonl",
    "by a linked folder": "linked/log.jsonl",
    "list": "data/elsewhere.jsonl",
    "put away": "data/archived.json",
    "token": "data/board.token",
    "ways to come": "data/ways.toml",
    "voice to come": "data/voices/rosa.json",
    "index": "data/index.sqlite",
    "sessions": "data/sessions",
}
"""Of the record of a session and of the data folder; some of it is not there yet."""

ANY_NAME = ["report", "owner's sheet", "tags", "machine"]
"""Outputs that may be called anything."""


@pytest.mark.parametrize(
    ("output", "kept"),
    [("report", kept) for kept in KEPT]
    + [(output, kept) for output in ANY_NAME[1:] for kept in ("log", "clip to come", "list")],
)
def test_the_record_and_the_lists_are_never_replaced_asked_for_or_not(
    output: str, kept: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (shop / "linked").symlink_to(shop / "data" / "sessions" / "two")
    (shop / "data" / "voices").mkdir()
    before = contents(shop)
    for more in ([], ["--replace"]):
        assert "name a" in refused(capsys, [*OUTPUTS[output][0], KEPT[kept], *more])
        assert contents(shop) == before
    assert main(["log", "check", "two"]) == 0


@pytest.mark.parametrize("output", OUTPUTS)
def test_a_second_name_of_a_log_is_no_page_and_the_log_stays_whole(
    output: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command, suffix = OUTPUTS[output]
    log = shop / "data" / "sessions" / "one" / "log.jsonl"
    os.link(log, shop / f"mine{suffix}")
    before = log.read_bytes()
    refused(capsys, [*command, f"mine{suffix}"])
    assert main([*command, f"mine{suffix}", "--replace"]) == 0
    assert log.read_bytes() == before


@pytest.mark.parametrize("output", ["report", "parts table", "machine", "export"])
@pytest.mark.parametrize("name", ["nowhere/mine", "precious/mine", "x" * 300, "y" * 255 + "/z"])
def test_where_nothing_can_be_written_one_sentence_says_so(
    output: str, name: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    command, suffix = OUTPUTS[output]
    before = contents(shop)
    assert "name a" in refused(capsys, [*command, f"{name}{suffix}"])
    assert contents(shop) == before


@pytest.mark.parametrize("output", ANY_NAME)
@pytest.mark.parametrize("name", [".", "..", "/", "data/..", ""])
def test_what_is_no_name_of_a_file_is_refused(
    output: str, name: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = contents(shop)
    refused(capsys, [*OUTPUTS[output][0], name])
    assert contents(shop) == before


@pytest.mark.parametrize("output", OUTPUTS)
def test_a_name_as_long_as_names_can_be_will_do(output: str, shop: Path) -> None:
    command, suffix = OUTPUTS[output]
    name = "x" * (255 - len(suffix)) + suffix
    assert main([*command, name]) == 0
    assert (shop / name).stat().st_size > 0


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (first, second)
        for first in OUTPUTS
        for second in OUTPUTS
        if ("export" not in (first, second) and "report" in (first, second)) or first == second
        if OUTPUTS[first][1] == OUTPUTS[second][1] and first != "export"
    ],
)
def test_a_page_is_replaced_by_one_of_its_kind_without_a_question_and_by_no_other(
    first: str, second: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (one, suffix), (other, _) = OUTPUTS[first], OUTPUTS[second]
    assert main([*one, f"mine{suffix}"]) == 0
    before = contents(shop)
    if first == second:
        assert main([*other, f"mine{suffix}"]) == 0
        assert contents(shop).keys() == before.keys()
    else:
        assert "--replace" in refused(capsys, [*other, f"mine{suffix}"])
        assert contents(shop) == before


@pytest.mark.parametrize("title", ["Tiller: gap", "Tiller: sheet for the owner, 2 March 2026"])
def test_a_page_from_before_pages_said_what_they_are_is_known_all_the_same(
    title: str, shop: Path
) -> None:
    head = (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; img-src data:; '
        "style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'\">\n"
        f'<meta name="referrer" content="no-referrer">\n<title>{title}</title>\n'
    )
    (shop / "old.html").write_text(head)
    assert main(["report", "one", "--html", "old.html"]) == 0
    assert "Bench Companion; report" in (shop / "old.html").read_text()


@pytest.mark.parametrize(
    ("form", "kind"),
    [
        *(("csv", kind) for kind in NO_PLAIN_FILES),
        *((form, "link") for form in ("json", "parquet", "xlsx")),
    ],
)
def test_tables_replace_only_files_and_only_when_asked(
    form: str, kind: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["export", "one", "--tables", "out", "--form", form]) == 0
    (first, *_) = sorted((shop / "out").iterdir())
    first.write_bytes(b"mine")
    before = contents(shop)
    command = ["export", "one", "--tables", "out", "--form", form]
    assert "--replace" in refused(capsys, command)
    assert contents(shop) == before
    first.unlink()
    NO_PLAIN_FILES[kind](first, shop)
    before = contents(shop)
    refused(capsys, [*command, "--replace"])
    assert contents(shop) == before


@pytest.mark.parametrize("name", ["report.html", "handover.html", "tags.html"])
def test_a_page_planted_in_a_session_is_not_replaced_either(
    name: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = shop / "data" / "sessions" / "one"
    command = {
        "report.html": ["report", "one"],
        "handover.html": ["report", "one", "--handover", str(folder / "handover.html")],
        "tags.html": ["tags", "one"],
    }[name]
    (folder / name).symlink_to(shop / "precious")
    # Where the page used to be put together.
    (folder / f".{name}.new").symlink_to(shop / "precious")
    refused(capsys, command)
    (folder / name).unlink()
    assert main(command) == 0
    assert (shop / "precious").read_bytes() == b"precious"
    assert (folder / f".{name}.new").is_symlink()


@pytest.mark.parametrize("when", ["before it is written", "while it is written", "at its end"])
def test_nothing_is_left_behind_after_a_failure(
    when: str, shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fails(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    called = {
        "before it is written": "companion.files.fresh.open_part",
        "while it is written": "companion.files.fresh.sync_file",
        "at its end": "companion.files.fresh.os.replace",
    }[when]
    assert main(["report", "one", "--html", "mine.html"]) == 0
    before = contents(shop)
    with monkeypatch.context() as patch:
        patch.setattr(called, fails)
        assert "No space left" in refused(capsys, ["report", "one", "--html", "mine.html"])
        assert "No space left" in refused(capsys, ["tags", "one", "--html", "tags.html"])
    assert contents(shop) == before


def test_what_appears_while_a_file_is_written_stays(shop: Path) -> None:
    def written() -> None:
        with FreshFiles(replace=False) as files:
            files.open(Path("mine.html"), "report").write(b"ours")
            Path("mine.html").write_bytes(b"mine")

    with pytest.raises(CompanionError, match="is there already"):
        written()
    assert Path("mine.html").read_bytes() == b"mine"
    assert [path.name for path in shop.glob(".bench*")] == []


# --- what the program keeps for itself ------------------------------------------------------------
def _way(shop: Path) -> None:
    assert main(["calls", "--add", "fed her", "--as", "added"]) == 0


def _forms(shop: Path) -> None:
    used_by(None).add({"added": 2})


def _typed(shop: Path) -> None:
    TypedCalls(shop / "data" / "typed-calls.txt")._append(b"gap thirty thou\n")


def _away(shop: Path) -> None:
    list_other_place(shop / "elsewhere", "Quillmoor tiller")


def _put_away(shop: Path) -> None:
    put_away([shop / "data" / "sessions" / "one"])


def _token(shop: Path) -> None:
    kept_token(anew=True)


SHOP_FILES: dict[str, Callable[[Path], None]] = {
    "voices/ways.toml": _way,
    "voices/forms-used.json": _forms,
    "typed-calls.txt": _typed,
    "elsewhere.jsonl": _away,
    "archived.json": _put_away,
    "board.token": _token,
}


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        (name, kind)
        for name in SHOP_FILES
        for kind in NO_PLAIN_FILES
        # A list that is read before it is written waits for a pipe: that is the other gate's.
        if kind != "pipe" or name in ("typed-calls.txt", "board.token")
    ],
)
def test_a_list_of_the_shop_is_written_through_no_link_and_over_no_folder(
    name: str, kind: str, shop: Path
) -> None:
    place = shop / "data" / name
    place.parent.mkdir(exist_ok=True)
    place.unlink(missing_ok=True)
    NO_PLAIN_FILES[kind](place, shop)
    before = contents(shop)
    try:
        SHOP_FILES[name](shop)
    except (CompanionError, OSError, AssertionError):
        pass
    else:
        pytest.fail("it is said to be written")
    assert contents(shop) == before


@pytest.mark.parametrize("kind", NO_PLAIN_FILES)
@pytest.mark.parametrize("name", ["index.sqlite", "index.sqlite-wal", "index.sqlite-shm"])
def test_an_index_that_is_no_plain_file_is_left_alone(name: str, kind: str, shop: Path) -> None:
    for path in (shop / "data").glob("index*"):
        path.unlink()
    place = shop / "data" / name
    NO_PLAIN_FILES[kind](place, shop)
    mode = place.lstat().st_mode
    assert main(["sessions"]) == 0
    assert main(["history", "Quillmoor tiller"]) == 0
    assert place.lstat().st_mode == mode
    assert (shop / "precious").read_bytes() == b"precious"
    assert not (shop / "nothing").exists()


def _writes_log(folder: Path) -> None:
    with LogWriter.open(folder) as writer:
        writer.append([NoteKept(text="a note", draft=False)], MONDAY + timedelta(days=9))


def _writes_tip(folder: Path) -> None:
    write_tip(folder, Tip(1, "0" * 64))


def _writes_status(folder: Path) -> None:
    sign = LiveSign(folder)
    sign.show("typed", MONDAY)


def _tears(folder: Path) -> None:
    with (folder / "log.jsonl").open("ab") as log:
        log.write(b'{"v":1,')
    _writes_log(folder)


def _clip(folder: Path) -> None:
    import numpy as np

    keep_clip(folder, 900, np.zeros(160, np.float32))


def _photo(folder: Path) -> None:
    add_photo(folder, picture(), at=MONDAY + timedelta(days=9), name="seal.jpg")


def _thin(folder: Path) -> None:
    remove_clips(OldClips(folder, ("audio/0005.flac",), 1, 0), MONDAY + timedelta(days=9))


SESSION_FILES: dict[str, Callable[[Path], None]] = {
    "log.jsonl": _writes_log,
    "log.live": _writes_log,
    "log.tip": _writes_tip,
    "live.json": _writes_status,
    ".live.json.part": _writes_status,
    "log.torn-1": _tears,
    "audio": _clip,
    "audio/0900.flac": _clip,
    "photos": _photo,
    "audio.removed": _thin,
}


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        (name, kind)
        for name in SESSION_FILES
        for kind in NO_PLAIN_FILES
        # A log is read before it is written, and that is the other gate's.
        if kind != "folder" and (name, kind) != ("log.jsonl", "pipe")
    ],
)
def test_a_session_made_by_somebody_else_leads_nowhere_outside(
    name: str, kind: str, shop: Path
) -> None:
    folder = shop / "data" / "sessions" / "two"
    place = folder / name
    if place.is_dir():
        shutil.rmtree(place)
    place.unlink(missing_ok=True)
    NO_PLAIN_FILES[kind](place, shop)
    outside = {
        name: what for name, what in contents(shop).items() if not name.startswith("data/sess")
    }
    with contextlib.suppress(CompanionError, OSError):
        SESSION_FILES[name](folder)
    assert {
        name: what for name, what in contents(shop).items() if not name.startswith("data/sess")
    } == outside
    assert not (shop / "nothing").exists()


def test_clips_behind_a_linked_folder_are_not_removed(shop: Path) -> None:
    folder = shop / "data" / "sessions" / "two"
    shutil.rmtree(folder / "audio")
    (folder / "audio").symlink_to(shop / "data" / "sessions" / "one" / "audio")
    with pytest.raises(CompanionError):
        _thin(folder)
    assert (shop / "data" / "sessions" / "one" / "audio" / "0005.flac").is_file()


def test_a_second_name_of_a_tip_is_not_written_through(shop: Path) -> None:
    tip_file = shop / "data" / "sessions" / "two" / "log.tip"
    tip_file.unlink()
    os.link(shop / "precious", tip_file)
    _writes_log(tip_file.parent)
    assert (shop / "precious").read_bytes() == b"precious"
    assert tip_file.read_bytes().startswith(b"tip 0000")


@pytest.mark.parametrize("name", ["log.jsonl", "log.tip", "live.json"])
def test_a_folder_in_which_files_are_called_like_ours_is_taken_for_no_new_session(
    name: str, shop: Path
) -> None:
    (shop / "other").mkdir()
    (shop / "other" / name).write_bytes(b"mine")
    with pytest.raises(CompanionError, match="name another folder"):
        LogWriter.create(shop / "other")
    assert contents(shop / "other") == {name: b"mine"}


def test_the_gate_knows_every_file_that_is_kept() -> None:
    for name in (
        line.LOG_NAME,
        tip.TIP_NAME,
        in_use.LIVE_NAME,
        live_status.STATUS_NAME,
        f".{live_status.STATUS_NAME}.part",
        removed.REMOVED_NAME,
        "log.torn-12",
    ):
        assert own.OF_A_SESSION.fullmatch(name), name
    for name in (
        archive.ARCHIVE_NAME,
        other_places.LIST_NAME,
        index_file.INDEX_NAME,
        f"index-{index_file.VERSION}.sqlite-wal",
        TOKEN_NAME,
        ways_of(None).path.name,
    ):
        assert own.OF_THE_SHOP.fullmatch(name), name
    assert {CLIP_FOLDER, PHOTO_FOLDER} == own.SESSION_FOLDERS
    assert VOICES in own.SHOP_FOLDERS
    assert used_by(None).path.parent.name == VOICES


def test_a_page_says_what_it_is_to_the_letter(shop: Path) -> None:
    with pytest.raises(CompanionError, match="cannot be written"):
        write_page("x", Path("precious") / "x.html", "report")


def test_a_session_that_could_not_be_begun_leaves_nothing_that_looks_like_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path))
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    folder = tmp_path / "sessions" / "job"
    try:
        # No file may have more bytes: what a full disk does, in this program alone.
        resource.setrlimit(resource.RLIMIT_FSIZE, (64, before[1]))
        with pytest.raises(CompanionError, match="Nothing was begun"):
            open_session(folder, at=MONDAY)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert not folder.exists()
    assert main(["sessions"]) == 0
    assert "could not be read" not in capsys.readouterr().err
