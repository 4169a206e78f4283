"""The job card: the steps of a job, what is spoken at each, and what each brings with it."""

from __future__ import annotations

from companion.grammar.vocabulary import Dimension
from companion.job.sheet import SheetModel, SpecTerm


class Wait(SheetModel):
    """A timer that a step starts when it is entered."""

    timer: str
    """Its name, as it is asked for: ``soak``, ``warm up``."""
    minutes: float
    """How long, above zero."""


class CardMeasure(SheetModel):
    """A measure that the steps expect, for machines whose spec sheet does not list it."""

    name: str
    """What is called out."""
    dimension: Dimension
    """What it measures; this decides in which units it may be called."""
    spoken: tuple[str, ...] = ()
    """Every way to say it; its name if empty."""


class CardStep(SheetModel):
    """One step."""

    name: str
    """Short, unique on the card, lower-case words with hyphens."""
    say: str
    """What is spoken; short, for it is heard over an engine."""
    cautions: tuple[str, ...] = ()
    """Spoken with it, once a job."""
    hangs: tuple[str, ...] = ()
    """Tags that hang from the moment the step is entered."""
    clears: tuple[str, ...] = ()
    """Tags whose clearing is asked for when the step is done; each still needs "affirm"."""
    wait: Wait | None = None
    """A timer the step starts."""
    expects: tuple[str, ...] = ()
    """Measures to be called out before the step counts as done."""
    points: tuple[str, ...] = ()
    """Points to tick off, by any work called on them."""
    after: tuple[str, ...] = ()
    """Names of steps that must be done, or knowingly skipped, before."""


class JobCard(SheetModel):
    """One job."""

    name: str
    """Short, lower-case words with hyphens; that of its file."""
    title: str
    """What it is, for the page."""
    invented: bool = False
    """Whether it is made up, for trying things out."""
    step: tuple[CardStep, ...] = ()
    """The steps, in order."""
    measure: tuple[CardMeasure, ...] = ()
    """Measures that the steps expect and that are not always listened for."""
    fluid: tuple[SpecTerm, ...] = ()
    """Fluids that the job moves."""
    part: tuple[SpecTerm, ...] = ()
    """Parts that a person will name in this job."""
    condition: tuple[SpecTerm, ...] = ()
    """What can be wrong with them, besides the usual."""
    tag: tuple[SpecTerm, ...] = ()
    """Tags that may be hung in this job; those of the steps need not be listed."""
    timer: tuple[SpecTerm, ...] = ()
    """Timers that may be started in this job; those of the steps need not be listed."""
