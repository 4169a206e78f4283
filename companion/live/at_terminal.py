"""The loop at a terminal: the screen where everything goes to and comes from one, else a line."""

from __future__ import annotations

import os
import sys
from contextlib import ExitStack
from typing import TYPE_CHECKING

from companion.live.happenings import Line
from companion.live.loop import LiveLoop
from companion.live.progress import ProgressLine
from companion.live.reading import read_keys, read_lines, taken
from companion.plain_print import drawn_on
from companion.session.exchange import Exchange
from companion.session.exchange_lines import print_exchange

# The library of the screen is loaded where there is a terminal to draw it on, and not before.
if TYPE_CHECKING:
    from companion.live.typed_calls import TypedCalls
    from companion.screen.terminal import Screen


def at_terminal(loop: LiveLoop, *, typed: bool, push_to_talk: bool) -> ExitStack:
    """Connect the loop to what is shown, typed and pressed: with the screen where all standard
    streams are a terminal, else with a progress line and plain lines.

    Args:
        loop: Not running yet.
        typed: Whether calls are typed.
        push_to_talk: Whether a key opens the microphone.
    """
    shown = ExitStack()
    reads = typed or push_to_talk
    if _can_draw() and sys.stdout.isatty() and (sys.stdin.isatty() or not reads):
        shown.enter_context(_open_screen(loop, typed=typed, push_to_talk=push_to_talk))
        return shown
    if _can_draw():
        progress = ProgressLine(drawn_on(sys.stderr), prompt=" › " if typed else "")

        def show(exchange: Exchange) -> None:
            progress.clear()
            print_exchange(exchange)

        loop.progress, loop.show = progress, show
    _read_plainly(loop, typed=typed, push_to_talk=push_to_talk)
    return shown


def _can_draw() -> bool:
    """Whether standard error is a terminal on which more than plain lines can be written."""
    return sys.stderr.isatty() and os.environ.get("TERM", "") not in ("", "dumb", "unknown")


def _read_plainly(loop: LiveLoop, *, typed: bool, push_to_talk: bool) -> None:
    if typed:
        read_lines(sys.stdin, loop.happenings)
    elif push_to_talk:
        read_keys(sys.stdin, loop)


def _open_screen(loop: LiveLoop, *, typed: bool, push_to_talk: bool) -> Screen:
    from companion.live.typed_calls import typed_calls
    from companion.screen.terminal import Screen, Telling

    def lost() -> None:
        loop.progress = None
        _read_plainly(loop, typed=typed, push_to_talk=push_to_talk)

    calls: TypedCalls | None = typed_calls() if typed else None
    screen = Screen(
        loop.session,
        Telling(
            call=lambda text: loop.happenings.put(taken(text)),
            key=loop.press,
            end=lambda: loop.happenings.put(Line(None)),
            lost=lost,
        ),
        clock=loop.clock,
        ways="typed" if typed else "key" if push_to_talk else "none",
        earlier=() if calls is None else calls.read(),
    )

    def show(exchange: Exchange) -> None:
        print_exchange(exchange)
        if calls is not None and exchange.heard is not None:
            screen.taken()
            calls.keep(exchange)

    loop.progress, loop.show = screen, show
    return screen
