"""``companion cards NAME``: a card to read through before the job, or to print."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.cli import main
from companion.job.card_lines import WIDTH, card_lines
from companion.job.record import Record
from companion.report import facts
from companion.shelf.load import load_card, shipped_cards
from tests.bench_job import Job, skip, step
from tests.test_job_branches import SERVICE


@pytest.mark.parametrize("name", shipped_cards())
def test_a_card_is_printed_with_every_step_and_what_it_brings(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["cards", name]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    card = load_card(name)
    assert printed.startswith(f"{card.title} (invented)")
    for number, each in enumerate(card.step, start=1):
        assert f"{number}. {each.name.replace('-', ' ')}: {each.say}" in printed
        for text in (*each.cautions, *each.consumables, *(part.name for part in each.parts)):
            assert text in printed
        for branch in each.branch:
            assert f"go to {branch.to.replace('-', ' ')}" in printed
    assert all(len(line) <= WIDTH for line in card_lines(card))


def test_a_file_is_printed_and_what_is_not_there_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('name = "mine"\ntitle = "Mine"\n[[step]]\nname = "look"\nsay = "Look."\n')
    assert main(["cards", str(path)]) == 0
    assert capsys.readouterr().out.splitlines()[2].strip() == "1.  look: Look."
    assert main(["cards", "nowhere"]) == 1
    assert "There is no job card 'nowhere'" in capsys.readouterr().err


def test_the_report_says_why_a_step_was_skipped_and_what_steps_take() -> None:
    card = {**SERVICE, "step": [dict(each) for each in SERVICE["step"]]}
    card["step"][0]["parts"] = [{"name": "spark plug", "count": 2}]
    job = Job(None, card).open().call(step("done"), skip("no parts"))
    records: list[Record] = job.records
    rows = facts.steps(job.state, facts.origins(records, job.state))
    assert rows[0].takes == ("2 spark plugs",)
    assert (rows[1].mark, rows[1].why) == ("skipped", "no parts")
    assert [row.mark for row in rows[2:]] == ["now", "left", "left"]
