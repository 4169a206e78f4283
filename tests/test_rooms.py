"""The rooms and what each may import, read from the table in DEVELOPERS.md.

Imports are read from the source: one inside a function or under ``TYPE_CHECKING`` counts as well.
"""

from __future__ import annotations

import ast
import itertools
import re
import sys
from collections.abc import Container, Iterator, Mapping
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

import companion
from companion.recognize import choose

PACKAGE = Path(companion.__file__).parent


GUIDE = PACKAGE.parent / "DEVELOPERS.md"

ENGINES = frozenset(package for engine in choose.ENGINES.values() for package in engine.packages)
"""What recognizers need; the table of the guide leaves it to the table of the recognizers."""


@dataclass(frozen=True)
class Room:
    """A row of the guide's table: a folder, or modules of no folder.

    Attributes:
        names: What stands in the row, without slash or suffix.
        may_import: Rooms and modules of other rows.
        packages: That are neither Python's nor ours.
    """

    names: tuple[str, ...]
    may_import: frozenset[str]
    packages: frozenset[str]


def listed(cell: str) -> frozenset[str]:
    """The names of a cell of the table; "–" is none, and what stands in brackets explains."""
    names = re.sub(r"\([^)]*\)", "", cell).split(",")
    return frozenset(name.strip() for name in names) - {"–"}


def table() -> list[Room]:
    """The rows of the table of rooms, as the guide has them."""
    lines = GUIDE.read_text(encoding="utf-8").splitlines()
    begin = next(number for number, line in enumerate(lines) if line.startswith("| room |"))
    rows = itertools.takewhile(lambda line: line.startswith("|"), lines[begin + 2 :])
    cells = [[cell.strip() for cell in row.strip("|").split("|")] for row in rows]
    found = []
    for names, _, rooms, packages in cells:
        known = tuple(re.findall(r"`(\w+)(?:/|\.py)`", names))
        engines = ENGINES if "recognize" in known else frozenset()
        found.append(Room(known, listed(rooms), listed(packages) | engines))
    return found


TABLE = table()
ROWS = {name: row for row in TABLE for name in row.names}
"""Each room and module of the table with its row. Other modules directly in ``companion/`` put
rooms together and may import all of them."""

FOR_ALL = frozenset(TABLE[0].names)
"""What stands in the first row is open to all."""

FOR_COMMANDS = {
    source.stem
    for source in PACKAGE.glob("*.py")
    if source.stem not in ("cli", "start", "__main__")
}
"""Modules of no room, which put the rooms together: the commands are a way to call them, and know
nothing of the one that calls the commands."""

HEAVY = {
    *ENGINES,
    "pocketsphinx",
    "sounddevice",
    "pywebrtc_audio",
    "pyttsx3",
    "jinja2",
    "pint",
    "PIL",
    "cryptography",
    "prompt_toolkit",
}
"""Packages that are slow to load or may be missing."""


def is_folder(name: str) -> bool:
    return (PACKAGE / name).is_dir()


def sources(name: str) -> list[Path]:
    return sorted((PACKAGE / name).rglob("*.py")) if is_folder(name) else [PACKAGE / f"{name}.py"]


def imports(source: Path) -> Iterator[tuple[int, str]]:
    """Line and dotted name of everything a file imports, relative imports made absolute."""
    package = ".".join(source.relative_to(PACKAGE.parent).parent.parts)
    for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            module = node.module or ""
            if node.level:
                parents = package.split(".")[: len(package.split(".")) - node.level + 1]
                module = ".".join([*parents, *([module] if module else [])])
            # "from companion import job" names a room as much as "from companion.job import …".
            yield from (
                (node.lineno, f"{module}.{alias.name}" if module == "companion" else module)
                for alias in node.names
            )


def test_every_room_is_in_the_table() -> None:
    folders = {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    assert folders == {name for name in ROWS if is_folder(name)}
    assert all(sources(name) and sources(name)[0].is_file() for name in ROWS)


@pytest.mark.parametrize("name", ROWS)
def test_a_room_imports_only_what_it_may(name: str) -> None:
    allowed = ROWS[name]
    trespasses = []
    for source in sources(name):
        for line, imported in imports(source):
            top, _, rest = imported.partition(".")
            if top == "companion":
                other = rest.partition(".")[0]
                fine = other in {name, "__version__"} | FOR_ALL | allowed.may_import
                fine = fine or (name == "commands" and other in FOR_COMMANDS)
            else:
                fine = top in sys.stdlib_module_names or top in allowed.packages
            if not fine:
                trespasses.append(f"{source.relative_to(PACKAGE.parent)}:{line} imports {imported}")
    assert not trespasses, "\n".join(trespasses)


def test_a_row_imports_only_from_rows_above_it() -> None:
    above: set[str] = set()
    for row in TABLE:
        assert row.may_import <= above, f"{row.names} imports upward"
        above |= set(row.names)


def module_name(source: Path) -> str:
    parts = source.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def modules_imported(source: Path, modules: Container[str]) -> set[str]:
    """Which of these modules a file imports: "from companion.job import fluids" names a module."""
    found = set()
    for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.module, f"{source}:{node.lineno}: give the whole name"
            assert not node.level, f"{source}:{node.lineno}: give the whole name"
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            named = {name for name in inner if name in modules}
            found |= named if named == inner else {*named, node.module}
    return {name for name in found if name in modules}


def circle(arrows: Mapping[str, set[str]]) -> list[str]:
    """A circle of imports, the first module named again at its end; empty if there is none."""
    try:
        TopologicalSorter(arrows).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_no_modules_import_each_other_in_a_circle() -> None:
    """Within a room too, and read from the source, as above: one inside a function counts."""
    modules = {
        module_name(source): source for source in PACKAGE.rglob("*.py") if source.stat().st_size
    }
    # A program beside finds its own messages under the name that whoever starts it knows them by.
    beside = {f"companion.live.{name}_program" for name in ("recognizer", "voice")}
    arrows = {
        name: modules_imported(source, modules) - ({name} if name in beside else set())
        for name, source in modules.items()
    }
    assert " → ".join(circle(arrows)) == ""


def test_a_circle_of_imports_is_found(tmp_path: Path) -> None:
    """So that the test above cannot pass because it sees nothing."""
    one, other = tmp_path / "one.py", tmp_path / "other.py"
    one.write_text("def late() -> None:\n    from companion.job import other\n")
    other.write_text("from companion.job.one import late\n")
    modules = {"companion.job.one", "companion.job.other"}
    arrows = {
        f"companion.job.{each.stem}": modules_imported(each, modules) for each in (one, other)
    }
    assert set(circle(arrows)) == modules


@pytest.mark.parametrize("package", sorted(HEAVY))
def test_heavy_packages_are_known_to_their_rooms_only(package: str) -> None:
    knowing = {
        source.relative_to(PACKAGE).parts[0]
        for source in PACKAGE.rglob("*.py")
        for _, name in imports(source)
        if name.partition(".")[0] == package
    }
    rooms = {name for name, row in ROWS.items() if package in row.packages}
    assert knowing <= rooms | {"checkup.py"}


@pytest.mark.parametrize("room", [name for name in ROWS if is_folder(name)])
def test_importing_a_room_loads_nothing_heavy(room: str) -> None:
    """``companion --help`` must not wait for a recognizer: an ``__init__`` imports no engine."""
    names = {name.partition(".")[0] for _, name in imports(PACKAGE / room / "__init__.py")}
    assert not names & HEAVY


def test_the_room_of_pure_logic_reads_no_file() -> None:
    """Neither at import nor later: cards, sheets and tables are handed to it."""
    readers = {"pathlib", "os", "io", "importlib", "companion.grammar.files"}
    for source in sources("job"):
        for line, name in imports(source):
            reads = name in readers or name.startswith("companion.files")
            assert not reads, f"{source}:{line} imports {name}"
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                assert node.func.id != "open", f"{source}:{node.lineno} opens a file"


def test_the_pure_rooms_read_no_clock() -> None:
    """They work on values: time is passed in."""
    clocks = {"now", "today", "utcnow", "time", "monotonic", "perf_counter"}
    for source in [path for room in ("job", "intent", "speak") for path in sources(room)]:
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                called = node.func
                asked = isinstance(called.value, ast.Name) and called.value.id in {
                    "datetime",
                    "date",
                    "time",
                }
                assert not (asked and called.attr in clocks), (
                    f"{source}:{node.lineno} reads a clock"
                )
