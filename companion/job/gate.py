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
from companion.job.left_open import OpenPart, in_words, listed, open_parts, unmended
from companion.job.state import Fact, State, Tag
from companion.job.tags import FILLINGS, TAGS, Filling, fillings_of, undone_by_work
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
    for tag, parts in open_parts(turn.state).items():
        hang(turn, tag, "implied", in_words(parts))
    for filling in FILLINGS.values():
        if turn.state.tag(filling.tag) is not None:
            continue
        now = fluids.standing(turn.state, filling.fluid)
        if not now.missing:
            continue
        # The tag of a fluid that needs no level only reminds: once down by "affirm" it stays down.
        if filling.level_needed or not _down_since_drained(turn.state, filling):
            hang(turn, filling.tag, "implied", _why_missing(filling.fluid, now))


def warn_if_hung_while_running(turn: Turn) -> None:
    """Say at once that a tag was hung by itself while the engine was called running."""
    hung = [each for each in turn.events if isinstance(each, ev.TagHung) and each.by == "implied"]
    if hung and turn.state.engine_running:
        turn.answer(Refused("Stop the engine: it was called running, and not called stopped."))


def _why_missing(fluid: str, now: fluids.Standing) -> str:
    """Why a tag is hung, in words that stay true when something is added later."""
    if now.level in ("low", "over"):
        return f"{fluid} level was called {now.level}"
    return f"{fluid} was drained"


def reason_now(state: State, tag: Tag) -> str:
    """Return why a tag hangs, as things stand: what still has to be called, where that is known."""
    parts = open_parts(state).get(tag.tag, ())
    reasons = (*((in_words(parts),) if parts else ()), *_fluids_missing(state, tag.tag))
    return "; ".join(reasons) or _at_step(tag)


def _at_step(tag: Tag) -> str:
    """The reason of a tag; older logs name the step alone."""
    return f"hung at {tag.reason}" if tag.reason.startswith("step ") else tag.reason


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
    rule = TAGS.get(tag)
    parts = open_parts(state).get(tag, ()) if rule is not None and rule.each_called else ()
    return (*((_not_undone(parts),) if parts else ()), *_fluids_missing(state, tag))


def _fluids_missing(state: State, tag: str) -> tuple[str, ...]:
    return tuple(
        reason
        for filling in fillings_of(tag)
        if filling.level_needed
        for reason in fluids.standing(state, filling.fluid).missing
    )


def _not_undone(parts: tuple[OpenPart, ...]) -> str:
    return f"{in_words(parts)} and not called {_undoing(parts)}"


def _undoing(parts: tuple[OpenPart, ...]) -> str:
    """What is called of parts once they are as they were: "installed", "tightened"."""
    ways = [
        work.undone_by[0]
        for rule in TAGS.values()
        for work in rule.work
        for part in parts
        if part.how in work.hung_by and rule.hung_by_work(part.how, part.part)
    ]
    return ways[0] if ways else "installed"


def take_down(turn: Turn, question: ev.Asked) -> bool:
    """Take a tag down after its question was affirmed, if nothing stands in the way by now.

    Where what the question said no longer holds, it is put again as things are now.

    Returns:
        Whether it was put again.
    """
    tag = None if question.tag is None else turn.state.tag(question.tag)
    if tag is None:
        return False
    against = in_the_way(turn.state, tag.tag)
    if against:
        turn.answer(Refused(f"Tag {tag.tag} stays: {'; '.join(against)}."))
    elif question.meaning != _meaning(turn.state, tag):
        return ask_to_clear(turn, (tag.tag, *question.then), step=question.step)
    else:
        turn.record(ev.TagCleared(tag=tag.tag))
    return False


def ask_when_undone(turn: Turn, action: str, part: str) -> None:
    """Ask to clear the tags that this work undoes; say what else they still hang for."""
    parts = open_parts(turn.state)
    done = []
    for rule in undone_by_work(action, part):
        if turn.state.tag(rule.tag) is None:
            continue
        left = parts.get(rule.tag, ())
        if left:
            turn.answer(ReadBackList(f"not called {action}", tuple(each.part for each in left)))
        else:
            done.append(rule.tag)
    ask_to_clear(turn, tuple(done))


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
    parts = open_parts(state).get(tag.tag, ())
    if parts:
        left = _not_undone(parts)
        return f"{left[:1].upper()}{left[1:]}. Affirm if that is over."
    by = {"voice": "It was hung by a call", "step": f"It was {_at_step(tag)}"}
    why = by.get(tag.by, f"It hangs because {tag.reason}")
    filling = _filling_meant(state, tag.tag)
    if filling is None:
        return f"{why}. Affirm if that is over."
    now = fluids.standing(state, filling.fluid)
    if tag.by == "implied" and not now.emptied and tag.reason.endswith("was drained"):
        why += ", which was taken back"
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


def _filling_meant(state: State, tag: str) -> Filling | None:
    """The fluid of a tag: the one that was drained, where several share the tag."""
    fillings = fillings_of(tag)
    drained = (each for each in fillings if fluids.standing(state, each.fluid).emptied)
    return next(drained, fillings[0] if fillings else None)


def _unit_last_used(state: State, fluid: str) -> str | None:
    moves = [fact for fact in state.effective(state.fluids) if fact.event.fluid == fluid]
    return moves[-1].event.unit if moves else None


# --- the start gate and the engine --------------------------------------------------------------


def reasons_against_start(state: State) -> tuple[str, ...]:
    """Return everything that keeps the gate shut, in words, the oldest tag first."""
    reasons = [f"tag {tag.tag}: {reason_now(state, tag)}" for tag in state.tags]
    reasons.extend(reasons_without_tag(state))
    if state.engine_running:
        reasons.append("the engine was called running and not called stopped")
    return tuple(reasons)


def reasons_without_tag(state: State) -> tuple[str, ...]:
    """Return what speaks against a start though no tag hangs for it, in words."""
    found = unmended(state)
    reasons = [f"{in_words(found)} and not called mended"] if found else []
    # The rest cannot happen while every call ends in ``rehang``; the gate does not rely on that.
    for tag, parts in open_parts(state).items():
        if state.tag(tag) is None:
            reasons.append(in_words(parts))
    for filling in FILLINGS.values():
        if state.tag(filling.tag) is None:
            reasons.extend(_fluids_missing(state, filling.tag))
    return tuple(dict.fromkeys(reasons))


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


def checked(state: State) -> tuple[str, ...]:
    """Return what calls tell for a start, in words: levels, and tags affirmed clear since."""
    known = []
    for fluid in fluids.to_check(state):
        now = fluids.standing(state, fluid)
        if now.level == "full" and now.settled:
            known.append(f"{fluid} level full")
    # What was cleared for an earlier start is no news, and says nothing of this one.
    since = state.start_affirmed or 0
    down = [tag for tag, seq in state.cleared.items() if seq > since and state.tag(tag) is None]
    return (*known, *(f"{tag} cleared" for tag in sorted(down, key=state.cleared.__getitem__)))


def check_start(turn: Turn) -> None:
    """Act on "clear to start": the reasons against it, or the question."""
    reasons = reasons_against_start(turn.state)
    unknown, known = not_checked(turn.state), checked(turn.state)
    standing = tuple(tag.tag for tag in turn.state.tags)
    turn.record(
        ev.StartChecked(standing=standing, reasons=reasons, not_checked=unknown, checked=known)
    )
    if not reasons:
        # Every tag that came down was answered for one by one: here their number is enough.
        levels = [each for each in known if not each.endswith(" cleared")]
        down = len(known) - len(levels)
        if down:
            levels.append(f"{down} {'tag' if down == 1 else 'tags'} cleared")
        told = ", ".join(levels) or "nothing"
        meaning = f"No tag hangs. Checked: {told}. Not checked: {', '.join(unknown)}."
        turn.record(ev.Asked(about="start", meaning=meaning))


def affirm_start(turn: Turn) -> None:
    """Record the affirmed start, if nothing stands in the way by now."""
    if reasons_against_start(turn.state):
        check_start(turn)
        return
    turn.record(ev.StartAffirmed())


def engine_runs(turn: Turn) -> None:
    """Act on "engine running", whatever hangs."""
    turn.record(
        ev.EngineRunning(
            against=tuple(tag.tag for tag in turn.state.tags),
            reasons=reasons_without_tag(turn.state),
        )
    )


def engine_left_running(state: State) -> Refused | None:
    """Return the warning that is due when a job is taken up whose engine was left running."""
    if not state.engine_running:
        return None
    hang = f", with {listed(tag.tag for tag in state.tags)} tagged" if state.tags else ""
    return Refused(f"The engine was called running{hang}. Stop it, or call engine stopped.")


# --- closing ------------------------------------------------------------------------------------


def tags_hanging(state: State) -> TagsHanging:
    """Return the tags that hang, the oldest first."""
    return TagsHanging(tuple((tag.tag, reason_now(state, tag)) for tag in state.tags))


def ask_or_close(turn: Turn) -> None:
    """Act on "close job": at once, or after a question that says what hangs and what is left."""
    standing = tuple(tag.tag for tag in turn.state.tags)
    left = tuple(steps.in_words(step.name) for step in steps.steps_left(turn.state))
    if not standing and not left:
        close(turn)
        return
    still = f"{', '.join(standing)} still hanging" if standing else f"{len(left)} steps left"
    meaning = f"Close the job with {still}."
    turn.record(ev.Asked(about="close", standing=standing, left=left, meaning=meaning))


def close(turn: Turn) -> None:
    """Close the job."""
    turn.record(ev.JobClosed())


# --- what a "disregard" means for tags ----------------------------------------------------------


def hang_after_disregard(turn: Turn, fact: Fact[ev.WorkRecorded]) -> None:
    """Hang a tag again that came down because of work which turns out not to have been done."""
    for rule in undone_by_work(fact.event.action, fact.event.part):
        if turn.state.cleared.get(rule.tag, 0) > fact.seq:
            reason = f"{fact.event.action} {fact.event.part} was disregarded"
            hang(turn, rule.tag, "implied", reason)
