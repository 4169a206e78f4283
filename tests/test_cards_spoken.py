"""Shipped cards as they are spoken: each step in eight seconds, and every way along them ends."""

from __future__ import annotations

from datetime import timedelta

import pytest

from companion.job import events as ev
from companion.job import steps
from companion.shelf.load import load_card, shipped_cards
from companion.speak.engines import EspeakEngine
from companion.speak.wording import word
from tests.bench_job import AFFIRM, NEGATIVE, Job, step

LONGEST = timedelta(seconds=8.3)
"""Eight seconds and the silence that the voice puts at either end."""


@pytest.fixture(scope="module")
def voice() -> EspeakEngine:
    return EspeakEngine(None, 170)


@pytest.mark.parametrize("name", shipped_cards())
def test_what_a_card_says_at_a_step_takes_no_longer_than_eight_seconds(
    voice: EspeakEngine, name: str
) -> None:
    for each in load_card(name).step:
        said = " ".join((*(f"Caution. {text}" for text in each.cautions), "Step twelve.", each.say))
        length = timedelta(seconds=len(voice.render(said)) / 16_000)
        assert length <= LONGEST, f"{each.name}: {length.total_seconds():.1f} s: {said}"


@pytest.mark.parametrize("name", shipped_cards())
def test_the_opening_takes_no_longer_than_eight_seconds(voice: EspeakEngine, name: str) -> None:
    job = Job(None, load_card(name).model_dump(mode="json")).open()
    # What the machine itself is warned of comes on top where it is a generator.
    limits = [e for e in job.events if not isinstance(e, ev.CautionSpoken) or e.caution == "limits"]
    reply = word(job.state, limits, job.answers)
    assert reply is not None
    length = timedelta(seconds=len(voice.render(reply.text)) / 16_000)
    assert length <= LONGEST, f"{length.total_seconds():.1f} s: {reply.text}"


@pytest.mark.parametrize("name", shipped_cards())
@pytest.mark.parametrize("answer", [AFFIRM, NEGATIVE], ids=["affirm", "negative"])
def test_a_card_is_walked_to_its_end_whatever_is_answered(name: str, answer: object) -> None:
    card = load_card(name)
    job = Job(None, card.model_dump(mode="json")).open()
    for _ in range(12 * len(card.step)):
        current = steps.current(job.state)
        if current is not None and current.name == card.step[-1].name:
            break
        if job.asked is not None:
            mine = job.asked.about in ("step-question", "applies")
            job.call(answer if mine else AFFIRM)  # type: ignore[arg-type]
        else:
            job.call(step("done"))
    assert job.state.step == card.step[-1].name
