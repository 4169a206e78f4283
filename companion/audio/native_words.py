"""What the sound library prints by itself, kept off the terminal.

PortAudio and the libraries under it (ALSA, JACK, PulseAudio) print to file descriptor 2, from
threads of their own, whenever they like: "underrun occurred" between two calls, or over the screen.
They have no common way to silence them. What they have in common is descriptor 2: as soon as sound
is used it is theirs alone, and Python's standard error goes through another descriptor to where it
went before. Nothing that this program writes is lost: warnings and tracebacks go through
``sys.stderr``.
"""

from __future__ import annotations

import faulthandler
import io
import os
import sys
import threading
from contextlib import suppress

SOUND_LOG_VARIABLE = "BENCH_COMPANION_SOUND_LOG"
"""Environment variable that names a file to which the library's lines are added; without it they
are thrown away."""
NATIVE_STDERR = 2

_parting = threading.Lock()


def part_standard_error() -> None:
    """Give descriptor 2 to the sound library and another one to ``sys.stderr``; once is enough.

    Nothing is done where standard error is not descriptor 2: it was already redirected.
    """
    with _parting:
        if sys.stderr is None or sys.__stderr__ is None:
            _close_the_gap()
            return
        try:
            taken_over = sys.stderr.fileno() != NATIVE_STDERR
        except (OSError, ValueError):
            return
        file = _file_under(sys.__stderr__)
        if not taken_over and file is not None and file.fileno() == NATIVE_STDERR:
            _part(file)


def _file_under(stream: object) -> io.FileIO | None:
    """The file that a stream writes to, below its text and its buffer; None where there is none."""
    while not isinstance(stream, io.FileIO):
        # Python's standard error has no buffer where it was asked to have none.
        below = getattr(stream, "buffer", None) or getattr(stream, "raw", None)
        if below is None:
            return None
        stream = below
    return stream


def _part(file: io.FileIO) -> None:
    sys.stderr.flush()
    place = os.dup(NATIVE_STDERR)
    # The stream object stays and only its descriptor changes, so that whoever holds it, however
    # wrapped, still writes to where it is read. This does not close descriptor 2, since it is one
    # of the three standard ones.
    file.__init__(place, "wb", closefd=False)  # type: ignore[misc]
    if faulthandler.is_enabled():
        faulthandler.enable(place)
    _give_away()


def _close_the_gap() -> None:
    """Keep descriptor 2 from becoming the next file that is opened, a log perhaps."""
    try:
        os.fstat(NATIVE_STDERR)
    except OSError:
        _give_away()


def _give_away() -> None:
    target = _sound_log()
    if target != NATIVE_STDERR:
        os.dup2(target, NATIVE_STDERR)
        os.close(target)


def _sound_log() -> int:
    named = os.environ.get(SOUND_LOG_VARIABLE)
    if named:
        flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0)
        with suppress(OSError):
            return os.open(named, flags | getattr(os, "O_NONBLOCK", 0), 0o600)
    return os.open(os.devnull, os.O_WRONLY)
