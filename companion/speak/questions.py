"""Questions in words, and what is said when one is answered."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from companion.intent import intents as it
from companion.intent.second import same_but_for_figures
from companion.job import events as ev
from companion.job.events import AnyEvent
from companion.job.state import State
from companion.job.state_values import Fact
from companion.speak.calls import call_words
from companion.speak.numbers import fraction_of, number_words, read_back_number
from companion.speak.phrases import QUESTION, Phrase, recorded
from companion.speak.reason_words import (
    NEVER_CHECKED,
    checked_words,
    clearing_words,
    reason_lines,
    reasons_words,
    unknown_words,
)
from companion.speak.speakable import sentence
from companion.speak.worded.recalled import record_words

TAGS_NAMED, FEW_TAGS_NAMED, REASONS_NAMED = 6, 1, 1
"""How many tags, the oldest, are named in a question, which has to be kept in mind; fewer tags, and
how many reasons, where something without a tag holds the start too. "Read tags" has all tags."""


def question_phrase(state: State, event: ev.Asked) -> Phrase:
    """Put a question so that "affirm" can only mean what it says."""
    return Phrase(QUESTION, "question", _question_words(state, event))


def _first_call(state: State, event: ev.Asked) -> str:
    """What is asked about first; a log that no bench wrote may have nothing there."""
    return call_words(event.candidates[0], state.ounce) if event.candidates else "this call"


def _question_words(state: State, event: ev.Asked) -> str:
    meaning = sentence(event.meaning) if event.meaning else ""
    match event.about:
        case "doubt":
            if event.figure is not None:
                return _figure_words(event)
            meaning = meaning or which_number(event.candidates) or _or_a_tag(state, event)
            return f"{meaning} Confirm: {_first_call(state, event)}?".strip()
        case "clear-tag":
            # Older logs have the reason in words.
            ground = sentence(clearing_words(event.grounds, event.filled)) if event.grounds else ""
            return f"{ground or meaning} Clear tag {event.tag}?".strip()
        case "start":
            return f"{_before_a_start(event, meaning)} Clear to start?".strip()
        case "other-job":
            return _other_job(state, event)
        case "cannot-be":
            return f"{meaning} Record {_first_call(state, event)}?"
        case "own-way":
            return f"Shall I take {event.own} as {event.plain}?"
        case "close":
            said = []
            if event.standing:
                most = FEW_TAGS_NAMED if event.still else TAGS_NAMED
                named = ", ".join(event.standing[:most])
                said.append(sentence(f"Still hanging: {named}{_more(event.standing, most)}"))
            if event.still:
                so = reasons_words(event.still[:REASONS_NAMED])
                said.append(sentence(f"Still so: {so}{_more(event.still, REASONS_NAMED)}"))
            if event.left:
                count = number_words(Decimal(len(event.left)))
                said.append(f"{count.capitalize()} {_steps(len(event.left))} left.")
            return f"{' '.join(said)} Close the job all the same?"
        case "step":
            left = sentence(f"Still left: {', '.join(event.left)}")
            return f"{left} Step done all the same?"
        case "step-question":
            return meaning.replace("?.", "?")
        case "applies":
            return f"{meaning} Does it apply?"
        case "enter":
            against = " ".join(sentence(reason) for reason in event.against)
            name = (event.step or "the step").replace("-", " ")
            return f"{against} Go to {name} all the same?"
        case "review":
            return _review(state, event, meaning)
        case "disregard":
            fact = None if event.record is None else fact_of(state, event.record)
            return f"Disregard: {record_words(fact.event)}?" if fact is not None else meaning


def _figure_words(event: ev.Asked) -> str:
    """Ask about the figure alone, in as few words as cannot be taken for another: "thirty one?",
    "fifteen, one five?", "fifteen or fifty?"."""
    called = [each for each in event.candidates if isinstance(each, it.Quantity)]
    if not called:
        # Such a question stands only in a log that no bench wrote.
        return "Confirm: this call?"
    if event.figure == "either" and len(called) > 1:
        first, second = (
            fraction_of(each.value, each.unit) or number_words(each.value) for each in called[:2]
        )
        return f"{first.capitalize()} or {second}?"
    value, unit = called[0].value, called[0].unit
    return f"{(fraction_of(value, unit) or read_back_number(value)).capitalize()}?"


def _more(things: Sequence[object], most: int) -> str:
    """Say how many there are beyond those that are named."""
    more = len(things) - most
    return f", and {number_words(Decimal(more))} more" if more > 0 else ""


def _before_a_start(event: ev.Asked, meaning: str) -> str:
    known = event.checked
    if known is None:
        return meaning
    told = ", ".join(checked_words(known)) or "nothing"
    unknown = ", ".join((*unknown_words(known), *NEVER_CHECKED))
    return sentence(f"No tag hangs. Checked: {told}. Not checked: {unknown}")


def _other_job(state: State, event: ev.Asked) -> str:
    jobs = () if state.known is None else state.known.event.jobs
    job = next((each for each in jobs if each.session == event.session), None)
    title = "" if job is None or not job.title else f": {job.title}"
    how = "parked" if job is None or job.parked else "left open"
    return f"{sentence(f'A job on this machine is {how}{title}')} Go on with it instead?"


def _review(state: State, event: ev.Asked, meaning: str) -> str:
    """Say what would no longer hold the start, and what would be recorded instead."""
    said = []
    if event.grounds:
        lines = sentence("; ".join(reason_lines(event.grounds)))
        said.append(f"This would no longer hold the start. {lines}")
    if meaning:
        said.append(meaning)
    if event.candidates:
        said.append(f"Confirm: {call_words(event.candidates[0], state.ounce)}?")
    else:
        fact = None if event.record is None else fact_of(state, event.record)
        what = "the call" if fact is None else record_words(fact.event)
        said.append(f"Disregard: {what}?")
    return " ".join(said)


def _steps(count: int) -> str:
    return "step" if count == 1 else "steps"


def answered_phrases(
    state: State, event: ev.Answered, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    """Say what a "negative" leaves as it was; the records of an "affirm" say what that did.

    Args:
        state: After the answer.
        event: The answer.
        events: All that the call brought.
    """
    question = state.last_question
    if question is not None and question.event.about == "own-way" and event.answer == "affirm":
        return (recorded(f"{question.event.own} is {question.event.plain} from now on"),)
    if event.answer != "negative":
        return ()
    if any(isinstance(other, ev.Asked) and other.about == "doubt" for other in events):
        return ()
    if any(isinstance(other, ev.Asked) for other in events):
        return (recorded("It stays"),)
    if question is None or question.event.about == "doubt":
        return ()
    stays = {
        "clear-tag": f"Tag {question.event.tag} stays",
        "start": "Not started",
        "close": "The job stays open",
        "step": "The step stays open",
        "step-question": "",
        "applies": "",
        "enter": "It waits",
        "other-job": "A new job",
        "disregard": "It stands",
        "own-way": "Not taken",
        "cannot-be": "Not recorded",
        "review": "It stands",
    }[question.event.about]
    return (recorded(stays),) if stays else ()


def _or_a_tag(state: State, event: ev.Asked) -> str:
    """Name both where a part may have been called off, or the tag of that name."""
    if len(event.candidates) != 2 or not isinstance(event.candidates[1], it.TagHang):
        return ""
    one, other = (call_words(each, state.ounce) for each in event.candidates)
    return f"{one.capitalize()}, or {other}?"


def which_number(candidates: Sequence[it.Intent]) -> str:
    """Name both numbers where that is all that two calls differ in: "Fifty or fifteen?"."""
    if len(candidates) < 2:
        return ""
    first, second = candidates[:2]
    if not isinstance(first, it.Quantity) or not isinstance(second, it.Quantity):
        return ""
    # A fraction is long in decimals, and said as a fraction in the question itself.
    short = all(each.value == round(each.value, 1) for each in (first, second))
    if not short or first.unit != second.unit or not same_but_for_figures(first, second):
        return ""
    return f"{number_words(first.value).capitalize()} or {number_words(second.value)}?"


def fact_of(state: State, seq: int) -> Fact[Any] | None:
    """The record of this number, among all that can be disregarded or corrected."""
    if state.set_aside is not None and state.set_aside.seq == seq:
        return state.set_aside
    entry = state.undo.at(seq, seq)
    return state.fact(seq) if entry is None else entry.fact
