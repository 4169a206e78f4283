"""What stands below everything on the terminal: tags, timers, the question, the step, whether it
listens.

A pure function of the job, the time and the terminal's size. All tags come before all timers. Where
there is no room for all of something, it says how many more there are and which call names them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from companion.job.state import State
from companion.job.timers import by_deadline
from companion.screen.flow import (
    Fragment,
    Line,
    Piece,
    columns,
    flow,
    line_columns,
    line_text,
    listed,
    shown,
    words,
)
from companion.speak import glance

SHARE = 3
"""The pane takes at most one of this many rows of the terminal …"""
FEWEST_ROWS = 5
"""… but at least a row for each of its parts, as long as …"""
ROWS_LEFT = 4
"""… this many rows are left for what is typed and what was said."""
MORE = "…"
NARROWEST = 20
"""Columns below which lines are no longer cut to the terminal."""


@dataclass(frozen=True, slots=True)
class _Section:
    """A part of the pane.

    Attributes:
        head: Stands before all else, and is left out last.
        pieces: What it names.
        call: What to say to hear all of it; empty for a sentence, of which the end says most.
    """

    head: tuple[Piece, ...]
    pieces: tuple[Piece, ...]
    call: str = ""

    def lines(self, width: int, most: int) -> list[Line]:
        """Everything in it where that takes no more lines; else as much as there is room for, and
        that there is more."""
        everything = flow((*self.head, *self.pieces), width)
        if len(everything) <= most:
            return everything
        for shorter in self._shorter():
            lines = flow(shorter, width)
            if len(lines) <= most:
                return lines
        return everything[:most]

    def _shorter(self) -> Iterator[tuple[Piece, ...]]:
        """The same with one piece fewer each time."""
        for kept in range(len(self.pieces) - 1, -1, -1):
            if not self.call:
                rest = self.pieces[len(self.pieces) - kept :]
                yield (*self.head, Piece("", MORE), *rest)
                continue
            for more in glance.more_words(len(self.pieces) - kept, self.call):
                yield (*self.head, *self.pieces[:kept], *words("class:more", more))
        if self.call:
            yield tuple(words("class:more", glance.more_words(len(self.pieces), self.call)[-1]))
        for kept in range(len(self.head), 0, -1):
            yield (*self.head[:kept], Piece("", MORE))


def pane_lines(
    state: State, at: datetime, width: int, height: int, doing: str, waiting: int = 0
) -> tuple[Line, ...]:
    """The lines of the pane, in their order.

    Args:
        state: The job.
        at: Now.
        width: Columns of the terminal.
        height: Rows of the terminal.
        doing: What the companion does, in a word or two: "listening".
        waiting: Calls typed that were not taken yet.
    """
    width = max(width, NARROWEST)
    room = max(height // SHARE, min(FEWEST_ROWS, height - ROWS_LEFT), 1)
    tags, timers, others = _tags(state), _timers(state, at), [_question(state), _step(state)]
    sections = [section for section in (tags, timers, *others) if section is not None]
    head: list[Line] = []
    if room > 1 or not sections:
        head.append(_rule(_doing(state, doing, waiting), width))
    return (*head, *_shared(sections, width, room - len(head)))


def brief_line(state: State, at: datetime, width: int, doing: str) -> str:
    """The same in one line, for a terminal on which nothing but a line can be drawn; the tags come
    first, and then the timers, as far as there is room.

    Args:
        state: The job.
        at: Now.
        width: Columns to fill.
        doing: What the companion does.
    """
    parts = [f"[{doing}]"]
    for section in (_tags(state), _timers(state, at)):
        if section is not None:
            left = max(NARROWEST, width - columns("  ".join(parts)) - 2)
            parts.append(line_text(section.lines(left, 1)[0]))
    while len(parts) > 1 and columns("  ".join(parts)) > width:
        parts.pop(0 if parts[0].startswith("[") else -1)
    return "  ".join(parts)


def _shared(sections: Sequence[_Section], width: int, room: int) -> list[Line]:
    """Give each section a line, the first ones first, and then what is left over to the first that
    needs more."""
    granted = [1 if place < room else 0 for place in range(len(sections))]
    over = room - sum(granted)
    for place, section in enumerate(sections):
        wanted = len(flow((*section.head, *section.pieces), width))
        more = min(over, max(0, wanted - granted[place])) if granted[place] else 0
        granted[place] += more
        over -= more
    return [
        line
        for section, most in zip(sections, granted, strict=True)
        if most
        for line in section.lines(width, most)
    ]


def _tags(state: State) -> _Section | None:
    if not state.tags:
        return None
    pieces = listed("class:tag", [tag.tag for tag in state.tags])
    return _Section((Piece("class:tag.label", "TAGS"),), tuple(pieces), glance.MORE_TAGS)


def _timers(state: State, at: datetime) -> _Section | None:
    running = by_deadline(state)
    if not running:
        return None
    named = listed("class:timer", [glance.timer_words(timer, at) for timer in running])
    pieces = [
        Piece("class:timer.rings", piece.text) if timer.due <= at else piece
        for timer, piece in zip(running, named, strict=True)
    ]
    return _Section((Piece("class:timer.label", "TIMERS"),), tuple(pieces), glance.MORE_TIMERS)


def _question(state: State) -> _Section | None:
    asked = glance.question_words(state)
    if asked is None:
        return None
    head = (Piece("class:question.label", "ASKED"),)
    return _Section(head, tuple(words("class:question", asked)))


def _step(state: State) -> _Section | None:
    here = glance.step_words(state)
    if here is None:
        return None
    still = glance.still_words(state)
    then = glance.then_words(state)
    after = ":" if still or then else ""
    head = (Piece("class:step.label", "STEP"), *words("class:step", f"{here}{after}"))
    if still:
        return _Section(head, tuple(listed("class:still", still)), glance.MORE_OF_STEP)
    return _Section(head, tuple(words("", then)))


def _doing(state: State, doing: str, waiting: int) -> str:
    if state.standby:
        doing = "standing by: say 'resume'"
    if not waiting:
        return doing
    return f"{doing}, {waiting} {'call waits' if waiting == 1 else 'calls wait'}"


def _rule(doing: str, width: int) -> Line:
    """What the companion does, in a line that parts the pane from what is above it."""
    said = shown(doing)
    while columns(said) > width - 4:
        said = said[:-1]
    before: Line = (("class:rule", "─ "), ("class:doing", said), ("class:rule", " "))
    after: Fragment = ("class:rule", "─" * (width - line_columns(before)))
    return (*before, after)
