"""The layer between the program and the system (``layer.c``): built here, told here what to do."""

from __future__ import annotations

import ctypes
import errno
import mmap
import os
import shutil
import struct
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

SOURCE = Path(__file__).with_name("layer.c")
VARIABLE = "LD_PRELOAD"
PATH_MAX = 4096
MOST_JUMPS = 32

OPEN, READ, WRITE, SYNC, NAME, TRUNCATE, PRINT = 1, 2, 4, 8, 16, 32, 64
"""What calls are counted as, each a bit."""

R_OPEN, R_WRITE, R_TRUNCATE, R_SYNC, R_RENAME, R_UNLINK, R_MKDIR, R_RMDIR, R_LINK, R_PRINT = range(
    1, 11
)
"""What stands in a record."""


class _Plan(ctypes.Structure):
    _fields_ = (
        ("root", ctypes.c_char * PATH_MAX),
        ("record", ctypes.c_int32),
        ("kill_at", ctypes.c_int32),
        ("kill_within", ctypes.c_int32),
        ("fail_mask", ctypes.c_int32),
        ("fail_at", ctypes.c_int32),
        ("fail_errno", ctypes.c_int32),
        ("fail_ever", ctypes.c_int32),
        ("space_errno", ctypes.c_int32),
        ("space", ctypes.c_int64),
        ("chmod_at", ctypes.c_int32),
        ("chmod_mode", ctypes.c_int32),
        ("chmod_path", ctypes.c_char * PATH_MAX),
        ("jumps", ctypes.c_int32),
        ("jump_at", ctypes.c_int32 * MOST_JUMPS),
        ("jump_to", ctypes.c_int64 * MOST_JUMPS),
    )


class Counts(ctypes.Structure):
    """What a program did, counted where its death does not matter."""

    _fields_ = (
        ("changes", ctypes.c_int64),
        ("failing", ctypes.c_int64),
        ("bytes", ctypes.c_int64),
        ("syncs", ctypes.c_int64),
        ("failed", ctypes.c_int64),
    )


@dataclass(frozen=True, slots=True)
class Plan:
    """What is to go wrong; nothing, as it stands.

    Attributes:
        record: Descriptor of a file that everything done is written to.
        kill_at: The change (a call that changes what is on the disk, or prints) that is never
            begun, for the program is killed; from 1.
        kill_within: Bytes of that change that are still written, where it is a write.
        fail_mask: Which calls may fail.
        fail_at: Which of them fails, from 1.
        fail_errno: What with.
        fail_ever: Whether all after it fail too.
        space: Bytes that can be written before the disk is full.
        space_errno: What a write then fails with.
        chmod: At which change the mode of which folder becomes what.
        jumps: After how many syncs the clock is wrong by how many seconds.
    """

    record: int = -1
    kill_at: int = 0
    kill_within: int = -1
    fail_mask: int = 0
    fail_at: int = 0
    fail_errno: int = errno.EIO
    fail_ever: bool = False
    space: int = -1
    space_errno: int = errno.ENOSPC
    chmod: tuple[int, Path, int] | None = None
    jumps: tuple[tuple[int, float], ...] = ()


NOTHING_WRONG = Plan()


class Layer:
    """The layer of this process: loaded when it began, quiet until a fork of it begins."""

    def __init__(self) -> None:
        self._library = ctypes.CDLL(os.environ[VARIABLE])
        self._shared = mmap.mmap(-1, ctypes.sizeof(Counts))
        self.counts = Counts.from_buffer(self._shared)

    def forget(self) -> None:
        """Count from nothing again."""
        ctypes.memset(ctypes.addressof(self.counts), 0, ctypes.sizeof(Counts))

    def begin(self, root: Path, plan: Plan) -> None:
        """Watch a folder from now on, in this process."""
        wanted = _Plan(
            root=os.fsencode(root),
            record=plan.record,
            kill_at=plan.kill_at,
            kill_within=plan.kill_within,
            fail_mask=plan.fail_mask,
            fail_at=plan.fail_at,
            fail_errno=plan.fail_errno,
            fail_ever=plan.fail_ever,
            space_errno=plan.space_errno,
            space=plan.space,
            jumps=len(plan.jumps),
        )
        if plan.chmod is not None:
            at, path, mode = plan.chmod
            wanted.chmod_at, wanted.chmod_mode = at, mode
            wanted.chmod_path = os.fsencode(path)
        for place, (at, seconds) in enumerate(plan.jumps):
            wanted.jump_at[place] = at
            wanted.jump_to[place] = round(seconds * 1e6)
        self._library.faults_begin(ctypes.byref(wanted), ctypes.byref(self.counts))


def loaded() -> bool:
    """Whether this process has the layer."""
    return VARIABLE in os.environ and "faults-layer" in os.environ[VARIABLE]


def build(folder: Path) -> Path | None:
    """Compile the layer; None where there is no compiler, or this is no Linux."""
    compiler = shutil.which("gcc") or shutil.which("cc")
    if compiler is None or os.uname().sysname != "Linux":
        return None
    library = folder / "faults-layer.so"
    subprocess.run(
        [compiler, "-shared", "-fPIC", "-O1", "-o", library, SOURCE, "-ldl", "-lpthread"],
        check=True,
        capture_output=True,
    )
    return library


@dataclass(frozen=True, slots=True)
class Done:
    """One thing that a program did, from a record.

    Attributes:
        op: One of ``R_OPEN`` … ``R_PRINT``.
        file: Which open file, where it was one.
        place: Of a write: from which byte; of an open: its flags.
        length: Bytes written, or the length that a file was cut to; of an open: whether it made
            the file.
        at: When it was done, in seconds of the monotonic clock.
        path: What it was done to, where it has a name.
        other: The other name of a rename or a link.
        data: The bytes written or printed.
    """

    op: int
    file: int
    place: int
    length: int
    at: float
    path: str = ""
    other: str = ""
    data: bytes = field(default=b"", repr=False)


_HEAD = struct.Struct("=IIqqqII")


def read_record(data: bytes) -> Iterator[Done]:
    """Take a record apart."""
    place = 0
    while place < len(data):
        op, file, at_byte, length, at, first, second = _HEAD.unpack_from(data, place)
        place += _HEAD.size
        path = os.fsdecode(data[place : place + first])
        rest = data[place + first : place + first + second]
        place += first + second
        named = op in (R_RENAME, R_LINK)
        yield Done(
            op,
            file,
            at_byte,
            length,
            at / 1e9,
            path,
            os.fsdecode(rest) if named else "",
            b"" if named else rest,
        )
