"""``companion sheets NAME``: one readable page of a sheet, and who the machine is on the report."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from companion.cli import main
from companion.intent.intents import SpecAsk
from companion.job.answers import SpecSaid
from companion.job.sheet import SpecSheet
from companion.job.sheet_measures import measures
from companion.report.page import render_report
from companion.report.sheet_page import WIDTH, sheet_page
from companion.session.opening import open_session
from companion.shelf.load import load_sheet, shipped_sheets
from companion.speak.wording import word
from tests.bench_job import MONDAY, Job, reading


def printed(sheet: dict[str, Any], **options: Any) -> str:
    """The page with the spaces that only align it taken out."""
    page = sheet_page(SpecSheet.model_validate({"name": "X", "kind": "y", **sheet}), **options)
    return "\n".join(" ".join(line.split()) for line in page.splitlines())


@pytest.mark.parametrize("name", shipped_sheets())
def test_the_page_names_every_figure_of_the_sheet_and_fits_on_paper(name: str) -> None:
    sheet = load_sheet(name)
    page = sheet_page(sheet)
    assert max(len(line) for line in page.splitlines()) <= WIDTH
    words = " ".join(page.split())
    for each in (
        *(row.measure for row in sheet.reading),
        *(fluid.name for fluid in sheet.fluid),
        *(grade.grade for fluid in sheet.fluid for grade in fluid.grades),
        *(torque.fastener for torque in sheet.torque),
        *(belt.name for belt in sheet.belt),
        *(service.item for service in sheet.service),
        sheet.name,
        sheet.identification.engine,
        "Invented",
        "maker's manual, local codes and licensed practice come first",
    ):
        assert each is not None
        assert each in words, each


def test_the_command_prints_the_page(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sheets", "wrenlow-trimmer"]) == 0
    page = capsys.readouterr().out
    assert page.startswith("Wrenlow string trimmer\n")
    assert "50 to 1 with oil" in page
    assert "Not known yet\n  coil resistance." in page


def test_the_command_prints_a_sheet_of_the_shops_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "own.toml"
    path.write_text('name = "Own"\nkind = "mower"\n', encoding="utf-8")
    assert main(["sheets", str(path)]) == 0
    assert capsys.readouterr().out.startswith("Own\n")


def test_a_sheet_that_is_not_there_is_one_plain_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sheets", "no-such"]) == 1
    assert "There is no spec sheet 'no-such'" in capsys.readouterr().err


def test_figures_stand_in_both_systems_with_whose_ounce() -> None:
    # NIST SP 811 B.8: 1 in = 25.4 mm; 1 US fl oz = 29.573 53 mL, 1 imperial fl oz = 28.413 06 mL.
    sheet = {
        "reading": [{"measure": "gap", "unit": "thou", "low": "28", "high": "31"}],
        "fluid": [{"name": "oil", "capacity": "20", "unit": "ounce"}],
    }
    assert "gap 28 to 31 thou (0.711 to 0.787 mm)" in printed(sheet)
    assert "oil 20 US fl oz (591 mL)" in printed(sheet)
    assert "oil 20 imp fl oz (568 mL)" in printed(sheet, ounce="imperial")
    sheet["fluid"][0]["unit"] = "us ounce"
    assert "oil 20 US fl oz (591 mL)" in printed(sheet, ounce="imperial")


def test_what_nobody_knows_says_so() -> None:
    page = printed({"reading": [{"measure": "oil temperature", "unit": "celsius"}]})
    assert "oil temperature not known" in page
    assert "Call it out: it is kept with the job, not as the maker's figure." in page


def test_the_report_says_which_machine_it_is(tmp_path: Path) -> None:
    sheet = load_sheet("tarnfield-mower")
    open_session(tmp_path / "job", at=MONDAY, sheet=sheet).close()
    page = render_report(tmp_path / "job")
    for value in ("Tarnfield", "W 21 S", "2018", "TE 163 V"):
        assert f"<dd>{value}</dd>" in page
    assert "Serial number" not in page, "nobody wrote it down"


def test_the_report_says_what_to_fill_and_how_far_it_is(tmp_path: Path) -> None:
    session = open_session(tmp_path / "job", at=MONDAY, sheet=load_sheet("tarnfield-mower"))
    session.typed("drained 16 ounces of oil", MONDAY)
    session.typed("added 9 ounces of oil", MONDAY)
    session.close()
    page = render_report(tmp_path / "job")
    assert "5W-30 from -20 to 40 °F, SAE 30 from 40 to 110 °F" in page
    # 9 of 18 ounces.
    assert "50 % of what it takes went in since it was drained." in page


# --- asked for aloud ----------------------------------------------------------------------------


SHIPPED = load_sheet("tarnfield-mower").model_dump(mode="json")


def said(job: Job) -> str:
    reply = word(job.state, job.events, job.answers)
    assert reply is not None
    return reply.whole


def test_a_torque_is_judged_against_its_fastener() -> None:
    job = Job(SHIPPED).call(reading("blade bolt torque", "60", "newton meter"))
    event = job.events[0]
    assert event.kind == "reading"
    # 38 to 45 foot pounds are 51.5 to 61.0 newton meters (NIST SP 811: 1.355 818 N m).
    assert event.verdict == "in"
    job.call(reading("blade bolt torque", "62", "newton meter"))
    assert "High by zero point nine nine." in said(job)


def test_the_spec_of_a_fastener_says_how_its_thread_must_be() -> None:
    job = Job(SHIPPED).call(SpecAsk(measure="blade bolt torque"))
    assert said(job) == "Blade bolt torque, thirty eight to forty five foot pounds, dry."
    job.call(SpecAsk(measure="intake clearance"))
    assert said(job) == "Intake clearance, four to six thou, engine cold."


def test_the_spec_of_what_nobody_knows_says_what_to_do() -> None:
    job = Job(SHIPPED).call(SpecAsk(measure="oil temperature"))
    assert job.answers == (SpecSaid("oil temperature", None),)
    assert said(job) == (
        "The sheet has no figure for oil temperature. "
        "Call it out and it is kept, not as the maker's."
    )


@pytest.mark.parametrize("name", shipped_sheets())
def test_no_spec_takes_longer_to_say_than_a_person_listens(name: str) -> None:
    # About 22 words are eight seconds.
    sheet = load_sheet(name)
    job = Job(sheet.model_dump(mode="json"))
    for measure in measures(sheet):
        job.call(SpecAsk(measure=measure.measure))
        assert len(said(job).split()) <= 22, said(job)
