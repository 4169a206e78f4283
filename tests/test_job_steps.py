"""Along a job card."""

from __future__ import annotations

from typing import Any

from companion.job import events as ev
from companion.job.answers import Nothing, StepsLeft, StepSpoken, TagStays, Ticked
from tests.bench_job import (
    AFFIRM,
    CARD,
    NEGATIVE,
    Job,
    added,
    drained,
    go,
    level,
    reading,
    step,
    work,
)


def service() -> Job:
    return Job(None, CARD).open()


def kinds(job: Job) -> list[str]:
    return [event.kind for event in job.events]


def test_opening_enters_the_first_step_with_its_caution() -> None:
    job = service()
    assert job.state.step == "make-safe"
    # Nothing was done to the machine yet.
    assert job.tags == []
    assert "A hot muffler burns." in [event.text for event in job.all(ev.CautionSpoken)]
    assert job.answers[-1] == StepSpoken("Key out and plug wire off.", (), 1, 5)


def test_step_done_hangs_its_tag_goes_on_to_the_next_and_starts_its_timer() -> None:
    job = service().call(step("done"))
    assert kinds(job)[:3] == ["step.done", "tag.hung", "step.entered"]
    assert (job.last(ev.TagHung).by, job.last(ev.TagHung).step) == ("step", "make-safe")
    assert job.state.step == "drain-oil"
    assert job.tags == ["plug wire off"]
    started = job.last(ev.TimerStarted)
    assert (started.name, started.seconds, started.by) == ("settle", 600, "step")


def test_next_step_out_of_habit_after_step_done_passes_nothing_by() -> None:
    job = service().call(step("done"), step("next"))
    assert job.state.step == "drain-oil"
    assert job.answers == (StepSpoken("Drain the oil.", (), 2, 5),)
    # Once something was called in the step, "next step" means what it says.
    job.call(drained("20"), step("next"))
    assert job.state.step == "grease"
    assert job.state.steps["drain-oil"].done is None


def test_say_step_says_it_with_its_cautions() -> None:
    job = service().call(step("say"))
    assert job.answers == (
        StepSpoken("Key out and plug wire off.", ("A hot muffler burns.",), 1, 5),
    )


def test_step_back_goes_back_and_not_beyond_the_first() -> None:
    job = service().call(step("done"), step("back"))
    assert job.state.step == "make-safe"
    job.call(step("back"))
    assert job.answers == (Nothing("This is the first step."),)


def test_going_back_and_forth_repeats_no_caution_and_starts_no_timer_again() -> None:
    job = service().call(step("done"))
    job.call(step("back"), step("next"))
    assert len([c for c in job.all(ev.CautionSpoken) if c.source == "job card"]) == 1
    assert len(job.all(ev.TimerStarted)) == 1


def test_points_are_ticked_off_by_work_on_them() -> None:
    job = service().call(step("done"), step("done"))
    assert job.state.step == "grease"
    job.call(work("greased", "axle"))
    assert job.answers == (Ticked(left=("auger shaft",)),)
    job.call(work("greased", "auger shaft"))
    assert job.answers == (Ticked(left=()),)
    job.call(step("done"))
    assert job.state.step == "gap"


def test_an_unfinished_step_says_what_is_left_and_asks() -> None:
    job = service().call(step("done"), step("done"), work("greased", "axle"), step("done"))
    assert job.asked is not None
    assert (job.asked.about, job.asked.step, job.asked.left) == ("step", "grease", ("auger shaft",))
    assert job.call(NEGATIVE).state.step == "grease"
    assert job.state.steps["grease"].done is None
    assert job.call(step("done"), AFFIRM).state.step == "gap"
    assert job.state.steps["grease"].done is not None


def test_step_done_said_again_marks_an_unfinished_step_done() -> None:
    job = service().call(step("done"), step("done"), step("done"), step("done"))
    assert job.state.steps["grease"].done is not None
    assert job.last(ev.Answered).answer == "affirm"


def test_what_was_called_before_the_step_does_not_count_for_it() -> None:
    job = service().call(reading("gap", "30", "thou"), step("done"), step("done"), step("skip"))
    assert job.state.step == "gap"
    job.call(step("done"))
    assert job.asked is not None
    assert job.asked.left == ("gap",)


def test_skipping_is_recorded_and_goes_on() -> None:
    job = service().call(step("done"), step("skip"))
    assert job.last(ev.StepSkipped).step == "drain-oil"
    assert job.state.step == "grease"
    # What was not done hangs nothing.
    assert job.tags == ["plug wire off"]


def test_a_step_that_comes_after_another_is_not_entered_before_it() -> None:
    job = service().call(step("done"), step("done"), step("back"), step("next"))
    assert job.state.step == "grease"
    job.call(work("greased", "axle"), step("next"), reading("gap", "30", "thou"), step("done"))
    assert job.state.steps["gap"].done is not None
    assert job.state.step == "gap"
    assert job.asked is not None
    assert (job.asked.about, job.asked.step) == ("enter", "close-up")
    assert job.asked.against == ("grease is not done",)
    job.call(NEGATIVE)
    assert job.state.step == "gap"
    job.call(step("back"), step("skip"), step("done"))
    assert job.state.step == "close-up"
    assert job.last(ev.StepEntered).against == ()


def test_affirm_enters_a_step_although_another_is_not_done_and_the_log_says_so() -> None:
    job = service().call(step("done"), step("done"), reading("gap", "30", "thou"))
    job.call(go("close-up"), AFFIRM)
    assert job.state.step == "close-up"
    assert job.last(ev.StepEntered).against == ("grease is not done",)


def test_the_end_of_a_step_asks_for_each_tag_that_it_clears() -> None:
    job = at_close_up().call(added("20"), level("full"), NEGATIVE, step("done"))
    assert job.asked is not None
    assert (job.asked.tag, job.asked.then) == ("plug wire off", ("no oil",))
    job.call(AFFIRM)
    assert job.asked is not None
    assert job.asked.tag == "no oil"
    job.call(AFFIRM)
    assert job.tags == []
    assert job.answers == (Nothing("That was the last step."),)


def test_a_tag_that_cannot_come_down_is_said_and_stays() -> None:
    job = at_close_up().call(step("done"), AFFIRM)
    assert job.tags == ["no oil"]
    assert isinstance(job.answers[0], TagStays)
    assert job.asked is None


def test_negative_keeps_one_tag_and_asks_about_the_next() -> None:
    job = at_close_up().call(added("20"), level("full"), step("done"), NEGATIVE)
    assert job.asked is not None
    assert job.asked.tag == "no oil"
    assert job.call(AFFIRM).tags == ["plug wire off"]


def test_when_another_call_came_instead_step_done_asks_again() -> None:
    job = at_close_up().call(step("done"), reading("gap", "30", "thou"))
    assert job.asked is None
    job.call(step("done"))
    assert job.asked is not None
    assert job.asked.tag == "plug wire off"


def test_after_the_last_step_what_is_left_is_said() -> None:
    job = service().call(step("done"), drained("20"), step("next"), step("skip"))
    job.call(reading("gap", "30", "thou"), step("done"))
    assert job.state.step == "close-up"
    # "Next step" first says the step that "step done" led to.
    job.call(step("next"), added("20"), step("next"))
    assert job.answers == (StepsLeft(2, ("drain oil", "close up")),)


def test_without_a_card_it_says_so() -> None:
    job = Job().open().call(step("done"))
    assert job.answers == (Nothing("No job card is loaded: call what you do as it comes."),)
    empty: dict[str, Any] = {"name": "empty", "title": "Empty"}
    assert Job(None, empty).call(step("next")).answers == (Nothing("The card is empty."),)


def at_close_up() -> Job:
    job = service().call(step("done"), drained("20"), step("done"), step("skip"))
    job.call(reading("gap", "30", "thou"), step("done"))
    assert job.state.step == "close-up"
    return job
