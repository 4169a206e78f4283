"""A job at the bench with typed calls: log, readbacks, park and resume, report."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tests.conftest import Run

JOB = ("--job", "four-stroke-service", "--machine", "quillmoor-tiller")


def lines(folder: Path) -> list[dict[str, Any]]:
    """The records of a session, as they stand in its log."""
    return [json.loads(line) for line in (folder / "log.jsonl").read_text().splitlines()]


def kinds(folder: Path) -> list[str]:
    return [line["kind"] for line in lines(folder)]


def work(companion: Run, out: str, *calls: str) -> str:
    run = companion(
        "work", "--typed", "--quiet", *JOB, "--out", out, typed="".join(f"{c}\n" for c in calls)
    )
    assert run.returncode == 0, run.stderr
    return run.stdout


def test_a_reading_is_judged_recorded_and_read_back(companion: Run, tmp_path: Path) -> None:
    printed = work(companion, "job", "gap thirty thou", "gap forty thou")
    records = lines(tmp_path / "job")
    readings = [line["data"] for line in records if line["kind"] == "reading"]
    assert [(r["value"], r["unit"], r["verdict"]) for r in readings] == [
        ("30", "thou", "in"),
        ("40", "thou", "high"),
    ]
    said = [line["data"]["text"].lower() for line in records if line["kind"] == "said"]
    assert any("thirty" in text and "thou" in text for text in said)
    # Forty sounds like fourteen, so it is read back digit by digit as well.
    assert any("four zero" in text and "high" in text for text in said)
    assert "thirty" in printed.lower()


def test_what_was_heard_stands_before_what_it_caused(companion: Run, tmp_path: Path) -> None:
    work(companion, "job", "gap thirty thou")
    records = lines(tmp_path / "job")
    reading = next(line for line in records if line["kind"] == "reading")
    heard = next(line for line in records if line["seq"] == reading["data"]["heard"])
    assert heard["kind"] == "heard"
    assert heard["data"]["text"] == "gap thirty thou"
    assert heard["seq"] < reading["seq"]


def test_a_correction_points_at_what_it_replaces_and_nothing_is_overwritten(
    companion: Run, tmp_path: Path
) -> None:
    work(companion, "job", "gap thirty thou", "correction thirty one thou", "read back gap")
    records = lines(tmp_path / "job")
    first, second = (line for line in records if line["kind"] == "reading")
    assert first["data"]["value"] == "30"
    assert second["data"]["value"] == "31"
    assert second["data"]["corrects"] == first["seq"]
    assert "thirty one" in records[-1]["data"]["text"].lower()


def test_drained_oil_hangs_a_tag_that_only_fill_level_and_affirm_take_down(
    companion: Run, tmp_path: Path
) -> None:
    work(companion, "job", "drained eighteen ounces of oil", "clear to start", "affirm")
    assert "tag.hung" in kinds(tmp_path / "job")
    assert "start.affirmed" not in kinds(tmp_path / "job")

    work(companion, "refusing", "drained eighteen ounces of oil", "clear tag no oil", "affirm")
    assert "tag.cleared" not in kinds(tmp_path / "refusing")

    work(
        companion,
        "filled",
        "drained eighteen ounces of oil",
        "added twenty ounces of oil",
        "oil level full",
        "affirm",
    )
    cleared = [line["data"] for line in lines(tmp_path / "filled") if line["kind"] == "tag.cleared"]
    assert [tag["tag"] for tag in cleared] == ["no oil"]


def test_engine_running_against_a_tag_is_answered_with_a_warning(
    companion: Run, tmp_path: Path
) -> None:
    work(companion, "job", "tag no oil", "engine running")
    records = lines(tmp_path / "job")
    running = next(line for line in records if line["kind"] == "engine.running")
    assert "no oil" in running["data"]["against"]
    assert any(line["kind"] == "said" and line["data"]["tone"] == "warning" for line in records)


def test_a_parked_job_resumes_with_its_tags_spoken_first(companion: Run, tmp_path: Path) -> None:
    work(companion, "job", "tag no oil", "start soak timer two hours", "park job")
    run = companion("resume", "job", "--typed", "--quiet", typed="time left\nread tags\n")
    assert run.returncode == 0, run.stderr
    records = lines(tmp_path / "job")
    resumed = next(i for i, line in enumerate(records) if line["kind"] == "session.resumed")
    said = [line["data"]["text"].lower() for line in records[resumed:] if line["kind"] == "said"]
    assert "no oil" in said[0]
    assert "soak" in " ".join(said)


def test_a_note_keeps_its_words(companion: Run, tmp_path: Path) -> None:
    work(companion, "job", "note the owner wants it by friday")
    note = next(line for line in lines(tmp_path / "job") if line["kind"] == "note")
    assert note["data"]["text"] == "the owner wants it by friday"
    assert note["data"]["draft"] is False


def test_nonsense_is_answered_and_nothing_recorded(companion: Run, tmp_path: Path) -> None:
    work(companion, "job", "the dog wants out", "gap thirty p s i", "gap thirty dogs")
    assert "reading" not in kinds(tmp_path / "job")


def test_log_show_check_report_sessions_history(companion: Run, tmp_path: Path) -> None:
    run = companion(
        "work",
        "--typed",
        "--quiet",
        *JOB,
        typed="gap thirty thou\nneed two shear pins\nclose job\n",
    )
    assert run.returncode == 0, run.stderr
    shown = companion("log", "show")
    assert "30" in shown.stdout
    assert "shear pin" in shown.stdout
    assert companion("log", "check").returncode == 0
    page = tmp_path / "page.html"
    assert companion("report", "--html", page).returncode == 0
    assert "shear pin" in page.read_text(encoding="utf-8")
    assert companion("sessions").stdout.strip()
    assert "gap" in companion("history", "quillmoor-tiller").stdout.lower()


def test_a_changed_line_is_found(companion: Run, tmp_path: Path) -> None:
    work(companion, "job", "gap thirty thou", "gap thirty one thou")
    log = tmp_path / "job" / "log.jsonl"
    log.write_text(log.read_text().replace('"31"', '"29"', 1))
    run = companion("log", "check", "job")
    assert run.returncode == 1
    assert "Traceback" not in run.stderr
