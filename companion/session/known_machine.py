"""How the machine stands by its other sessions, looked at again before its start is decided on."""

from __future__ import annotations

from datetime import datetime

from companion.intent.outcome import Decision
from companion.job.events import MachineKnown
from companion.job.state import State
from companion.log.machine_watch import MachineWatch


def news_of_machine(
    machine: MachineWatch | None, opened: datetime, state: State, decision: Decision
) -> MachineKnown | None:
    """Return what the session does not know yet of its machine; None where nothing is new, or the
    call does not bear on the start.

    Args:
        machine: Watches the other sessions; None where it is no machine that anybody knows.
        opened: When this session was opened.
        state: Before the call.
        decision: What becomes of the call.
    """
    if machine is None or decision.outcome != "record":
        return None
    question = state.question
    answers_it = question is not None and question.event.about in ("start", "clear-tag")
    intent = decision.intents[0].intent
    if intent != "start.check" and not (intent == "affirm" and answers_it):
        return None
    known = machine.known(opened)
    # A machine that was named by a call of this session has no other sessions yet.
    before = MachineKnown() if state.known is None else state.known.event
    same = (known.facts, known.unread) == (before.facts, before.unread)
    return None if same else known
