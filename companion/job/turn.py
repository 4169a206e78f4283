"""One turn of the exchange: what a call brings, event by event, each seen by what follows it."""

from __future__ import annotations

from datetime import datetime

from companion.job import cautions
from companion.job.answers import Answer
from companion.job.events import AnyEvent
from companion.job.folding.evolve import evolve
from companion.job.record import Record
from companion.job.state import State


class Turn:
    """Collects the events and answers of one call.

    Later rules of the same call look at the state as the earlier events leave it, so the state is
    carried along. These provisional records only need numbers above all before them; the log gives
    the real ones.

    Attributes:
        before: The state at the start of the call.
        state: The state after the events collected so far.
        at: When the call came.
        heard: Number of the record of what was heard, put on every event that names no other.
        clip: Sound of the call, as a path inside the session folder, or None.
        clip_sha256: Of that file, where it is known.
        events: To record, in order.
        answers: To give, in order.
    """

    def __init__(
        self,
        state: State,
        at: datetime,
        heard: int | None = None,
        clip: str | None = None,
        clip_sha256: str | None = None,
    ) -> None:
        self.before = state
        self.state = state
        self.at = at
        self.heard = heard
        self.clip = clip
        self.clip_sha256 = clip_sha256
        self.events: list[AnyEvent] = []
        self.answers: list[Answer] = []

    def record(self, event: AnyEvent) -> None:
        """Collect an event, the cautions that it calls for, and the word to stop the engine."""
        if event.heard is None and self.heard is not None:
            event = event.model_copy(update={"heard": self.heard})
        self._append(event)
        self._warn(event)
        self.answers.extend(
            cautions.stops_for(self.state, event, self.at, self.state.rules.cautions)
        )

    def answer(self, answer: Answer) -> None:
        """Collect an answer, and the cautions that it calls for."""
        self.answers.append(answer)
        self._warn(answer)

    def _warn(self, happened: AnyEvent | Answer) -> None:
        for caution in cautions.called_for(
            self.state, happened, self.at, self.state.rules.cautions
        ):
            self._append(caution.model_copy(update={"heard": self.heard}))

    def _append(self, event: AnyEvent) -> None:
        # The record of what was heard comes first, so these numbers start one later.
        seq = max(self.state.seq, self.heard or 0) + 1
        self.state = evolve(self.state, Record(seq, self.at, event))
        self.events.append(event)
