"""The report: every figure is there, each leads to what it came from, and nothing else gets in."""

from __future__ import annotations

import base64
import re
from datetime import timedelta
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.job import events as ev
from companion.log.reader import read_log
from companion.log.writer import LogWriter
from companion.report.page import render_report, write_report
from tests.logs import GAP, MONDAY, Bench, any_event, fluid, invented_job, reading

VOID = {"meta", "link", "br", "img", "input", "hr", "rect", "source"}


class Element:
    """An element of a parsed page."""

    def __init__(self, tag: str, attributes: dict[str, str], parent: Element | None) -> None:
        self.tag = tag
        self.attributes = attributes
        self.parent = parent
        self.children: list[Element | str] = []

    def text(self) -> str:
        """Everything written in it, with single spaces."""
        parts = [c if isinstance(c, str) else f" {c.text()} " for c in self.children]
        return re.sub(r"\s+", " ", "".join(parts)).strip()

    def all(self, tag: str = "", **attributes: str) -> list[Element]:
        """Elements inside, by tag and attributes (``class_`` means one of the classes)."""
        found: list[Element] = []
        for child in self.children:
            if isinstance(child, Element):
                if child.matches(tag, attributes):
                    found.append(child)
                found += child.all(tag, **attributes)
        return found

    def one(self, tag: str = "", **attributes: str) -> Element:
        (element,) = self.all(tag, **attributes)
        return element

    def matches(self, tag: str, attributes: dict[str, str]) -> bool:
        classes = self.attributes.get("class", "").split()
        return (not tag or self.tag == tag) and all(
            value in classes if name == "class_" else self.attributes.get(name) == value
            for name, value in attributes.items()
        )


class Parser(HTMLParser):
    """Builds the tree and insists that what is opened is closed in order."""

    def __init__(self) -> None:
        super().__init__()
        self.root = self.at = Element("", {}, None)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs}, self.at)
        self.at.children.append(element)
        if tag not in VOID:
            self.at = element

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.at.children.append(Element(tag, {n: v or "" for n, v in attrs}, self.at))

    def handle_endtag(self, tag: str) -> None:
        assert self.at.tag == tag, f"</{tag}> closes <{self.at.tag}>"
        assert self.at.parent is not None
        self.at = self.at.parent

    def handle_data(self, data: str) -> None:
        self.at.children.append(data)


def parse(html: str) -> Element:
    parser = Parser()
    parser.feed(html)
    parser.close()
    assert parser.at is parser.root, f"<{parser.at.tag}> is never closed"
    return parser.root


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("report") / "2026-03-02-0915-quillmoor-tiller"
    invented_job(folder)
    return folder


@pytest.fixture(scope="module")
def page(job: Path) -> Element:
    return parse(render_report(job))


def links(element: Element) -> list[str]:
    return [a.attributes["href"] for a in element.all("a")]


def row(section: Element, *words: str) -> Element:
    """The one row or list item that shows all these words."""
    (found,) = (
        item
        for item in [*section.all("tr"), *section.all("li")]
        if all(word in item.text() for word in words)
    )
    return found


def test_the_head_says_machine_card_times_and_how_the_job_stands(page: Element) -> None:
    header = page.one("header").text()
    assert page.one("h1").text() == "Quillmoor tiller"
    for words in (
        "Spring service",
        "open",
        "invented data",
        "2 March 2026, 09:15",
        "3 March 2026, 11:24",
    ):
        assert words in header


def test_engines_versions_and_hashes_stand_at_the_end_only(page: Element) -> None:
    last = page.all("section")[-1]
    assert last.attributes["id"] == "how-heard"
    for words in ("UTC+01:00", "2026-03-02-0915-quillmoor-tiller", "whisper tiny.en: ", "SHA-256"):
        assert words in last.text()
        assert page.one("main").text().count(words) == 1


def test_hanging_tags_stand_in_a_banner_before_everything_else(page: Element) -> None:
    banner = page.all("section")[0]
    assert "hanging" in banner.attributes["class"]
    assert "Do not start: 1 tag still hangs" in banner.text()
    assert "plug wire off" in banner.text()
    assert "no oil" not in banner.text()
    assert "Not checked when it was last asked: fuel." in banner.text()


def test_the_banner_names_every_bolt_left_loose_and_the_page_what_was_found_loose(
    tmp_path: Path,
) -> None:
    with LogWriter.create(tmp_path / "loose") as writer:
        writer.append(
            [
                ev.WorkRecorded(action="loosened", part="handle bolt"),
                ev.TagHung(tag="bolts loose", by="implied", reason="handle bolt was loosened"),
                ev.WorkRecorded(action="loosened", part="deck bolt"),
            ],
            MONDAY,
        )
    page = render_report(tmp_path / "loose")
    assert "handle bolt and deck bolt were loosened" in page
    with LogWriter.create(tmp_path / "found") as writer:
        writer.append([ev.FindingRecorded(part="handle bolt", condition="loose")], MONDAY)
    page = render_report(tmp_path / "found")
    assert "All the same, do not start: handle bolt was called loose and not called mended." in page


def test_without_a_hanging_tag_the_page_still_does_not_call_the_machine_safe(
    tmp_path: Path,
) -> None:
    with LogWriter.create(tmp_path) as writer:
        writer.append([ev.JobParked()], MONDAY)
    start = parse(render_report(tmp_path)).one("section", id="start").text()
    assert start.startswith("No tag hangs")
    assert "does not mean that the machine is safe" in start


def test_a_reading_shows_both_units_window_verdict_and_evidence(page: Element) -> None:
    readings = page.one("section", id="readings")
    # NIST SP 811, B.8: 1 psi is 6.894757 kPa, so 75 psi is 517 kPa.
    low = row(readings, "compression")
    for words in ("75 psi", "517 kPa", "at least 90 psi", "invented sheet", "low by 15 psi"):
        assert words in low.text()
    assert low.all("svg", class_="low")
    # One inch is 25.4 mm exactly, so 31 thou is 0.7874 mm.
    good = row(readings, "31 thou", "0.787 mm")
    assert "28 to 31 thou" in good.text()
    assert good.one(class_="chip").text() == "in"


def test_what_was_corrected_is_struck_through_and_points_at_what_replaced_it(
    page: Element,
) -> None:
    readings = page.one("section", id="readings")
    old = row(readings, "30 thou")
    new = row(readings, "0.787 mm")
    assert "gone" in old.attributes["class"].split()
    assert "gone" not in new.attributes["class"].split()
    evidence = links(new)[0]
    assert old.one(class_="pointer").text() == f"corrected by № {evidence[2:]}"
    assert links(old)[1] == evidence
    finding = row(page.one("section", id="findings"), "shear pin broken")
    assert "gone" in finding.attributes["class"].split()
    assert "disregarded by №" in finding.text()


def test_every_figure_is_on_the_page_and_leads_to_the_call_it_came_from(
    job: Path, page: Element
) -> None:
    kinds = {
        "reading": "readings",
        "fluid": "fluids",
        "level": "fluids",
        "part.needed": "needed",
        "part.used": "used",
        "finding": "findings",
        "work": "work",
        "followup": "follow-ups",
        "note": "notes",
        "timer.started": "timers",
        "tag.cleared": "tags",
        "tag.hung": "tags",
        "step.done": "steps",
        "step.skipped": "steps",
    }
    checked = 0
    for record in read_log(job).records:
        if record.event.kind not in kinds:
            continue
        section = page.one("section", id=kinds[record.event.kind])
        evidence = record.event.heard or record.seq
        assert f"#r{evidence}" in links(section), record
        target = page.one(id=f"r{evidence}")
        heard = read_log(job).records[evidence - 1].event
        if isinstance(heard, ev.Heard):
            assert heard.text in target.text()
            assert "confidence" in target.text()
        checked += 1
    assert checked >= 18


def test_the_evidence_shows_confidence_rivals_reasons_and_the_clip(
    job: Path, page: Element
) -> None:
    heard = next(
        record
        for record in read_log(job).records
        if isinstance(record.event, ev.Heard) and record.event.text == "gap thirty thou"
    )
    turn = page.one("details", id=f"r{heard.seq}")
    for words in ("81 %", "99 %", "gap thirteen thou", "11 %", "in the spec window"):
        assert words in turn.text()
    audio = turn.one("audio")
    assert audio.attributes["preload"] == "none"
    kind, _, content = audio.attributes["src"].partition(";base64,")
    assert kind == "data:audio/flac"
    assert isinstance(heard.event, ev.Heard)
    assert heard.event.clip is not None
    assert base64.b64decode(content) == (job / heard.event.clip).read_bytes()


def test_every_record_has_one_place_and_every_link_leads_to_one(job: Path, page: Element) -> None:
    ids = [element.attributes["id"] for element in page.all() if "id" in element.attributes]
    assert len(ids) == len(set(ids))
    assert {f"r{record.seq}" for record in read_log(job).records} <= set(ids)
    for href in links(page):
        assert href.startswith("#")
        assert href[1:] in ids


def test_the_page_needs_nothing_from_elsewhere(page: Element) -> None:
    for element in page.all():
        for name in ("src", "href", "data", "poster", "srcset", "action", "background"):
            address = element.attributes.get(name, "#")
            assert address.startswith(("#", "data:")), (element.tag, name, address)
        assert element.tag not in ("link", "iframe", "object", "embed", "base", "form")
    style = page.one("style").text()
    assert "url(" not in style
    assert "@import" not in style
    policy = page.one("meta", **{"http-equiv": "Content-Security-Policy"}).attributes["content"]
    assert policy.startswith("default-src 'none'")


def test_fluids_are_summed_with_bars_and_a_net(page: Element) -> None:
    text = page.one("section", id="fluids").text()
    # 18 US fl oz is 532 mL (NIST SP 811, B.8: 29.57353 mL each); 0.5 L and 1 oz are 529.6 mL.
    for words in ("18 US fl oz", "532 mL", "17.9 US fl oz", "0.5 L", "level full"):
        assert words in text
    assert "Net 0.1 US fl oz = 3 mL more out than in." in text
    assert "To what the sheet says it takes: 2.1 US fl oz more." in text
    bars = page.one("section", id="fluids").all("svg")
    widths = [float(bar.all("rect")[1].attributes["width"]) for bar in bars]
    assert widths == [90.0, pytest.approx(89.5, abs=0.2), 100.0]


@pytest.mark.parametrize(
    ("added", "words"),
    [
        ("18", "As much in as out. To what the sheet says it takes: 2 US fl oz more."),
        ("20", "Net 2 US fl oz = 59 mL more in than out. Filled to what the sheet says it takes."),
        ("23", "Since it was drained 3 US fl oz more went in than the sheet says it takes."),
    ],
)
def test_a_filling_is_held_against_what_the_sheet_says(
    tmp_path: Path, added: str, words: str
) -> None:
    bench = Bench(tmp_path, clips=False)
    bench.open()
    bench.call("drained", fluid("drained", "18", "ounce"))
    bench.call("added", fluid("added", added, "ounce"))
    bench.writer.close()
    assert words in parse(render_report(tmp_path)).one("section", id="fluids").text()


def test_imperial_ounces_are_told_apart(tmp_path: Path) -> None:
    with LogWriter.create(tmp_path) as writer:
        opened = ev.SessionOpened(
            session="x",
            machine=None,
            card=None,
            call_sign="bench",
            ounce="imperial",
            software="0",
        )
        writer.append([opened, fluid("added", "20", "ounce")], MONDAY)
    text = parse(render_report(tmp_path)).one("section", id="fluids").text()
    # 20 imperial fluid ounces, an imperial pint, are 568 mL (NIST SP 811, B.8).
    assert "20 imp fl oz" in text
    assert "568 mL" in text


def test_tags_timers_and_steps_tell_their_whole_story(page: Element) -> None:
    tags = page.one("section", id="tags")
    assert "still hangs" in row(tags, "plug wire off").text()
    assert "3 Mar, 11:24" in row(tags, "no oil").text()
    soak = row(page.one("section", id="timers"), "soak").text()
    for words in ("2 h", "2 Mar, 09:20", "2 Mar, 11:20", "rang, acknowledged 2 Mar, 11:22"):
        assert words in soak
    steps = page.one("section", id="steps")
    assert steps.one("h2").text() == "Steps: 2 of 5 done"
    marks = [chip.text() for chip in steps.all(class_="chip")]
    assert marks == ["done", "skipped", "done", "at this step", "left"]


def test_parts_to_get_are_one_list_to_shop_with(tmp_path: Path) -> None:
    bench = Bench(tmp_path, clips=False)
    bench.open()
    bench.call("need two shear pins", ev.PartNeeded(part="shear pin", count=2))
    bench.call("need a shear pin", ev.PartNeeded(part="shear pin", count=1))
    dropped = bench.writer.next_seq + 1
    bench.call("need nine belts", ev.PartNeeded(part="belt", count=9))
    bench.call("disregard", ev.Disregarded(record=dropped))
    bench.writer.close()
    needed = parse(render_report(tmp_path)).one("section", id="needed")
    (shop,) = needed.all("ul", class_="shopping")
    assert [item.text() for item in shop.all("li")] == ["3 × shear pin № 2 № 4"]
    assert "disregarded by № 8" in row(needed, "9 × belt").text()


def test_a_draft_note_says_that_nobody_checked_it(page: Element) -> None:
    note = page.one("section", id="notes").text()
    assert "the cable is frayed at the lever" in note
    assert "draft: nobody has checked these words" in note


def test_a_timer_that_was_replaced_cancelled_or_left_ringing_says_so(tmp_path: Path) -> None:
    def start(name: str, **more: Any) -> ev.TimerStarted:
        due = MONDAY + timedelta(minutes=15)
        return ev.TimerStarted(name=name, seconds=900, due=due, **more)

    with LogWriter.create(tmp_path) as writer:
        writer.append(
            [
                start("soak"),
                ev.TimerCancelled(name="soak", replaced=True),
                start("soak", replaces=1),
                start("cool down"),
                ev.TimerCancelled(name="cool down"),
                start("settle"),
                ev.TimerRang(name="settle", count=1),
                ev.TimerRang(name="settle", count=2),
            ],
            MONDAY,
        )
    timers = parse(render_report(tmp_path)).one("section", id="timers")
    ends = [line.all("td")[4].text().split(" 2 Mar")[0] for line in timers.all("tr")[1:]]
    assert ends == ["started anew", "running", "cancelled", "rang 2 times, not acknowledged"]


HOSTILE = (
    """<script>alert(1)</script>"'><img src=x onerror=alert(2)></style></details>&amp;{{7*7}}"""
)


def test_hostile_words_stay_words(tmp_path: Path) -> None:
    bench = Bench(tmp_path, clips=False)
    bench.open(
        machine={"name": HOSTILE, "kind": HOSTILE},
        card={"name": "x", "title": HOSTILE, "step": [{"name": HOSTILE, "say": HOSTILE}]},
    )
    window = ev.Window(low=Decimal(1), unit="thou", source=HOSTILE)
    bench.call(
        HOSTILE,
        reading(HOSTILE, "30", "thou", verdict="in", window=window),
        ev.NoteKept(text=HOSTILE, draft=True),
        ev.TagHung(tag=HOSTILE, by="voice", reason=HOSTILE),
        ev.PartNeeded(part=HOSTILE, count=1),
        ev.FluidMoved(
            action="added",
            fluid=HOSTILE,
            value=Decimal(1),
            unit=HOSTILE,
            si={"value": 1.0, "unit": "m3"},
        ),
        ev.StepDone(step=HOSTILE),
        ev.TimerStarted(name=HOSTILE, seconds=1, due=MONDAY),
        said=HOSTILE,
        rivals=(ev.Rival(text=HOSTILE, confidence=0.1),),
        reasons=(HOSTILE,),
        draft=HOSTILE,
        engine=HOSTILE,
    )
    bench.happen(ev.Trouble(what=HOSTILE), ev.CautionSpoken(caution=HOSTILE, text=HOSTILE))
    bench.writer.close()
    html = render_report(tmp_path)
    page = parse(html)
    assert len(page.all("script")) == 1
    assert page.all("img") == []
    assert not any(name.startswith("on") for element in page.all() for name in element.attributes)
    assert "alert(1)" not in page.one("script").text()
    words = re.sub(r"\s+", " ", HOSTILE)
    assert words in page.one("section", id="notes").text()
    assert html.count("&lt;script&gt;") >= 15
    assert "49" not in page.one("section", id="notes").text()


def test_hundreds_of_exchanges_are_folded_by_day_and_each_by_itself(tmp_path: Path) -> None:
    bench = Bench(tmp_path, clips=False)
    bench.open()
    for number in range(300):
        bench.call("gap thirty thou", reading("gap", "30", "thou", verdict="in", window=GAP))
        if number % 3 == 0:
            bench.call("", outcome="ignore")
            bench.call("", outcome="ignore")
    bench.writer.close()
    page = parse(render_report(tmp_path))
    days = page.all("details", class_="day")
    assert days
    assert all("open" not in day.attributes for day in days)
    assert len(page.all("details", class_="turn")) == 300
    # Talk that was no call takes one line however much of it there was, and says nothing of it.
    assert page.one("section", id="exchange").text().count("2 stretches of talk or noise") == 100


def test_a_missing_clip_is_told_and_costs_nothing_else(tmp_path: Path) -> None:
    invented_job(tmp_path)
    for clip in (tmp_path / "audio").glob("*.flac"):
        clip.unlink()
    page = parse(render_report(tmp_path))
    assert page.all("audio") == []
    assert "cannot be read" in page.one("section", id="exchange").text()
    assert "31 thou" in page.one("section", id="readings").text()


def test_a_unit_of_a_later_version_is_shown_as_it_is(tmp_path: Path) -> None:
    odd = fluid("added", "2", "ounce").model_copy(update={"unit": "firkin"})
    odd_reading = reading("gap", "3", "thou", verdict="in", window=GAP)
    with LogWriter.create(tmp_path) as writer:
        writer.append([odd, odd_reading.model_copy(update={"unit": "line"})], MONDAY)
    page = parse(render_report(tmp_path))
    assert "2 firkin" in page.one("section", id="fluids").text()
    assert "No totals" in page.one("section", id="fluids").text()
    assert "3 line" in page.one("section", id="readings").text()


def test_a_torn_end_is_told_on_the_page(tmp_path: Path) -> None:
    invented_job(tmp_path, clips=False)
    log = tmp_path / "log.jsonl"
    log.write_bytes(log.read_bytes()[:-5])
    assert "was torn" in parse(render_report(tmp_path)).text()


@given(events=st.lists(any_event(), min_size=1, max_size=12))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_log_gives_a_sound_page(
    tmp_path_factory: pytest.TempPathFactory, events: list[ev.AnyEvent]
) -> None:
    # Cards and sheets are checked where they are loaded; whatever else may be in a log.
    events = [event for event in events if not isinstance(event, ev.SessionOpened)]
    folder = tmp_path_factory.mktemp("any")
    with LogWriter.create(folder) as writer:
        writer.append([ev.JobParked(), *events], MONDAY)
    page = parse(render_report(folder))
    ids = [element.attributes["id"] for element in page.all() if "id" in element.attributes]
    assert len(ids) == len(set(ids))
    assert {f"r{seq}" for seq in range(1, len(events) + 2)} <= set(ids)


def test_a_report_is_written_in_the_session_folder_or_where_it_is_asked_for(
    tmp_path: Path,
) -> None:
    invented_job(tmp_path / "job", clips=False)
    assert write_report(tmp_path / "job") == tmp_path / "job" / "report.html"
    page = tmp_path / "page.html"
    page.write_text(render_report(tmp_path / "job").replace("<h1>", "<h1>Old "))
    assert write_report(tmp_path / "job", page) == page
    assert page.read_text(encoding="utf-8") == render_report(tmp_path / "job")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job", "page.html"]


def test_a_report_that_cannot_be_written_is_told_and_the_log_is_never_written_over(
    tmp_path: Path,
) -> None:
    invented_job(tmp_path / "job", clips=False)
    with pytest.raises(CompanionError, match="cannot be written"):
        write_report(tmp_path / "job", tmp_path / "nowhere" / "page.html")
    with pytest.raises(CompanionError, match="cannot be written"):
        write_report(tmp_path / "job", tmp_path / "job")
    before = (tmp_path / "job" / "log.jsonl").read_bytes()
    with pytest.raises(CompanionError, match="belongs to the log"):
        write_report(tmp_path / "job", tmp_path / "job" / "log.jsonl")
    assert (tmp_path / "job" / "log.jsonl").read_bytes() == before
    with pytest.raises(CompanionError, match="no session folder"):
        write_report(tmp_path / "nowhere")
