"""Fluids in words: how far each is filled, how much more goes in, which grade."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from companion.handbook.units import spoken
from companion.job import answers as an
from companion.job import events as ev
from companion.job import fill, fluids
from companion.job.fill import Fill
from companion.job.sheet import SpecGrade
from companion.job.state import State
from companion.speak.numbers import amount_words, number_words, without_needless_zeros
from companion.speak.phrases import ANSWER, CONSEQUENCE, FACT, Phrase
from companion.speak.speakable import sentence, speakable


def moved_phrases(
    state: State, event: ev.FluidMoved, moved: str, events: Sequence[ev.AnyEvent] = ()
) -> tuple[Phrase, ...]:
    """Say a volume that went in or out, the total that it makes, and a warning of too much.

    Args:
        state: After the events.
        event: The volume.
        moved: How the volume alone is said back.
        events: All that the call brought: where a question follows that says how much went in, the
            total is left to it, so that both together stay short.
    """
    said = sentence(moved)
    now = fluids.balance(state, event.fluid)
    if event.action == "drained":
        total = fill.in_unit(state, now.drained, event.unit)
        more = "" if _is(total, event.value) else sentence(f"{_number(total)} out")
        # A review after the job fills nothing.
        first = () if event.reviewed is not None else _first_fill(state, event.fluid)
        return (_fact(said, more), *first)
    filled = fill.fill_of(state, event.fluid, event.unit)
    grounds = [asked.filled for asked in events if isinstance(asked, ev.Asked)]
    told = any(each and each.fluid == event.fluid and each.added is not None for each in grounds)
    if filled is not None:
        fact = _fact(said, "" if told else _so_far(filled))
        return (fact, _too_much(filled)) if filled.left < 0 else (fact,)
    total = fill.in_unit(state, now.filled if now.emptied else now.added, event.unit)
    more = "" if told or _is(total, event.value) else sentence(f"{_number(total)} in")
    if now.level in ("full", "over") and not now.emptied:
        again = "It was called full before this: read it again."
        return (_fact(said, more), Phrase(CONSEQUENCE, "warning", again))
    return (_fact(said, more),)


def _fact(*said: str) -> Phrase:
    return Phrase(FACT, "recorded", " ".join(filter(None, said)))


def _so_far(filled: Fill) -> str:
    """ "Twenty two of twenty four ounces: two more." """
    unit = spoken(filled.unit, plural=filled.capacity != 1)
    so_far = f"{_number(filled.filled)} of {_number(filled.capacity)} {unit}"
    if filled.left > 0:
        end = "more at most" if filled.nearly else "more"
        return sentence(f"{so_far}: {_number(filled.left)} {end}")
    if filled.left == 0:
        return sentence(f"{so_far}: read the level")
    return sentence(so_far)


def _too_much(filled: Fill) -> Phrase:
    over = amount_words(-filled.left, filled.unit)
    return Phrase(CONSEQUENCE, "warning", sentence(f"{over} too much. Let it out before a start"))


def _first_fill(state: State, fluid: str) -> tuple[Phrase, ...]:
    """How to begin filling, once a draining; "how much more" says the rest."""
    if not fill.first_fill_awaited(state, fluid):
        return ()
    spec = fluids.spec_of(state, fluid)
    first = fill.first_fill(state, fluid)
    if spec is None or first is None or not fill.creeps(spec):
        return ()
    amount = amount_words(first, fill.unit_said(state, fluid))
    # After the tag and the cautions: it is for later.
    grade = fill.grade_to_fill(state, spec)
    of_what = "" if grade is None else f", {grade_words(grade)}"
    return (Phrase(ANSWER, "recorded", sentence(f"First fill about {amount}{of_what}")),)


def fill_words(answer: an.FillSaid) -> str:
    """Answer "how much more"."""
    name = answer.fluid
    if answer.capacity is None:
        said = f"the sheet has no capacity for {name}"
        if answer.out is not None:
            said += f"; {amount_words(answer.out, answer.out_unit)} came out"
        return f"{sentence(said)} {sentence(f'go by the {answer.check}')}"
    takes = amount_words(*answer.capacity)
    filled = answer.fill
    if filled is None:
        said = sentence(f"{name} was not called drained, so what is in is not known")
        return f"{said} {sentence(f'It takes {takes}: go by the {answer.check}')}"
    if filled.filled > 0:
        percent = f"{number_words(Decimal(filled.percent))} percent"
        if filled.left > 0:
            return sentence(f"{name}: {_more(filled)} at most. {_of(filled)}, {percent}")
        if filled.left == 0:
            return sentence(f"{name}: no more. {_of(filled)}. Read the level")
        over = amount_words(-filled.left, filled.unit)
        return sentence(f"{name}: no more. {over} too much")
    parts = [f"{name}: {takes}"]
    if answer.sheet is not None:
        parts = [f"{name}: the sheet's {amount_words(*answer.sheet)} are {takes}"]
    if answer.first is not None:
        # At a plug or a neck the fluid runs over; a stick or a glass is looked at.
        to = "to" if answer.check in ("level plug", "filler neck") else "on"
        parts.append(f"First about {_number(answer.first)}, then creep up {to} the {answer.check}")
    if answer.grade is not None and answer.sheet is None:
        parts.append(grade_words(answer.grade))
    return " ".join(sentence(each) for each in parts)


def _more(filled: Fill) -> str:
    return f"{amount_words(filled.left, filled.unit)} more"


def _of(filled: Fill) -> str:
    return f"{_number(filled.filled)} of {_number(filled.capacity)} in"


def grade_said(answer: an.GradeSaid) -> str:
    """Answer "oil grade"."""
    if answer.air is None and answer.grade is not None:
        return sentence(f"{answer.fluid}: {grade_words(answer.grade)}")
    if answer.air is not None:
        at = amount_words(answer.air.value, answer.air.unit)
        if answer.grade is not None:
            return sentence(f"at {at}: {grade_words(answer.grade)}")
        return sentence(f"the sheet has no {answer.fluid} for {at}. {_ends(answer.ranges)}")
    if not answer.ranges:
        return sentence(f"the sheet has no grade for {answer.fluid}")
    return f"{_ranges(answer.ranges)} Call the air temperature."


def _ranges(ranges: tuple[SpecGrade, ...]) -> str:
    """The warmest first: "S A E thirty from four degrees celsius, five W thirty below." """
    said = []
    unit = ranges[0].unit
    for grade in reversed(ranges):
        if grade is ranges[0] and len(ranges) > 1:
            said.append(f"{grade_words(grade.grade)} below")
        elif grade.low is None:
            said.append(grade_words(grade.grade))
        elif not said:
            said.append(f"{grade_words(grade.grade)} from {amount_words(grade.low, unit)}")
        else:
            said.append(f"{grade_words(grade.grade)} from {_number(grade.low)}")
    return sentence(", ".join(said))


def _ends(ranges: tuple[SpecGrade, ...]) -> str:
    """Between which temperatures the sheet names any grade."""
    low, high, unit = ranges[0].low, ranges[-1].high, ranges[0].unit
    if low is not None and high is not None:
        return f"It goes from {_number(low)} to {amount_words(high, unit)}"
    if low is not None:
        return f"It goes down to {amount_words(low, unit)}"
    assert high is not None, "a range open at both ends has a grade for any temperature"
    return f"It goes up to {amount_words(high, unit)}"


def grade_words(grade: str) -> str:
    """Say a grade: "5W-30" is "five W thirty"."""
    return speakable(grade.replace("-", " "))


def _number(value: Decimal) -> str:
    return number_words(without_needless_zeros(value))


def _is(total: Decimal, called: Decimal) -> bool:
    return without_needless_zeros(total) == without_needless_zeros(called)
