"""Danger: the tags that hang, what takes them down, the start gate, and an engine that runs.

A tag comes down in one place only, ``take_down``, which is called only when its question was
answered by "affirm", and never while a part is still off or a level unproven. The gate never says
that a start is safe: it says that nothing stands against it, and what nobody called.
"""

from __future__ import annotations

from datetime import datetime

from companion.job import events as ev
from companion.job import fluids, steps
from companion.job.answers import EngineLeftRunning, Nothing, StandingOpen, TagsHanging, TagStays
from companion.job.clearing import filled_of, grounds_of
from companion.job.danger_table import LOG_UNREAD
from companion.job.dangers import Danger, dangers, of_tag
from companion.job.events import FluidMoved
from companion.job.reason import Checked, Reason
from companion.job.state import State
from companion.job.state_values import Fact, Tag
from companion.job.turn import Turn

# --- hanging ------------------------------------------------------------------------------------


def hang(
    turn: Turn,
    tag: str,
    by: ev.HungBy,
    because: tuple[Reason, ...] = (),
    step: str | None = None,
) -> None:
    """Hang a tag, unless it hangs already.

    Args:
        turn: The turn under way.
        tag: Its text.
        by: What hangs it.
        because: Why, where it hangs by itself.
        step: The step of the card that hangs it, or None.
    """
    if turn.state.tag(tag) is None:
        turn.record(ev.TagHung(tag=tag, by=by, because=because, step=step))


def hang_by_call(turn: Turn, tag: str) -> None:
    """Act on "tag …"."""
    if turn.state.tag(tag) is not None:
        turn.answer(Nothing(f"Tag {tag} hangs already."))
    hang(turn, tag, "voice")


def rehang(turn: Turn) -> None:
    """Hang every tag that what was called demands and that does not hang.

    This runs after every call, whatever it was: draining hangs a tag here, and so does a correction
    or a "disregard" that takes the ground from under a tag that came down.
    """
    by_tag: dict[str, list[Reason]] = {}
    for danger in dangers(turn.state):
        if danger.tag is not None:
            by_tag.setdefault(danger.tag, []).append(danger.reason(turn.at))
    for tag, because in by_tag.items():
        hang(turn, tag, "implied", tuple(because))
    for row in turn.state.rules.dangers.fluids.values():
        if turn.state.tag(row.tag) is not None:
            continue
        # The tag of a fluid that needs no level only reminds: once down by "affirm" it stays down.
        if row.level_needed or not _down_since_drained(turn.state, row.fluid, row.tag):
            why = fluids.reasons(turn.state, row.fluid, turn.at)
            if why:
                hang(turn, row.tag, "implied", _when_hung(why))
    _hang_for_unread_logs(turn)


def implied_by(state: State, event: ev.AnyFact) -> tuple[str, Reason] | None:
    """Return the tag that a call hangs by itself, and why; None where it hangs none."""
    table = state.rules.dangers
    tag: str | None = None
    match event:
        case ev.WorkRecorded():
            tag = table.work(event.part, event.action).tag
            why = Reason(about="work", what=event.action, name=event.part, tag=tag)
        case ev.FindingRecorded():
            tag = table.found(event.part, event.condition).tag
            why = Reason(about="finding", what=event.condition, name=event.part, tag=tag)
        case ev.FluidMoved(action="drained") if event.value > 0 and event.fluid in table.fluids:
            tag = table.fluids[event.fluid].tag
            why = Reason(about="fluid", what="drained", name=event.fluid, tag=tag)
        case ev.LevelRead() if event.level != "full" and event.fluid in table.fluids:
            row = table.fluids[event.fluid]
            tag = row.tag if row.level_needed else None
            why = Reason(about="fluid", what=event.level, name=event.fluid, tag=tag)
        case _:
            return None
    return None if tag is None else (tag, why)


def _hang_for_unread_logs(turn: Turn) -> None:
    known = turn.state.known
    if known is None or not known.event.unread:
        return
    # Whoever affirmed it looked the machine over; a later look that still finds a log unread hangs
    # it again.
    if turn.state.cleared.get(LOG_UNREAD, 0) < known.seq:
        hang(turn, LOG_UNREAD, "implied", _unread(turn.state))


def _when_hung(why: tuple[Reason, ...]) -> tuple[Reason, ...]:
    """Why a fluid's tag is hung, worded so that it stays true when something is added later."""
    first = why[0]
    lasting = first.what if first.what in ("low", "over", "overfilled") else "drained"
    return (first.model_copy(update={"what": lasting}),)


def warn_if_hung_while_running(turn: Turn) -> None:
    """Say at once that a tag was hung by itself while the engine was called running."""
    hung = [each for each in turn.events if isinstance(each, ev.TagHung) and each.by == "implied"]
    if hung:
        stop_running_engine(turn)


def stop_running_engine(turn: Turn) -> None:
    """Say to stop the engine, if it was called running."""
    if turn.state.engine_running:
        turn.answer(EngineLeftRunning(now=True))


def _down_since_drained(state: State, fluid: str, tag: str) -> bool:
    def further(last: int, fact: Fact[FluidMoved]) -> int:
        return max(last, _drained_in(state, fact)) if fact.event.action == "drained" else last

    drainings = [state.fluids.about(fluid).fold("drained last", 0, further)]
    known = state.known
    if known is not None:
        drainings.extend(
            known.seq - 1
            for each in known.event.facts
            if isinstance(each.event, FluidMoved)
            and each.event.fluid == fluid
            and each.event.action == "drained"
        )
    return state.cleared.get(tag, 0) > max(drainings)


def _drained_in(state: State, fact: Fact[FluidMoved]) -> int:
    """Number of the record since which a draining counts: a correction of its volume is no new
    draining."""
    first = state.fluids.at(fact.place, fact.place) or fact
    told = (first.event.action, first.event.fluid)
    return fact.place if told == (fact.event.action, fact.event.fluid) else fact.seq


# --- why a tag hangs ----------------------------------------------------------------------------


def reasons_of_tag(state: State, tag: Tag, at: datetime | None = None) -> tuple[Reason, ...]:
    """Return why a tag hangs as things stand: what still has to be called, where that is known.

    Args:
        state: The job.
        tag: One that hangs.
        at: From when it is seen; None where days do not matter.
    """
    still = in_the_way(state, tag.tag, at)
    if still:
        return still
    if tag.because:
        # Everything was called back; the tag waits for its "affirm".
        return tag.because
    if tag.reason:
        return (Reason(about="words", what=tag.reason, tag=tag.tag, since=tag.at),)
    return (
        Reason(
            about="tag",
            what=tag.by,
            name=tag.tag,
            tag=tag.tag,
            since=tag.at,
            session=tag.session,
            step=tag.step,
        ),
    )


def in_the_way(state: State, tag: str, at: datetime | None = None) -> tuple[Reason, ...]:
    """Return why a tag cannot come down; empty where "affirm" is all it needs.

    Args:
        state: The job.
        tag: Its text.
        at: From when it is seen; None where days do not matter.
    """
    return (
        *(danger.reason(at) for danger in of_tag(state, tag)),
        *(
            reason
            for row in state.rules.dangers.fluids_of(tag)
            if row.level_needed
            for reason in fluids.reasons(state, row.fluid, at)
        ),
    )


def _unread(state: State) -> tuple[Reason, ...]:
    if state.known is None:
        return ()
    return tuple(
        Reason(about="log", what="unread", name=name, tag=LOG_UNREAD)
        for name in state.known.event.unread
    )


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
        against = in_the_way(turn.state, text, turn.at)
        if against:
            turn.answer(TagStays(text, against))
            continue
        turn.record(
            ev.Asked(
                about="clear-tag",
                tag=text,
                then=tags[index + 1 :],
                grounds=grounds_of(tag),
                filled=filled_of(turn.state, tag),
                step=step,
            )
        )
        return True
    return False


def take_down(turn: Turn, question: ev.Asked) -> bool:
    """Take a tag down after its question was affirmed, unless something stands in the way by now.

    If what the question said no longer holds, the question is put again as things are now.

    Returns:
        Whether it was put again.
    """
    tag = None if question.tag is None else turn.state.tag(question.tag)
    if tag is None:
        return False
    against = in_the_way(turn.state, tag.tag, turn.at)
    if against:
        turn.answer(TagStays(tag.tag, against))
    elif (question.grounds, question.filled) != (grounds_of(tag), filled_of(turn.state, tag)):
        return ask_to_clear(turn, (tag.tag, *question.then), step=question.step)
    else:
        turn.record(ev.TagCleared(tag=tag.tag))
    return False


def ask_when_undone(turn: Turn, action: str, part: str) -> None:
    """Ask to clear the tags that this work undoes; say what else they still hang for.

    Args:
        turn: The turn under way.
        action: What was done.
        part: To which part.
    """
    ask_to_clear(turn, tags_done(turn, ((action, part),)))


def tags_done(turn: Turn, works: tuple[tuple[str, str], ...]) -> tuple[str, ...]:
    """Return the hanging tags that this work leaves with nothing open; of the others, say what is
    left.

    Args:
        turn: The turn.
        works: Actions and the parts that they were done to.
    """
    table = turn.state.rules.dangers
    open_now = dangers(turn.state)
    done: list[str] = []
    told: list[Danger] = []
    for action, part in works:
        for tag in table.tags_ended_by(part, action):
            if turn.state.tag(tag) is None or tag in done:
                continue
            left = [danger for danger in open_now if danger.tag == tag]
            told.extend(danger for danger in left if danger not in told)
            if not left:
                done.append(tag)
    untagged = [
        danger
        for danger in open_now
        if danger.tag is None and danger.left < danger.of and (_touched(danger, works))
    ]
    if told or untagged:
        turn.answer(
            StandingOpen(tuple(danger.reason(turn.at) for danger in (*told, *untagged)), still=True)
        )
    return tuple(done)


def _touched(danger: Danger, works: tuple[tuple[str, str], ...]) -> bool:
    return any(danger.part == part and action in danger.back for action, part in works)


def ask_when_filled(turn: Turn, fluid: str) -> None:
    """Ask to clear a fluid's tag as soon as the calls are enough for it."""
    row = turn.state.rules.dangers.fluids.get(fluid)
    if row is None:
        return
    tag = turn.state.tag(row.tag)
    now = fluids.balance(turn.state, fluid)
    if tag is None or in_the_way(turn.state, row.tag) or now.missing:
        return
    called_full = now.level == "full" or not row.level_needed
    # A tag that a step or a call hung before anything was drained is left for the person to name.
    if called_full and (now.filled > 0 or tag.by == "implied"):
        ask_to_clear(turn, (tag.tag,))


# --- the start gate and the engine --------------------------------------------------------------


def reasons_against_start(state: State, at: datetime | None = None) -> tuple[Reason, ...]:
    """Return everything that keeps the gate shut, the oldest tag first."""
    reasons = [
        reason.model_copy(update={"tag": tag.tag})
        for tag in state.tags
        for reason in reasons_of_tag(state, tag, at)
    ]
    reasons.extend(reasons_without_tag(state, at))
    if state.engine_running:
        reasons.append(Reason(about="engine", what="running", back="engine stopped"))
    return tuple(reasons)


def reasons_without_tag(state: State, at: datetime | None = None) -> tuple[Reason, ...]:
    """Return what speaks against a start though no tag hangs for it."""
    hanging = {tag.tag for tag in state.tags}
    # That a part's or a fluid's tag does not hang cannot happen while every call ends in
    # ``rehang``; the gate does not rely on that.
    reasons = [danger.reason(at) for danger in dangers(state) if danger.tag not in hanging]
    for row in state.rules.dangers.fluids.values():
        if row.level_needed and row.tag not in hanging:
            reasons.extend(fluids.reasons(state, row.fluid, at))
        elif not row.level_needed and fluids.balance(state, row.fluid).level == "over":
            # A tank that runs over must be let out, though its tag says that there is none in it.
            reasons.append(Reason(about="fluid", what="over", name=row.fluid))
    reasons.extend(_step_under_way(state))
    return tuple(reasons)


def _step_under_way(state: State) -> tuple[Reason, ...]:
    """A step that takes something off, begun and not called done: nobody knows how far it is."""
    step = steps.current(state)
    if step is None or steps.is_finished(state, step):
        return ()
    table = state.rules.dangers
    opens = any(table.work(each.part, each.action).harmless is None for each in step.does)
    if not (opens or step.hangs):
        return ()
    return (Reason(about="step", what="under way", name=step.name, back="step done"),)


def checked(state: State) -> Checked:
    """Return what calls tell and do not tell for a start: levels, tags affirmed clear, steps."""
    full: list[str] = []
    unknown: list[str] = []
    for fluid in fluids.to_check(state):
        now = fluids.balance(state, fluid)
        (full if now.level == "full" and now.settled else unknown).append(fluid)
    # A tag that was cleared before an earlier start says nothing about this one.
    since = state.start_affirmed or 0
    down = [tag for tag, seq in state.cleared.items() if seq > since and state.tag(tag) is None]
    return Checked(
        full=tuple(full),
        unknown=tuple(unknown),
        cleared=tuple(sorted(down, key=state.cleared.__getitem__)),
        steps_left=len(steps.steps_left(state)),
    )


def check_start(turn: Turn) -> None:
    """Act on "clear to start": the reasons against it, or the question."""
    # News of the machine's other jobs may have been taken in for this very call.
    rehang(turn)
    reasons = reasons_against_start(turn.state, turn.at)
    known = checked(turn.state)
    standing = tuple(tag.tag for tag in turn.state.tags)
    turn.record(ev.StartChecked(standing=standing, reasons=reasons, known=known))
    if not reasons:
        turn.record(ev.Asked(about="start", checked=known))


def affirm_start(turn: Turn, question: ev.Asked) -> None:
    """Record the affirmed start, if nothing stands in the way by now and what was checked is so
    still."""
    otherwise = question.checked is not None and question.checked != checked(turn.state)
    if otherwise or reasons_against_start(turn.state):
        check_start(turn)
        return
    turn.record(ev.StartAffirmed())


def engine_runs(turn: Turn) -> None:
    """Act on "engine running", whatever hangs."""
    turn.record(
        ev.EngineRunning(
            against=tuple(tag.tag for tag in turn.state.tags),
            reasons=reasons_without_tag(turn.state, turn.at),
        )
    )


def engine_left_running(state: State) -> EngineLeftRunning | None:
    """Return the warning that is due when a job is taken up whose engine was left running."""
    if not state.engine_running:
        return None
    return EngineLeftRunning(tuple(tag.tag for tag in state.tags))


# --- closing ------------------------------------------------------------------------------------


def tags_hanging(state: State, at: datetime | None = None) -> TagsHanging:
    """Return the tags that hang, the oldest first, each with why."""
    return TagsHanging(tuple((tag.tag, reasons_of_tag(state, tag, at)) for tag in state.tags))


def ask_or_close(turn: Turn) -> None:
    """Act on "close job": at once, or after a question that says what stands and what is left."""
    standing = tuple(tag.tag for tag in turn.state.tags)
    still = tuple(danger.reason(turn.at) for danger in dangers(turn.state) if danger.tag is None)
    _end_of_card(turn)
    left = tuple(steps.in_words(step.name) for step in steps.steps_left(turn.state))
    if not standing and not still and not left:
        close(turn)
        return
    turn.record(ev.Asked(about="close", standing=standing, still=still, left=left))


def _end_of_card(turn: Turn) -> None:
    """Count the last step as done, where its words are to close the job."""
    last = steps.all_steps(turn.state)[-1:]
    if (
        last
        and last == steps.steps_left(turn.state)
        and last[0].name == turn.state.step
        and last[0].asks is None
        and not last[0].does
        and not last[0].hangs
        and not steps.left_of(turn.state, last[0])
    ):
        turn.record(ev.StepDone(step=last[0].name))


def close(turn: Turn) -> None:
    """Close the job."""
    turn.record(ev.JobClosed())


# --- what a "disregard" means for tags ----------------------------------------------------------


def hang_after_disregard(
    turn: Turn, fact: Fact[ev.WorkRecorded], spared: frozenset[str] = frozenset()
) -> None:
    """Hang a tag again that came down because of work which turns out not to have been done.

    Args:
        turn: The turn.
        fact: The work.
        spared: Tags that other work, called in its place, takes down as well.
    """
    event = fact.event
    why = Reason(about="undone", what=event.action, name=event.part, since=turn.at)
    for tag in turn.state.rules.dangers.tags_ended_by(event.part, event.action):
        if tag not in spared and turn.state.cleared.get(tag, 0) > fact.place:
            hang(turn, tag, "implied", (why.model_copy(update={"tag": tag}),))
