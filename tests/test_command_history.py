"""Two sessions of one machine, as commands: what the second knows of the first."""

from __future__ import annotations

import json
from pathlib import Path

from tests.conftest import Run, one_sentence

MACHINE = ("--machine", "quillmoor-tiller")


def work(companion: Run, *calls: str, out: str | None = None) -> str:
    where = () if out is None else ("--out", out)
    typed = "".join(f"{call}\n" for call in calls)
    run = companion("work", "--typed", "--quiet", *MACHINE, *where, typed=typed)
    assert run.returncode == 0, run.stderr
    return run.stdout


def test_the_second_session_knows_what_the_first_read(companion: Run, tmp_path: Path) -> None:
    first = work(
        companion, "compression 120 psi", "oil temperature 150 fahrenheit", "battery 12.6 volts"
    )
    assert "Down" not in first
    second = work(
        companion,
        "spec for oil temperature",
        "compression 95 psi",
        "read back compression",
        "battery 126 volts",
        out="second",
    )
    assert "Oil temperature, not from the maker: earlier today, one hundred fifty" in second
    assert "Compression, ninety five p s i. In." in second
    assert "Down twenty five since earlier today." in second
    assert "Earlier today, one hundred twenty p s i." in second
    assert "That is ten times the usual: one hundred twenty six or twelve point six volts" in second
    opened = json.loads((tmp_path / "second" / "log.jsonl").read_text().splitlines()[0])
    earlier = {each["measure"]: each["value"] for each in opened["data"]["earlier"]}
    assert earlier == {"compression": "120", "oil temperature": "150", "battery": "12.6"}


def test_the_log_alone_is_enough_when_the_first_session_is_gone(
    companion: Run, tmp_path: Path
) -> None:
    work(companion, "compression 120 psi", out="first")
    work(companion, "compression 95 psi", out="second")
    (tmp_path / "first").rename(tmp_path / "moved")
    run = companion("resume", "second", "--typed", "--quiet", typed="read back compression\n")
    assert run.returncode == 0, run.stderr
    assert "Earlier today, one hundred twenty p s i." in run.stdout
    # What is known of the machine from now on is only what is still there.
    listed = companion("sessions").stdout
    assert "second" in listed
    assert "first  gone: " in listed
    assert "--forget" in listed


def test_history_is_a_table_over_both_sessions_wherever_they_are(companion: Run) -> None:
    work(companion, "gap 40 thou", "gap 30 thou", "drained 18 ounces of oil")
    work(companion, "gap 29 thou", "used one spark plug", out="elsewhere")
    lines = companion("history", "quillmoor-tiller").stdout.splitlines()
    assert lines[0] == "Quillmoor rear tine tiller: 2 sessions"
    (gap,) = (line for line in lines if line.startswith("gap"))
    assert gap.split("  ")[1:] != []
    assert "29 thou, in" in gap
    assert "40 → 30 thou, in" in gap
    assert gap.index("29") < gap.index("40")
    assert any(line.startswith("oil drained") and "18 ounces" in line for line in lines)
    assert any(line.startswith("spark plug used") for line in lines)
    assert any("(elsewhere)" in line for line in lines)


def test_owner_sheet_parts_list_and_report_of_the_second_session(
    companion: Run, tmp_path: Path
) -> None:
    work(companion, "oil temperature 150 fahrenheit", "engine hours 100", out="first")
    work(
        companion,
        "engine hours 120",
        "oil temperature 160 fahrenheit",
        "cleaned air filter",
        "need a drive belt",
        out="second",
    )
    run = companion("report", "second", "--handover", "owner.html", "--parts", "second/parts.txt")
    assert run.returncode == 0, run.stderr
    assert run.stdout == "Sheet for the owner: owner.html\nParts list: second/parts.txt\n"
    assert not (tmp_path / "second" / "report.html").exists()
    owner = (tmp_path / "owner.html").read_text(encoding="utf-8")
    assert "120 engine hours" in owner
    assert "No figure from the maker; 150 °F on" in owner
    assert "Air filter: clean" in owner
    assert "At 145 engine hours" in owner
    assert "drive belt" in (tmp_path / "second" / "parts.txt").read_text(encoding="utf-8")
    assert companion("report", "second").returncode == 0
    report = (tmp_path / "second" / "report.html").read_text(encoding="utf-8")
    assert 'href="parts.txt"' in report
    assert "not from the maker: 150 fahrenheit on" in report


def test_a_parts_list_of_another_kind_is_wrong_use(companion: Run) -> None:
    work(companion, "gap 30 thou", out="job")
    sentence = one_sentence(companion("report", "job", "--parts", "list.doc"), 2)
    assert ".html, .txt, .csv" in sentence


def test_sessions_of_one_name_in_two_places_are_told_apart_by_their_paths(
    companion: Run, tmp_path: Path
) -> None:
    (tmp_path / "one").mkdir()
    (tmp_path / "two").mkdir()
    work(companion, "gap 30 thou", out="one/job")
    work(companion, "gap 30 thou", out="two/job")
    sentence = one_sentence(companion("log", "check", "job"), 1)
    assert str(tmp_path / "one" / "job") in sentence
    assert str(tmp_path / "two" / "job") in sentence


def test_a_typed_slip_of_the_point_is_asked_about_and_no_records_the_other(
    companion: Run, tmp_path: Path
) -> None:
    printed = work(companion, "gap 300 thou", "no", "yes", out="job")
    assert "That is ten times the usual: three hundred or thirty thou?" in printed
    readings = [
        json.loads(line)["data"]["value"]
        for line in (tmp_path / "job" / "log.jsonl").read_text().splitlines()
        if json.loads(line)["kind"] == "reading"
    ]
    assert readings == ["30"]
