"""Danger: the tags that hang, what takes them down, the start gate, and an engine that runs.

A tag comes down in one place only, ``take_down``, which is called only when its question was
answered by "affirm". The gate never says that a start is safe: it says that no tag hangs, and what
nobody called.
"""

from __future__ import annotations

from companion.handbook.convert import plain
from companion.handbook.units import from_si, spoken
from companion.job import events as ev
from companion.job import fluids, steps
from companion.job.answers import Nothing, ReadBackList, Refused, TagsHanging
from companion.job.state import Fact, State, Tag
from companion.job.tags import FILLING_BY_TAG, FILLINGS, Filling, refitted_by_work
from companion.job.turn import Turn

NEVER_CHECKED = ("guards", "controls", "fuel leaks", "people near")
"""What no call tells of, so that the gate says every time that it did not check it."""


# --- hanging ------------------------------------------------------------------------------------


def hang(turn: Turn, tag: str, by: ev.HungBy, reason: str) -> None:
    """Hang a tag, unless it hangs already."""
    if turn.state.tag(tag) is None:
        turn.record(ev.TagHung(tag=tag, by=by, reason=reason))


def hang_by_call(turn: Turn, tag: str) -> None:
    """Act on "tag …"."""
    if turn.state.tag(tag) is not None:
        turn.answer(Nothing(f"Tag {tag} hangs already."))
    hang(turn, tag, "voice", "called")


def rehang(turn: Turn) -> None:
    """Hang every tag that what was called demands and that does not hang.

    This runs after every call, whatever it was: draining hangs a tag here, and so does a correction
    or a "disregard" that takes the ground from under a tag that came down.
    """
    for filling in FILLINGS.values():
        if turn.state.tag(filling.tag) is not None:
            continue
        now = fluids.standing(turn.state, filling.fluid)
        if not now.missing:
            continue
        # The tag of a fluid that needs no level only reminds: once down by "affirm" it stays down.
        if filling.level_needed or not _down_since_drained(turn.state, filling):
            hang(turn, filling.tag, "implied", _why_missing(filling.fluid, now))


def _why_missing(fluid: str, now: fluids.Standing) -> str:
    """Why a tag is hung, in words that stay true when something is added later."""
    if now.level in ("low", "over"):
        return f"{fluid} level was called {now.level}"
    return f"{fluid} was drained"


def reason_now(state: State, tag: Tag) -> str:
    """Return why a tag hangs, as things stand: what still has to be called, where that is known."""
    return "; ".join(in_the_way(state, tag.tag)) or tag.reason


def _down_since_drained(state: State, filling: Filling) -> bool:
    drainings = (
        fact.seq
        for fact in state.effective(state.fluids)
        if fact.event.fluid == filling.fluid and fact.event.action == "drained"
    )
    return state.cleared.get(filling.tag, 0) > max(drainings, default=0)


# --- clearing -----------------------------------------------------------------------------------


def clear_by_call(turn: Turn, tag: str) -> None:
    """Act on "clear tag …"."""
    if turn.state.tag(tag) is None:
        turn.answer(Nothing(f"Tag {tag} does not hang."))
        return
    ask_to_clear(turn, (tag,))


def ask_to_clear(turn: Turn, tags: tuple[str, ...], *, step: str | None = None) -> bool:
    """Ask about the first of these tags that may come down; say of the others why not.

    Args:
        turn: The turn.
        tags: In the order in which to ask; those that do not hang are passed over.
        step: The step whose end asks for it.

    Returns:
        Whether a question was put.
    """
    for index, text in enumerate(tags):
        tag = turn.state.tag(text)
        if tag is None:
            continue
        against = in_the_way(turn.state, text)
        if against:
            turn.answer(Refused(f"Tag {text} stays: {'; '.join(against)}."))
            continue
        turn.record(
            ev.Asked(
                about="clear-tag",
                tag=text,
                then=tags[index + 1 :],
                meaning=_meaning(turn.state, tag),
                step=step,
            )
        )
        return True
    return False


def in_the_way(state: State, tag: str) -> tuple[str, ...]:
    """Return why a tag cannot come down, in words; empty where "affirm" is all it needs."""
    filling = FILLING_BY_TAG.get(tag)
    if filling is None or not filling.level_needed:
        return ()
    return fluids.standing(state, filling.fluid).missing


def take_down(turn: Turn, question: ev.Asked) -> None:
    """Take a tag down after its question was affirmed, if nothing stands in the way by now."""
    tag = question.tag
    if tag is None or turn.state.tag(tag) is None:
        return
    against = in_the_way(turn.state, tag)
    if against:
        turn.answer(Refused(f"Tag {tag} stays: {'; '.join(against)}."))
        return
    turn.record(ev.TagCleared(tag=tag))


def ask_when_filled(turn: Turn, fluid: str) -> None:
    """Ask to clear a fluid's tag as soon as what was called is enough for it."""
    filling = FILLINGS.get(fluid)
    if filling is None:
        return
    tag = turn.state.tag(filling.tag)
    now = fluids.standing(turn.state, fluid)
    if tag is None or now.missing:
        return
    called_full = now.level == "full" or not filling.level_needed
    # A tag that a step or a call hung before anything was drained is left for the person to name.
    if called_full and (now.filled > 0 or tag.by == "implied"):
        ask_to_clear(turn, (tag.tag,))


def _meaning(state: State, tag: Tag) -> str:
    """What "affirm" would mean: why the tag hangs, and what was called since."""
    why = "It was hung by a call" if tag.by == "voice" else f"It hangs because {_because(tag)}"
    filling = FILLING_BY_TAG.get(tag.tag)
    if filling is None:
        return f"{why}. Affirm means that this is over."
    now = fluids.standing(state, filling.fluid)
    if tag.by == "implied" and not now.emptied and tag.reason.endswith("was drained"):
        why += ", which was disregarded"
    called = []
    if now.emptied and now.filled > 0:
        unit = _unit_last_used(state, filling.fluid)
        if unit is not None:
            amount = round(from_si(now.filled, unit, ounce=state.ounce), 1)
            called.append(f"{plain(amount)} {spoken(unit, plural=amount != 1)} added since")
    if filling.level_needed:
        called.append(
            f"{filling.fluid} level "
            + ("not called" if now.level is None else f"called {now.level}")
            + ("" if now.settled or now.level is None else " before the last filling")
        )
    return f"{why}. {', '.join(called).capitalize()}." if called else f"{why}."


def _because(tag: Tag) -> str:
    return f"of {tag.reason}" if tag.by == "step" else tag.reason


def _unit_last_used(state: State, fluid: str) -> str | None:
    moves = [fact for fact in state.effective(state.fluids) if fact.event.fluid == fluid]
    return moves[-1].event.unit if moves else None


# --- the start gate and the engine --------------------------------------------------------------


def reasons_against_start(state: State) -> tuple[str, ...]:
    """Return everything that keeps the gate shut, in words, the oldest tag first."""
    reasons = [f"tag {tag.tag}: {reason_now(state, tag)}" for tag in state.tags]
    for filling in FILLINGS.values():
        # Cannot happen while every call ends in ``rehang``; the gate does not rely on that.
        if state.tag(filling.tag) is None:
            reasons.extend(in_the_way(state, filling.tag))
    if state.engine_running:
        reasons.append("the engine was called running and not called stopped")
    return tuple(reasons)


def not_checked(state: State) -> tuple[str, ...]:
    """Return what is unknown before a start, in words."""
    unknown = []
    for fluid in fluids.to_check(state):
        now = fluids.standing(state, fluid)
        if now.level != "full" or not now.settled:
            unknown.append(f"{fluid} level")
    left = len(steps.steps_left(state))
    if left:
        unknown.append(f"{left} {'step' if left == 1 else 'steps'} of the card")
    return (*unknown, *NEVER_CHECKED)


def check_start(turn: Turn) -> None:
    """Act on "clear to start": the reasons against it, or the question."""
    reasons = reasons_against_start(turn.state)
    unknown = not_checked(turn.state)
    standing = tuple(tag.tag for tag in turn.state.tags)
    turn.record(ev.StartChecked(standing=standing, reasons=reasons, not_checked=unknown))
    if not reasons:
        meaning = f"No tag hangs. Not checked: {', '.join(unknown)}."
        turn.record(ev.Asked(about="start", meaning=meaning))


def affirm_start(turn: Turn) -> None:
    """Record the affirmed start, if nothing stands in the way by now."""
    if reasons_against_start(turn.state):
        check_start(turn)
        return
    turn.record(ev.StartAffirmed())


def engine_runs(turn: Turn) -> None:
    """Act on "engine running", whatever hangs."""
    turn.record(ev.EngineRunning(against=tuple(tag.tag for tag in turn.state.tags)))


# --- closing ------------------------------------------------------------------------------------


def tags_hanging(state: State) -> TagsHanging:
    """Return the tags that hang, the oldest first."""
    return TagsHanging(tuple((tag.tag, reason_now(state, tag)) for tag in state.tags))


def ask_or_close(turn: Turn) -> None:
    """Act on "close job": at once, or after a question that names the tags that hang."""
    standing = tuple(tag.tag for tag in turn.state.tags)
    if not standing:
        close(turn)
        return
    left = tuple(steps.in_words(step.name) for step in steps.steps_left(turn.state))
    meaning = f"Close the job with {', '.join(standing)} still hanging."
    turn.record(ev.Asked(about="close", standing=standing, left=left, meaning=meaning))


def close(turn: Turn) -> None:
    """Close the job and say what of the card is left."""
    left = tuple(steps.in_words(step.name) for step in steps.steps_left(turn.state))
    turn.record(ev.JobClosed())
    if left:
        turn.answer(ReadBackList("steps left", left))


# --- what a "disregard" means for tags ----------------------------------------------------------


def hang_after_disregard(turn: Turn, fact: Fact[ev.WorkRecorded]) -> None:
    """Hang a tag again that came down because of work which turns out not to have been done."""
    fitting = refitted_by_work(fact.event.action, fact.event.part)
    if fitting is not None and turn.state.cleared.get(fitting.tag, 0) > fact.seq:
        reason = f"{fact.event.action} {fact.event.part} was disregarded"
        hang(turn, fitting.tag, "implied", reason)
