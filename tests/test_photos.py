"""Photos of a job: laid beside the log, shown where they were taken, and nothing that is none."""

from __future__ import annotations

import base64
import hashlib
import io
import os
import re
import shutil
import struct
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from companion.cli import main
from companion.errors import WrongUse
from companion.job.events import PhotoAdded, StepEntered
from companion.log.check import check_log
from companion.log.photos import add_photo
from companion.log.pictures import MOST_BYTES
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from companion.report.handover import render_handover
from companion.report.page import render_report
from tests.logs import MONDAY, invented_job


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("photos") / "job"
    invented_job(folder, clips=False)
    return folder


@pytest.fixture
def job(made: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made, tmp_path / "job"))


def picture(kind: str = "JPEG", size: tuple[int, int] = (400, 300), **more: object) -> bytes:
    """A picture that is red at the top left and gray elsewhere."""
    image = Image.new("RGB", size, (90, 90, 90))
    image.paste((200, 0, 0), (0, 0, size[0] // 4, size[1] // 4))
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def from_camera(taken: str) -> bytes:
    """A picture taken with the camera on its side, that says when and where."""
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned a quarter to the right
    exif.get_ifd(0x8769)[0x9003] = taken
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 30.0, 14.25), 3: "E", 4: (13.0, 22.0, 7.5)})
    return picture(exif=exif)


# --- a picture that is one ----------------------------------------------------------------------
def test_a_photo_stands_beside_its_step_upright_and_without_its_place(
    job: Path, tmp_path: Path
) -> None:
    file = tmp_path / "oil.jpg"
    # The second step was current from 09:15:20 on, the third from 09:16:20.
    file.write_bytes(from_camera("2026:03:02 09:16:10"))
    assert Image.open(file).getexif().get_ifd(0x8825)
    photo = add_photo(job, file, by="Rosa", at=MONDAY)

    assert photo.step == "drain-oil"
    assert photo.taken is not None
    assert f"{photo.taken:%H:%M %z}" == "09:16 +0100"
    kept = job / photo.file
    assert kept.parent.name == "photos"
    assert hashlib.sha256(kept.read_bytes()).hexdigest() == photo.sha256
    image = Image.open(kept)
    assert image.size == (300, 400)
    assert dict(image.getexif()) == {}
    red, green, _ = image.convert("RGB").getpixel((280, 20))  # type: ignore[misc]
    assert red > 150 > green
    assert file.is_file()

    report = render_report(job)
    step = re.search(r'<li><span class="number">2</span>.*?</li>', report, re.DOTALL)
    assert step is not None
    assert 'alt="Photo at step drain oil"' in step[0]
    assert "by Rosa" in step[0]
    assert "Drain oil, 2" in render_handover(job)


@pytest.mark.parametrize(("kind", "suffix"), [("JPEG", ".jpg"), ("PNG", ".png"), ("WEBP", ".webp")])
def test_what_was_dropped_on_a_page_is_kept_in_its_own_kind(
    job: Path, kind: str, suffix: str
) -> None:
    photo = add_photo(job, picture(kind), step="4", at=MONDAY)
    assert photo.step == "fill-oil"
    assert Path(photo.file).suffix == suffix
    assert Image.open(job / photo.file).size == (400, 300)


def test_a_photo_is_added_while_somebody_works_at_the_session(job: Path) -> None:
    with LogWriter.open(job) as bench:
        photo = add_photo(job, picture(), at=MONDAY)
        with bench.turn() as news:
            assert [record.event for record in news] == [photo]
            bench.append([StepEntered(step="test-run")], MONDAY)
    assert check_log(job).ok
    assert photo.step == "fill-oil"


def test_a_large_photo_is_small_on_the_page(job: Path) -> None:
    add_photo(job, picture(size=(2400, 1800)), at=MONDAY)
    (source,) = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', render_report(job))
    assert Image.open(io.BytesIO(base64.b64decode(source))).size == (1000, 750)


def test_several_are_added_by_the_command_and_one_bad_one_costs_no_other(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good, bad = tmp_path / "good.png", tmp_path / "bad.png"
    good.write_bytes(picture("PNG"))
    bad.write_text("no picture")
    status = main(["photo", str(bad), str(good), "--session", str(job), "--step", "set gap"])
    out, err = capsys.readouterr()
    assert status == 1
    assert err.count("\n") == 1
    assert out == f"Photo: {job / 'photos/0097.png'}, at step set-gap\n".replace(
        "0097", f"{len(read_log(job).records):04d}"
    )
    assert check_log(job).ok


def test_a_step_that_the_card_has_not_is_told_with_those_it_has(job: Path) -> None:
    with pytest.raises(WrongUse, match=r"no step 'polish'.*make-safe, drain-oil, set-gap"):
        add_photo(job, picture(), step="polish", at=MONDAY)


# --- what the check tells -----------------------------------------------------------------------
def test_a_changed_and_a_missing_photo_are_told_and_cost_nothing_else(job: Path) -> None:
    changed = add_photo(job, picture(), step="drain-oil", at=MONDAY)
    missing = add_photo(job, picture("PNG"), at=MONDAY)
    assert "2 photos" in check_log(job).lines()[0]
    data = bytearray((job / changed.file).read_bytes())
    data[-20] ^= 1
    (job / changed.file).write_bytes(data)
    (job / missing.file).unlink()
    (job / "photos" / "stray.jpg").write_bytes(picture())

    found = check_log(job)
    assert not found.ok
    assert any(f"{changed.file} was changed" in problem for problem in found.problems)
    assert any(f"{missing.file} is missing" in problem for problem in found.problems)
    assert "no record names photos/stray.jpg" in found.notes
    report = render_report(job)
    assert "was changed since it was added" in report
    assert "is missing or cannot be read" in report
    assert "<img" not in report


@pytest.mark.parametrize("file", ["photos/../log.jsonl", "/etc/passwd", "photos\\x.jpg", "log.tip"])
def test_a_record_that_names_another_file_gets_nothing(job: Path, file: str) -> None:
    with LogWriter.open(job) as writer:
        writer.append([PhotoAdded(file=file, sha256="0" * 64)], MONDAY)
    assert "lies outside the session" in check_log(job).problems[0]
    assert "lies outside the session" in render_report(job)


# --- what is none -------------------------------------------------------------------------------
def bomb() -> bytes:
    """A PNG of a few bytes that would unfold to ten gigabytes."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + check

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    rows = zlib.compress(bytes(100_000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def _empty(path: Path) -> None:
    path.touch()


def _text(path: Path) -> None:
    path.write_text("#!/bin/sh\necho hello\n")


def _bomb(path: Path) -> None:
    path.write_bytes(bomb())


def _torn(path: Path) -> None:
    path.write_bytes(picture()[:900])


def _heic(path: Path) -> None:
    path.write_bytes(b"\0\0\0\x18ftypheic" + bytes(200))


def _gif(path: Path) -> None:
    path.write_bytes(picture("GIF"))


def _link(path: Path) -> None:
    path.with_name("real.jpg").write_bytes(picture())
    path.symlink_to(path.with_name("real.jpg"))


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _huge(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(500_000_000)


def _folder(path: Path) -> None:
    path.mkdir()


def _nothing(path: Path) -> None:
    pass


@pytest.mark.parametrize(
    ("make", "name", "told"),
    [
        (_empty, "x.jpg", "is no JPEG, PNG or WebP picture"),
        (_text, "x.jpg", "is no JPEG, PNG or WebP picture"),
        (_gif, "x.gif", "is no JPEG, PNG or WebP picture"),
        (_bomb, "x.png", "more than 64 million points"),
        (_torn, "x.jpg", "damaged or cut short"),
        (_heic, "x.heic", "HEIC or AVIF"),
        (_link, "x.jpg", "is a link"),
        (_pipe, "x.jpg", "is no file"),
        (_folder, "x.jpg", "is no file"),
        (_huge, "x.jpg", f"larger than {MOST_BYTES // 1_000_000} MB"),
        (_nothing, "x.jpg", "cannot be read (No such file or directory)"),
        (_nothing, "\x1b[31m" + "x" * 300 + ".jpg", "cannot be read (File name too long)"),
    ],
)  # fmt: skip
def test_what_is_no_picture_is_refused_in_one_sentence(
    made: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    make: Callable[[Path], None],
    name: str,
    told: str,
) -> None:
    if hasattr(os, "mkfifo") or make is not _pipe:
        make(tmp_path / name)
    before = (made / "log.jsonl").read_bytes()
    assert main(["photo", str(tmp_path / name), "--session", str(made)]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert told in err
    assert err.count("\n") == 1
    assert len(err) < 250
    assert "\x1b" not in err
    assert (made / "log.jsonl").read_bytes() == before
    assert not (made / "photos").exists()


def test_a_folder_of_photos_that_leads_elsewhere_is_left_alone(job: Path, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (job / "photos").symlink_to(tmp_path / "elsewhere")
    png = tmp_path / "x.png"
    png.write_bytes(picture("PNG"))
    assert main(["photo", str(png), "--session", str(job)]) == 1
    assert list((tmp_path / "elsewhere").iterdir()) == []
