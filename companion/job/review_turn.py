"""A turn after the job: what it brings, and what has to be affirmed before it is recorded."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from companion.job import events as ev
from companion.job.answers import Answer
from companion.job.at_stake import tags_down, taken_off
from companion.job.events import AnyEvent
from companion.job.reason import Reason
from companion.job.reviewed_call import ReviewedCall
from companion.job.state import State
from companion.job.turn import Turn


@dataclass(frozen=True, slots=True)
class Looked:
    """Who looks a call over, when and why.

    Attributes:
        by: Who.
        at: When.
        why: In a few words, or nothing.
    """

    by: str
    at: datetime
    why: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """What a review brings.

    Attributes:
        events: To record, in order, all in one append.
        answers: To give with it.
        after: The state after the events.
        asks: The questions among the events, which "affirm" has to answer before anything is
            recorded; empty where nothing comes off the machine.
        stays: What the call did that no review undoes.
    """

    events: tuple[AnyEvent, ...]
    answers: tuple[Answer, ...]
    after: State
    asks: tuple[ev.Asked, ...] = ()
    stays: tuple[AnyEvent, ...] = ()


class NotReviewed(Exception):
    """Why something cannot be reviewed so, in one sentence."""


class ReviewTurn(Turn):
    """A turn after the job: what it brings is marked as the review's, and nothing is spoken, so
    that no caution counts as heard."""

    def __init__(self, state: State, looked: Looked, call: ReviewedCall) -> None:
        """Begin it.

        Args:
            state: Before, with all of the log taken in.
            looked: Who, when and why.
            call: What is reviewed.

        Attributes:
            asks: The questions so far that have to be affirmed.
            question: That of the review itself, or None.
        """
        heard = None if call.heard is None else call.heard.seq
        super().__init__(state, looked.at, heard, call.clip, call.clip_sha256)
        self.looked = looked
        self.call = call
        self.reviewed = state.seq + 1
        self.asks: list[ev.Asked] = []
        self.question: ev.Asked | None = None

    def judge(self, judgement: ev.Judgement, said: str | None = None) -> None:
        """Collect what is said of the call."""
        self._append(
            ev.Reviewed(
                record=self.call.record,
                by=self.looked.by,
                why=self.looked.why,
                judgement=judgement,
                said=said,
                called=self.call.at(self.state),
                heard=self.heard,
            )
        )

    def put_question(self) -> None:
        """Collect the question of the review, where it has one, and that it was affirmed."""
        if self.question is not None:
            self.record(self.question)
            self.asks.append(self.question)
            self.record(ev.Answered(answer="affirm"))

    def record(self, event: AnyEvent) -> None:
        """Collect an event of the review; no caution is spoken for it."""
        self._append(
            event.model_copy(update={"reviewed": self.reviewed, "heard": event.heard or self.heard})
        )

    def answer(self, answer: Answer) -> None:
        """Collect an answer."""
        self.answers.append(answer)


def decided(
    turn: ReviewTurn,
    apply: Callable[[ReviewTurn], None],
    question: ev.Asked,
    doubtful: bool = False,
) -> Change:
    """Apply a review; where it takes something off the machine, or where it is doubtful what was
    meant, put the question before it.

    Args:
        turn: At its beginning.
        apply: Does it.
        question: What has to be affirmed, but for what comes off the machine.
        doubtful: Whether it is asked about in any case.
    """
    again = ReviewTurn(turn.before, turn.looked, turn.call)
    apply(turn)
    lost = taken_off(turn.before, turn.state)
    if not (lost or tags_down(turn.before, turn.state) or doubtful):
        return change_of(turn)
    grounds = tuple(reason for reason in lost if not _told(turn.asks, reason))
    again.question = question.model_copy(update={"grounds": grounds})
    apply(again)
    return change_of(again)


def _told(asks: Sequence[ev.Asked], reason: Reason) -> bool:
    """Whether the question about a tag already says that this is over: it names why the tag was
    hung, but not what was added later."""
    return any(
        each.tag == reason.tag
        and (
            any((ground.what, ground.name) == (reason.what, reason.name) for ground in each.grounds)
            or (each.filled is not None and each.filled.fluid == reason.name)
        )
        for each in asks
        if each.tag is not None
    )


def change_of(turn: ReviewTurn) -> Change:
    """Return what a turn has collected."""
    return Change(tuple(turn.events), tuple(turn.answers), turn.state, tuple(turn.asks))
