"""Along the job card: doing, passing, going back to and skipping its steps.

"Step done" goes on to the next open step by itself, so that the person with greasy hands hears what
comes next. "Next step" right after that, out of habit, says the new step instead of passing it by:
nothing is left out unheard.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Literal

from companion.job import events as ev
from companion.job import gate, steps
from companion.job.answers import Nothing, ReadBackList, Refused, StepSpoken
from companion.job.card import CardStep
from companion.job.state import State
from companion.job.turn import Turn

By = Literal["opening", "done", "next", "back", "skip"]


def walk(turn: Turn, call: str) -> None:
    """Act on "step done", "next step", "step back", "skip step" or "say step".

    Args:
        turn: The turn.
        call: The intent's name, such as ``step.done``.
    """
    step = steps.current(turn.state) or steps.next_open(turn.state, None)
    if step is None:
        turn.answer(
            Nothing("No job card is loaded." if turn.state.card is None else "The card is empty.")
        )
    elif turn.state.step is None:
        enter(turn, step, "opening")
    elif call == "step.done":
        _done(turn, step)
    elif call == "step.next":
        _next(turn, step)
    elif call == "step.back":
        _back(turn, step)
    elif call == "step.skip":
        _skip(turn, step)
    else:
        say(turn, step, again=True)


def enter(turn: Turn, step: CardStep, by: By) -> None:
    """Make a step the current one: hang its tags, speak its cautions, start its timer.

    A step that is done or skipped is only looked at. A timer starts when its step is entered for
    the first time, not again when a person steps back and forth.
    """
    first = steps.mark(turn.state, step.name).entered is None
    turn.record(ev.StepEntered(step=step.name, by=by))
    if not steps.is_settled(turn.state, step.name):
        for text in step.cautions:
            if text not in turn.state.cautions:
                turn.record(ev.CautionSpoken(caution=text, text=text, source="job card"))
        for tag in step.hangs:
            gate.hang(turn, tag, "step", f"step {steps.in_words(step.name)}")
        if first and step.wait is not None and step.wait.timer not in turn.state.timers:
            seconds = step.wait.minutes * 60
            turn.record(
                ev.TimerStarted(
                    name=step.wait.timer,
                    seconds=seconds,
                    due=turn.at + timedelta(seconds=seconds),
                    by="step",
                )
            )
    say(turn, step)


def say(turn: Turn, step: CardStep, *, again: bool = False) -> None:
    """Say a step; ``again`` with its cautions, which otherwise come as records of their own."""
    turn.answer(
        StepSpoken(
            say=step.say,
            cautions=step.cautions if again else (),
            place=steps.place(turn.state, step),
            of=len(steps.all_steps(turn.state)),
        )
    )


def mark_done(turn: Turn, step: CardStep) -> None:
    """Record a step as done, ask about the tags that it clears, then go on."""
    turn.record(ev.StepDone(step=step.name))
    if not gate.ask_to_clear(turn, step.clears, step=step.name):
        go_on(turn, step)


def go_on(turn: Turn, step: CardStep) -> None:
    """Enter the next open step after one that is done; say what is left where there is none."""
    following = steps.next_open(turn.state, step)
    if following is None:
        _end(turn)
    else:
        _enter_if_ready(turn, following, "done")


def _done(turn: Turn, step: CardStep) -> None:
    if steps.is_done(turn.state, step.name):
        # Tags that it clears may still be open: another call came instead of an answer.
        if not gate.ask_to_clear(turn, step.clears, step=step.name):
            go_on(turn, step)
        return
    left = steps.left_of(turn.state, step)
    if not left:
        mark_done(turn, step)
        return
    meaning = f"Still left: {', '.join(left)}. Affirm marks the step done all the same."
    turn.record(ev.Asked(about="step", step=step.name, left=left, meaning=meaning))


def _next(turn: Turn, step: CardStep) -> None:
    if _just_entered(turn.state) and not steps.is_settled(turn.state, step.name):
        say(turn, step)
        return
    following = steps.neighbor(turn.state, step, 1)
    if following is None:
        _end(turn)
    else:
        _enter_if_ready(turn, following, "next")


def _just_entered(state: State) -> bool:
    """Whether "step done" led here and no call has recorded anything since."""
    return state.step_by == "done" and state.last_call == state.step_entered


def _back(turn: Turn, step: CardStep) -> None:
    before = steps.neighbor(turn.state, step, -1)
    if before is None:
        turn.answer(Nothing("This is the first step."))
    else:
        enter(turn, before, "back")


def _skip(turn: Turn, step: CardStep) -> None:
    if steps.is_done(turn.state, step.name):
        turn.answer(Nothing("This step is done already."))
    elif not steps.is_settled(turn.state, step.name):
        turn.record(ev.StepSkipped(step=step.name))
    following = steps.neighbor(turn.state, step, 1)
    if following is None:
        _end(turn)
    else:
        _enter_if_ready(turn, following, "skip")


def _enter_if_ready(turn: Turn, step: CardStep, by: By) -> None:
    missing = steps.comes_before(turn.state, step)
    if not missing:
        enter(turn, step, by)
        return
    names = ", ".join(steps.in_words(name) for name in missing)
    verb = "is" if len(missing) == 1 else "are"
    turn.answer(
        Refused(
            f"Step {steps.in_words(step.name)} comes after {names}, which {verb} not done. "
            "Step back to it, and do it or skip it there."
        )
    )


def _end(turn: Turn) -> None:
    left = tuple(steps.in_words(step.name) for step in steps.steps_left(turn.state))
    if left:
        turn.answer(ReadBackList("steps left", left))
    else:
        turn.answer(Nothing("That was the last step."))
