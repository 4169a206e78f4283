"""What a disk may hold after a power cut, by the record of what was asked of it.

Only what was synced is certain: the bytes of a file by a sync of the file, a name by a sync of its
folder (a folder's own name by a sync of the one above). Everything later may be there or not, in
any order: each name as any of the later changes left it, each 512-byte sector of a file as any of
the later writes left it, or as zeros where the file was shorter, and the length as any of them left
it. A rename is whole or not at all. What the page cache puts together is together: a sector holds
all that was written into it up to some moment.

This is more than disks and file systems do (that is checked against a real one by ``real_cuts``),
and what programs must be ready for that want to run on all of them.
"""

from __future__ import annotations

import os
import random
import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tools.faults.layer import (
    R_LINK,
    R_MKDIR,
    R_OPEN,
    R_RENAME,
    R_RMDIR,
    R_SYNC,
    R_TRUNCATE,
    R_UNLINK,
    R_WRITE,
    Done,
)

SECTOR = 512


@dataclass(eq=False)
class File:
    """Attributes:
    versions: What it held, from what is certain to what it holds now.
    """

    versions: list[bytes] = field(default_factory=lambda: [b""])

    def write(self, place: int, data: bytes) -> None:
        old = self.versions[-1].ljust(place, b"\0")
        self.versions.append(old[:place] + data + old[place + len(data) :])

    def cut(self, length: int) -> None:
        self.versions.append(self.versions[-1][:length].ljust(length, b"\0"))

    def sync(self) -> None:
        del self.versions[:-1]

    def may_hold(self, found: bytes) -> bool:
        """Whether this may be what is there."""
        lengths = {len(each) for each in self.versions}
        if len(found) not in lengths:
            return False
        for place in range(0, len(found), SECTOR):
            sector = found[place : place + SECTOR]
            if not any(_sector(each, place, len(sector)) == sector for each in self.versions):
                return False
        return True

    def some(self, way: str, by: random.Random) -> bytes:
        """One of the things it may hold."""
        first, last = self.versions[0], self.versions[-1]
        if way == "nothing unsynced":
            return first
        if way == "everything":
            return last
        if way == "lengths only":
            return first[: len(last)].ljust(len(last), b"\0")
        if way == "torn":
            # The last write came as far as a byte, with all before it.
            if len(self.versions) == 1:
                return last
            before = self.versions[-2]
            byte = by.randrange(len(last) + 1)
            if len(last) > len(before):
                byte = by.randrange(len(before), len(last) + 1)
                return last[:byte]
            return last[:byte] + before[byte : len(last)]
        length = len(by.choice(self.versions))
        sectors = [
            _sector(by.choice(self.versions), place, min(SECTOR, length - place))
            for place in range(0, length, SECTOR)
        ]
        return b"".join(sectors)


def _sector(version: bytes, place: int, length: int) -> bytes:
    return version[place : place + length].ljust(length, b"\0")


@dataclass(eq=False)
class Change:
    """A change of names that is there whole or not at all: each a folder, a name, and what is
    there by then."""

    names: tuple[tuple[Folder, str, Node | None], ...]


@dataclass(eq=False)
class Folder:
    """Attributes:
    synced: The names that are certain.
    now: The names as they are.
    pending: What was changed since, in order.
    """

    synced: dict[str, Node] = field(default_factory=dict)
    now: dict[str, Node] = field(default_factory=dict)
    pending: list[Change] = field(default_factory=list)

    def sync(self) -> None:
        self.synced = dict(self.now)
        self.pending = []

    def may_be(self, name: str) -> list[Node | None]:
        """What may go by a name."""
        found: list[Node | None] = [self.synced.get(name)]
        for change in self.pending:
            found += [node for folder, its, node in change.names if folder is self and its == name]
        return found


Node = File | Folder

WAYS = ("nothing unsynced", "everything", "lengths only", "torn", "sectors")


class Disk:
    """A disk as a record goes on, beginning with what is certain.

    Args:
        root: The folder that was recorded.
    """

    def __init__(self, root: Path) -> None:
        self._root = str(root)
        self.top = Folder()
        self._open: dict[int, Node] = {}

    @classmethod
    def of(cls, root: Path, before: Path) -> Disk:
        """A disk that holds certainly what a folder holds."""
        disk = cls(root)
        _take(disk.top, before)
        return disk

    def do(self, done: Done) -> None:
        """Let one thing be done."""
        match done.op:
            case op if op == R_OPEN:
                self._opened(done)
            case op if op == R_WRITE:
                self._file(done).write(done.place, done.data)
            case op if op == R_TRUNCATE:
                self._file(done).cut(done.length)
            case op if op == R_SYNC:
                self._open[done.file].sync()
            case op if op == R_MKDIR:
                self._name(done.path, Folder())
            case op if op in (R_UNLINK, R_RMDIR):
                self._name(done.path, None)
            case op if op == R_LINK:
                self._name(done.other, self._at(done.path))
            case op if op == R_RENAME:
                self._rename(done.path, done.other)

    def _file(self, done: Done) -> File:
        node = self._open[done.file]
        assert isinstance(node, File)
        return node

    def _opened(self, done: Done) -> None:
        if done.length:
            self._name(done.path, File())
        node = self._at(done.path)
        self._open[done.file] = node
        if done.place & os.O_TRUNC and isinstance(node, File) and node.versions[-1]:
            node.cut(0)

    def _folder_of(self, path: str) -> tuple[Folder, str]:
        *above, name = [part for part in path[len(self._root) :].split("/") if part]
        node: Node = self.top
        for part in above:
            assert isinstance(node, Folder)
            node = node.now[part]
        assert isinstance(node, Folder)
        return node, name

    def _at(self, path: str) -> Node:
        if not path[len(self._root) :].strip("/"):
            return self.top
        folder, name = self._folder_of(path)
        return folder.now[name]

    def _name(self, path: str, node: Node | None) -> None:
        folder, name = self._folder_of(path)
        self._change(Change(((folder, name, node),)))

    def _rename(self, old: str, new: str) -> None:
        node = self._at(old)
        here, there = self._folder_of(old), self._folder_of(new)
        self._change(Change(((*here, None), (*there, node))))

    @staticmethod
    def _change(change: Change) -> None:
        for folder, name, node in change.names:
            if node is None:
                folder.now.pop(name, None)
            else:
                folder.now[name] = node
        for folder in {id(each): each for each, _, _ in change.names}.values():
            folder.pending.append(change)

    # --- after a cut -----------------------------------------------------------------------------
    def put(self, into: Path, names: str, data: str, by: random.Random) -> None:
        """Make one of the disks that a cut may leave now.

        Args:
            into: An empty folder.
            names: Which unsynced changes of names came: one of ``WAYS``, taken as all for
                "everything" and "torn", none for "nothing unsynced", any for the rest.
            data: What came of the unsynced bytes, one of ``WAYS``.
            by: What every choice is made by.
        """
        _put(self.top, into, names, data, by, {})

    def may_hold(self, found: Path) -> str | None:
        """None if a cut may leave this now; else the path that shows that it may not."""
        return _differs(self.top, found, "")

    def now(self, into: Path) -> None:
        """Make the disk as it is with nothing lost."""
        _put(self.top, into, "everything", "everything", random.Random(0), {})


def _take(folder: Folder, before: Path) -> None:
    for path in sorted(before.iterdir()):
        if path.is_dir():
            inner = Folder()
            _take(inner, path)
            folder.now[path.name] = inner
        else:
            folder.now[path.name] = File([path.read_bytes()])
    folder.sync()


def _put(
    folder: Folder, into: Path, names: str, data: str, by: random.Random, came: dict[int, bool]
) -> None:
    there = dict(folder.synced)
    for change in folder.pending:
        if id(change) not in came:
            if names in ("everything", "torn"):
                came[id(change)] = True
            else:
                came[id(change)] = names != "nothing unsynced" and by.random() < 0.5
        if came[id(change)]:
            for where, name, node in change.names:
                if where is folder and node is None:
                    there.pop(name, None)
                elif where is folder and node is not None:
                    there[name] = node
    for name, node in there.items():
        path = into / name
        if isinstance(node, Folder):
            path.mkdir()
            _put(node, path, names, data, by, came)
        else:
            path.write_bytes(node.some(data, by))


def _differs(folder: Folder, found: Path, at: str) -> str | None:
    here = {path.name: path for path in found.iterdir()} if found.is_dir() else {}
    names = {*folder.synced, *here}
    for name in sorted(names - {"lost+found"}):
        path = here.get(name)
        if not any(_fits(node, path) for node in folder.may_be(name)):
            return f"{at}/{name}"
    return None


def _fits(node: Node | None, path: Path | None) -> bool:
    if node is None or path is None:
        return node is None and path is None
    if isinstance(node, Folder):
        return path.is_dir() and _differs(node, path, path.name) is None
    return path.is_file() and node.may_hold(path.read_bytes())


def trees_differ(one: Path, other: Path) -> list[str]:
    """Names whose files are not alike."""
    return [
        name
        for name in sorted({*_names(one), *_names(other)})
        if not (one / name).exists()
        or not (other / name).exists()
        or ((one / name).is_file() and (one / name).read_bytes() != (other / name).read_bytes())
    ]


def _names(top: Path) -> Iterator[str]:
    return (str(path.relative_to(top)) for path in top.rglob("*"))


def emptied(folder: Path) -> Path:
    """Make a folder empty."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder


def played(root: Path, done: Sequence[Done]) -> Iterator[Disk]:
    """The disk after each thing done, from an empty one on."""
    disk = Disk(root)
    yield disk
    for each in done:
        disk.do(each)
        yield disk
