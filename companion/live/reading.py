"""What is typed or pressed, read in threads of their own and put on the queue."""

from __future__ import annotations

import queue
import threading
from typing import TextIO

from companion.files.limits import LONGEST_TYPED
from companion.live.happenings import Device, Happening, Line
from companion.live.loop import LiveLoop
from companion.live.typed_lines import TOO_LONG, InputLost, plain_line, typed_lines

NO_KEY = "No press of the key can be read any more; end with Ctrl-C and go on without it."


def taken(line: str | None) -> Line | Device:
    """Makes a typed line a happening of the loop; None stands for one that is too long."""
    if line is None or len(line) > LONGEST_TYPED:
        return Device(TOO_LONG)
    return Line(plain_line(line))


def read_lines(source: TextIO, out: queue.SimpleQueue[Happening]) -> threading.Thread:
    """Put every typed line on the queue, from its own thread, and ``Line(None)`` at the end,
    whatever it is that ends it."""

    def read() -> None:
        try:
            for line in typed_lines(source):
                out.put(taken(line))
        except InputLost as error:
            out.put(Device(str(error)))
        # If this thread ended without a word, the session would be deaf.
        except Exception as error:
            out.put(Device(f"Typed calls cannot be read any more ({type(error).__name__})."))
        finally:
            out.put(Line(None))

    thread = threading.Thread(target=read, name="typed calls", daemon=True)
    thread.start()
    return thread


def read_keys(source: TextIO, loop: LiveLoop) -> threading.Thread:
    """Tell the loop of every press of Enter, from a keyboard or a USB foot pedal, and of the end of
    the input."""

    def read() -> None:
        try:
            for _ in typed_lines(source):
                loop.press()
        except Exception:
            # The input is lost, or something else ends the thread.
            loop.happenings.put(Device(NO_KEY))

    thread = threading.Thread(target=read, name="push-to-talk", daemon=True)
    thread.start()
    return thread
