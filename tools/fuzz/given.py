"""What a reader of inputs is, and the places in which inputs stand as files.

Files stand in memory where the system has such a place: hundreds of thousands are written.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from random import Random

from tools.fuzz.nasty import worse

Read = Callable[[bytes], object]
Worse = Callable[[bytes, Random], bytes]


@dataclass(frozen=True, slots=True)
class Reader:
    """One that is given inputs.

    Attributes:
        name: For the table.
        opened: Gives the function that reads, and clears up after it.
        seeds: Inputs that it takes.
        words: Words of its kind, put into inputs.
        change: Makes an input worse from within and whole again on the outside, as who forges one
            would; mostly used where there is one. Raises ``ValueError`` for what it cannot take.
        takes_seeds: Whether the seeds are right as they are.
        runs: How many inputs the long form tries.
    """

    name: str
    opened: Callable[[], contextlib.AbstractContextManager[Read]]
    seeds: Callable[[], list[bytes]]
    words: tuple[bytes, ...] = ()
    change: Worse | None = None
    takes_seeds: bool = True
    runs: int = 100_000

    def worse(self, seeds: Sequence[bytes], data: bytes, random: Random) -> bytes:
        """Return an input made worse."""
        if self.change is not None and random.randrange(4):
            with contextlib.suppress(
                ValueError, AttributeError, LookupError, TypeError, RecursionError
            ):
                return self.change(data, random)
        return worse(data, random, seeds, self.words)


def place() -> Path:
    """A folder of its own, in memory where that is possible."""
    memory = Path("/dev/shm")
    return Path(tempfile.mkdtemp(prefix="fuzz-", dir=memory if memory.is_dir() else None))


@contextmanager
def a_place() -> Iterator[Path]:
    folder = place()
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def a_file(name: str, read: Callable[[Path], object]) -> Iterator[Read]:
    """A reader of one file of that name."""
    with a_place() as folder:
        path = folder / name

        def read_bytes(data: bytes) -> object:
            path.write_bytes(data)
            return read(path)

        yield read_bytes


@contextmanager
def a_data_folder(name: str, read: Callable[[Path], object]) -> Iterator[Read]:
    """A reader of one file of the user's data folder."""
    with a_place() as folder, a_file_in(folder, name) as write, places(folder):
        yield lambda data: (write(data), read(folder))


@contextmanager
def places(folder: Path) -> Iterator[None]:
    """Within it, data and settings of the user are in a folder; there are no settings."""
    before = {key: os.environ.get(key) for key in PLACES}
    os.environ.update({PLACES[0]: str(folder), PLACES[1]: os.devnull})
    try:
        yield
    finally:
        for key, value in before.items():
            os.environ.pop(key) if value is None else os.environ.update({key: value})


PLACES = ("BENCH_COMPANION_DATA", "BENCH_COMPANION_SETTINGS")


@contextmanager
def a_file_in(folder: Path, name: str) -> Iterator[Read]:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    yield path.write_bytes
