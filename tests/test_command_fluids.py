"""A draining and a filling at the bench with typed calls, in shops of either ounce."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tests.conftest import Run

MACHINE = ("--machine", "quillmoor-tiller")


def replies(companion: Run, folder: Path, *calls: str) -> list[dict[str, Any]]:
    """What was said to each call, in order, with its tone."""
    run = companion(
        "work", "--typed", "--quiet", *MACHINE, "--out", folder.name, typed="\n".join(calls) + "\n"
    )
    assert run.returncode == 0, run.stderr
    records = [json.loads(line) for line in (folder / "log.jsonl").read_text().splitlines()]
    said = [line["data"] for line in records if line["kind"] == "said"]
    return [
        data | {"text": " ".join((data["text"], *(piece["text"] for piece in data["rest"])))}
        for data in said
        if data["heard"] is not None and not data["goes_on"]
    ]


def settings(tmp_path: Path, text: str) -> None:
    (tmp_path / "settings.toml").write_text(text, encoding="utf-8")


def test_an_oil_change_is_led_to_the_line_and_not_over_it(companion: Run, tmp_path: Path) -> None:
    said = replies(
        companion,
        tmp_path / "job",
        "drained eighteen ounces of oil",
        "air temperature minus five celsius",
        "how much more oil",
        "added eighteen ounces of oil",
        "added three more ounces",
        "drained one ounce of oil",
        "how much more",
    )
    texts = [each["text"] for each in said]
    assert texts[0].endswith("First fill about eighteen ounces.")
    assert texts[2] == (
        "Oil: twenty ounces. First about eighteen, then creep up on the dipstick. Five W thirty."
    )
    assert texts[3].endswith("Eighteen of twenty ounces: two more at most.")
    assert texts[4].endswith("One ounce too much. Let it out before a start.")
    assert said[4]["tone"] == "warning"
    assert texts[6].startswith("Oil: no more. Twenty of twenty in.")


def test_an_imperial_shop_with_a_us_sheet_hears_both_ounces_named(
    companion: Run, tmp_path: Path
) -> None:
    # 20 US fl oz are 20.82 imperial fl oz (NIST SP 811 B.8: 29.573 53 and 28.413 06 mL).
    settings(tmp_path, 'ounce = "imperial"\nair_temperature = 20\n')
    said = replies(
        companion,
        tmp_path / "job",
        "drained eighteen ounces of oil",
        "how much more oil",
        "added ten ounces of oil",
        "oil grade",
    )
    texts = [each["text"] for each in said]
    assert texts[1] == (
        "Oil: the sheet's twenty u s ounces are twenty point eight imperial ounces. "
        "First about eighteen, then creep up on the dipstick."
    )
    assert texts[2].endswith("Ten of twenty point eight imperial ounces: ten point eight more.")
    assert texts[3] == "At twenty degrees celsius: s a e thirty."
    opened = json.loads((tmp_path / "job" / "log.jsonl").read_text().splitlines()[0])["data"]
    assert (opened["ounce"], opened["air_temperature"]) == ("imperial", "20")


def test_a_temperature_that_cannot_be_is_refused(companion: Run, tmp_path: Path) -> None:
    settings(tmp_path, "air_temperature = 450\n")
    run = companion("work", "--typed", "--quiet", "--out", "job", typed="roger\n")
    assert run.returncode == 1
    assert "air_temperature" in run.stderr
    assert "Traceback" not in run.stderr
