"""The job card: the steps of a job, what is spoken at each, and what each brings with it."""

from __future__ import annotations

from typing import Literal

from companion.handbook.unit_table import MeasureDimension
from companion.intent.call import Count, Figure
from companion.job.sheet import SheetModel, SpecTerm


class Wait(SheetModel):
    """A timer that a step starts when it is entered."""

    timer: str
    """Its name, as it is asked for: ``soak``, ``warm up``."""
    minutes: float
    """How long, above zero."""


class Condition(SheetModel):
    """Something that holds, does not hold, or is not known yet: an answer, a verdict or a finding.

    One of ``answer``, ``measure``, ``part`` and ``listed`` must be there.
    """

    answer: Literal["affirm", "negative"] | None = None
    """What a step's question must be answered with."""
    step: str | None = None
    """With ``answer``, whose question; its own if left out. With ``part``, the step that looks at
    it: once that is done without the finding, it is known that there is none. With ``measure``,
    the step that reads it. Where that step does not apply, the condition does not hold."""
    measure: str | None = None
    """A measure whose last reading must have one of these verdicts."""
    verdict: tuple[Literal["in", "low", "high"], ...] = ()
    """Verdicts of ``measure``."""
    part: str | None = None
    """A part that must have been found in one of these conditions."""
    found: tuple[str, ...] = ()
    """Conditions of ``part``; any if empty."""
    listed: str | None = None
    """A part, measure, fluid or belt, or ``battery``, that the machine's spec sheet must list."""


class Branch(SheetModel):
    """Where a step leads once it is done, if something holds."""

    when: Condition
    """What must hold; of several branches the first that holds is taken."""
    to: str
    """Name of a later step; those between are passed over."""


class StepWindow(SheetModel):
    """What a reading of this step should be, for machines whose spec sheet has no figure."""

    measure: str
    """A measure that the step expects."""
    unit: str
    """A unit's name from ``companion.handbook.units``."""
    low: Figure | None = None
    """Lower end, in ``unit``; it is in the window."""
    high: Figure | None = None
    """Upper end, in ``unit``; it is in the window."""


class Tally(SheetModel):
    """So many points of a kind, ticked off by number."""

    point: str
    """One of them: ``grease point``."""
    count: Count
    """How many there are, above zero."""


class StepPart(SheetModel):
    """A part that a step takes."""

    name: str
    """The part, in the singular."""
    count: Count = 1
    """How many, above zero."""


class CardMeasure(SheetModel):
    """A measure that the steps expect, for machines whose spec sheet does not list it."""

    name: str
    """What is called out."""
    dimension: MeasureDimension
    """What it measures; this decides in which units it may be called."""
    spoken: tuple[str, ...] = ()
    """Every way to say it; its name if empty."""


class StepWork(SheetModel):
    """What a step does to a part: true once the step is called done, as if the work were called."""

    action: str
    """As work calls name it, in the past: ``removed``, ``installed``, ``tightened``."""
    part: str
    """The part, in the singular, or ``machine`` for what is raised and lowered."""
    count: Count = 1
    """How many of them, above zero."""


class StepFinding(SheetModel):
    """What the answer to a step's question means for a part, as if the finding were called."""

    answer: Literal["affirm", "negative"]
    """The answer that means it."""
    part: str
    """The part."""
    condition: str
    """As findings name it: ``failed``, ``leaking``."""


class CardStep(SheetModel):
    """One step."""

    name: str
    """Short, unique on the card, lower-case words with hyphens."""
    say: str
    """What is spoken; short, for it is heard over an engine."""
    spoken: tuple[str, ...] = ()
    """Every way to name it in "go to step ..."; its name without the hyphens if empty."""
    asks: str | None = None
    """A question that "affirm" or "negative" answers; the answer ends the step."""
    only_if: Condition | None = None
    """When the step applies. Known not to hold, it is passed over; not known, it is offered."""
    branch: tuple[Branch, ...] = ()
    """Where it leads; to the next step of the card if none of them holds."""
    after: tuple[str, ...] = ()
    """Names of steps that must be done, or knowingly skipped, before."""
    needs: tuple[str, ...] = ()
    """Tags that must hang before."""
    engine: Literal["running", "stopped", "cold"] | None = None
    """How the engine must be before."""
    cautions: tuple[str, ...] = ()
    """Spoken with it, once a job."""
    does: tuple[StepWork, ...] = ()
    """What it takes off, opens, loosens, puts back or tightens, in order. Said is not done: it
    counts from the moment the step is called done, or the work itself is called. Tags hang by it
    and are asked about by it, as by the same work called."""
    finds: tuple[StepFinding, ...] = ()
    """What an answer to ``asks`` means for a part: a brake test answered "no" is a brake that
    failed."""
    hangs: tuple[str, ...] = ()
    """Tags that hang once the step is done, for what no part stands for: ``load connected``."""
    clears: tuple[str, ...] = ()
    """Tags whose clearing is asked for when the step is done; each still needs "affirm"."""
    wait: Wait | None = None
    """A timer the step starts."""
    expects: tuple[str, ...] = ()
    """Measures to be called out before the step counts as done."""
    windows: tuple[StepWindow, ...] = ()
    """What those measures should be, where the spec sheet has no figure."""
    points: tuple[str, ...] = ()
    """Points to tick off, by any work called on them."""
    tally: tuple[Tally, ...] = ()
    """Points to tick off by number."""
    parts: tuple[StepPart, ...] = ()
    """Parts that it takes."""
    consumables: tuple[str, ...] = ()
    """What else it uses up, in words: ``penetrant``, ``rags``."""


class CardFits(SheetModel):
    """Which machines a card is for; a machine must fit all that is given here."""

    cycles: tuple[Literal["four-stroke", "two-stroke", "electric"], ...] = ()
    """How the engine may work; any way if empty. A sheet that does not say fits."""
    kinds: tuple[str, ...] = ()
    """Words one of which the sheet's ``kind`` must hold: ``mower``; any kind if empty."""


class JobCard(SheetModel):
    """One job."""

    name: str
    """Short, lower-case words with hyphens; that of its file."""
    title: str
    """What it is, for the page."""
    invented: bool = False
    """Whether it is made up, for trying things out."""
    fits: CardFits = CardFits()
    """Which machines it is for; all if nothing is said."""
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
    """Tags of this job that are not always listened for."""
    timer: tuple[SpecTerm, ...] = ()
    """Timers that may be started in this job; those of the steps need not be listed."""
