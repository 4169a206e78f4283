"""The page of hanging tags: a tag to print for each, and plain words where none hangs."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from companion.cli import main
from companion.errors import CompanionError
from companion.intent.intents import Finding, TagClear, TagHang
from companion.job import events as ev
from companion.log.writer import LogWriter
from companion.report.hang_tags import LETTER_WIDTH, LINE_MM, hang_tags, render_tags, write_tags
from tests.bench_job import AFFIRM, CARD, SHEET, Job, drained, level, step, work


def session(folder: Path, job: Job) -> Path:
    """A session folder whose log holds what happened in a job."""
    with LogWriter.create(folder) as writer:
        for record in job.records:
            writer.append([record.event], record.at)
    return folder


class Text(HTMLParser):
    """The words of each element of one kind."""

    def __init__(self, kind: str) -> None:
        super().__init__()
        self.kind, self.depth, self.found = kind, 0, list[str]()

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag == self.kind:
            self.depth += 1
            self.found.append("")

    def handle_endtag(self, tag: str) -> None:
        self.depth -= tag == self.kind

    def handle_data(self, data: str) -> None:
        if self.depth:
            self.found[-1] = " ".join(f"{self.found[-1]} {data}".split())


def texts(page: str, kind: str) -> list[str]:
    reader = Text(kind)
    reader.feed(page)
    return reader.found


def test_each_hanging_tag_is_a_tag_to_print(tmp_path: Path) -> None:
    job = Job(SHEET, CARD).open().call(step("done"), drained("20"), TagHang(tag="do not start"))
    job.call(TagHang(tag="fuel off"), TagClear(tag="fuel off"), AFFIRM)
    tags = texts(render_tags(session(tmp_path / "s", job)), "article")
    assert len(tags) == 3
    assert all("Do not start" in tag and "Tumblewick 5 tiller" in tag for tag in tags)
    wire, oil, hung = tags
    assert "plug wire off" in wire
    assert "Hung by The job card, step make safe" in wire
    assert "Since 4 March 2024, 09:00" in oil
    assert "Oil was drained, none was called added" in oil
    assert "call “oil level full”; then hear the question out" in oil
    assert "Hung by A call for it at the bench" in hung
    assert "call “clear tag do not start”" in hung
    assert all("Initials of who hung it" in tag and "29 CFR 1910.147" in tag for tag in tags)


def test_bolts_left_loose_are_named_each_with_what_is_called_for_it() -> None:
    job = Job().call(work("loosened", "handle bolt"), work("removed", "deck bolt"))
    (tag,) = hang_tags(job.state)
    assert tag.reason == "Handle bolt was loosened, deck bolt was removed."
    assert "call each one of “tightened handle bolt” and “tightened deck bolt”" in tag.clears


def test_where_nothing_hangs_the_page_says_so_and_what_is_not_known(tmp_path: Path) -> None:
    job = Job(SHEET).call(level("full"), Finding(part="handle bolt", condition="loose"))
    page = render_tags(session(tmp_path / "s", job))
    assert texts(page, "article") == []
    assert texts(page, "h1") == ["No tag hangs"]
    (section,) = texts(page, "section")
    assert "Handle bolt was called loose and not called mended." in section
    assert "guards" in section
    assert "oil level" not in section
    assert "does not mean that the machine may be started" in section


def test_the_page_needs_nothing_from_elsewhere_and_runs_nothing(tmp_path: Path) -> None:
    page = render_tags(session(tmp_path / "s", Job().call(TagHang(tag="fuel off"))))
    assert not re.search(r"(?<!-)\bsrc\b|href|url\(|@import|https?:", page)
    assert "<script" not in page


def test_what_a_log_holds_is_only_text_on_the_page(tmp_path: Path) -> None:
    job = Job()
    job.keep(ev.TagHung(tag="<b>x</b>", by="step", reason="step <i>y</i>"))
    page = render_tags(session(tmp_path / "s", job))
    assert "<b>x" not in page
    assert "<i>y" not in page


@pytest.mark.parametrize("text", ["no oil", "plug wire off", "somebody works under this machine"])
@pytest.mark.parametrize("others", [0, 1])
def test_the_words_of_a_tag_fill_the_width_and_no_more(text: str, others: int) -> None:
    job = Job().call(TagHang(tag=text), *[TagHang(tag="fuel off")] * others)
    tag = hang_tags(job.state)[0]
    assert 0 < tag.size * LETTER_WIDTH * len(text) <= LINE_MM + 1


def test_the_command_writes_the_page_beside_the_log_or_where_it_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = session(tmp_path / "s", Job().call(TagHang(tag="fuel off")))
    assert main(["tags", str(folder)]) == 0
    assert (folder / "tags.html").is_file()
    assert main(["tags", str(folder), "--html", str(tmp_path / "t.html")]) == 0
    assert "fuel off" in (tmp_path / "t.html").read_text(encoding="utf-8")
    assert f"Tags: {tmp_path / 't.html'}" in capsys.readouterr().out
    assert main(["tags", str(folder), "--html", str(tmp_path / "none" / "t.html")]) == 1
    assert "cannot be written" in capsys.readouterr().err


def test_a_unit_of_a_later_version_is_refused_in_a_sentence(tmp_path: Path) -> None:
    job = Job().call(drained("20"))
    moved = job.last(ev.FluidMoved).model_copy(update={"unit": "firkin"})
    with LogWriter.create(tmp_path / "s") as writer:
        writer.append([moved], job.now)
    with pytest.raises(CompanionError, match="has a unit that this version does not know"):
        render_tags(tmp_path / "s")


def test_the_log_is_never_written_over(tmp_path: Path) -> None:
    folder = session(tmp_path / "s", Job())
    with pytest.raises(CompanionError, match="belongs to the log"):
        write_tags(folder, folder / "log.jsonl")
