"""The sheet for the owner and the parts list: what they say, in every form, and where they go."""

from __future__ import annotations

import csv
import io
import re
from datetime import timedelta
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from companion.errors import CompanionError, WrongUse
from companion.job import events as ev
from companion.job.remark import EngineNotAsWanted
from companion.report.handover import render_handover, write_handover
from companion.report.hang_tags import render_tags
from companion.report.page import write_report
from companion.report.parts import as_csv, as_text, parts_list, write_parts
from companion.report.watching import advice_on
from tests.logs import CARD, GAP, MACHINE, MONDAY, Bench, fluid, invented_job, reading

# An invented machine with invented intervals.
TILLER: dict[str, Any] = {
    **MACHINE,
    "identification": {"maker": "Quillmoor", "model": "RT 6", "serial": "0042"},
    "belt": [{"name": "drive belt", "size": "A38"}],
    "service": [
        {"item": "oil", "work": "change", "hours": "50", "months": 12},
        {"item": "air filter", "work": "clean", "hours": "25"},
        {"item": "fuel", "work": "drain", "season": "end"},
    ],
}


def hours(value: str) -> ev.ReadingRecorded:
    return reading("engine hours", value, "hour", verdict="unknown")


def job(folder: Path, *events: ev.AnyEvent, machine: dict[str, Any] | None = TILLER) -> Path:
    bench = Bench(folder, clips=False)
    bench.open(machine=machine)
    for event in events:
        bench.call("a call", event)
    bench.happen(ev.JobClosed())
    bench.writer.close()
    return folder


class Text(HTMLParser):
    """The words of a page, and whatever it would load from elsewhere."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.loads: list[str] = []
        self.skipping = 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.skipping += tag in ("style", "script")
        self.loads += [value or "" for name, value in attrs if name in ("src", "href")]

    def handle_endtag(self, tag: str) -> None:
        self.skipping -= tag in ("style", "script")

    def handle_data(self, data: str) -> None:
        if not self.skipping:
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


def sheet(folder: Path) -> str:
    return Text(render_handover(folder)).text


# --- what it says -------------------------------------------------------------------------------
def test_found_done_measured_replaced_next_and_watch(tmp_path: Path) -> None:
    folder = job(
        tmp_path / "job",
        hours("120.5"),
        ev.FindingRecorded(part="drive belt", condition="worn"),
        ev.FindingRecorded(part="handle bolt", condition="loose"),
        ev.WorkRecorded(action="tightened", part="handle bolt"),
        reading("gap", "40", "thou", verdict="high", window=GAP, beyond=Decimal(9)),
        reading("gap", "30", "thou", verdict="in", window=GAP),
        fluid("drained", "18", "ounce"),
        fluid("added", "20", "ounce"),
        ev.LevelRead(fluid="oil", level="full"),
        ev.PartUsed(part="spark plug", count=1),
        ev.FollowUpRecorded(part="carburetor"),
    )
    text = sheet(folder)
    assert "Maker Quillmoor" in text
    assert "Hour meter 120.5 engine hours" in text
    assert "Drive belt worn: not mended yet" in text
    assert "Handle bolt loose : tightened" in text
    assert "Tightened: handle bolt" in text
    assert "Gap 40 thou 30 thou 0.762 mm Right: 28 to 31 thou" in text
    assert "Replaced Spark plug" in text
    # 18 and 20 US fluid ounces of 29.5735 mL (NIST SP 811 B.8).
    assert "drained 18 US fl oz (532 mL), added 20 US fl oz (591 mL), level full" in text
    assert "Oil: change At 170.5 engine hours or by 2 March 2027 In this job" in text
    assert "Air filter: clean Every 25 engine hours Not known" in text
    assert "Fuel: drain At the end of each season Not known" in text
    assert "Drive belt worn. It can slip or part under load" in text
    assert "Carburetor: still to come back to." in text
    assert "The maker's manual, local rules and licensed practice come before this sheet." in text


def test_what_reads_wrong_is_told_in_plain_words_and_watched(tmp_path: Path) -> None:
    low = reading(
        "gap", "20", "thou", verdict="low", window=GAP, beyond=Decimal(8),
        remarks=(EngineNotAsWanted(wanted="cold"),),
    )  # fmt: skip
    text = sheet(job(tmp_path / "job", low))
    said = (
        "too low by 8 thou; should be 28 to 31 thou; the figure is for a cold engine, and this "
        "one was hot"
    )
    assert f"Gap 20 thou: {said}." in text
    assert f"T{said[1:]}" in text


def test_what_was_corrected_or_disregarded_is_not_on_it(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "job", clips=False)
    bench.open(machine=TILLER)
    wrong = bench.writer.next_seq + 1
    bench.call("x", ev.FindingRecorded(part="shear pin", condition="broken"))
    bench.call("disregard", ev.Disregarded(record=wrong))
    bench.writer.close()
    assert "shear pin" not in sheet(tmp_path / "job").lower()


def test_a_hanging_tag_and_a_job_not_finished_stand_at_the_top(tmp_path: Path) -> None:
    invented_job(tmp_path / "job", clips=False)
    text = sheet(tmp_path / "job")
    assert "Do not start: a tag still hangs plug wire off" in text
    assert "not finished: open" in text
    assert text.index("Do not start") < text.index("Measured")


def test_what_is_overdue_comes_first_and_says_so(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "job", clips=False)
    before = ev.EarlierService(
        item="air filter", work="clean", at=MONDAY - timedelta(days=400), hours=Decimal(60)
    )
    bench.happen(
        ev.SessionOpened(
            session="job", machine=TILLER, card=CARD, call_sign="bench", ounce="us",
            software="test", serviced_before=(before,),
        )
    )  # fmt: skip
    bench.call("engine hours ninety", hours("90"))
    bench.writer.close()
    text = sheet(tmp_path / "job")
    late = "Air filter: clean Overdue: at 85 engine hours 26 January 2025 at 60 engine hours"
    assert late in text
    assert text.index("Air filter: clean") < text.index("Oil: change")


def test_a_job_without_card_and_sheet_has_one_too(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "job", clips=False)
    bench.open(machine=None, card=None)
    bench.writer.close()
    text = sheet(tmp_path / "job")
    assert "Nothing was called in this job." in text
    assert "those in the maker's manual hold" in text


@pytest.mark.parametrize(
    ("part", "condition", "begins"),
    [
        ("fuel line", "leaking", "Do not run it or store it indoors"),
        ("blade", "cracked", "Do not run it: what turns"),
        ("belt guard", "missing", "Do not run it without a sound guard"),
        ("drive belt", "worn", "It can slip"),
        ("shaft seal", "leaking", "Look underneath"),
        ("spark plug", "fouled", "Have it seen to; the maker's manual"),
    ],
)
def test_advice_fits_the_part_and_its_condition(part: str, condition: str, begins: str) -> None:
    assert advice_on(part, condition).startswith(begins)


def test_what_was_only_taken_off_and_put_back_is_left_out(tmp_path: Path) -> None:
    folder = job(
        tmp_path / "job",
        *(
            ev.WorkRecorded(action=action, part=part)
            for action, part in (
                ("removed", "belt guard"),
                ("removed", "muffler guard"),
                ("cleaned", "air filter"),
                ("closed", "fuel valve"),
                ("installed", "belt guard"),
                ("opened", "fuel valve"),
                ("closed", "fuel valve"),
            )
        ),
    )
    text = sheet(folder)
    assert "Removed: muffler guard Cleaned: air filter Closed: fuel valve" in text
    assert "Installed" not in text
    assert "Opened" not in text


def test_what_can_hurt_stands_first(tmp_path: Path) -> None:
    text = sheet(
        job(
            tmp_path / "job",
            ev.FindingRecorded(part="drive belt", condition="worn"),
            ev.FindingRecorded(part="fuel line", condition="leaking"),
        )
    )
    assert text.index("Fuel line leaking") < text.index("Drive belt worn")


@pytest.mark.parametrize("invented", [True, False])
def test_only_a_machine_that_is_invented_itself_stamps_a_page(
    tmp_path: Path, invented: bool
) -> None:
    folder = job(tmp_path / "job", machine={**TILLER, "invented": invented})
    assert CARD["invented"]
    pages = [render_handover(folder), render_tags(folder), as_text(parts_list(folder))]
    pages.append(write_report(folder).read_text(encoding="utf-8"))
    assert ["(invented" in page or "invented data" in page for page in pages] == [invented] * 4


# --- the page -----------------------------------------------------------------------------------
def test_both_pages_need_nothing_from_elsewhere(tmp_path: Path) -> None:
    invented_job(tmp_path / "job", clips=False)
    for html in (
        write_handover(tmp_path / "job").read_text(encoding="utf-8"),
        write_parts(tmp_path / "job", tmp_path / "p.html").read_text(encoding="utf-8"),
    ):
        assert Text(html).loads == []
        assert "default-src 'none'" in html
        assert "url(" not in html
        assert "@page" in html


@given(part=st.text(min_size=1, max_size=30))
@settings(
    deadline=None,
    max_examples=25,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
def test_whatever_a_log_holds_is_text_and_never_markup(
    tmp_path_factory: pytest.TempPathFactory, part: str
) -> None:
    folder = job(
        tmp_path_factory.mktemp("any") / "job",
        ev.FindingRecorded(part=f"<img src=x>{part}", condition="<b>worn"),
        ev.PartNeeded(part=f"<script>{part}", count=1),
    )
    assert Text(render_handover(folder)).loads == []
    html = write_parts(folder, folder / "p.html").read_text(encoding="utf-8")
    assert "<script>" not in html


# --- parts --------------------------------------------------------------------------------------
def a_job_with_parts(folder: Path) -> Path:
    return job(
        folder,
        ev.PartNeeded(part="shear pin", count=2),
        ev.PartNeeded(part="drive belt", count=1),
        ev.PartNeeded(part="drive belt", count=1),
        ev.PartUsed(part="shear pin", count=2),
        ev.WorkRecorded(action="replaced", part="air filter"),
        fluid("drained", "18", "ounce"),
        fluid("added", "12", "ounce"),
    )


def test_needed_used_and_fluids_with_grade_and_what_is_still_to_fill(tmp_path: Path) -> None:
    listed = parts_list(a_job_with_parts(tmp_path / "job"))
    items = {
        section.title: [(item.name, item.amount, item.note) for item in section.items]
        for section in listed.sections
    }
    # The shear pins were needed, bought and used: now they are to be restocked.
    assert items["Needed"] == [("drive belt", "2", "A38")]
    assert items["Used, to restock"] == [
        ("shear pin", "2", ""),
        ("air filter", "", "how many was not called"),
    ]
    assert items["Fluids"] == [
        ("oil", "8 US fl oz (237 mL)", "still to fill; SAE 30"),
        ("oil", "12 US fl oz (355 mL)", "used; SAE 30"),
    ]


def test_the_card_says_what_the_steps_left_take_and_what_the_job_uses_up(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "job", clips=False)
    steps = [
        {"name": "plug", "say": "Fit the plug.", "parts": [{"name": "spark plug"}]},
        {
            "name": "belt",
            "say": "Fit the belt.",
            "parts": [{"name": "drive belt", "count": 2}],
            "consumables": ["rags", "penetrant"],
        },
    ]
    bench.open(machine=TILLER, card={"name": "service", "title": "Service", "step": steps})
    bench.call("step done", ev.StepDone(step="plug"))
    bench.call("used a drive belt", ev.PartUsed(part="drive belt", count=1))
    bench.writer.close()
    sections = {
        section.title: [(item.name, item.amount) for item in section.items]
        for section in parts_list(tmp_path / "job").sections
    }
    assert sections == {
        "For the steps that are left": [("drive belt", "1")],
        "Used, to restock": [("drive belt", "1")],
        "Consumables of the job": [("rags", ""), ("penetrant", "")],
    }


def test_as_text_it_is_a_line_an_item(tmp_path: Path) -> None:
    file = write_parts(a_job_with_parts(tmp_path / "job"), tmp_path / "parts.txt")
    text = file.read_text(encoding="utf-8")
    assert "NEEDED\n[ ] 2  drive belt (A38)\n" in text
    assert "Serial number: 0042" in text


def test_as_csv_it_is_what_python_reads_back(tmp_path: Path) -> None:
    file = write_parts(a_job_with_parts(tmp_path / "job"), tmp_path / "parts.csv")
    rows = list(csv.DictReader(io.StringIO(file.read_text(encoding="utf-8"), newline="")))
    assert rows[0] == {
        "list": "Needed",
        "name": "drive belt",
        "amount": "2",
        "note": "A38",
        "machine": "Quillmoor tiller",
    }
    assert b"\r\n" in file.read_bytes()


def test_no_cell_is_a_formula(tmp_path: Path) -> None:
    listed = parts_list(job(tmp_path / "job", ev.PartNeeded(part="=1+1", count=1)))
    assert not re.search(r"(^|,)[=+@-]", as_csv(listed), re.MULTILINE)


def test_nothing_to_get_says_so(tmp_path: Path) -> None:
    file = write_parts(job(tmp_path / "job"), tmp_path / "parts.txt")
    assert file.read_text(encoding="utf-8").endswith("Nothing to get.\n")


def test_another_suffix_and_the_log_itself_are_refused(tmp_path: Path) -> None:
    folder = job(tmp_path / "job")
    with pytest.raises(WrongUse, match=r"ends in \.html, \.txt, \.csv"):
        write_parts(folder, tmp_path / "parts.pdf")
    with pytest.raises(CompanionError, match="belongs to the log"):
        write_handover(folder, folder / "log.jsonl")
    with pytest.raises(CompanionError, match="cannot be written"):
        write_handover(folder, tmp_path / "missing" / "sheet.html")


def test_the_report_links_to_what_stands_beside_it(tmp_path: Path) -> None:
    folder = a_job_with_parts(tmp_path / "job")
    assert 'href="handover.html"' not in write_report(folder).read_text(encoding="utf-8")
    write_handover(folder)
    write_parts(folder, folder / "parts.csv")
    html = write_report(folder).read_text(encoding="utf-8")
    assert 'href="handover.html"' in html
    assert 'href="parts.csv"' in html
    assert 'href="parts.html"' not in html
