"""Steps that apply or not, steps that ask, and where a card branches."""

from __future__ import annotations

from typing import Any

import pytest

from companion.intent import intents as it
from companion.job import events as ev
from companion.job import steps
from companion.job.answers import Nothing, PassedOver, ReadBackList, SpecSaid, StepsLeft
from companion.job.expected import expectations
from tests.bench_job import (
    AFFIRM,
    DISREGARD,
    NEGATIVE,
    RUNNING,
    STOPPED,
    Job,
    correction,
    go,
    plain,
    reading,
    skip,
    step,
    timer,
    work,
)

# Invented from end to end.
DIAGNOSIS: dict[str, Any] = {
    "name": "no-spark",
    "title": "Why it does not spark",
    "invented": True,
    "step": [
        {
            "name": "spark",
            "say": "Pull and look.",
            "asks": "Is there a spark?",
            "branch": [{"when": {"answer": "affirm"}, "to": "compression"}],
        },
        {"name": "coil", "say": "Check the coil."},
        {"name": "switch", "say": "Check the switch."},
        {
            "name": "compression",
            "say": "Call compression.",
            "expects": ["compression"],
            "windows": [{"measure": "compression", "unit": "psi", "low": 60}],
            "branch": [{"when": {"measure": "compression", "verdict": ["in"]}, "to": "plug"}],
        },
        {"name": "wet-test", "say": "A spoon of oil, then again."},
        {"name": "plug", "say": "Look at the plug.", "points": ["spark plug"]},
        {
            "name": "new-plug",
            "say": "Fit a new one.",
            "only_if": {"part": "spark plug", "found": ["fouled"], "step": "plug"},
            "parts": [{"name": "spark plug"}],
            "consumables": ["rags"],
        },
        {"name": "hand-over", "say": "Close up."},
    ],
}


def diagnosis() -> Job:
    return Job(None, DIAGNOSIS).open()


def stages(job: Job) -> dict[str, str]:
    return {each.name: steps.stage(job.state, each) for each in steps.all_steps(job.state)}


def found(part: str, condition: str) -> it.Finding:
    return it.Finding(part=part, condition=condition)


def test_a_step_that_asks_puts_its_question_when_it_is_entered() -> None:
    job = diagnosis()
    assert job.asked is not None
    assert (job.asked.about, job.asked.step, job.asked.meaning) == (
        "step-question",
        "spark",
        "Is there a spark?",
    )


def test_affirm_takes_the_branch_and_negative_goes_on() -> None:
    job = diagnosis().call(AFFIRM)
    assert job.state.step == "compression"
    assert job.last(ev.StepAnswered).answer == "affirm"
    assert (stages(job)["coil"], stages(job)["switch"]) == ("not applying", "not applying")
    job = diagnosis().call(NEGATIVE)
    assert job.state.step == "coil"
    assert stages(job)["switch"] == "left"


def test_an_answer_counts_however_long_the_looking_took() -> None:
    assert diagnosis().wait(minutes=30).call(AFFIRM).state.step == "compression"


def test_an_answer_after_a_ring_may_have_been_meant_for_it_and_is_asked_again() -> None:
    job = diagnosis().call(timer("soak", minutes=1)).call(step("done"))
    job.wait(minutes=1).ring().call(NEGATIVE)
    assert job.state.step == "spark"
    assert job.asked is not None
    assert job.call(NEGATIVE).state.step == "coil"


def test_step_done_asks_again_where_another_call_came_instead_of_an_answer() -> None:
    job = diagnosis().call(it.Note(text="smells of fuel"), step("done"))
    assert job.state.step == "spark"
    assert job.asked is not None
    assert job.asked.about == "step-question"


def test_a_verdict_by_the_cards_own_window_takes_a_branch() -> None:
    job = diagnosis().call(AFFIRM, reading("compression", "95", "psi"))
    assert job.last(ev.ReadingRecorded).verdict == "in"
    window = job.last(ev.ReadingRecorded).window
    assert window is not None
    assert window.source == "job card"
    assert job.call(step("done")).state.step == "plug"
    low = diagnosis().call(AFFIRM, reading("compression", "40", "psi"), step("done"))
    assert low.state.step == "wet-test"


def test_the_sheets_figure_comes_before_the_cards() -> None:
    sheet = {
        "name": "Tumblewick 5 tiller",
        "kind": "tiller",
        "reading": [{"measure": "compression", "unit": "psi", "low": "100"}],
    }
    job = Job(sheet, DIAGNOSIS).open().call(AFFIRM, reading("compression", "95", "psi"))
    assert job.last(ev.ReadingRecorded).verdict == "low"


def test_a_corrected_reading_leads_the_other_way() -> None:
    job = diagnosis().call(AFFIRM, reading("compression", "95", "psi"), step("done"))
    assert stages(job)["wet-test"] == "not applying"
    job.call(correction("45"))
    assert stages(job)["wet-test"] == "left"
    job.call(DISREGARD)
    assert stages(job)["wet-test"] == "not applying"


def test_a_later_reading_does_not_turn_the_branch_around() -> None:
    job = diagnosis().call(AFFIRM, reading("compression", "95", "psi"), step("done"))
    job.call(reading("compression", "30", "psi"))
    assert stages(job)["wet-test"] == "not applying"


def test_a_step_whose_condition_is_known_not_to_hold_is_passed_over_and_said() -> None:
    job = at_plug().call(work("cleaned", "spark plug"), step("done"))
    assert job.state.step == "hand-over"
    assert PassedOver(("new-plug",)) in job.answers
    assert stages(job)["new-plug"] == "not applying"


def test_a_finding_makes_it_apply() -> None:
    job = at_plug().call(found("spark plug", "fouled"), work("removed", "spark plug"))
    job.call(step("done"))
    if job.asked is not None and job.asked.about == "step":
        job.call(AFFIRM)
    assert job.state.step == "new-plug"


def test_where_nobody_knows_it_is_offered() -> None:
    job = at_plug().call(step("skip"))
    assert job.asked is not None
    assert (job.asked.about, job.asked.step) == ("applies", "new-plug")
    assert "spark plug is fouled" in str(job.asked.meaning)
    assert job.call(AFFIRM).state.step == "new-plug"
    job = at_plug().call(step("skip"), NEGATIVE)
    assert job.state.step == "hand-over"
    assert stages(job)["new-plug"] == "not applying"


def test_whoever_names_a_step_that_was_passed_over_means_it() -> None:
    job = diagnosis().call(AFFIRM, go("coil"))
    assert job.state.step == "coil"
    assert stages(job)["coil"] == "left"


def at_plug() -> Job:
    job = diagnosis().call(AFFIRM, reading("compression", "95", "psi"), step("done"))
    assert job.state.step == "plug"
    return job


# --- out of order, skipped with a reason, what is left ------------------------------------------


SERVICE: dict[str, Any] = {
    "name": "service",
    "title": "Service",
    "invented": True,
    "step": [
        {"name": "make-safe", "say": "Wire off.", "hangs": ["plug wire off"]},
        {
            "name": "blade",
            "say": "Blade off.",
            "needs": ["plug wire off"],
            "engine": "stopped",
            "tally": [{"point": "blade bolt", "count": 6}],
            "points": ["blade"],
        },
        {"name": "lash", "say": "Call it.", "engine": "cold"},
        {"name": "idle", "say": "Call it.", "engine": "running"},
        {"name": "close-up", "say": "Done.", "after": ["blade"], "clears": ["plug wire off"]},
    ],
}


def service() -> Job:
    return Job(None, SERVICE).open()


def test_steps_are_gone_to_by_name() -> None:
    assert service().call(go("lash")).state.step == "lash"
    no_such = Nothing("The card has no step paint: say what's left.")
    assert service().call(go("paint")).answers == (no_such,)
    no_card = Nothing("No job card is loaded: call what you do as it comes.")
    assert Job().call(go("lash")).answers == (no_card,)


def test_a_tag_that_must_hang_is_missed_aloud() -> None:
    job = service().call(it.TagClear(tag="plug wire off"), AFFIRM, go("blade"))
    assert job.asked is not None
    assert (job.asked.about, job.asked.against) == ("enter", ("tag plug wire off does not hang",))
    assert job.call(NEGATIVE).state.step == "make-safe"


def test_a_step_for_a_cold_engine_says_how_long_it_is_still_hot() -> None:
    job = service().call(RUNNING).wait(minutes=20).call(STOPPED).wait(minutes=10).call(go("lash"))
    # Twenty minutes of running on top of the half hour that any run counts.
    assert job.asked is not None
    assert job.asked.against == ("the engine may be hot, 40 minutes to go",)
    assert job.call(AFFIRM).state.step == "lash"
    assert job.last(ev.StepEntered).against == ("the engine may be hot, 40 minutes to go",)
    assert service().call(RUNNING).wait(hours=2).call(go("lash")).asked is not None
    job = service().call(RUNNING, STOPPED).wait(minutes=31).call(go("lash"))
    assert job.state.step == "lash"


def test_a_step_with_the_engine_running_waits_for_the_call() -> None:
    job = service().call(go("idle"))
    assert job.asked is not None
    assert job.asked.against == ("the engine was not called running",)


def test_points_are_ticked_off_by_number() -> None:
    job = service().call(step("done"))
    assert steps.left_of(job.state, steps.all_steps(job.state)[1]) == ("blade", "6 blade bolts")
    job.call(it.Work(action="tightened", part="blade bolt", count=4))
    job.call(work("cleaned", "blade"), work("tightened", "blade bolt"))
    assert steps.left_of(job.state, steps.all_steps(job.state)[1]) == ("1 blade bolt",)
    job.call(work("tightened", "blade bolt"), step("done"))
    assert job.state.step == "lash"


@pytest.mark.parametrize("reason", ["no parts", "later"])
def test_a_step_put_off_stays_left_with_the_reason(reason: str) -> None:
    job = service().call(step("done"), skip(reason))
    assert job.last(ev.StepSkipped).reason == reason
    assert job.state.step == "lash"
    job.call(it.StepsLeft())
    assert job.answers == (StepsLeft(4, (f"blade, {reason}", "lash", "idle")),)
    # What comes after it is missed aloud.
    job.call(go("close-up"))
    assert job.asked is not None
    assert job.asked.against == ("blade is not done",)


def test_a_step_that_is_not_needed_is_finished() -> None:
    job = service().call(step("done"), skip("not needed"), it.StepsLeft())
    assert job.answers == (StepsLeft(3, ("lash", "idle", "close up")),)
    job.call(it.ReadBack(subject="steps"))
    assert job.answers == (
        ReadBackList(
            "steps",
            ("make safe done", "blade not needed", "lash now", "idle left", "close up left"),
        ),
    )


def test_a_step_put_off_is_taken_up_by_its_name() -> None:
    job = service().call(step("done"), skip("later"), go("blade"))
    assert job.state.step == "blade"
    assert job.last(ev.StepReopened).step == "blade"
    job.call(step("done"), AFFIRM)
    assert stages(job)["blade"] == "done"


def test_closing_asks_where_steps_are_left() -> None:
    job = service().call(it.TagClear(tag="plug wire off"), AFFIRM, plain("job.close"))
    assert job.asked is not None
    assert (job.asked.about, len(job.asked.left)) == ("close", 5)
    assert job.call(AFFIRM).state.closed


def test_parts_of_the_step_and_of_the_steps_left() -> None:
    job = diagnosis().call(it.ReadBack(subject="step parts"))
    assert job.answers == (Nothing("No parts for this step."),)
    job.call(it.ReadBack(subject="job parts"))
    assert job.answers == (ReadBackList("parts for the steps left", ("1 spark plug", "rags")),)


def test_the_cards_window_is_told_and_doubted_by_as_the_sheets_is() -> None:
    job = diagnosis().call(it.SpecAsk(measure="compression"))
    said = job.answers[0]
    assert isinstance(said, SpecSaid)
    assert said.window is not None
    assert said.window.source == "job card"
    # 60 psi is 413 685 Pa by NIST SP 811.
    expected = expectations(job.state)["compression"]
    assert (expected.low, expected.high, expected.unit) == (
        pytest.approx(413_685, 1e-5),
        None,
        "Pa",
    )
