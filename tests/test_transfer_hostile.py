"""A ZIP that is not what it seems does nothing: one sentence, and nothing is left anywhere."""

from __future__ import annotations

import hashlib
import io
import json
import os
import stat
import struct
import sys
import tracemalloc
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from companion.job import events as ev
from companion.job.record import Record
from companion.log.line import encode
from companion.log.sessions import sessions_folder
from companion.log.tip import Tip, tip_bytes
from companion.log.writer import LogWriter
from companion.transfer.fitness import why_unfit
from tests.logs import MONDAY, Bench, reading
from tests.shops import Shop, contents, environment_kept

OPENED: dict[str, Any] = {
    "session": "job",
    "card": None,
    "call_sign": "bench",
    "ounce": "us",
    "software": "0",
}
Members = list[tuple[zipfile.ZipInfo, bytes]]


@pytest.fixture(scope="module", autouse=True)
def _environment() -> Iterator[None]:
    with environment_kept():
        yield


@pytest.fixture(scope="module")
def members(tmp_path_factory: pytest.TempPathFactory) -> Members:
    """An honest export, taken apart."""
    shop = Shop(tmp_path_factory.mktemp("honest") / "shop")
    bench = Bench(sessions_folder() / "job")
    bench.open()
    bench.call("gap thirty thou", reading("gap", "30", "thou", verdict="in"))
    bench.call("gap thirty one thou", reading("gap", "31", "thou", verdict="in"))
    bench.writer.close()
    file = shop.folder / "job.zip"
    assert shop.run("export", "job", "--zip", file) == 0
    with zipfile.ZipFile(file) as zipped:
        return [(info, zipped.read(info)) for info in zipped.infolist()]


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """A shop with a session that must stay as it is."""
    shop = Shop(tmp_path / "shop")
    bench = Bench(sessions_folder() / "mine", clips=False)
    bench.open(machine=None)
    bench.writer.close()
    return shop


def copied(info: zipfile.ZipInfo, name: str | None = None) -> zipfile.ZipInfo:
    fresh = zipfile.ZipInfo(info.filename if name is None else name)
    fresh.external_attr, fresh.compress_type = info.external_attr, info.compress_type
    fresh.create_system = 3
    return fresh


def zipped(
    members: Members,
    *,
    claim: Callable[[zipfile.ZipFile], None] | None = None,
    comment: bytes = b"",
) -> bytes:
    """A ZIP of these members; ``claim`` changes what its directory says."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as file:
        for info, data in members:
            file.writestr(copied(info), data)
        if claim is not None:
            claim(file)
        file.comment = comment
    return made.getvalue()


def plus(members: Members, name: str, data: bytes = b"x", **more: Any) -> Members:
    info = zipfile.ZipInfo("x")
    info.filename = name
    info.external_attr = 0o100644 << 16
    for key, value in more.items():
        setattr(info, key, value)
    return [*members, (info, data)]


def remade(
    members: Members, change: Callable[[dict[str, bytes], dict[str, Any]], None], *, honest: bool
) -> bytes:
    """A ZIP whose files and manifest were changed; if honest, the manifest has the new hashes."""
    files = {info.filename: data for info, data in members if info.filename != "manifest.json"}
    manifest = json.loads(next(d for i, d in members if i.filename == "manifest.json"))
    change(files, manifest)
    if honest:
        for session in manifest["sessions"]:
            session["files"] = [
                {
                    "path": name.partition("/")[2],
                    "bytes": len(data),
                    "sha256": hashlib.sha256(data).hexdigest(),
                }
                for name, data in files.items()
            ]
    files["manifest.json"] = json.dumps(manifest).encode()
    infos = {info.filename: info for info, _ in members}
    some = infos["job/log.jsonl"]
    return zipped([(copied(infos.get(n, some), n), data) for n, data in files.items()])


def bare_ends(files: int, *, claimed: int) -> bytes:
    """A ZIP of so many empty files of the shortest names, and how many its end claims."""
    entry = struct.pack("<4s6H3L5H2L", b"PK\x01\x02", *[0] * 9, 1, *[0] * 6) + b"x"
    end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, claimed, claimed, files * 47, 0, 0)
    return entry * files + end


def end_64(members: Members) -> bytes:
    """The same with the 64-bit extension, as above 65,535 files."""
    data = zipped(members)
    size, start = struct.unpack("<2L", data[-10:-2])
    files = struct.unpack("<H", data[-12:-10])[0]
    place = len(data) - 22
    wide = struct.pack("<4sQ2H2L4Q", b"PK\x06\x06", 44, 45, 45, 0, 0, 10**6, 10**6, size, start)
    locator = struct.pack("<4sLQL", b"PK\x06\x07", 0, place, 1)
    assert files < 65_535
    return data[:-22] + wide + locator + data[-22:]


def claim(**values: Any) -> Callable[[zipfile.ZipFile], None]:
    """Change what the directory says of the log."""

    def change(file: zipfile.ZipFile) -> None:
        info = file.getinfo("job/log.jsonl")
        for key, value in values.items():
            setattr(info, key, value)

    return change


def crc(file: zipfile.ZipFile) -> None:
    file.getinfo("job/log.jsonl").CRC ^= 1


def many_sizes(file: zipfile.ZipFile) -> None:
    for info in file.filelist[len(file.filelist) - 40 :]:
        info.file_size = info.compress_size = 60 * 2**20


def many(members: Members) -> Members:
    for number in range(40):
        members = plus(members, f"job/audio/{1000 + number}.flac")
    return members


def changed_line(files: dict[str, bytes], _: dict[str, Any]) -> None:
    files["job/log.jsonl"] = files["job/log.jsonl"].replace(b'"30"', b'"31"')


def cut_line(files: dict[str, bytes], _: dict[str, Any]) -> None:
    files["job/log.jsonl"] = files["job/log.jsonl"].rpartition(b"{")[0]


def cut_with_tip(files: dict[str, bytes], _: dict[str, Any]) -> None:
    """The end cut off and the tip made to fit: only the manifest knows better."""
    *lines, _last, _empty = files["job/log.jsonl"].split(b"\n")
    files["job/log.jsonl"] = b"\n".join(lines) + b"\n"
    last = Tip(len(lines), hashlib.sha256(lines[-1]).hexdigest())
    files["job/log.tip"] = tip_bytes(last)


def wrong_tip(files: dict[str, bytes], _: dict[str, Any]) -> None:
    files["job/log.tip"] = b"000000000001 " + b"0" * 64 + b"\n"


def no_tip(files: dict[str, bytes], _: dict[str, Any]) -> None:
    del files["job/log.tip"]


def torn_end(files: dict[str, bytes], _: dict[str, Any]) -> None:
    files["job/log.jsonl"] += b'{"v":1,"seq":'


def newer_log(files: dict[str, bytes], _: dict[str, Any]) -> None:
    files["job/log.jsonl"] = files["job/log.jsonl"].replace(b'{"v":1,', b'{"v":99,')


def no_log(files: dict[str, bytes], _: dict[str, Any]) -> None:
    files["job/log.jsonl"] = b"dear diary\n"


def zip_as_clip(files: dict[str, bytes], _: dict[str, Any]) -> None:
    files["job/audio/0002.flac"] = bare_ends(1, claimed=1) * 10


def clip_of_weeks(files: dict[str, bytes], _: dict[str, Any]) -> None:
    """The head of a clip says that it unpacks to 2^36 samples."""
    sound = bytearray(files["job/audio/0002.flac"])
    sound[21] |= 0x0F
    sound[22:26] = b"\xff\xff\xff\xff"
    files["job/audio/0002.flac"] = bytes(sound)


def other_clip(files: dict[str, bytes], _: dict[str, Any]) -> None:
    files["job/audio/0002.flac"] += b"\0"


def endless_figure(files: dict[str, bytes], manifest: dict[str, Any]) -> None:
    """A true chain whose reading has a billion digits when written out."""
    raw, prev, lines = b"", "0" * 64, []
    opened = ev.SessionOpened(**OPENED, machine=None)
    for seq, event in enumerate((opened, reading("gap", "7654321", "thou", verdict="in")), 1):
        raw = encode(Record(seq, MONDAY, event), prev).replace(b'"7654321"', b'"1E+999999999"')
        prev = hashlib.sha256(raw).hexdigest()
        lines.append(raw + b"\n")
    files["job/log.jsonl"] = b"".join(lines)
    files["job/log.tip"] = tip_bytes(Tip(2, prev))
    manifest["sessions"][0].update(records=2, last=prev)


def newer_manifest(_: dict[str, bytes], manifest: dict[str, Any]) -> None:
    manifest.update(version=2, something="new")


def another_manifest(_: dict[str, bytes], manifest: dict[str, Any]) -> None:
    manifest["made_by"] = "another program"


def twice_listed(_: dict[str, bytes], manifest: dict[str, Any]) -> None:
    manifest["sessions"] *= 2


def unlisted(_: dict[str, bytes], manifest: dict[str, Any]) -> None:
    manifest["sessions"][0]["files"].pop()


def lacking(files: dict[str, bytes], _: dict[str, Any]) -> None:
    del files["job/audio/0002.flac"]


def path_in_manifest(_: dict[str, bytes], manifest: dict[str, Any]) -> None:
    manifest["sessions"][0]["files"][0]["path"] = "../../../log.jsonl"


LINK = (stat.S_IFLNK | 0o777) << 16
DEVICE = (stat.S_IFCHR | 0o666) << 16
BIG = b"\0" * (20 * 2**20)

HOSTILE: dict[str, tuple[Callable[[Members], bytes], str]] = {
    "absolute": (lambda m: zipped(plus(m, "/etc/cron.d/job")), "holds '/etc/cron.d/job'"),
    "above": (lambda m: zipped(plus(m, "../../job")), "holds '../../job'"),
    "above inside": (lambda m: zipped(plus(m, "job/audio/../../../x.flac")), "no file of a sess"),
    "drive": (lambda m: zipped(plus(m, "C:/job")), "holds 'C:/job'"),
    "backslash": (lambda m: zipped(plus(m, "job\\log.jsonl")), r"holds 'job\\log.jsonl'"),
    "share": (lambda m: zipped(plus(m, "\\\\host\\share\\x")), "no file of a session"),
    "stream": (lambda m: zipped(plus(m, "job/log.jsonl:x")), "no file of a session"),
    "null in name": (
        lambda m: zipped(plus(m, "job/log.torn-1")).replace(b"torn-1", b"torn-\0"),
        "no file of a session",
    ),
    "link": (
        lambda m: zipped(plus(m, "job/audio/0007.flac", b"/etc/passwd", external_attr=LINK)),
        "as a link or device",
    ),
    "device": (
        lambda m: zipped(plus(m, "job/audio/0007.flac", external_attr=DEVICE)),
        "as a link or device",
    ),
    "folder": (lambda m: zipped(plus(m, "job/", b"")), "holds 'job/'"),
    "deep": (lambda m: zipped(plus(m, "d/" * 400 + "x")), "no file of a session"),
    "long": (lambda m: zipped(plus(m, "x" * 300)), "no file of a session"),
    "long clip": (lambda m: zipped(plus(m, f"job/audio/{'0' * 300}.flac")), "no file of a sess"),
    "nested": (lambda m: zipped(plus(m, "job/inner.zip", zipped(m))), "holds 'job/inner.zip'"),
    "twice": (lambda m: zipped([*m, m[0]]), "twice"),
    "twice but for case": (
        lambda m: zipped(plus(plus(m, "job/audio/0a.flac"), "job/audio/0A.flac")),
        "twice",
    ),
    "settings": (lambda m: zipped(plus(m, "settings.toml")), "holds 'settings.toml'"),
    "encrypted": (lambda m: zipped(m, claim=claim(flag_bits=1)), "is encrypted"),
    "packed otherwise": (
        lambda m: zipped(m, claim=claim(compress_type=zipfile.ZIP_BZIP2)),
        "packed in a way",
    ),
    "bomb": (
        lambda m: zipped(plus(m, "job/log.torn-1", BIG, compress_type=zipfile.ZIP_DEFLATED)),
        "more than 100 times its size",
    ),
    "huge": (lambda m: zipped(m, claim=claim(file_size=2**31)), "more than 64 MiB"),
    "huge in all": (lambda m: zipped(many(m), claim=many_sizes), "more than 2 GB"),
    "wrong check sum": (lambda m: zipped(m, claim=crc), "is damaged at job/log.jsonl"),
    "wrong size": (lambda m: zipped(m, claim=claim(file_size=500)), "is damaged at job/log"),
    "a million": (lambda _: bare_ends(10**6, claimed=10**6 % 2**16), "more than 50,000 files"),
    "many": (lambda _: bare_ends(60_000, claimed=60_000), "more than 50,000 files"),
    "a million in 64 bits": (end_64, "64-bit ZIP"),
    "comment": (lambda m: zipped(m, comment=b"hello"), "is cut short, or no ZIP"),
    "something before": (lambda m: b"#!/bin/sh\n" + zipped(m), "is damaged"),
    "something after": (lambda m: zipped(m) + b"\n", "is cut short, or no ZIP"),
    "cut short": (lambda m: zipped(m)[:-100], "is cut short"),
    "cut to half": (lambda m: zipped(m)[:2000], "is cut short"),
    "empty": (lambda _: b"", "is cut short, or no ZIP"),
    "no ZIP": (lambda _: b"dear diary\n" * 100, "is cut short, or no ZIP"),
    "empty ZIP": (lambda _: zipped([]), "has no manifest.json"),
    "another ZIP": (lambda m: zipped(m[:-1]), "has no manifest.json"),
    "no manifest": (
        lambda m: zipped(plus(m[:-1], "manifest.json", b"[" * 100_000)),
        "its manifest is not JSON",
    ),
    "newer manifest": (lambda m: remade(m, newer_manifest, honest=True), "a newer Bench"),
    "another's": (lambda m: remade(m, another_manifest, honest=True), "should be at 'made_by'"),
    "path in manifest": (lambda m: remade(m, path_in_manifest, honest=False), "'sessions.0.files"),
    "listed twice": (lambda m: remade(m, twice_listed, honest=True), "lists a file twice"),
    "not listed": (lambda m: remade(m, unlisted, honest=False), "does not list job/"),
    "not there": (lambda m: remade(m, lacking, honest=False), "which is not there"),
    "no log": (lambda m: remade(m, no_log, honest=True), "a log that does not verify"),
    "no tip": (lambda m: remade(m, no_tip, honest=True), "lists no log of job"),
    "changed": (lambda m: remade(m, changed_line, honest=False), "otherwise than its manifest"),
    "changed with hash": (lambda m: remade(m, changed_line, honest=True), "does not verify"),
    "cut log": (lambda m: remade(m, cut_line, honest=True), "end with a whole line"),
    "cut log with tip": (lambda m: remade(m, cut_with_tip, honest=True), "end is not what"),
    "wrong tip": (lambda m: remade(m, wrong_tip, honest=True), "does not verify"),
    "torn": (lambda m: remade(m, torn_end, honest=True), "does not end with a whole line"),
    "newer log": (lambda m: remade(m, newer_log, honest=True), "log of a newer Bench"),
    "figure": (lambda m: remade(m, endless_figure, honest=True), "beyond all measure"),
    "clip": (lambda m: remade(m, other_clip, honest=False), "otherwise than its manifest"),
    "ZIP as clip": (lambda m: remade(m, zip_as_clip, honest=True), "which is no FLAC file"),
    "clip of weeks": (lambda m: remade(m, clip_of_weeks, honest=True), "longer than an hour"),
}
"""By name: the file, and what is said of it."""


def test_the_parts_put_together_again_are_imported(shop: Shop, members: Members) -> None:
    """So that what follows is refused for what was changed and nothing else."""
    file = shop.folder / "in.zip"
    file.write_bytes(remade(members, lambda files, manifest: None, honest=True))
    assert shop.run("import", file) == 0
    assert shop.sessions() == ["job", "mine"]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_zip_does_nothing(
    shop: Shop, members: Members, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    make, told = HOSTILE[name]
    file = shop.folder / "in.zip"
    file.write_bytes(make(members))
    before = contents(shop.folder.parent)
    capsys.readouterr()
    assert shop.run("import", file) == 1
    said = capsys.readouterr()
    assert said.out == ""
    (line,) = said.err.splitlines()
    assert line.startswith(f"companion: {file} cannot be imported: it")
    assert told in line
    assert line.isprintable()
    assert contents(shop.folder.parent) == before


def test_a_session_that_is_not_whole_keeps_the_whole_ones_out(
    shop: Shop, members: Members, tmp_path: Path
) -> None:
    other = Shop(tmp_path / "two")
    for name in ("a", "b"):
        with LogWriter.create(sessions_folder() / name) as writer:
            writer.append([ev.NoteKept(text=name, draft=False)], MONDAY)
    file = other.folder / "two.zip"
    assert other.run("export", "--zip", file) == 0
    with zipfile.ZipFile(file) as zip_file:
        parts = [(info, zip_file.read(info)) for info in zip_file.infolist()]
    spoiled = [
        (info, data.replace(b'"b"', b'"c"') if info.filename == "b/log.jsonl" else data)
        for info, data in parts
    ]
    file.write_bytes(zipped(spoiled))
    assert shop.run("import", file) == 1
    assert shop.sessions() == ["mine"]


def test_a_bomb_that_lies_about_its_size_takes_no_memory(shop: Shop, members: Members) -> None:
    """It claims a kilobyte and holds 200 MB."""
    manifest = json.loads(members[-1][1])
    manifest["sessions"][0]["files"].append(
        {"path": "log.torn-1", "bytes": 1000, "sha256": hashlib.sha256(bytes(1000)).hexdigest()}
    )
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as file:
        for info, data in members[:-1]:
            file.writestr(copied(info), data)
        with file.open("job/log.torn-1", "w") as bomb:
            for _ in range(200):
                bomb.write(b"\0" * 10**6)
        file.writestr("manifest.json", json.dumps(manifest))
        file.getinfo("job/log.torn-1").file_size = 1000
    file_in = shop.folder / "in.zip"
    file_in.write_bytes(made.getvalue())
    tracemalloc.start()
    try:
        assert shop.run("import", file_in) == 1
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most < 30 * 10**6
    assert shop.sessions() == ["mine"]


@pytest.mark.parametrize("what", ["missing", "folder", "pipe", "device"])
def test_what_is_no_file_is_not_opened(
    shop: Shop, capsys: pytest.CaptureFixture[str], what: str
) -> None:
    file = shop.folder / "in.zip"
    match what:
        case "folder":
            file.mkdir()
        case "pipe" if sys.platform != "win32":
            os.mkfifo(file)
        case "device":
            file = Path("/dev/zero")
    capsys.readouterr()
    assert shop.run("import", file) == 1
    (line,) = capsys.readouterr().err.splitlines()
    assert "name a ZIP file that 'companion export' has made" in line
    assert shop.sessions() == ["mine"]


def test_a_name_that_is_a_device_somewhere_is_not_used(shop: Shop, tmp_path: Path) -> None:
    other = Shop(tmp_path / "other")
    for name in ("con", "NUL.job", "..", "a/b", "~", "-rf", "x" * 90):
        source = other.folder / "out" / name.replace("/", "∕").replace("..", "․․")
        with LogWriter.create(source) as writer:
            writer.append([ev.NoteKept(text=name, draft=False)], MONDAY)
    file = other.folder / "names.zip"
    sources = sorted((other.folder / "out").iterdir())
    assert other.run("export", "--zip", file, "--", *sources) == 0
    assert shop.run("import", file) == 0
    assert shop.sessions() == [
        "a-b",
        "job",
        "job-2",
        "mine",
        "rf",
        "session-NUL.job",
        "session-con",
        "x" * 90,
    ]


READ = reading("gap", "30", "thou", verdict="in")
LATE = datetime(9999, 12, 31, 23, tzinfo=UTC)
TIMER = ev.TimerStarted(name="soak", seconds=60, due=MONDAY)


@pytest.mark.parametrize(
    ("event", "at", "why"),
    [
        (READ, MONDAY, None),
        (READ.model_copy(update={"value": Decimal("1E-100000000")}), MONDAY, "figure beyond all"),
        (READ.model_copy(update={"unit": "furlong"}), MONDAY, "unit that the bench"),
        (READ, LATE, "time that is on no shop's clock"),
        (TIMER, MONDAY, None),
        (TIMER.model_copy(update={"due": MONDAY.replace(tzinfo=None)}), MONDAY, "no shop's clock"),
        (ev.SessionOpened(**OPENED, machine={"name": "x", "odd": 1}), MONDAY, "cannot be followed"),
        (ev.SessionOpened(**OPENED, machine={"x": "1E+99999999"}), MONDAY, "figure beyond all"),
    ],
)
def test_a_true_chain_of_what_no_bench_writes_is_refused(
    event: ev.AnyEvent, at: datetime, why: str | None
) -> None:
    found = why_unfit([Record(1, at, event)])
    assert found is None if why is None else found is not None and why in found


def test_what_a_hostile_file_says_gives_the_terminal_no_orders(
    shop: Shop, members: Members, capsys: pytest.CaptureFixture[str]
) -> None:
    def name(_: dict[str, bytes], manifest: dict[str, Any]) -> None:
        manifest["sessions"][0]["name"] = "../\x1b[2J\n\u202edone"

    def key(_: dict[str, bytes], manifest: dict[str, Any]) -> None:
        manifest["\x1b[2J" + "x" * 5000] = 1

    file = shop.folder / "in.zip"
    file.write_bytes(remade(members, name, honest=True))
    assert shop.run("import", file) == 0
    file.write_bytes(remade(members, key, honest=True))
    assert shop.run("import", file) == 1
    said = capsys.readouterr()
    (told,) = said.err.splitlines()
    assert all(line.isprintable() for line in (told, *said.out.split("\n")))
    assert len(told) < 600
    assert shop.sessions() == ["2j-done", "mine"]
