"""The screen of a session on a real terminal: the pane, and above it the line that is typed."""

from __future__ import annotations

import asyncio
import signal
import sys
import threading
from collections.abc import Callable, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from datetime import datetime
from types import TracebackType
from typing import Literal, Protocol, TextIO

from prompt_toolkit.application import Application, run_in_terminal
from prompt_toolkit.buffer import Buffer
from prompt_toolkit.filters import Condition
from prompt_toolkit.formatted_text import StyleAndTextTuples
from prompt_toolkit.input import Input, create_input, create_pipe_input
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
from prompt_toolkit.keys import Keys
from prompt_toolkit.layout import (
    BufferControl,
    Dimension,
    FormattedTextControl,
    HSplit,
    Layout,
    Window,
)
from prompt_toolkit.layout.processors import BeforeInput
from prompt_toolkit.output import create_output

from companion.grammar.compiled import CallGrammar
from companion.job.expected import awaited
from companion.job.state import State
from companion.screen.above import Above
from companion.screen.completing import CallCompleter, CallHistory
from companion.screen.flow import INDENT, Line, folded
from companion.screen.looks import STYLE
from companion.screen.offers import Offers, offers
from companion.screen.pane import pane_lines
from companion.screen.strip import choice_line, invitation, strip_line

PROMPT = "› "
TYPED_ROWS = 3
"""Rows that a long call may take while it is typed."""
REFRESH_SECONDS = 0.5
"""Seconds between two drawings, so that a countdown shows every second."""
RESIZED_SECONDS = 0.2
"""How often the size of the terminal is looked at."""
PRINTING_SECONDS = 5.0
"""How long printing waits at most for the screen, which may be drawn on a slow line."""
STOPPING_SECONDS = 0.2
"""How long Ctrl-Z waits for the program to be stopped."""
ENDING_SECONDS = 2.0
"""How long the end waits for the screen to be cleared."""

FOLDED_COLUMNS, WIDE_COLUMNS = 18, 60
"""Where the further lines of an exchange begin, on a terminal at least so wide: under its words."""

Ways = Literal["typed", "key", "none"]
"""What the keyboard is for: calls are typed, any key of ``KEYS`` opens the microphone, or
nothing."""
KEYS = ("enter", "space")
"""What opens the microphone; a pedal sends "enter"."""


class AtBench(Protocol):
    """The part of a session that the screen shows."""

    @property
    def state(self) -> State:
        """As it is now."""
        ...

    @property
    def grammar(self) -> CallGrammar:
        """What may be called."""
        ...


@dataclass(frozen=True, slots=True)
class Telling:
    """Whom the keyboard speaks to.

    Attributes:
        call: Told of every line that was typed.
        key: Told of every press of the key.
        end: Told when nothing more can be typed: Ctrl-D, or the terminal is gone.
        lost: Told when the screen failed; plain lines are read and printed from then on.
    """

    call: Callable[[str], None]
    key: Callable[[], None]
    end: Callable[[], None]
    lost: Callable[[], None]


class Screen:
    """Drawn in a thread of its own, so that timers count on while the companion speaks, and a call
    can be typed meanwhile. In a ``with`` block whatever is printed goes above it.

    Args:
        job: The session.
        telling: Whom the keyboard speaks to.
        clock: Gives the time.
        ways: What the keyboard is for.
        earlier: Calls of earlier sessions, for the up arrow, the oldest first.
    """

    def __init__(
        self,
        job: AtBench,
        telling: Telling,
        *,
        clock: Callable[[], datetime],
        ways: Ways,
        earlier: Sequence[str] = (),
    ) -> None:
        self._job = job
        self._telling = telling
        self._clock = clock
        self._ways = ways
        self._doing = "ready"
        self._waiting = 0
        self._closing = False
        self._loop: asyncio.AbstractEventLoop | None = None
        self._started = threading.Event()
        self._thread = threading.Thread(target=self._run, name="screen", daemon=True)
        self._cleanup = ExitStack()
        self._offers: tuple[str, CallGrammar, Offers] | None = None
        self._buffer = Buffer(
            completer=CallCompleter(self._offered),
            history=CallHistory(earlier),
            accept_handler=self._accept,
            multiline=False,
        )
        self._app: Application[None]

    # --- what the loop tells ---------------------------------------------------------------------
    def draw(self, doing: str, job: AtBench, at: datetime) -> None:
        """Show what the companion does, and for which session.

        Args:
            doing: In a word or two.
            job: The session.
            at: When; the screen goes by its own clock.
        """
        self._doing, self._job = doing, job
        self._invalidate()

    def clear(self) -> None:
        """Nothing: what is printed goes above."""

    def taken(self) -> None:
        """A call that was typed was answered."""
        self._waiting = max(0, self._waiting - 1)

    # --- beginning and end -----------------------------------------------------------------------
    def __enter__(self) -> Screen:
        keyboard: Input
        if sys.stdin.isatty() or self._ways != "none":
            # In open mic for Ctrl-C.
            keyboard = create_input(sys.stdin)
        else:
            keyboard = self._cleanup.enter_context(create_pipe_input())
        self._app = Application(
            layout=self._layout(),
            style=STYLE,
            key_bindings=self._bindings(),
            input=keyboard,
            output=create_output(sys.stdout),
            erase_when_done=True,
            refresh_interval=REFRESH_SECONDS,
            terminal_size_polling_interval=RESIZED_SECONDS,
        )
        self._mind_termination()
        for name in ("stdout", "stderr"):
            self._print_above(name)
        self._thread.start()
        self._started.wait()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._closing = True
        if self._loop is not None:
            with suppress(RuntimeError):
                self._loop.call_soon_threadsafe(self._leave)
        self._thread.join(ENDING_SECONDS)
        self._cleanup.close()

    def _leave(self) -> None:
        if self._app.is_running:
            self._app.exit()

    def _run(self) -> None:
        def begun() -> None:
            self._loop = asyncio.get_running_loop()
            self._loop.set_exception_handler(self._failed)
            self._started.set()

        try:
            self._app.run(pre_run=begun, set_exception_handler=False, handle_sigint=False)
        except EOFError:
            self._closing = True
            self._telling.end()
        except Exception as error:
            self._tell_failure(error)
        else:
            # The screen ended unasked, and without an error to show.
            self._tell_failure(RuntimeError())
        finally:
            self._loop = None
            self._started.set()

    def _failed(self, loop: asyncio.AbstractEventLoop, context: dict[str, object]) -> None:
        error = context.get("exception")
        if self._app.is_running:
            self._app.exit()
        if isinstance(error, Exception):
            loop.call_soon(self._tell_failure, error)

    def _tell_failure(self, error: Exception) -> None:
        if self._closing:
            return
        self._closing = True
        self._loop = None
        sys.stderr.write(
            f"companion: the screen failed ({type(error).__name__}); the job goes on in plain "
            "lines.\n"
        )
        self._telling.lost()

    def _print_above(self, name: Literal["stdout", "stderr"]) -> None:
        stream: TextIO = getattr(sys, name)
        above = Above(stream, self._put)
        setattr(sys, name, above)
        self._cleanup.callback(setattr, sys, name, stream)
        self._cleanup.callback(above.close_line)

    def _mind_termination(self) -> None:
        """Leave the terminal as it was found where the program is told to end."""
        if sys.platform == "win32" or not sys.stdin.isatty():
            return
        if signal.getsignal(signal.SIGTERM) is not signal.SIG_DFL:
            return
        import termios

        before = termios.tcgetattr(sys.stdin)
        terminal = sys.stdin.fileno()

        def end(number: int, frame: object) -> None:
            termios.tcsetattr(terminal, termios.TCSANOW, before)
            self._app.output.write_raw("\x1b[?25h\x1b[?2004l\r\n")
            self._app.output.flush()
            signal.signal(signal.SIGTERM, signal.SIG_DFL)
            signal.raise_signal(signal.SIGTERM)

        signal.signal(signal.SIGTERM, end)
        self._cleanup.callback(signal.signal, signal.SIGTERM, signal.SIG_DFL)

    # --- what is printed -------------------------------------------------------------------------
    def _put(self, lines: str) -> bool:
        loop = self._loop
        if loop is None or threading.current_thread() is self._thread:
            return False
        putting = self._above(lines)
        try:
            asyncio.run_coroutine_threadsafe(putting, loop).result(PRINTING_SECONDS)
        except TimeoutError:
            # It is printed, only late.
            return True
        except RuntimeError:
            putting.close()
            return False
        return True

    async def _above(self, lines: str) -> None:
        app = self._app
        if app.output.responds_to_cpr:
            # An answer that comes after the print would give the place of the cursor before it.
            await app.renderer.wait_for_cpr_responses()
        app.renderer.erase()
        app.output.enable_autowrap()
        width = app.output.get_size().columns
        indent = FOLDED_COLUMNS if width >= WIDE_COLUMNS else len(INDENT)
        for line in lines.splitlines():
            for part in folded(line, width, indent):
                app.output.write_raw(f"{part}\r\n")
        app.output.flush()
        app.renderer.reset()
        app.renderer.request_absolute_cursor_position()
        app.invalidate()

    def _invalidate(self) -> None:
        if self._loop is not None:
            self._app.invalidate()

    # --- what is typed ---------------------------------------------------------------------------
    def _accept(self, buffer: Buffer) -> bool:
        if buffer.text.strip():
            self._waiting += 1
            self._telling.call(buffer.text)
        return False

    def _offered(self, text: str) -> Offers:
        grammar, state = self._job.grammar, self._job.state
        known = self._offers
        if known is not None and known[0] == text and known[1] is grammar:
            return known[2]
        units = (
            {}
            if state.sheet is None
            else {reading.measure: reading.unit for reading in state.sheet.reading}
        )
        found = offers(text, grammar, awaited(state), units)
        self._offers = (text, grammar, found)
        return found

    def _bindings(self) -> KeyBindings:
        bindings = KeyBindings()

        @bindings.add("c-c")
        def _(event: KeyPressEvent) -> None:
            # Reaches the loop wherever it is, so that what it is saying ends as well.
            if sys.platform == "win32":
                signal.raise_signal(signal.SIGINT)
            else:
                signal.pthread_kill(threading.main_thread().ident or 0, signal.SIGINT)

        @bindings.add("c-z", filter=Condition(lambda: sys.platform != "win32"))
        def _(event: KeyPressEvent) -> None:
            run_in_terminal(_stop)

        if self._ways == "key":
            for key in KEYS:
                bindings.add(key)(lambda event: self._telling.key())
        if self._ways == "typed":
            self._bind_typing(bindings)
        return bindings

    def _bind_typing(self, bindings: KeyBindings) -> None:
        buffer = self._buffer

        @bindings.add("c-d", filter=Condition(lambda: not buffer.text))
        def _(event: KeyPressEvent) -> None:
            self._telling.end()

        @bindings.add("tab")
        def _(event: KeyPressEvent) -> None:
            if buffer.complete_state:
                buffer.complete_next()
            elif len(self._offered(buffer.document.text_before_cursor).texts) == 1:
                buffer.start_completion(insert_common_part=True)
            else:
                buffer.start_completion(select_first=True)

        @bindings.add("s-tab")
        def _(event: KeyPressEvent) -> None:
            if buffer.complete_state:
                buffer.complete_previous()
            else:
                buffer.start_completion(select_last=True)

        @bindings.add(Keys.BracketedPaste)
        def _(event: KeyPressEvent) -> None:
            pasted = event.data.replace("\r\n", "\n").replace("\r", "\n")
            first, *rest = pasted.split("\n")
            buffer.insert_text(first)
            for line in rest:
                buffer.validate_and_handle()
                buffer.insert_text(line)

    # --- what is drawn ---------------------------------------------------------------------------
    def _layout(self) -> Layout:
        pane = FormattedTextControl(self._pane, show_cursor=False)
        parts = [Window()]
        typing = Window(
            BufferControl(
                self._buffer, input_processors=[BeforeInput(PROMPT, style="class:prompt")]
            ),
            height=lambda: Dimension(min=1, max=TYPED_ROWS),
            dont_extend_height=True,
            wrap_lines=True,
        )
        if self._ways == "typed":
            strip = FormattedTextControl(self._strip, show_cursor=False)
            parts += [typing, Window(strip, height=1)]
        parts.append(Window(pane, dont_extend_height=True, always_hide_cursor=True))
        layout = Layout(HSplit(parts))
        if self._ways == "typed":
            layout.focus(typing)
        return layout

    def _pane(self) -> StyleAndTextTuples:
        size = self._app.output.get_size()
        # What is typed while nothing is said is answered at once.
        waiting = self._waiting if self._doing == "speaking" else 0
        return _fragments(
            pane_lines(
                self._job.state, self._clock(), size.columns, size.rows, self._doing, waiting
            )
        )

    def _strip(self) -> StyleAndTextTuples:
        width = self._app.output.get_size().columns
        choosing = self._buffer.complete_state
        if choosing is not None and choosing.completions:
            texts = [each.text for each in choosing.completions]
            return list(choice_line(texts, choosing.complete_index, width))
        before = self._buffer.document.text_before_cursor
        if not self._buffer.text:
            return list(invitation(self._job.state.question is not None, width))
        return list(strip_line(self._offered(before), width))


def _stop() -> None:
    """Stop until the shell says to go on."""
    if sys.platform != "win32":
        # Sent to this thread, which must not draw again before the program has stopped; some
        # systems stop it a little later.
        signal.pthread_kill(threading.get_ident(), signal.SIGTSTP)
        threading.Event().wait(STOPPING_SECONDS)


def _fragments(lines: Sequence[Line]) -> StyleAndTextTuples:
    fragments: StyleAndTextTuples = []
    for place, line in enumerate(lines):
        if place:
            fragments.append(("", "\n"))
        fragments.extend(line)
    return fragments
