"""A job card as readable lines, to look through before the job or to print."""

from __future__ import annotations

from collections.abc import Iterable
from textwrap import wrap

from companion.job.card import CardStep, JobCard, StepWindow, StepWork
from companion.job.fits import fits_words
from companion.job.lines import duration, named
from companion.job.route import in_words
from companion.job.steps import counted

WIDTH = 96
"""Columns to fill."""

_INDENT = "      "
_ENGINE = {"running": "engine running", "stopped": "engine stopped", "cold": "engine cold"}


def card_lines(card: JobCard) -> tuple[str, ...]:
    """Return a card as lines of text, a paragraph a step."""
    lines = [f"{card.title}{' (invented)' if card.invented else ''}"]
    if (fitting := fits_words(card)) is not None:
        lines += wrap(f"For: {fitting}.", WIDTH)
    lines.append("")
    for number, step in enumerate(card.step, start=1):
        lines += wrap(
            f"{number:3}.  {step.name.replace('-', ' ')}: {step.say}",
            WIDTH,
            subsequent_indent=_INDENT,
        )
        for detail in _details(step):
            lines += wrap(detail, WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT + "  ")
    lines += _needed(card)
    return tuple(lines)


def _details(step: CardStep) -> Iterable[str]:
    if step.only_if is not None:
        yield f"only if {in_words(step.only_if)}"
    if before := _before(step):
        yield f"before it: {'; '.join(before)}"
    for caution in step.cautions:
        yield f"caution: {caution}"
    if step.does:
        yield f"done with it: {', '.join(_work(each) for each in step.does)}"
    if step.hangs:
        yield f"hangs: {', '.join(step.hangs)}"
    if points := (*step.points, *(counted(each.point, each.count) for each in step.tally)):
        yield f"points: {', '.join(points)}"
    windows = {window.measure: window for window in step.windows}
    for measure in step.expects:
        window = windows.get(measure)
        yield f"call: {measure}{f' ({_window(window)})' if window is not None else ''}"
    if parts := (*(counted(part.name, part.count) for part in step.parts), *step.consumables):
        yield f"takes: {', '.join(parts)}"
    if step.wait is not None:
        yield f"starts: {named(step.wait.timer)}, {duration(step.wait.minutes * 60)}"
    if step.asks is not None:
        yield f"asks: {step.asks}"
    for finding in step.finds:
        answer = "yes" if finding.answer == "affirm" else "no"
        yield f"{answer} means: {finding.part} {finding.condition}"
    for branch in step.branch:
        yield f"if {in_words(branch.when)}: go to {branch.to.replace('-', ' ')}"
    if step.clears:
        yield f"asks to clear: {', '.join(step.clears)}"


def _work(work: StepWork) -> str:
    return f"{work.action} {work.part if work.count == 1 else counted(work.part, work.count)}"


def _before(step: CardStep) -> tuple[str, ...]:
    return (
        *(f"{name.replace('-', ' ')} done" for name in step.after),
        *(f"tag {tag} hangs" for tag in step.needs),
        *((_ENGINE[step.engine],) if step.engine is not None else ()),
    )


def _window(window: StepWindow) -> str:
    match (window.low, window.high):
        case (None, high):
            return f"at most {high} {window.unit}"
        case (low, None):
            return f"at least {low} {window.unit}"
        case (low, high):
            return f"{low} to {high} {window.unit}"


def _needed(card: JobCard) -> Iterable[str]:
    counts: dict[str, int] = {}
    for part in (part for step in card.step for part in step.parts):
        counts[part.name] = counts.get(part.name, 0) + part.count
    used = dict.fromkeys(each for step in card.step for each in step.consumables)
    if counts or used:
        yield ""
        parts = ", ".join((*(counted(name, count) for name, count in counts.items()), *used))
        yield from wrap(f"Have ready: {parts}.", WIDTH)
