"""A clip is what was recorded, or it is told and not used: swapped, silenced, cut short, bits
flipped, or gone."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import httpx
import numpy as np
import pytest
import soundfile

from companion.cli import main
from companion.enroll.marked import from_session
from companion.errors import CompanionError
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import load_grammar
from companion.job import events as ev
from companion.log.check import check_log
from companion.log.clips import keep_clip, read_clip
from companion.log.reader import read_log
from companion.log.removed import REMOVED_NAME
from companion.log.thinned import old_clips, remove_clips
from companion.recognize.protocol import Hypothesis, Recognition
from companion.report.page import render_report
from companion.review.reviewer import open_review
from companion.session.opening import open_session
from companion.web.review import review_application
from companion.web.server import serving
from companion.web.shop import Shop, key_of
from tests.logs import MONDAY, Bench, invented_job, tone
from tests.review_pages import environment_of
from tests.test_recognize_failing import CALL, Failing

CLIP = "audio/0005.flac"
"""Of "step done", which two records point at."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("clips") / "job"
    invented_job(folder)
    return folder


@pytest.fixture
def job(whole: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(whole, tmp_path / "data" / "sessions" / "job"))


def flac(samples: np.ndarray) -> bytes:
    made = io.BytesIO()
    soundfile.write(made, samples, SAMPLE_RATE, format="FLAC", subtype="PCM_16")
    return made.getvalue()


def swapped(clip: Path) -> None:
    shutil.copy(sorted(clip.parent.iterdir())[-1], clip)
    clip.write_bytes(flac(tone(pitch=700)))


def silenced(clip: Path) -> None:
    samples, _ = soundfile.read(clip, dtype="float32")
    clip.write_bytes(flac(np.zeros_like(samples)))


def truncated(clip: Path) -> None:
    clip.write_bytes(clip.read_bytes()[:-40])


def longer(clip: Path) -> None:
    clip.write_bytes(clip.read_bytes() + bytes(10))


def flipped(clip: Path) -> None:
    data = bytearray(clip.read_bytes())
    data[-30] ^= 4
    clip.write_bytes(bytes(data))


def missing(clip: Path) -> None:
    clip.unlink()


HARMS = [swapped, silenced, truncated, longer, flipped, missing]


# --- what is kept ---------------------------------------------------------------------------------
def test_the_record_of_what_was_heard_has_the_hash_of_its_clip(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=MONDAY, recognizer=Failing(MemoryError()))
    failed, heard = session.hear(CALL, MONDAY), session.hear(CALL, MONDAY)
    session.close()
    for exchange in (failed, heard):
        call = exchange.records[0].event
        assert isinstance(call, ev.Heard)
        assert call.clip is not None
        kept = (session.folder / call.clip).read_bytes()
        assert call.clip_sha256 == hashlib.sha256(kept).hexdigest()
    assert check_log(session.folder).lines() == [
        f"{session.folder}: whole; {len(read_log(session.folder).records)} records, 2 clips"
    ]


class Dictated(Failing):
    """Hears a note."""

    def recognize(
        self, samples: np.ndarray, *, call_sign_needed: bool = False, number_alone: bool = False
    ) -> Recognition:
        heard = Hypothesis("note", 0.0, 0.99)
        return Recognition(self.name, (heard,), 0.99, "note the cable is frayed", 0.1)


def test_a_spoken_note_has_it_too(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=MONDAY, recognizer=Dictated())
    exchange = session.hear(CALL, MONDAY)
    session.close()
    call, note = exchange.records[0].event, exchange.records[1].event
    assert isinstance(call, ev.Heard)
    assert isinstance(note, ev.NoteKept)
    assert note.clip == call.clip is not None
    assert note.clip_sha256 == call.clip_sha256 is not None


# --- what is told ---------------------------------------------------------------------------------
@pytest.mark.parametrize("harm", HARMS)
def test_the_check_tells_of_a_clip_that_is_not_what_was_recorded(
    harm: Callable[[Path], None], job: Path
) -> None:
    assert check_log(job).ok
    harm(job / CLIP)
    (problem,) = check_log(job).problems
    assert problem.startswith("line 5 names a clip that cannot be heard: The clip audio/0005.flac ")


def test_any_one_bit_flipped_is_told_whichever_it_is(job: Path) -> None:
    clip = job / CLIP
    whole = clip.read_bytes()
    sha256 = hashlib.sha256(whole).hexdigest()
    for bit in [*range(8 * 60), *range(8 * 60, 8 * len(whole), 211)]:
        data = bytearray(whole)
        data[bit // 8] ^= 1 << bit % 8
        clip.write_bytes(bytes(data))
        with pytest.raises(CompanionError, match="was changed since it was recorded"):
            read_clip(job, CLIP, sha256)


def test_a_clip_of_an_old_log_with_any_bit_flipped_is_read_or_told_and_crashes_nothing(
    tmp_path: Path,
) -> None:
    clip = tmp_path / keep_clip(tmp_path, 1, tone()).path
    whole = clip.read_bytes()
    told = 0
    for bit in range(8 * 60):
        data = bytearray(whole)
        data[bit // 8] ^= 1 << bit % 8
        clip.write_bytes(bytes(data))
        try:
            read_clip(tmp_path, "audio/0001.flac")
        except CompanionError:
            told += 1
    assert told > 100


def test_two_records_that_say_something_else_of_one_clip_are_told(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "job")
    bench.open()
    bench.call("note", ev.NoteKept(text="a", draft=True, clip="audio/0002.flac", clip_sha256="0"))
    bench.writer.close()
    (problem,) = check_log(tmp_path / "job").problems
    assert problem == "line 3 has another hash of audio/0002.flac than a record before it"


def test_a_log_from_before_the_hashes_is_whole_and_what_is_not_known_is_said(
    tmp_path: Path,
) -> None:
    bench = Bench(tmp_path / "job")
    bench.open()
    bench.call("gap thirty thou", clip_sha256=None)
    bench.writer.close()
    checked = check_log(tmp_path / "job")
    assert checked.ok
    assert checked.notes[0].endswith("has none of 1 clip: a change to their sound would not show")
    silenced(tmp_path / "job" / "audio" / "0002.flac")
    assert check_log(tmp_path / "job").ok


# --- nothing uses another sound -------------------------------------------------------------------
@pytest.mark.parametrize("harm", HARMS)
def test_the_report_plays_no_other_sound_and_says_why(
    harm: Callable[[Path], None], job: Path
) -> None:
    before = render_report(job).count("data:audio/flac")
    harm(job / CLIP)
    page = render_report(job)
    assert page.count("data:audio/flac") == before - 1
    assert "The clip audio/0005.flac " in page


@pytest.mark.parametrize("harm", [swapped, silenced, flipped])
def test_the_review_page_serves_no_other_sound(
    harm: Callable[[Path], None], job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in environment_of(job.parent.parent).items():
        monkeypatch.setenv(name, value)
    pages = Shop()
    app = review_application(pages, open_review, lambda: MONDAY)
    with serving(app, what="review page", files=1) as at, httpx.Client(base_url=at) as client:
        clip = f"/session/{key_of(job)}/clip/0005.flac"
        wave = f"/session/{key_of(job)}/wave/0005.flac"
        assert client.get(clip).status_code == 200
        assert client.get(wave).status_code == 200
        harm(job / CLIP)
        for address in (clip, wave):
            got = client.get(address)
            assert got.status_code == 404
            assert "was changed since it was recorded" in got.text
    pages.close()


def test_no_voice_is_fitted_to_another_sound(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "job")
    bench.open()
    for number in range(8):
        heard = bench.call("gap thirty thou", sound=tone(pitch=300 + 10 * number))
        bench.happen(ev.Reviewed(record=heard, heard=heard, by="Rosa", judgement="right"))
    bench.writer.close()
    assert len(from_session(tmp_path / "job", load_grammar())) == 8
    silenced(sorted((tmp_path / "job" / "audio").iterdir())[3])
    with pytest.raises(CompanionError, match="was changed since it was recorded"):
        from_session(tmp_path / "job", load_grammar())


def test_no_other_sound_leaves_with_an_export_or_comes_with_an_import(
    job: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def run(data: str, *arguments: str | Path) -> str:
        for name, value in environment_of(tmp_path / data).items():
            monkeypatch.setenv(name, value)
        main([str(argument) for argument in arguments])
        told = capsys.readouterr()
        return told.out + told.err

    out = tmp_path / "out.zip"
    run("data", "export", "job", "--zip", out)
    # Somebody puts another sound into the ZIP, and its hash into the manifest.
    with zipfile.ZipFile(out) as zipped:
        files = {name: zipped.read(name) for name in zipped.namelist()}
    old, new = files[f"job/{CLIP}"], flac(tone(pitch=900))
    files[f"job/{CLIP}"] = new
    manifest = json.loads(files["manifest.json"])
    for each in manifest["sessions"][0]["files"]:
        if each["path"] == CLIP:
            each |= {"bytes": len(new), "sha256": hashlib.sha256(new).hexdigest()}
    files["manifest.json"] = json.dumps(manifest).encode()
    forged = tmp_path / "forged.zip"
    with zipfile.ZipFile(forged, "w") as zipped:
        for name, data in files.items():
            zipped.writestr(name, data)
    told = run("there", "import", forged)
    assert f"it holds job/{CLIP}, which is not the sound that was recorded." in told
    assert not (tmp_path / "there" / "sessions").exists()
    assert len(old) != len(new)
    silenced(job / CLIP)
    told = run("data", "export", "job", "--zip", out, "--replace")
    assert f"job: {CLIP} was changed since it was recorded, and is left out." in told


# --- clips that are removed by age ----------------------------------------------------------------
def test_a_clip_that_is_another_is_not_removed_by_age(job: Path) -> None:
    silenced(job / CLIP)
    old = old_clips(job, datetime.now(UTC))
    assert CLIP not in old.clips
    remove_clips(old, datetime.now(UTC))
    (problem,) = check_log(job).problems
    assert "was changed since it was recorded" in problem


def test_what_is_said_to_be_removed_is_held_against_the_record(job: Path) -> None:
    remove_clips(old_clips(job, datetime.now(UTC)), datetime.now(UTC))
    checked = check_log(job)
    assert checked.ok
    assert "removed by age" in checked.notes[0]
    (job / REMOVED_NAME).write_text(
        json.dumps({"clip": CLIP, "at": "2026-05-01T10:00:00+00:00", "sha256": "0" * 64}) + "\n"
    )
    told = check_log(job).problems
    assert "line 5 names audio/0005.flac, which was another when removed" in told
