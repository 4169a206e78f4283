"""What follows by itself once a review has corrected a call or set it aside."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from companion.intent import intents as it
from companion.job import events as ev
from companion.job import gate, undo
from companion.job.events import AnyEvent
from companion.job.reason import Reason
from companion.job.review_turn import ReviewTurn
from companion.job.reviewed_call import ReviewedCall
from companion.job.state import State
from companion.job.state_values import Fact


def what_follows(turn: ReviewTurn, gone: Sequence[Fact[Any]], event: ev.AnyFact | None) -> None:
    """Hang what must hang now, and ask about the tags that hang for nothing any more.

    Args:
        turn: The turn under way.
        gone: The facts that no longer count.
        event: What stands in their place, or None.
    """
    table = turn.state.rules.dangers
    spared: frozenset[str] = frozenset()
    if isinstance(event, ev.WorkRecorded):
        spared = frozenset(table.tags_ended_by(event.part, event.action))
    for fact in gone:
        if isinstance(fact.event, ev.WorkRecorded):
            gate.hang_after_disregard(turn, fact, spared)
    gate.rehang(turn)
    if event is not None:
        _hang_as_then(turn, event)
    gate.warn_if_hung_while_running(turn)
    for fact in gone:
        gate.ask_to_clear(turn, undo.led_to(turn.state, fact))
        _affirm_tags(turn)
    gate.ask_to_clear(turn, tags_by_call(turn.before, turn.call))
    _affirm_tags(turn)
    if isinstance(event, ev.WorkRecorded):
        gate.ask_when_undone(turn, event.action, event.part)
    elif isinstance(event, ev.FluidMoved | ev.LevelRead):
        gate.ask_when_filled(turn, event.fluid)
    _affirm_tags(turn)


def _hang_as_then(turn: ReviewTurn, event: ev.AnyFact) -> None:
    """Hang the tag that the call would have hung when it was made, unless it came down since. A
    fault that was ended in the meantime still needs its "affirm"."""
    implied = gate.implied_by(turn.state, event)
    counting = turn.call.counting(turn.state)
    if implied is None or not counting:
        return
    tag, why = implied
    if turn.state.cleared.get(tag, 0) < counting[0].place:
        gate.hang(turn, tag, "implied", (why.model_copy(update={"since": counting[0].at}),))


def _affirm_tags(turn: ReviewTurn) -> None:
    """Go on as if the question whether a tag may come down were affirmed, and those after it.
    Before anything is recorded, all these questions together are really affirmed."""
    while isinstance(asked := turn.events[-1], ev.Asked):
        turn.asks.append(asked)
        turn.record(ev.Answered(answer="affirm"))
        if not gate.take_down(turn, asked):
            gate.ask_to_clear(turn, asked.then)


def tags_by_call(state: State, call: ReviewedCall) -> tuple[str, ...]:
    """The tags that this call hung by name and that hang since."""
    hung = {record.seq for record in call.all(ev.TagHung)}
    return tuple(tag.tag for tag in state.tags if tag.seq in hung and tag.by == "voice")


def undo_what_it_took_back(turn: ReviewTurn, intent: it.Intent | None) -> None:
    """Where a call that was never made had set something aside or taken a tag down, let that count
    or hang again."""
    call = turn.call
    if call.fact is not None:
        return
    said = None if intent is None else intent.intent
    if said not in ("affirm", "disregard"):
        for record in call.all(ev.Disregarded):
            _count_again(turn, record.seq, record.event)
    if said != "affirm":
        for record in call.all(ev.TagCleared):
            if isinstance(record.event, ev.TagCleared):
                _hang_again(turn, record.event.tag, record.seq)


def _count_again(turn: ReviewTurn, seq: int, event: AnyEvent) -> None:
    """Let a fact count again that was disregarded, unless something else stands in its place."""
    state = turn.state
    if not isinstance(event, ev.Disregarded) or seq in state.superseded:
        return
    fact = state.fact(event.record)
    if fact is None or state.superseded.get(fact.seq) != "disregarded":
        return
    instead = (each for each in state.effective(state.facts) if each.place == fact.place)
    if all(each.seq == event.restores for each in instead):
        turn.record(ev.Disregarded(record=seq, restores=fact.seq))


def _hang_again(turn: ReviewTurn, tag: str, seq: int) -> None:
    if turn.state.cleared.get(tag) != seq:
        # The tag came down by another "affirm" since, or hangs already.
        return
    why = Reason(about="undone", what="affirm", name=f"to clear tag {tag}", tag=tag, since=turn.at)
    gate.hang(turn, tag, "implied", (why,))
