"""Stories from the bench in typed calls: every danger is held by name, every honest start opens."""

from __future__ import annotations

import pytest

from tests import stories
from tests.stories import DANGERS, HONEST, SHEETS, Story, danger, honest, tell_all


def test_every_danger_is_held_and_every_honest_start_opens() -> None:
    outcomes = list(tell_all((*DANGERS, *HONEST)))
    wrong = [
        f"{each.story.title}: {each.wrong}; said: {each.told}" for each in outcomes if each.wrong
    ]
    assert not wrong, "\n".join(wrong)
    # What is said of a start that is refused begins with the warning, whatever comes after.
    for each in outcomes:
        assert each.told.startswith("Do not start.") == bool(each.story.names), each.story.title


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
        (danger("tiller", "spark plug", "spark plug is gone"), "not understood"),
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
