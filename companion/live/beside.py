"""A second program of ours that answers messages and may be killed.

A library call that never returns cannot be ended in a thread, and one that crashes takes the whole
program with it. In another program it can do neither, at the cost of a message each way.

Messages are Python's own pickles, between two programs of which one has started the other; nothing
of them is ever written down.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import queue
import struct
import subprocess
import sys
import threading
from collections.abc import Callable
from typing import IO, Any

from companion.with_starter import end_with_starter

_LENGTH = struct.Struct(">Q")
_REAPED_SECONDS = 2.0
"""How long a killed program is waited for; one that hangs in the system ends when it can."""


class Ended(Exception):
    """The program beside has ended, or could not be started."""


class Late(Exception):
    """It did not answer in time."""


class ProgramBeside:
    """A running program that was started with ``python -m``; it ends when this one does.

    Any thread may send; one receives.

    Args:
        module: With a ``main`` that calls ``serve``.

    Raises:
        Ended: If it cannot be started: too little memory, no more processes, threads or files.
    """

    def __init__(self, module: str) -> None:
        self._out: queue.SimpleQueue[object] = queue.SimpleQueue()
        self._in: queue.SimpleQueue[tuple[object] | None] = queue.SimpleQueue()
        try:
            self._program = subprocess.Popen(
                (sys.executable, "-m", module),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                # Nobody at the bench needs what sound libraries print.
                stderr=subprocess.DEVNULL,
                # Ctrl-C is for the session; this ends when its input does.
                start_new_session=True,
            )
        except (OSError, MemoryError) as error:
            raise Ended(f"{type(error).__name__}") from error
        assert self._program.stdin is not None
        assert self._program.stdout is not None
        try:
            for work, pipe in (
                (self._send, self._program.stdin),
                (self._receive, self._program.stdout),
            ):
                threading.Thread(target=work, args=(pipe,), name=module, daemon=True).start()
        except (RuntimeError, MemoryError) as error:
            self.kill()
            raise Ended("no more threads") from error

    @property
    def pid(self) -> int:
        """Its number in the system."""
        return self._program.pid

    @property
    def ended(self) -> bool:
        """Whether it runs no more."""
        return self._program.poll() is not None

    def send(self, message: object) -> None:
        """Send a message; never waits."""
        self._out.put((message,))

    def receive(self, seconds: float) -> Any:
        """Return the next message.

        Args:
            seconds: How long to wait.

        Raises:
            Late: If none came; it is left running.
            Ended: If it has ended.
        """
        try:
            got = self._in.get(timeout=max(0.0, seconds))
        except queue.Empty:
            raise Late from None
        if got is None:
            # Left in place, so that every later call says the same.
            self._in.put(None)
            raise Ended
        return got[0]

    def kill(self) -> None:
        """End it, whatever it does; harmless when done already."""
        self._out.put(None)
        with contextlib.suppress(OSError):
            self._program.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._program.wait(_REAPED_SECONDS)

    def _send(self, pipe: IO[bytes]) -> None:
        # In a thread of its own: a program that reads nothing must not make this one wait.
        with contextlib.suppress(OSError, ValueError), pipe:
            while (one := self._out.get()) is not None:
                assert isinstance(one, tuple)
                _write(pipe, one[0])

    def _receive(self, pipe: IO[bytes]) -> None:
        try:
            with pipe:
                while (one := _read(pipe)) is not None:
                    self._in.put(one)
        # A message that is cut off or makes no sense: later ones would make no sense either.
        except Exception:
            with contextlib.suppress(OSError):
                self._program.kill()
        finally:
            self._in.put(None)


def serve(
    answer: Callable[[Any, Callable[[object], None]], None],
    *,
    at_once: Callable[[Any], bool] = lambda message: False,
) -> None:
    """Answer the program that started this one, until it ends; for the program beside.

    Args:
        answer: Called with each message and with what sends an answer.
        at_once: Called with each as soon as it comes, from another thread; takes those for which it
            gives True.
    """
    end_with_starter()
    # Libraries print to standard output; the answers go where nothing else does.
    replies = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    messages: queue.SimpleQueue[Any] = queue.SimpleQueue()
    said = threading.Lock()

    def tell(message: object) -> None:
        with said:
            _write(replies, message)

    def take_in() -> None:
        # This thread goes on while a library hangs, so that this program never outlives the one
        # that started it.
        try:
            while (one := _read(sys.stdin.buffer)) is not None:
                if not at_once(one[0]):
                    messages.put(one[0])
        finally:
            os._exit(0)

    threading.Thread(target=take_in, name="messages", daemon=True).start()
    while True:
        answer(messages.get(), tell)


def _write(pipe: IO[bytes], message: object) -> None:
    data = pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)
    pipe.write(_LENGTH.pack(len(data)) + data)
    pipe.flush()


def _read(pipe: IO[bytes]) -> tuple[object] | None:
    """The next message; None at the end."""
    head = pipe.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        return None
    (length,) = _LENGTH.unpack(head)
    return (pickle.loads(pipe.read(length)),)
