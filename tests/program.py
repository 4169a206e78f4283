"""The program for whole-command tests: a process of its own for every command, begun in a moment.

Python, the packages and the shipped grammars take a second of every command to load. So one process
loads them, and every command is a fork of it: with its own input, output, environment and folder,
and the exit status of the real one. That nothing is loaded before it is needed, and that
``python -m companion`` starts at all, other tests look at.
"""

from __future__ import annotations

import atexit
import gc
import importlib
import json
import os
import pkgutil
import resource
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryFile
from typing import NoReturn, TextIO

import companion
from tests.kept_grammars import KeptGrammars

PATIENCE = 300.0
"""Seconds that a command may take at the most."""
MESSAGE = 1 << 20
"""Bytes at most of a command with its environment."""


@dataclass(frozen=True)
class Around:
    """What a command finds around it, where that is not as usual.

    Attributes:
        closed: Standard streams that are closed, by their numbers.
        full: Standard streams that are a full disk.
        handles: Files that it may have open at once.
        encoding: Of standard streams, as LANG or PYTHONIOENCODING would have set it.
        folder_gone: The folder that it is called in was removed.
    """

    closed: tuple[int, ...] = ()
    full: tuple[int, ...] = ()
    handles: int | None = None
    encoding: str = "utf-8"
    folder_gone: bool = False

    def prepare(self) -> None:
        """Make it so for this process."""
        if self.folder_gone:
            os.mkdir("gone")
            os.chdir("gone")
            os.rmdir("../gone")
        if self.handles is not None:
            hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
            resource.setrlimit(resource.RLIMIT_NOFILE, (self.handles, hard))
        for stream in (sys.stdin, sys.stdout):
            stream.reconfigure(encoding=self.encoding, errors="strict")  # type: ignore[union-attr]
        sys.stderr.reconfigure(encoding=self.encoding)  # type: ignore[union-attr]
        for number in self.full:
            full = os.open("/dev/full", os.O_WRONLY)
            os.dup2(full, number)
            os.close(full)
        for number in self.closed:
            os.close(number)
            setattr(sys, ("stdin", "stdout", "stderr")[number], None)


USUAL = Around()


@dataclass(frozen=True)
class Running:
    """A command that runs.

    Attributes:
        number: Of its process.
        typing: What is typed to it.
        printed: What it prints.
    """

    number: int
    typing: TextIO
    printed: TextIO


class Program:
    """The loaded program, asked for one command after the other."""

    def __init__(self) -> None:
        self._ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self._ours.settimeout(PATIENCE)
        self._ours.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, MESSAGE)
        self._loaded = subprocess.Popen(
            [sys.executable, "-m", "tests.program", str(theirs.fileno())],
            pass_fds=[theirs.fileno()],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            cwd=Path(__file__).resolve().parent.parent,
        )
        theirs.close()

    def run(
        self,
        arguments: Sequence[str],
        *,
        typed: str | bytes,
        env: Mapping[str, str],
        cwd: Path,
        around: Around = USUAL,
    ) -> subprocess.CompletedProcess[str]:
        """Run one command to its end."""
        reading, writing = os.pipe()
        with TemporaryFile() as out, TemporaryFile() as err:
            message = json.dumps(
                {
                    "arguments": list(arguments),
                    "env": {**env},
                    "cwd": str(cwd),
                    "around": asdict(around),
                }
            )
            try:
                files = [reading, out.fileno(), err.fileno()]
                socket.send_fds(self._ours, [message.encode()], files)
            finally:
                os.close(reading)
            data = typed if isinstance(typed, bytes) else typed.encode()
            typing = threading.Thread(target=_write, args=(writing, data))
            typing.start()
            status = int(self._ours.recv(64))
            typing.join()
            texts = []
            for file in (out, err):
                file.seek(0)
                texts.append(file.read().decode(around.encoding))
        return subprocess.CompletedProcess(list(arguments), status, *texts)

    @contextmanager
    def begin(
        self, arguments: Sequence[str | Path], *, env: Mapping[str, str], cwd: Path
    ) -> Iterator[Running]:
        """Run one command by pipes; at the end its input is closed and its end waited for."""
        reading, writing = os.pipe()
        printed, printing = os.pipe()
        message = {
            "arguments": [*map(str, arguments)],
            "env": {**env},
            "cwd": str(cwd),
            "around": asdict(USUAL),
            "begun": True,
        }
        with open(os.devnull, "wb") as unread:
            files = [reading, printing, unread.fileno()]
            socket.send_fds(self._ours, [json.dumps(message).encode()], files)
        os.close(reading)
        os.close(printing)
        number = int(self._ours.recv(64))
        try:
            with os.fdopen(writing, "w") as typing, os.fdopen(printed) as lines:
                yield Running(number, typing, lines)
        finally:
            self._ours.recv(64)

    def close(self) -> None:
        """End the loaded program."""
        self._ours.close()
        self._loaded.wait(timeout=PATIENCE)


def _write(descriptor: int, data: bytes) -> None:
    # Who has read enough closes the pipe; that is no fault of the test's.
    try:
        with os.fdopen(descriptor, "wb") as pipe:
            pipe.write(data)
    except BrokenPipeError:
        pass


def serve(commands: socket.socket) -> int:
    """Fork for each command, until there are no more; in the fork, return its exit status."""
    grammars = Grammars()
    _load()
    grammars.keep_the_usual()
    gc.freeze()
    while True:
        message, files, _, _ = socket.recv_fds(commands, MESSAGE, 3)
        if not message:
            return 0
        asked = json.loads(message)
        child = os.fork()
        if not child:
            commands.close()
            return _command(asked, files)
        for file in files:
            os.close(file)
        if asked.get("begun"):
            commands.send(str(child).encode())
        _, status = os.waitpid(child, 0)
        commands.send(str(os.waitstatus_to_exitcode(status)).encode())
        # Whoever asked goes on meanwhile.
        grammars.keep_what_came_again()


class Grammars:
    """The grammars of commands: one that a second command compiles is kept for all after it.

    To be made before the first fork.
    """

    def __init__(self) -> None:
        self._told, self._telling = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        for end in (self._told, self._telling):
            end.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, MESSAGE)
            end.setblocking(False)
        self._server = os.getpid()
        self._once: set[str] = set()
        self._kept = KeptGrammars(self._tell)
        self._kept.begin()

    def keep_the_usual(self) -> None:
        """Compile and keep the grammar of a job with neither card nor sheet."""
        from companion.grammar.vocabulary import bench_grammar
        from companion.shelf.words import vocabulary_of

        self._kept.make(bench_grammar(vocabulary_of(None, None)))

    def keep_what_came_again(self) -> None:
        """Compile and keep the grammars that two commands have compiled by now."""
        while True:
            try:
                words = self._told.recv(MESSAGE).decode()
            except BlockingIOError:
                return
            if words in self._once:
                self._kept.make(words)
            self._once ^= {words}

    def _tell(self, words: str) -> None:
        if os.getpid() != self._server:
            # Where too much waits already, the next command tells it.
            with suppress(OSError):
                self._telling.send(words.encode())


def _load() -> None:
    """Load all modules, and what is made once of what travels with the program; nothing that looks
    at the environment."""
    # What begins the program is there before anything of it, as its interpreter is.
    importlib.import_module("companion.start")
    for module in pkgutil.walk_packages(companion.__path__, "companion."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    from companion.grammar.files import shipped_grammar
    from companion.handbook.units import load_registry
    from companion.shipped import shipped

    load_registry()
    for file in sorted(shipped("grammars").glob("*.gram")):
        shipped_grammar(file.stem)


def _command(asked: dict[str, object], files: Sequence[int]) -> int:
    arguments, env, cwd = asked["arguments"], asked["env"], asked["cwd"]
    assert isinstance(arguments, list)
    assert isinstance(env, dict)
    os.chdir(str(cwd))
    os.environ.clear()
    os.environ.update(env)
    for place, file in enumerate(files):
        os.dup2(file, place)
        os.close(file)
    # What they were opened on could be sought in, a pipe cannot.
    sys.stdout = sys.__stdout__ = os.fdopen(1, "w", closefd=False)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    around = asked["around"]
    assert isinstance(around, dict)
    Around(**around).prepare()
    sys.argv = ["companion", *arguments]
    sys.path[:0] = filter(None, str(env.get("PYTHONPATH", "")).split(os.pathsep))
    from companion.start import main

    try:
        status = main()
    except SystemExit as ending:
        status = ending.code if isinstance(ending.code, int) else int(ending.code is not None)
    if not around["full"]:
        _end_at_once(status)
    return status


def _end_at_once(status: int) -> NoReturn:
    """End as Python does, but for taking the loaded program apart: that takes three times as long
    as most commands. Where a standard stream is a full disk, which what is taken apart may still be
    written to, it is done."""
    threading._shutdown()  # type: ignore[attr-defined]
    atexit._run_exitfuncs()
    for stream in (sys.stdout, sys.stderr):
        try:
            if stream is not None and not stream.closed:
                stream.flush()
        except (OSError, ValueError) as error:
            os.write(2, f"Exception ignored in {stream!r}: {error}\n".encode())
            status = 120
    os._exit(status)


def main() -> int:
    """Serve whoever began this process, on the socket whose number is given."""
    return serve(socket.socket(fileno=int(sys.argv[1])))


if __name__ == "__main__":
    sys.exit(main())
