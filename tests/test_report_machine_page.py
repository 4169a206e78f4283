"""The page of a machine: what it tells, how it looks, and that no word in it is taken for HTML."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import html5lib
import pytest

from companion.job import events as ev
from companion.log.index import SessionIndex
from companion.log.index_history import MachineHistory
from companion.report.machine_page import machine_body, render_machine, write_machine
from tests.browser import DESKTOP, PHONE, browser
from tests.logs import MACHINE, Bench, reading
from tests.years import TILLER, tiller_of_years


@pytest.fixture(scope="module")
def history(tmp_path_factory: pytest.TempPathFactory) -> Iterator[MachineHistory]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BENCH_COMPANION_DATA", str(tmp_path_factory.mktemp("data")))
        tiller_of_years()
        with SessionIndex() as index:
            yield index.machine(TILLER)


def test_it_tells_what_stands_what_is_due_and_what_it_took(history: MachineHistory) -> None:
    page = render_machine(history)
    assert "Shear pin broken" in page
    assert "Come back to the carburetor" in page
    assert "Needs 1 drive belt" in page
    assert "Overdue: at 65 engine hours or by 3 July 2023" in page
    assert "121 h on 30 March 2026" in page
    assert "1 spark plug fitted" in page
    assert "The customer: runs rough when hot" in page
    # The filter was cleaned since it was found dirty.
    assert "Air filter dirty <" not in page


def test_each_reading_is_a_shape_and_a_line_of_the_list(history: MachineHistory) -> None:
    page = html5lib.parse(render_machine(history), namespaceHTMLElements=False)
    titles = [each.text for each in page.iter("{http://www.w3.org/2000/svg}title")]
    assert "9 April 2024: 38 thou, high by 7 thou" in titles
    assert "30 March 2026: 84 psi, low by 6 psi" in titles
    rows = ["".join(each.itertext()) for each in page.iter("tr")]
    assert any("30 March 2026" in row and "84 psi" in row and "low by 6 psi" in row for row in rows)
    # A single reading makes no plot.
    assert len(list(page.iter("{http://www.w3.org/2000/svg}polyline"))) == 3


def test_the_page_is_valid_html_and_asks_for_nothing(history: MachineHistory) -> None:
    parser = html5lib.HTMLParser(strict=True)
    parser.parse(render_machine(history))
    assert "http://" not in render_machine(history)
    assert "style=" not in machine_body(history)
    assert "<html" not in machine_body(history)


def test_sessions_are_linked_where_they_can_be_looked_at(history: MachineHistory) -> None:
    body = machine_body(history, lambda session: f"/session/{session.name}")
    assert f'href="/session/{history.sessions[0].name}"' in body
    assert "href" not in machine_body(history)


def test_nothing_that_was_said_is_taken_for_a_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BENCH_COMPANION_DATA", str(tmp_path))
    hostile = "<script>alert(1)</script>\"'>&"
    bench = Bench(tmp_path / "sessions" / "a", clips=False)
    bench.open(machine={**MACHINE, "name": hostile, "kind": hostile})
    bench.call("note", ev.NoteKept(text=hostile, draft=False))
    bench.call("part", ev.FindingRecorded(part=hostile, condition="broken"))
    for value in ("30", "40"):
        bench.call("gap", reading(hostile, value, "thou", verdict="in"))
    bench.writer.close()
    with SessionIndex() as index:
        page = render_machine(index.machine(index.machines()[0].key))
    assert "<script" not in page
    assert page.count("&lt;script&gt;") > 4


def test_it_fits_a_phone_and_a_desk_and_prints(history: MachineHistory, tmp_path: Path) -> None:
    page = write_machine(history, tmp_path / "machine.html")
    with browser() as chromium:
        for width, height in (PHONE, DESKTOP):
            opened = chromium.new_page(viewport={"width": width, "height": height})
            opened.goto(page.as_uri())
            assert opened.evaluate("document.documentElement.scrollWidth") <= width
            assert opened.locator("svg.plot").count() == 3
            narrow = opened.locator("svg.plot").first.bounding_box()
            assert narrow is not None
            assert narrow["width"] > 250
        assert opened.pdf(format="A4").startswith(b"%PDF")
