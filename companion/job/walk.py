"""Along the job card: doing, passing, going to and skipping its steps.

"Step done" goes on to the next open step by itself, so that the person with greasy hands hears what
comes next. "Next step" right after that, out of habit, says the new step instead of passing it by:
nothing is left out unheard.

Every way into a step leads through ``_go_to``: where something that must be true before is not, or
nobody knows whether the step applies, it asks before it enters.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Literal

from companion.intent import intents as it
from companion.job import events as ev
from companion.job import gate, route, steps
from companion.job.answers import Nothing, PassedOver, StepsLeft, StepSpoken
from companion.job.card import CardStep
from companion.job.cautions import opening_cautions
from companion.job.state import State
from companion.job.turn import Turn

NO_CARD = "No job card is loaded: call what you do as it comes."

LEFT_SAID = 3
"""How many of the steps left are named; "read back steps" names all."""


def walk(turn: Turn, call: it.Step | it.StepSkip | it.StepGo) -> None:
    """Act on "step done", "next step", "step back", "skip step", "say step" or "go to step"."""
    step = steps.current(turn.state) or steps.next_open(turn.state, None)
    if step is None:
        turn.answer(Nothing(NO_CARD if turn.state.card is None else "The card is empty."))
    elif isinstance(call, it.StepGo):
        _go(turn, call.step)
    elif turn.state.step is None:
        _go_to(turn, step, "opening")
    elif isinstance(call, it.StepSkip):
        _skip(turn, step, call.reason)
    elif call.intent == "step.done":
        _done(turn, step)
    elif call.intent == "step.next":
        _next(turn, step)
    elif call.intent == "step.back":
        _back(turn, step)
    else:
        say(turn, step, again=True)
        _ask_again(turn)


def open_card(turn: Turn) -> None:
    """Say the cautions of every job, then the current step, or go to the first one that is open."""
    for caution in opening_cautions(turn.state.rules.cautions):
        if caution.caution not in turn.state.cautions:
            turn.record(caution)
    step = steps.current(turn.state)
    first = steps.next_open(turn.state, None)
    if step is not None:
        say(turn, step)
        _ask_again(turn)
    elif first is not None:
        _go_to(turn, first, "opening")


def _ask_again(turn: Turn) -> None:
    """Ask what the current step asks, where that was not answered yet."""
    step = steps.awaits_answer(turn.state)
    if step is not None and step.asks is not None:
        _ask(turn, step, step.asks)


def enter(turn: Turn, step: CardStep, by: ev.StepBy, against: tuple[str, ...] = ()) -> None:
    """Make a step the current one: speak its cautions, start its timer. What it does to the machine
    is not done yet.

    A step that is done or skipped is only looked at. A timer starts when its step is entered for
    the first time, not again when a person steps back and forth.

    Args:
        turn: The turn.
        step: The step.
        by: Which call led to it.
        against: What should have been true before and is not, as it was affirmed.
    """
    first = steps.mark(turn.state, step.name).entered is None
    turn.record(ev.StepEntered(step=step.name, by=by, against=against))
    if steps.is_finished(turn.state, step):
        say(turn, step)
        if by == "go" and step.asks is not None and steps.is_done(turn.state, step.name):
            # Going back to a test means making it again.
            _ask(turn, step, step.asks)
        return
    for text in step.cautions:
        if text not in turn.state.cautions:
            turn.record(ev.CautionSpoken(caution=text, text=text, source="job card"))
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
    if step.asks is not None:
        _ask(turn, step, step.asks)


def say(turn: Turn, step: CardStep, *, again: bool = False) -> None:
    """Say a step; ``again`` with its cautions, which otherwise come as records of their own.

    Args:
        turn: The turn under way.
        step: The step.
        again: Whether it was said before.
    """
    turn.answer(
        StepSpoken(
            say=step.say,
            cautions=step.cautions if again else (),
            place=steps.place(turn.state, step),
            of=len(steps.all_steps(turn.state)),
        )
    )


def mark_done(turn: Turn, step: CardStep) -> None:
    """Record a step as done, ask about the tags that it clears, then go on.

    Where the step asks something that was not answered yet, that comes first.
    """
    if step.asks is not None and steps.mark(turn.state, step.name).answer is None:
        _ask(turn, step, step.asks)
        return
    turn.record(ev.StepDone(step=step.name))
    done = _does(turn, step)
    if not gate.ask_to_clear(turn, tuple(dict.fromkeys((*done, *step.clears))), step=step.name):
        go_on(turn, step)


def _does(turn: Turn, step: CardStep) -> tuple[str, ...]:
    """Record what a step that is called done did to the machine, unless it was called already.

    Returns:
        The tags that it leaves with nothing open.
    """
    for each in step.does:
        if not steps.was_called(turn.state, step, each):
            turn.record(
                ev.WorkRecorded(action=each.action, part=each.part, count=each.count, by="step")
            )
    for tag in step.hangs:
        gate.hang(turn, tag, "step", step=step.name)
    gate.rehang(turn)
    return gate.tags_done(turn, tuple((each.action, each.part) for each in step.does))


def go_on(turn: Turn, step: CardStep, by: ev.StepBy = "done") -> None:
    """Go to the next open step after one that is done; say what is left where there is none.

    Args:
        turn: The turn under way.
        step: The one that is left.
        by: Which call leads on.
    """
    following = steps.next_open(turn.state, step)
    passed = steps.passed_over(turn.state, step, following)
    if passed:
        turn.answer(PassedOver(passed))
    if following is None:
        _end(turn)
    else:
        _go_to(turn, following, by)


def answered(turn: Turn, asked: ev.Asked, *, yes: bool) -> None:
    """Act on the answer to a question about a step.

    Args:
        turn: The turn under way.
        asked: The question.
        yes: Whether it was affirmed.
    """
    step = steps.step_named(turn.state, asked.step)
    if step is None:
        return
    match asked.about:
        case "step-question":
            answer: Literal["affirm", "negative"] = "affirm" if yes else "negative"
            turn.record(ev.StepAnswered(step=step.name, answer=answer))
            for found in step.finds:
                if found.answer == answer:
                    turn.record(
                        ev.FindingRecorded(part=found.part, condition=found.condition, by="step")
                    )
            gate.rehang(turn)
            _done(turn, step)
        case "applies":
            turn.record(ev.StepRuled(step=step.name, applies=yes))
            if yes:
                _go_to(turn, step, "go")
            else:
                go_on(turn, step, "next")
        case "enter" if yes:
            enter(turn, step, "go", asked.against)


def say_left(turn: Turn) -> None:
    """Act on "what is left"."""
    if turn.state.card is None:
        turn.answer(Nothing(NO_CARD))
    else:
        turn.answer(left_answer(turn.state))


def left_answer(state: State) -> StepsLeft:
    """Return what is left of the card: how many steps, and the first few with why."""
    left = steps.steps_left(state)
    said = tuple(steps.left_words(state, step) for step in left[:LEFT_SAID])
    return StepsLeft(count=len(left), first=said)


def _done(turn: Turn, step: CardStep) -> None:
    if steps.is_done(turn.state, step.name):
        # Tags that it clears may still be open: another call came instead of an answer.
        works = tuple((each.action, each.part) for each in step.does)
        done = gate.tags_done(turn, works)
        if not gate.ask_to_clear(turn, tuple(dict.fromkeys((*done, *step.clears))), step=step.name):
            go_on(turn, step)
        return
    left = steps.left_of(turn.state, step)
    if not left:
        mark_done(turn, step)
        return
    meaning = f"Still left: {', '.join(left)}. Affirm marks the step done all the same."
    turn.record(ev.Asked(about="step", step=step.name, left=left, meaning=meaning))


def _next(turn: Turn, step: CardStep) -> None:
    if _just_entered(turn.state) and not steps.is_finished(turn.state, step):
        say(turn, step)
        return
    _to_neighbor(turn, step, "next")


def _just_entered(state: State) -> bool:
    """Whether "step done" led here and no call has recorded anything since."""
    return state.step_by == "done" and state.last_call == state.step_entered


def _back(turn: Turn, step: CardStep) -> None:
    before = steps.neighbor(turn.state, step, -1)
    if before is None:
        turn.answer(Nothing("This is the first step."))
    else:
        _go_to(turn, before, "back")


def _skip(turn: Turn, step: CardStep, reason: ev.SkipReason | None) -> None:
    if steps.is_done(turn.state, step.name):
        turn.answer(Nothing("This step is done already."))
    elif not steps.is_finished(turn.state, step):
        turn.record(ev.StepSkipped(step=step.name, reason=reason))
    _to_neighbor(turn, step, "skip")


def _to_neighbor(turn: Turn, step: CardStep, by: ev.StepBy) -> None:
    following = steps.neighbor(turn.state, step, 1)
    passed = steps.passed_over(turn.state, step, following)
    if passed:
        turn.answer(PassedOver(passed))
    if following is None:
        _end(turn)
    else:
        _go_to(turn, following, by)


def _go(turn: Turn, name: str) -> None:
    step = steps.step_named(turn.state, name)
    if step is None:
        turn.answer(Nothing(f"The card has no step {steps.in_words(name)}: say what's left."))
        return
    if steps.stage(turn.state, step) == "not applying":
        # A step that is called by its name is meant.
        turn.record(ev.StepRuled(step=step.name, applies=True))
    if steps.is_skipped(turn.state, step.name):
        turn.record(ev.StepReopened(step=step.name))
    _go_to(turn, step, "go")


def _go_to(turn: Turn, step: CardStep, by: ev.StepBy) -> None:
    """Enter a step, or ask first; one that is finished is only looked at, which needs nothing."""
    if steps.is_finished(turn.state, step):
        enter(turn, step, by)
        return
    if by != "go" and route.applies(turn.state, step) is None and step.only_if is not None:
        only = route.in_words(step.only_if)
        name = steps.in_words(step.name)
        turn.record(
            ev.Asked(
                about="applies", step=step.name, meaning=f"Step {name} is only for when {only}."
            )
        )
        return
    against = steps.against_entering(turn.state, step, turn.at)
    if against:
        meaning = f"{'; '.join(against).capitalize()}. Affirm goes to the step all the same."
        turn.record(ev.Asked(about="enter", step=step.name, against=against, meaning=meaning))
        return
    enter(turn, step, by)


def _ask(turn: Turn, step: CardStep, question: str) -> None:
    turn.record(ev.Asked(about="step-question", step=step.name, meaning=question))


def _end(turn: Turn) -> None:
    if steps.steps_left(turn.state):
        turn.answer(left_answer(turn.state))
    else:
        turn.answer(Nothing("That was the last step."))
