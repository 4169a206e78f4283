"""Stories from the bench in typed calls: every danger is held by name, every honest start opens."""

from __future__ import annotations

import pytest

from companion.job import events as ev
from companion.shelf.load import shipped_cards
from tests.full_service import full_service
from tools import stories
from tools.stories import DANGERS, HONEST, SHEETS, Story, danger, honest, tell_all


def test_every_danger_is_held_and_every_honest_start_opens() -> None:
    outcomes = list(tell_all((*DANGERS, *HONEST)))
    wrong = [
        f"{each.story.title}: {each.wrong}; said: {each.told}" for each in outcomes if each.wrong
    ]
    assert not wrong, "\n".join(wrong)
    # What is said of a start that is refused begins with the warning, whatever comes after.
    for each in outcomes:
        assert each.told.startswith("Do not start.") == bool(each.story.names), each.story.title


def test_an_honest_start_is_asked_nothing_but_whether_its_tags_may_come_down() -> None:
    """What is safe is no nag: one question for each tag that hung, in whichever job."""
    for each in tell_all(HONEST):
        assert each.asked <= each.hung, each.story.title


@pytest.mark.parametrize("card", shipped_cards())
def test_a_full_service_by_its_card_asks_about_each_tag_once_and_refuses_nothing(card: str) -> None:
    job, _ = full_service(card)
    about_tags = [asked for asked in job.all(ev.Asked) if asked.about == "clear-tag"]
    assert len(about_tags) <= len(job.all(ev.TagHung))
    assert all(checked.reasons == () for checked in job.all(ev.StartChecked))
    # The search for why an engine does not start ends, with every "yes", before it is started.
    assert job.all(ev.StartAffirmed) or card == "no-start-diagnosis"


def test_the_stories_are_many_and_of_every_machine() -> None:
    assert len(DANGERS) >= 80
    assert len(HONEST) >= 25
    assert len(set(DANGERS) | set(HONEST)) == len(DANGERS) + len(HONEST)
    for told in (DANGERS, HONEST):
        assert {each.machine for each in told} == {*SHEETS, ""}
        assert sum(len(each.days) > 1 for each in told) >= 5


@pytest.mark.parametrize(
    ("story", "wrong"),
    [
        (honest("tiller", "removed spark plug"), "the start was refused"),
        (danger("tiller", "spark plug", "checked spark plug"), "the start was not refused"),
        (danger("tiller", "muffler", "removed spark plug"), "'muffler' is not named"),
        (danger("tiller", "spark plug", "removed spark plug", tag="no oil"), "does not hang"),
        (danger("tiller", "spark plug", "spark plug went for a walk"), "not understood"),
    ],
)
def test_a_story_that_comes_out_otherwise_is_told(story: Story, wrong: str) -> None:
    (outcome,) = tell_all((story,))
    assert wrong in outcome.wrong


def test_the_command_says_how_many(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(stories, "DANGERS", DANGERS[:1])
    monkeypatch.setattr(stories, "HONEST", (*HONEST[:1], honest("", "removed head gasket")))
    assert stories.main() == 1
    printed = capsys.readouterr().out
    assert "1 of 1 dangers held, 1 of 2 honest starts opened" in printed
    assert "WRONG: the start was refused" in printed
