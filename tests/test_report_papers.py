"""The report and the owner's sheet as they are looked at and printed, in a real browser."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Literal

import html5lib
import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser
from pypdf import PdfReader

from companion.cli import main
from companion.job import events as ev
from companion.log.photos import add_photo
from companion.log.writer import LogWriter
from companion.review.reviewer import open_review
from tests.browser import DESKTOP, PHONE, browser
from tests.logs import GAP, MONDAY, invented_job, reading

MONTHS = "Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec"

BROKEN_DATES = """() => {
  const found = [];
  const dates = /\\d{1,2}\\s(?:%s)[a-z]*\\b(?:,?\\s(?:\\d{4}|\\d\\d:\\d\\d))?/g;
  const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  let seen = 0;
  for (let node; node = walk.nextNode();) for (const each of node.data.matchAll(dates)) {
    const range = document.createRange();
    range.setStart(node, each.index); range.setEnd(node, each.index + each[0].length);
    const lines = new Set([...range.getClientRects()].map((r) => Math.round(r.top)));
    seen += lines.size > 0;
    if (lines.size > 1) found.push(each[0]);
  }
  return [seen, found];
}""".replace("%s", MONTHS)

COLORED = """() => [...document.querySelectorAll("body, body *:not(img)")].flatMap((e) => {
  const style = getComputedStyle(e);
  const shown = e.checkVisibility();
  const kinds = ["color", "backgroundColor", "borderTopColor", "borderLeftColor", "fill"];
  return kinds.filter((name) => {
    const parts = (style[name].match(/[\\d.]+/g) || []).map(Number);
    return shown && parts.length > 2 && parts[3] !== 0 && new Set(parts.slice(0, 3)).size > 1;
  }).map((name) => `${e.tagName}.${e.className} ${name} ${style[name]}`);
})"""


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Both pages of a job of which everything is known that can be, made by the command."""
    folder = tmp_path_factory.mktemp("papers")
    job = folder / "2026-03-02-0915-quillmoor-tiller"
    invented_job(job, clips=False)
    with LogWriter.open(job) as writer:
        writer.append(
            [
                ev.NoteKept(about="complaint", text="it surges on a slope", draft=False),
                reading("gap", "0.79", "millimeter", verdict="high", window=GAP),
            ],
            MONDAY,
        )
    _look_over(job)
    picture = io.BytesIO()
    Image.new("RGB", (800, 600), (90, 60, 30)).save(picture, "JPEG")
    for step in ("drain-oil", "set-gap"):
        add_photo(job, picture.getvalue(), step=step, by="Rosa", at=MONDAY)
    settings = folder / "settings.toml"
    settings.write_text(
        'shop_name = "Mill Lane Engines (invented)"\n'
        'shop_address = "14 Mill Lane\\nQuillmoor"\nshop_phone = "555 0142"\n'
    )
    made = {name: folder / f"{name}.html" for name in ("report", "owner", "whole")}
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCH_COMPANION_SETTINGS", str(settings))
        order = ["--customer", "Ida Fenwick (invented)", "--work-order", "2026-118"]
        report, owner = str(made["report"]), str(made["owner"])
        assert main(["report", str(job), "--html", report, "--handover", owner, *order]) == 0
        assert main(["report", str(job), "--html", str(made["whole"]), "--transcript"]) == 0
    return made


def _look_over(job: Path) -> None:
    """Sign the job off, and set something aside after that."""
    later = MONDAY + timedelta(days=2)
    with open_review(job) as review:
        seqs = {
            record.event.text: record.seq
            for record in review.records
            if isinstance(record.event, ev.Heard)
        }
        review.right(seqs["engine stopped"], by="Rosa", at=later)
        review.sign_off(by="Rosa", at=later)
        later += timedelta(hours=3)
        made = review.set_aside(
            seqs["used one spark plug"], by="Ned", why="another machine", at=later
        )
        assert made.kind == "recorded"


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as opened:
        yield opened


def printed(chromium: Browser, page: Path, paper: str = "A4") -> list[str]:
    """The text of each page that a browser prints."""
    tab = chromium.new_page()
    tab.goto(page.as_uri())
    data = tab.pdf(format=paper)
    tab.close()
    return [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]


@pytest.mark.parametrize("name", ["report", "owner"])
def test_the_page_is_valid(pages: dict[str, Path], name: str) -> None:
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    tree = parser.parse(pages[name].read_text(encoding="utf-8"))
    assert tree.find(".//h1") is not None


def test_every_section_can_be_jumped_to(pages: dict[str, Path]) -> None:
    html = pages["report"].read_text(encoding="utf-8")
    sections = re.findall(r"<section[^>]*>", html)
    names = [re.search(r'id="([^"]+)"', section) for section in sections]
    assert len(sections) >= 14
    nav = html[html.index("<nav") : html.index("</nav>")]
    for section, name in zip(sections, names, strict=True):
        assert name is not None, section
        assert f'href="#{name[1]}"' in nav


def test_the_report_prints_the_summary_first_and_the_transcript_only_if_asked(
    pages: dict[str, Path], chromium: Browser
) -> None:
    plain = "\n".join(printed(chromium, pages["report"]))
    first = [plain.index(title) for title in ("Found", "Done", "Out of window", "Still to come")]
    assert max(first) < plain.index("Readings") < plain.index("Small print")
    for words in (
        "Drive belt worn: not mended yet", "Tightened: handle bolt", "To get: 2 × shear pin",
        "To come back to: carburetor", "Compression 75 psi: low by 15 psi; wanted at least 90 psi",
        "The customer says: “it surges on a slope”", "Ida Fenwick", "2026-118",
    ):  # fmt: skip
        assert words in re.sub(r"\s+", " ", plain), words
    assert "Transcript" not in plain
    assert "whisper" not in plain[: plain.index("Small print")]
    whole = "\n".join(printed(chromium, pages["whole"]))
    assert "gap thirteen thou" not in plain
    assert "Transcript" in whole
    assert "“gap thirty thou”" in whole
    broken = rf"\d\s*\n\s*(?:{MONTHS})[a-z]*|(?:{MONTHS})[a-z]*,?\s*\n\s*\d"
    assert not re.search(broken, whole)


def test_a_window_is_in_the_unit_called(pages: dict[str, Path]) -> None:
    html = re.sub(r"<[^>]+>", "", pages["report"].read_text(encoding="utf-8"))
    # One thou is 0.0254 mm exactly: 28 and 31 thou are 0.7112 and 0.7874 mm.
    assert "0.7112 to 0.7874 mm" in html
    assert "where it is 28 to 31 thou" in html
    assert "rounded to four digits, half to even" in html
    owner = re.sub(r"<[^>]+>", "", pages["owner"].read_text(encoding="utf-8"))
    assert "should be 0.7112 to 0.7874 mm" in owner


def test_what_was_set_aside_after_the_job_shows_who_when_and_why(pages: dict[str, Path]) -> None:
    html = pages["report"].read_text(encoding="utf-8")
    used = html[html.index('<section id="used">') :]
    text = " ".join(re.sub(r"<[^>]+>", " ", used[: used.index("</section>")]).split())
    assert '<li class="gone"><span class="what">1 × spark plug' in used
    assert "disregarded by Ned, 4 Mar, 12:15: another machine after sign-off № " in text
    over = html[html.index('<section id="looked-over">') :]
    text = " ".join(re.sub(r"<[^>]+>", " ", over[: over.index("</section>")]).split())
    assert "Signed off by Rosa on 4 March 2026, 09:15" in text
    assert "1 change after sign-off" in text
    assert "1 call was marked right." in text
    assert "Set aside: “used one spark plug” , because: another machine after sign-off" in text
    owner = pages["owner"].read_text(encoding="utf-8")
    assert "Spark plug" not in owner
    assert "signed off by Rosa" in owner
    # Nothing of all that was work on the machine.
    assert "3\N{NO-BREAK SPACE}March\N{NO-BREAK SPACE}2026, 11:24" in html


@pytest.mark.parametrize("paper", ["Letter", "A4"])
def test_the_owners_sheet_is_one_page_with_shop_customer_and_signatures(
    pages: dict[str, Path], chromium: Browser, paper: str
) -> None:
    (text,) = printed(chromium, pages["owner"], paper)
    for words in (
        "Mill Lane Engines (invented)", "14 Mill Lane", "555 0142", "Ida Fenwick (invented)",
        "2026-118", "Received by the owner", "For the shop", "Drain oil",
    ):  # fmt: skip
        assert words in text
    assert "of the card" not in text


@pytest.mark.parametrize("name", ["report", "owner"])
def test_it_fits_a_telephone_and_no_date_wraps(
    pages: dict[str, Path], chromium: Browser, name: str
) -> None:
    width, height = PHONE
    tab = chromium.new_page(viewport={"width": width, "height": height})
    tab.goto(pages[name].as_uri())
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    seen, broken = tab.evaluate(BROKEN_DATES)
    assert seen >= (30 if name == "report" else 3)
    assert broken == []
    tab.close()


@pytest.mark.parametrize("name", ["report", "owner"])
def test_in_print_nothing_is_told_by_color(
    pages: dict[str, Path], chromium: Browser, name: str
) -> None:
    tab = chromium.new_page()
    tab.emulate_media(media="print")
    tab.goto(pages[name].as_uri())
    assert tab.evaluate(COLORED) == []
    tab.close()


@pytest.mark.parametrize(("scheme", "size"), [("light", PHONE), ("dark", DESKTOP)])
@pytest.mark.parametrize("name", ["report", "owner"])
def test_axe_finds_nothing_serious(
    pages: dict[str, Path],
    chromium: Browser,
    name: str,
    scheme: Literal["light", "dark"],
    size: tuple[int, int],
) -> None:
    tab = chromium.new_page(viewport={"width": size[0], "height": size[1]}, color_scheme=scheme)
    tab.goto(pages[name].as_uri())
    found = Axe().run(tab).response["violations"]
    serious = [each for each in found if each["impact"] in ("serious", "critical")]
    assert [(each["id"], each["nodes"][0]["html"]) for each in serious] == []
    tab.close()
