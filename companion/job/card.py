"""The job card: the steps of a job, what is spoken at each, and what each hangs, clears, waits for and expects."""
# CONTRACT: field names bind (they may grow); loading and checks are the card-and-sheet owner's.
from __future__ import annotations

from companion.job.sheet import SheetModel, SpecTerm


class Wait(SheetModel):
    """A timer that a step starts when it is entered."""

    timer: str
    minutes: float


class CardStep(SheetModel):
    """One step.

    Attributes:
        name: Short name, unique on the card, hyphenated.
        say: What is spoken.
        cautions: Spoken with it, once a job.
        hangs: Tags that hang from the moment the step is entered.
        clears: Tags whose clearing the step asks for when it is done (each still needs "affirm").
        wait: A timer the step starts.
        expects: Measures to be called out before the step counts as done.
        points: Points to tick off.
        after: Names of steps that must be done (or knowingly skipped) before.
    """

    name: str
    say: str
    cautions: tuple[str, ...] = ()
    hangs: tuple[str, ...] = ()
    clears: tuple[str, ...] = ()
    wait: Wait | None = None
    expects: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    after: tuple[str, ...] = ()


class JobCard(SheetModel):
    """One job."""

    name: str
    title: str
    invented: bool = False
    step: tuple[CardStep, ...] = ()
    part: tuple[SpecTerm, ...] = ()
    condition: tuple[SpecTerm, ...] = ()
    tag: tuple[SpecTerm, ...] = ()
    timer: tuple[SpecTerm, ...] = ()
