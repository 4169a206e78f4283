"""The open question: what "affirm" and "negative" do to it, and what becomes of it otherwise."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from companion.intent import intents as it
from companion.intent.number_alone import in_place_of
from companion.intent.outcome import Figure, Listening
from companion.job import bench, gate, steps, undo, walk
from companion.job import events as ev
from companion.job.answers import Nothing
from companion.job.expected import tenfold_words
from companion.job.lines import amount
from companion.job.state_values import Question
from companion.job.turn import Turn

HOLDS = timedelta(minutes=2)
"""How long "affirm" is taken to mean the question that was put last. After that the question is put
again."""

_CALL_IT_AGAIN = "Nothing was recorded: call it again."

Act = Callable[[Turn, it.Intent], None]
"""Acts on an intent that is no answer to a question."""


def act_or_answer(turn: Turn, intent: it.Intent, act: Act) -> None:
    """Act on a call in the light of the open question.

    "Say again", "help" and "roger" leave it open. "Affirm" and "negative" answer it. Any other call
    takes its place, which is recorded, and is then acted on.

    Args:
        turn: The turn under way.
        intent: The call.
        act: Acts on a call that answers nothing.
    """
    question = turn.state.question
    if is_answer(intent):
        _answer(turn, question, yes=intent.intent == "affirm", act=act)
    elif question is None or intent.intent in ("say.again", "acknowledge", "help"):
        act(turn, intent)
    elif _repeats(question, intent):
        _answer(turn, question, yes=True, act=act)
    else:
        turn.record(ev.Answered(answer="replaced"))
        if question.event.about == "other-job":
            # Any other call means that this job is being worked on.
            walk.open_card(turn)
        _act_instead(turn, question, intent, act)


def is_answer(intent: it.Intent) -> bool:
    """Return whether an intent is "affirm" or "negative"."""
    return intent.intent in ("affirm", "negative")


def put_doubt(turn: Turn, candidates: tuple[it.Intent, ...], figure: Figure | None = None) -> None:
    """Ask whether the first candidate was said, or which of the first two where ``figure`` is
    ``either``.

    A doubtful correction of what is asked about is that call with another value: it must not be
    taken for one of the last record once the question is gone. A doubtful answer decides nothing:
    the open question is put again, so that neither a tag nor a start ever depends on an "affirm"
    that was hardly heard.

    Args:
        turn: The turn in which it is asked.
        candidates: What was perhaps said, the likeliest first.
        figure: How to ask where nothing but the figure of the call is in doubt; None where more is.
    """
    question = turn.state.question
    meant = tuple(candidate for candidate in candidates if not is_answer(candidate))
    if len(meant) < len(candidates) and question is not None:
        turn.record(question.event)
        return
    if not meant:
        turn.answer(Nothing("No question is open."))
        return
    if question is not None:
        turn.record(ev.Answered(answer="replaced"))
        meant = _of_what_is_asked(turn, question, meant)
        if not meant:
            turn.answer(Nothing(_CALL_IT_AGAIN))
            return
    turn.record(
        ev.Asked(
            about="doubt",
            candidates=meant,
            figure=figure,
            meaning=None if figure else tenfold_words(turn.state, meant),
        )
    )


def _of_what_is_asked(
    turn: Turn, question: Question, calls: tuple[it.Intent, ...]
) -> tuple[it.Intent, ...]:
    """Return calls with each correction as the doubtful call that it corrects, with its value; one
    that cannot be is left out."""
    if not question.event.candidates:
        return calls
    doubted = question.event.candidates[0]
    ounce = Listening(ounce=turn.state.ounce)
    found: list[it.Intent] = []
    for call in calls:
        if not isinstance(call, it.Correction):
            found.append(call)
        elif isinstance(doubted, it.Reading | it.Fluid):
            corrected = in_place_of(doubted, call, ounce)
            found.extend(() if corrected is None else (corrected,))
    return tuple(found)


def _answer(turn: Turn, question: Question | None, *, yes: bool, act: Act) -> None:
    if question is None:
        _answer_to_step(turn, yes=yes)
        return
    asks_of_the_bench = question.event.about == "step-question"
    stale = turn.at - question.at > HOLDS and not asks_of_the_bench
    if (yes or asks_of_the_bench) and (question.interrupted or stale):
        if question.event.about == "start":
            # What was checked when the question was put may have changed.
            turn.record(ev.Answered(answer="replaced"))
            gate.check_start(turn)
            return
        # "Yes" may have been meant for the timer that rang, or for nobody here.
        turn.record(question.event)
        return
    if yes and question.event.figure == "either":
        # "Yes" to "seventeen or seventy" says nothing of which.
        first = {"candidates": question.event.candidates[:1], "figure": "one"}
        turn.record(question.event.model_copy(update=first))
        return
    turn.record(ev.Answered(answer="affirm" if yes else "negative"))
    if question.event.about in ("step-question", "applies", "enter"):
        walk.answered(turn, question.event, yes=yes)
    elif yes:
        _affirmed(turn, question, act)
    else:
        _denied(turn, question)


def _answer_to_step(turn: Turn, *, yes: bool) -> None:
    """Where no question is open, take an answer as the one to the current step's question, which
    other calls may have closed: a test that was not passed must not be lost. A "yes" is asked for
    again: it could be meant for anything.
    """
    step = steps.awaits_answer(turn.state)
    if step is None:
        turn.answer(Nothing("No question is open."))
        return
    asked = ev.Asked(about="step-question", step=step.name, meaning=step.asks)
    if yes:
        turn.record(asked)
    else:
        walk.answered(turn, asked, yes=False)


def _affirmed(turn: Turn, question: Question, act: Act) -> None:
    asked = question.event
    match asked.about:
        case "doubt":
            # From here on it is as if the doubtful call had been heard well in the first place.
            turn.heard = asked.heard
            call = None if question.heard is None else question.heard.event
            turn.clip = None if call is None else call.clip
            turn.clip_sha256 = None if call is None else call.clip_sha256
            if asked.candidates:
                act(turn, asked.candidates[0])
            else:
                # Such a question stands only in a log that no bench wrote.
                turn.answer(Nothing("Say it again."))
        case "clear-tag":
            if not gate.take_down(turn, asked):
                _further_tags(turn, asked)
        case "start":
            gate.affirm_start(turn, asked)
        case "close":
            gate.close(turn)
        case "step":
            step = steps.step_named(turn.state, asked.step)
            if step is not None:
                walk.mark_done(turn, step)
        case "disregard":
            if asked.record is not None:
                undo.set_aside(turn, asked.record)
        case "cannot-be":
            _record_all_the_same(turn, question)
        case "other-job":
            turn.record(ev.JobClosed(instead=asked.session))


def _record_all_the_same(turn: Turn, question: Question) -> None:
    """Record a value that seemed impossible and was affirmed: from another meter, or one that was
    set back."""
    asked = question.event
    turn.heard = asked.heard
    for call in asked.candidates:
        if isinstance(call, it.Reading):
            bench.reading(turn, call, corrects=asked.record, affirmed=True)


def _denied(turn: Turn, question: Question) -> None:
    asked = question.event
    if asked.about == "clear-tag":
        _further_tags(turn, asked)
    elif asked.about == "other-job":
        walk.open_card(turn)
    elif asked.about == "doubt":
        # Of two that were both named, a "no" leaves none.
        rivals = asked.candidates[2 if asked.figure == "either" else 1 :]
        if rivals:
            figure: Figure | None = None if asked.figure is None else "one"
            turn.record(
                ev.Asked(about="doubt", candidates=rivals, figure=figure, heard=asked.heard)
            )
        else:
            turn.answer(Nothing("Say it again."))


def _further_tags(turn: Turn, asked: ev.Asked) -> None:
    """Ask about the next tag that a step clears; after the last one the next step follows."""
    if gate.ask_to_clear(turn, asked.then, step=asked.step):
        return
    step = steps.step_named(turn.state, asked.step)
    if step is not None and step.name == turn.state.step:
        walk.go_on(turn, step)


def _repeats(question: Question, intent: it.Intent) -> bool:
    """Whether "step done" was said again to the question whether the step is done all the same."""
    return question.event.about == "step" and intent.intent == "step.done"


def _act_instead(turn: Turn, question: Question, intent: it.Intent, act: Act) -> None:
    doubted = question.event.candidates[0] if question.event.candidates else None
    if not isinstance(intent, it.Correction) or doubted is None:
        act(turn, intent)
        return
    # Nothing is recorded yet, so the correction is of what was asked about. Applying it to the last
    # record would silently put in a wrong number.
    if not isinstance(doubted, it.Reading | it.Fluid):
        turn.answer(Nothing(_CALL_IT_AGAIN))
        return
    what = doubted.measure if isinstance(doubted, it.Reading) else (doubted.fluid or "fluid")
    what = f"{what} {amount(doubted.value, doubted.unit)}"
    quantity = undo.in_place_of(turn, intent, what, doubted.unit)
    if quantity is not None:
        unit, si = quantity
        act(
            turn,
            doubted.model_copy(update={"value": intent.value, "unit": unit, "si": si}),
        )
