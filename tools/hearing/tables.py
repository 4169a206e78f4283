"""The measurements, as text that is also a Markdown table."""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import pairwise

from tools.hearing.material import FITTED_NOISES
from tools.hearing.measure import OUTCOMES, Heard
from tools.hearing.people import Taken

BINS = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 0.98, 0.99, 1.0)
MOST_CONFUSIONS = 15
HEADINGS = ("calls", "recorded", "asked", "say again", "ignored", "wrong", "median s", "95 % s")


def by(heard: Sequence[Heard], title: str, key: Callable[[Heard], str]) -> str:
    """A row for each value of ``key``, in the order in which they first come, then one for all."""
    groups: dict[str, list[Heard]] = {}
    for one in heard:
        groups.setdefault(key(one), []).append(one)
    rows = [(name, *_figures(group)) for name, group in groups.items()]
    rows.append(("all", *_figures(heard)))
    return table((title, *HEADINGS), rows)


def noise_of(one: Heard) -> str:
    """The condition, marked where the noise is one that something was fitted on."""
    mark = " (fitted on)" if one.clip.noise in FITTED_NOISES else ""
    return f"{one.clip.condition}{mark}"


def _figures(group: Sequence[Heard]) -> tuple[str, ...]:
    counts = Counter(one.outcome for one in group)
    times = sorted(one.seconds for one in group)
    shares = (f"{100 * counts[outcome] / len(group):.1f} %" for outcome in OUTCOMES)
    late = times[min(len(times) - 1, int(0.95 * len(times)))]
    return (str(len(group)), *shares, f"{statistics.median(times):.2f}", f"{late:.2f}")


def confusions(heard: Iterable[Heard]) -> str:
    """What was taken for what, the most frequent first; and every wrong record."""
    rows: list[Sequence[str]] = []
    mistaken = [one for one in heard if not one.best_right and one.best]
    often = Counter((one.clip.said, one.best) for one in mistaken)
    wrong = Counter((one.clip.said, one.best) for one in mistaken if one.outcome == "wrong")
    order = sorted(often, key=lambda pair: (-wrong[pair], -often[pair], pair))
    for pair in order[: max(MOST_CONFUSIONS, len(wrong))]:
        rows.append((*pair, str(often[pair]), str(wrong[pair])))
    return table(("said", "taken for", "times", "recorded wrong"), rows)


def reliability(heard: Sequence[Heard]) -> str:
    """Whether 90 % sure means right nine times of ten: confidence given, and share right."""
    return reliable([(one.call_confidence, one.best_right) for one in heard], "calls")


def reliable(found: Sequence[tuple[float, bool]], what: str) -> str:
    """The same of anything.

    Args:
        found: Confidences, each with whether it was right.
        what: They are of: "calls".
    """
    rows = []
    for low, high in pairwise(BINS):
        inside = [
            (given, right)
            for given, right in found
            if low <= given < high or (high == 1.0 and given == 1.0)
        ]
        if not inside:
            continue
        right = sum(each for _, each in inside) / len(inside)
        given = statistics.mean(each for each, _ in inside)
        bar = "#" * round(40 * right) + "." * (40 - round(40 * right))
        rows.append(
            (f"{low:.2f} to {high:.2f}", str(len(inside)), f"{given:.3f}", f"{right:.3f}", bar)
        )
    return table(("confidence", what, "given", "right", "share right"), rows)


def no_calls(counted: Mapping[tuple[str, str], Counter[str]]) -> str:
    """What became of what is no call: a row for each source and mode."""
    outcomes = ("record", "ask", "say-again", "ignore")
    rows = [
        (source, mode, str(sum(counts.values())), *(str(counts[outcome]) for outcome in outcomes))
        for (source, mode), counts in counted.items()
    ]
    headings = ("no call", "mode", "clips", "recorded", "asked", "say again", "ignored")
    return table(headings, rows)


def let_in(taken: Iterable[Taken]) -> str:
    """Every sentence that was recorded or asked about, and what it was taken for."""
    taken = tuple(taken)
    if not taken:
        return "nothing was recorded or asked about"
    rows = [
        (
            f"{one.source}, {one.mode}",
            one.decision.outcome,
            one.sentence.speaker,
            one.sentence.text,
            one.decision.text,
            " or ".join(intent.intent for intent in one.decision.intents),
            "; ".join(one.decision.reasons),
        )
        for one in taken
    ]
    headings = ("let in", "outcome", "speaker", "said", "taken for", "as", "because")
    return table(headings, rows)


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A Markdown table with its columns set to their width, figures to the right."""
    every = [tuple(headings), *map(tuple, rows)]
    widths = [max(len(row[column]) for row in every) for column in range(len(headings))]
    lines = [_line(row, widths) for row in every]
    rule = "|".join(
        f"{'-' * (width + 1)}{'-' if column == 0 else ':'}" for column, width in enumerate(widths)
    )
    return "\n".join((lines[0], f"|{rule}|", *lines[1:]))


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    cells = (
        cell.ljust(width) if column == 0 else cell.rjust(width)
        for column, (cell, width) in enumerate(zip(row, widths, strict=True))
    )
    return f"| {' | '.join(cells)} |"
