"""``companion calls --html``: the calls on one or two sheets of paper, made from the active grammar
and looked at in a browser."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path

import html5lib
import pytest
from playwright.sync_api import Browser
from pypdf import PdfReader

from companion.calls import EXAMPLES, sheet_of_calls
from companion.cli import main
from companion.commands.given import Job
from companion.grammar.compiled import CallGrammar
from companion.intent.plain_calls import frames_of
from companion.report.calls_page import render_calls
from companion.settings import Settings
from companion.shelf.load import load_card, load_sheet, shipped_cards, shipped_sheets
from tests.browser import browser

SMALLEST_POINTS = 9.0
"""Of the letters of a call: read at arm's length; on most sheets they have 11 or more."""

JOBS: dict[str, tuple[str | None, str | None]] = {
    "any": (None, None),
    "service": ("four-stroke-service", "quillmoor-tiller"),
    **{f"card {name}": (name, None) for name in shipped_cards()[:2]},
    **{f"sheet {name}": (None, name) for name in shipped_sheets()[-2:]},
}


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def grammars() -> dict[str, CallGrammar]:
    return {name: job(name).grammar(Settings()) for name in JOBS}


def job(name: str) -> Job:
    card, sheet = JOBS[name]
    return Job(load_card(card) if card else None, load_sheet(sheet) if sheet else None)


def rendered(name: str, grammars: dict[str, CallGrammar]) -> str:
    of = job(name)
    return render_calls(
        sheet_of_calls(grammars[name], call_sign="bench", card=of.card, sheet=of.sheet)
    )


@pytest.mark.parametrize("name", JOBS)
def test_it_fills_two_sheets_of_a4_and_of_letter_with_large_letters(
    name: str, grammars: dict[str, CallGrammar], chromium: Browser
) -> None:
    html = rendered(name, grammars)
    tab = chromium.new_page(viewport={"width": 720, "height": 980})
    try:
        tab.set_content(html)
        for paper in ("A4", "Letter"):
            pages = PdfReader(io.BytesIO(tab.pdf(format=paper))).pages
            assert len(pages) == 2
            assert pages[1].extract_text().startswith("NAMES")
        tab.emulate_media(media="print")
        for section in tab.query_selector_all("section"):
            box = section.bounding_box()
            assert box is not None
            # Two thirds of a sheet at least: no larger letters fit by much.
            assert 170 < box["height"] * 25.4 / 96 <= 258
        points = [
            float(size) * 72 / 25.4 for size in re.findall(r'style="font-size: ([\d.]+)mm', html)
        ]
        assert min(points) > SMALLEST_POINTS
    finally:
        tab.close()


@pytest.mark.parametrize("name", JOBS)
def test_every_call_of_the_grammar_and_every_name_stands_on_it_and_nothing_else(
    name: str, grammars: dict[str, CallGrammar]
) -> None:
    grammar = grammars[name]
    page = html5lib.parse(rendered(name, grammars), namespaceHTMLElements=False)
    calls: set[str] = set()
    for shown in page.findall(".//div[@class='families']//li/b"):
        text = shown.text or ""
        before, plus, after = text.partition(" + ")
        if not plus:
            calls.add(text)
        elif after.isupper():
            calls |= {f"{each} {after}" for each in before.split(" / ")}
        else:
            calls |= {f"{before} {each}" for each in after.split(" / ")}
    assert calls == {frame.text for frame in frames_of(grammar)}
    examples = [each.text for each in page.findall(".//li/i")]
    assert len(examples) >= 8
    assert set(examples) <= set(EXAMPLES)
    for example in examples:
        assert example is not None
        assert grammar.parse(example.split()), example
    for call in page.findall(".//dl[@class='always']//dt"):
        assert grammar.parse((call.text or "").split())


def test_a_call_that_the_grammar_has_not_is_not_on_it(grammars: dict[str, CallGrammar]) -> None:
    names = re.findall(r"<li><b>([^<]*)</b>", rendered("service", grammars).split("<h1>Names")[1])
    assert "shear pin" in names
    assert "make safe" in names
    assert "hour meter glass" not in names


def test_the_command_writes_it_and_replaces_its_own_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path / "data"))
    page = tmp_path / "calls.html"
    for _ in range(2):
        assert main(["calls", "--html", str(page)]) == 0
        assert capsys.readouterr().out == f"Calls: {page}\n"
    page.write_text("mine")
    assert main(["calls", "--html", str(page)]) == 1
    assert "--replace" in capsys.readouterr().err
    assert main(["calls", "--html", str(page), "--replace"]) == 0
    text = page.read_text(encoding="utf-8")
    assert "<script" not in text
    assert "http" not in text.replace("http-equiv", "")
