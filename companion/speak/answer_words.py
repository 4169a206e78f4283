"""Answers to what was asked, in words."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from companion.handbook.units import dimension
from companion.job import answers as an
from companion.job.answers import Answer
from companion.job.lines import named, several
from companion.job.state import State
from companion.speak.fluid_words import fill_words, grade_said
from companion.speak.numbers import (
    about_duration_words,
    amount_words,
    fraction_of,
    number_words,
    read_back,
    without_needless_zeros,
)
from companion.speak.phrases import (
    ANSWER,
    CONSEQUENCE,
    FACT,
    VERDICTS,
    WARNING,
    Phrase,
    Tone,
    caution,
    told,
)
from companion.speak.reason_words import listed, reasons_words, stays_words
from companion.speak.remark_words import before_words
from companion.speak.speakable import sentence, speakable
from companion.speak.when_words import when_words

_SENTENCE = re.compile(r"(?<=[.?!]) ")

REASONS_SAID = 3
"""With more tags than this only their names are read, so that the list can be kept in mind."""


OPEN_SAID = 3
"""How many follow-ups and parts needed from before are named; the report has them all."""

OUT_SAID = 2
"""How many readings that were out before are told, the latest first."""

SPEC_WORDS = 18
"""A spec with its condition is said in no more words than this: digits read back are quick words,
and the whole stays below eight seconds."""


def answer_phrases(state: State, answer: Answer) -> tuple[Phrase, ...]:
    """Put one answer into words."""
    match answer:
        case an.TimeLeft():
            return (told(" ".join(_time_left(*timer) for timer in answer.timers)),)
        case an.TagsHanging():
            # Said before cautions and steps: whoever takes a job up again must hear it first.
            return (Phrase(FACT, "none", _tags_hanging(answer)),)
        case an.TagStays():
            said = sentence(f"Tag {answer.tag} stays: {stays_words(answer.against)}")
            return (Phrase(WARNING, "warning", said),)
        case an.StandingOpen():
            if answer.still:
                return (told(sentence(f"still: {reasons_words(answer.reasons)}")),)
            return (Phrase(FACT, "none", sentence(f"still so: {reasons_words(answer.reasons)}")),)
        case an.EngineLeftRunning():
            return (Phrase(WARNING, "warning", _left_running(answer)),)
        case an.FromBefore():
            return (_from_before(answer),)
        case an.DrainedAgain():
            return (_drained_again(answer),)
        case an.StepSpoken():
            at = f"Step {number_words(Decimal(answer.place))}"
            return (
                *(caution(text) for text in answer.cautions),
                told(f"{at}. {sentence(answer.say)}"),
            )
        case an.CanSay():
            return (told(_can_say(answer)),)
        case an.StepsLeft():
            return (told(_steps_left(answer)),)
        case an.PassedOver():
            names = ", ".join(name.replace("-", " ") for name in answer.steps)
            return (Phrase(CONSEQUENCE, "none", sentence(f"not needed: {names}")),)
        case an.SpecSaid():
            return (told(_spec(answer)),)
        case an.ReadBackReading():
            said = sentence(f"{answer.measure}, {read_back(answer.value, answer.unit)}")
            before = () if answer.before is None else (before_words(answer.before),)
            no_verdict = dimension(answer.unit) == "time"
            verdict = () if no_verdict else (VERDICTS[answer.verdict],)
            return (told(" ".join((said, *verdict, *before))),)
        case an.NotReadYet():
            said = sentence(f"no {answer.measure} recorded in this job")
            return (told(f"{said} {before_words(answer.before)}"),)
        case an.ReadBackFluid():
            return (told(_fluid_totals(answer)),)
        case an.FillSaid():
            return (told(fill_words(answer)),)
        case an.GradeSaid():
            return (told(grade_said(answer)),)
        case an.ReadBackList():
            return (told(sentence(f"{answer.name}: {', '.join(answer.lines)}")),)
        case an.HandbookSaid():
            # One phrase a sentence, so that a long answer can be cut between them.
            return tuple(told(each) for each in _SENTENCE.split(sentence(answer.text)))
        case an.SayAgain():
            asked = state.question is not None
            tone: Tone = "question" if asked else "none"
            return tuple(Phrase(ANSWER, tone, piece) for piece in answer.pieces)
        case an.Refused():
            return (Phrase(WARNING, "warning", sentence(answer.text)),)
        case an.Ticked():
            left = ", ".join(answer.left)
            return (told(sentence(f"left here: {left}" if left else "that is all of this step")),)
        case an.Nothing():
            return (Phrase(ANSWER, "not-understood", sentence(answer.text)),)


def sources(answers: Sequence[Answer]) -> str | None:
    """Where the figures in answers are from, or None where they give none."""
    named_sources = []
    for answer in answers:
        if isinstance(answer, an.HandbookSaid):
            named_sources.append(answer.source)
        elif isinstance(answer, an.SpecSaid) and answer.window is not None:
            named_sources.append(answer.window.source)
    return "; ".join(dict.fromkeys(named_sources)) or None


def _steps_left(answer: an.StepsLeft) -> str:
    if not answer.count:
        return "No step is left."
    count = number_words(Decimal(answer.count)).capitalize()
    more = answer.count - len(answer.first)
    said = f"{count} left. {sentence('; '.join(answer.first))}"
    return f"{said} And {number_words(Decimal(more))} more." if more else said


def _time_left(name: str, seconds: int) -> str:
    if seconds < 0:
        return sentence(f"{named(name)}, overdue by {about_duration_words(-seconds)}")
    return sentence(f"{named(name)}, {about_duration_words(seconds)} left")


def _tags_hanging(answer: an.TagsHanging) -> str:
    if not answer.tags:
        return "No tag hangs."
    count = number_words(Decimal(len(answer.tags))).capitalize()
    head = "One tag hangs" if len(answer.tags) == 1 else f"{count} tags hang"
    if len(answer.tags) > REASONS_SAID:
        return sentence(f"{head}: {', '.join(tag for tag, _ in answer.tags)}")
    return f"{head}. " + " ".join(
        sentence(f"{tag}: {reasons_words(why)}") for tag, why in answer.tags
    )


def _left_running(answer: an.EngineLeftRunning) -> str:
    if answer.now:
        return "Stop the engine: it was called running, and not called stopped."
    hang = f", with {listed(answer.tags)} tagged" if answer.tags else ""
    return sentence(f"The engine was called running{hang}. Stop it, or call engine stopped")


def _from_before(answer: an.FromBefore) -> Phrase:
    """In one sentence, whatever it is that was left."""
    follow_ups = [each.part for each in answer.open if not each.count]
    needed = [
        each.part
        if each.count == 1
        else f"{number_words(Decimal(each.count))} {several(each.part, each.count)}"
        for each in answer.open
        if each.count
    ]
    out = [
        f"{each.measure} was {each.verdict} at {amount_words(each.value, each.unit)}"
        for each in answer.out
    ]
    said = [
        f"{head}{listed(tuple(parts[:most]))}{_and_more(len(parts) - most)}"
        for head, parts, most in (
            ("follow up ", follow_ups, OPEN_SAID),
            ("still needed ", needed, OPEN_SAID),
            ("", out, OUT_SAID),
        )
        if parts
    ]
    return Phrase(CONSEQUENCE, "none", sentence(f"from before: {', '.join(said)}"))


def _and_more(more: int) -> str:
    return f" and {number_words(Decimal(more))} more" if more > 0 else ""


def _drained_again(answer: an.DrainedAgain) -> Phrase:
    when = f" {when_words(answer.at, answer.days)}" if answer.elsewhere else ""
    said = f"{answer.fluid} was drained already{when}, and none was added since"
    return Phrase(CONSEQUENCE, "none", sentence(said))


def _spec(answer: an.SpecSaid) -> str:
    window = answer.window
    if window is None and answer.last is not None:
        last = answer.last
        said = read_back(last.value, last.unit)
        return sentence(
            f"{answer.measure}, not from the maker: {when_words(last.at, last.days)}, {said}"
        )
    if window is None or (window.low is None and window.high is None):
        return (
            f"{sentence(f'the sheet has no figure for {answer.measure}')} "
            "Call it out and it is kept, not as the maker's."
        )
    if window.low is None or window.high is None:
        end = window.high if window.low is None else window.low
        assert end is not None
        least = "at most" if window.low is None else "at least"
        said = f"{least} {read_back(end, window.unit)}"
    elif window.low == window.high:
        said = read_back(window.low, window.unit)
    else:
        said = f"{_without_unit(window.low, window.unit)} to {read_back(window.high, window.unit)}"
    whole = f"{answer.measure}, {said}, {answer.condition}".removesuffix(", ")
    # The page of the sheet has a long condition; here the figure was asked for.
    short = len(whole.split()) <= SPEC_WORDS
    return sentence(whole if short else f"{answer.measure}, {said}")


def _without_unit(value: Decimal, unit: str) -> str:
    """A number whose unit follows later in the sentence; of an inch, the fraction."""
    value = without_needless_zeros(value)
    fraction = fraction_of(value, unit)
    return fraction or number_words(value)


def _fluid_totals(answer: an.ReadBackFluid) -> str:
    said = []
    if answer.drained:
        said.append(f"{amount_words(answer.drained, answer.unit)} out")
    if answer.added:
        said.append(f"{amount_words(answer.added, answer.unit)} in")
    more = answer.to_capacity
    if more is not None:
        beyond = "over capacity" if more < 0 else "to capacity"
        said.append(f"{amount_words(abs(more), answer.unit)} {beyond}" if more else "at capacity")
    if answer.percent is not None and more is not None and more > 0:
        said.append(f"{number_words(Decimal(answer.percent))} percent")
    if answer.level is not None:
        said.append(f"level {answer.level}")
    return sentence(f"{answer.fluid}: {', '.join(said) or 'nothing called'}")


def _can_say(answer: an.CanSay) -> str:
    """Say what fits now, in less than eight seconds."""
    match answer.now:
        case "question":
            return "A question is open: affirm, or negative. Say again repeats it."
        case "parked":
            return "Say resume to go on."
        case "anything":
            return (
                "Call a reading, a finding, work done, a part or a fluid. Or say step, read tags,"
                " clear to start, or note."
            )
    if not answer.left:
        return "Nothing is left at this step: step done. Or skip step, or step back."
    more = ", and more" if answer.more else ""
    return f"Left at this step: {speakable(', '.join(answer.left))}{more}. Then step done."
