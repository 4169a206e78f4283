"""What is kept outside of a log, by which a log that was written anew shows: an anchor, and
signatures by the shop's key."""

from __future__ import annotations

import re
import shutil
import stat
from pathlib import Path

import pytest

from companion.errors import WrongUse
from companion.job import events as ev
from companion.log.anchor import Anchor
from companion.log.check import check_log
from companion.log.reader import read_log
from companion.log.shop_key import key_path, make_key, read_public
from companion.log.signatures import SIGNATURES_NAME, sign_log
from companion.log.writer import LogWriter
from companion.review.reviewer import open_review
from tests.conftest import Run, one_sentence
from tests.logs import MONDAY, invented_job


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("anchor") / "job"
    invented_job(folder, clips=False)
    return folder


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


@pytest.fixture
def job(whole: Path, data: Path) -> Path:
    return Path(shutil.copytree(whole, data / "sessions" / "job"))


def written_anew(job: Path, changed: str = "31") -> None:
    """Everything as it was but for one figure, with a new chain and a new tip."""
    records = read_log(job).records
    shutil.rmtree(job)
    with LogWriter.create(job) as writer:
        for record in records:
            event = record.event
            if isinstance(event, ev.NoteKept):
                event = event.model_copy(update={"text": changed})
            writer.append([event], record.at)


# --- the anchor -----------------------------------------------------------------------------------
def test_a_log_written_anew_with_a_new_chain_passes_alone_and_not_by_its_anchor(job: Path) -> None:
    anchor = read_log(job).anchor
    assert check_log(job, anchor=anchor).whole
    written_anew(job)
    assert check_log(job).whole
    (problem,) = check_log(job, anchor=anchor).problems
    assert problem.startswith(f"the anchor: records 1 to {anchor.records} are not what stood then")


def test_what_was_gone_on_with_since_still_begins_with_what_stood(job: Path) -> None:
    anchor = read_log(job).anchor
    with LogWriter.open(job) as writer:
        writer.append([ev.Standby()], MONDAY)
    checked = check_log(job, anchor=anchor)
    assert checked.whole
    assert checked.proved == (
        f"the anchor: records 1 to {anchor.records} are exactly what stood then",
    )


def test_cut_off_with_its_tip_the_end_is_missed_by_the_anchor(job: Path) -> None:
    anchor = read_log(job).anchor
    lines = (job / "log.jsonl").read_bytes().splitlines(keepends=True)
    (job / "log.jsonl").write_bytes(b"".join(lines[:-30]))
    (job / "log.tip").unlink()
    told = check_log(job, anchor=anchor).problems
    assert told == (
        f"the anchor: there were {anchor.records} records then, and {anchor.records - 30} are here",
    )


def test_without_a_tip_an_anchor_of_the_end_vouches_for_it(job: Path) -> None:
    anchor = read_log(job).anchor
    (job / "log.tip").unlink()
    assert not check_log(job).whole
    assert check_log(job, anchor=anchor).whole
    assert not check_log(job, anchor=Anchor(3, anchor.sha256)).whole


def test_the_report_and_the_owners_sheet_print_it_and_it_can_be_typed(
    job: Path, companion: Run, data: Path
) -> None:
    full = read_log(job).anchor.full
    companion("report", job)
    companion("report", job, "--handover", data / "sheet.html")
    for page in (job / "report.html", data / "sheet.html"):
        html = page.read_text(encoding="utf-8")
        assert f'<meta name="log-anchor" content="{full}">' in html
        (short,) = set(re.findall(r"\b\d+(?:-[0-9a-f]{4}){5}\b", html))
        for typed in (short, short.upper(), short.replace("-", " ").replace(" ", "-", 1), full):
            run = companion("log", "check", job, "--anchor", typed)
            assert run.returncode == 0, typed
            assert "are exactly what stood then" in run.stdout


@pytest.mark.parametrize("typed", ["", "abc", "12-", "12-abc", "12-" + "g" * 20, "x" * 300])
def test_what_is_no_anchor_is_refused(typed: str) -> None:
    with pytest.raises(WrongUse, match="is no anchor; type it as the report has it"):
        Anchor.read(typed)


# --- signatures -----------------------------------------------------------------------------------
def test_a_key_is_made_once_for_its_owner_alone_and_shown(
    companion: Run, shop: dict[str, str]
) -> None:
    assert "make it with 'companion key make'" in one_sentence(companion("key", "show"), 1)
    made = companion("key", "make")
    public = made.stdout.split("Public key: ")[1].strip()
    key = Path(shop["BENCH_COMPANION_DATA"]) / "shop.key"
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert companion("key", "show").stdout == f"{public}\n"
    before = key.read_bytes()
    assert "There is a key already" in one_sentence(companion("key", "make"), 1)
    assert key.read_bytes() == before
    key.write_bytes(b"no key")
    assert "is no Ed25519 key" in one_sentence(companion("key", "show"), 1)


def test_a_signed_log_written_anew_shows_by_the_signature(job: Path) -> None:
    public = make_key()
    made = sign_log(job, MONDAY)
    assert made is not None
    assert made.anchor == read_log(job).anchor
    assert check_log(job, public=public, must=True).whole
    signatures = (job / SIGNATURES_NAME).read_bytes()
    written_anew(job)
    # Taken away, it shows only to whoever knows that there was one.
    assert check_log(job, public=public).whole
    assert check_log(job, public=public, must=True).problems == (
        f"it is not signed by the key {public}",
    )
    (job / SIGNATURES_NAME).write_bytes(signatures)
    (problem,) = check_log(job, public=public).problems
    # Nobody typed it.
    assert problem.endswith("are not what stood then: the log was written anew, or this is another")
    # Whoever has the key signs anything: the documents say so.
    (job / SIGNATURES_NAME).unlink()
    sign_log(job, MONDAY)
    assert check_log(job, public=public, must=True).whole


def test_a_signature_that_was_changed_or_is_by_another_key_proves_nothing(job: Path) -> None:
    public = make_key()
    sign_log(job, MONDAY)
    path = job / SIGNATURES_NAME
    whole = path.read_bytes()
    path.write_bytes(whole.replace(b'"records":', b'"records":1'))
    assert check_log(job, public=public).problems[0].endswith("is not by the key that it names")
    path.write_bytes(whole)
    key_path().rename(key_path().with_name("old.key"))
    other = make_key()
    checked = check_log(job, public=other, must=True)
    assert checked.problems == (f"it is not signed by the key {other}",)
    assert "which nobody here vouches for" in " ".join(checked.notes)


def test_lines_that_are_no_signatures_are_passed_over(job: Path) -> None:
    public = make_key()
    (job / SIGNATURES_NAME).write_bytes(b'{"v":1}\n[[[\n\xff\n' + b'{"v":1,"records":"x"}\n[' * 3)
    sign_log(job, MONDAY)
    assert check_log(job, public=public, must=True).whole
    # Signed again as it stands, nothing is added.
    size = (job / SIGNATURES_NAME).stat().st_size
    sign_log(job, MONDAY)
    assert (job / SIGNATURES_NAME).stat().st_size == size


def test_without_a_key_nothing_is_signed(job: Path) -> None:
    assert sign_log(job, MONDAY) is None
    assert not (job / SIGNATURES_NAME).exists()


def test_a_report_is_signed(job: Path, companion: Run) -> None:
    public = companion("key", "make").stdout.split("Public key: ")[1].strip()
    companion("report", job)
    (line,) = (job / SIGNATURES_NAME).read_bytes().split()
    assert public.encode() in line
    page = (job / "report.html").read_text(encoding="utf-8")
    assert f"by the key {public}" in page


def test_a_sign_off_is_signed(job: Path) -> None:
    public = make_key()
    reviewer = open_review(job)
    reviewer.sign_off(by="Rosa", at=MONDAY)
    reviewer.close()
    checked = check_log(job, public=public, must=True)
    assert checked.whole
    assert f"records 1 to {len(read_log(job).records)} are exactly" in checked.proved[0]


@pytest.mark.parametrize("typed", ["", "0" * 63, "g" * 64])
def test_what_is_no_public_key_is_refused(typed: str) -> None:
    with pytest.raises(WrongUse, match="is no public key"):
        read_public(typed)
