"""What the pages and the program itself tell a person to type or to open is there."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.cli import command_parser
from tests.conftest import Run
from tests.test_installed import sentences

ROOT = Path(__file__).parent.parent
PAGES = ["README.md", "DEVELOPERS.md", "models_readme/README.md"]
PAGES += sorted(str(path.relative_to(ROOT)) for path in (ROOT / "docs").glob("*.md"))

SCREEN = 150
"""Lines that the README may have."""

NAMED = re.compile(
    r"(?:^|[`'\"(]|\.venv/bin/)companion ([a-z]+)(?= |[`'\",.;:?)]|$)([^`;|&]*)", re.M
)
"""A command of the program where it is told to be typed, and what follows on its line."""


def text(page: str) -> str:
    return (ROOT / page).read_text("utf-8")


# --- the pages ---
def test_the_readme_is_one_screen_with_one_picture() -> None:
    readme = text("README.md")
    assert len(readme.splitlines()) <= SCREEN
    assert len(re.findall(r"!\[", readme)) == 1


def test_the_exchange_of_the_readme_is_a_real_one(companion: Run) -> None:
    lines = re.findall(r"^you +(.+?)  +bench   (.+)$", text("README.md"), re.M)
    assert len(lines) == 5
    calls = "".join(f"{call}\n" for call, _ in lines)
    where = ("--job", "four-stroke-service", "--machine", "quillmoor-tiller")
    ran = companion("work", "--typed", "--quiet", *where, typed=calls)
    said = re.findall(r"said    (.+)", ran.stdout)[-len(lines) :]
    for (_, told), answer in zip(lines, said, strict=True):
        assert re.fullmatch(re.escape(told).replace(re.escape("..."), ".*"), answer)


def anchors(page: Path) -> set[str]:
    """The headings of a page as links name them."""
    headings = re.findall(r"^#+ (.*)$", page.read_text("utf-8"), re.M)
    return {re.sub(r"[^\w -]", "", each.lower()).replace(" ", "-") for each in headings}


@pytest.mark.parametrize("page", PAGES)
def test_what_a_page_links_to_is_there(page: str) -> None:
    for target in re.findall(r"\]\(([^)\s]+)\)", text(page)):
        name, _, anchor = target.partition("#")
        file = (ROOT / page).parent / name if name else ROOT / page
        assert file.exists(), target
        assert not anchor or anchor in anchors(file), target


# --- commands ---
def parsers() -> dict[str, argparse.ArgumentParser]:
    """Every command and, by "log check", those within one."""
    found: dict[str, argparse.ArgumentParser] = {}
    waiting = [("", command_parser())]
    while waiting:
        name, parser = waiting.pop()
        found[name] = parser
        for action in parser._actions:
            if isinstance(action, argparse._SubParsersAction):
                waiting += [
                    (f"{name} {each}".strip(), made) for each, made in action.choices.items()
                ]
    return found


def named(where: str, told: str) -> Iterator[tuple[str, str, str]]:
    """Where, which command, and what follows it."""
    for command, rest in NAMED.findall(told):
        yield where, command, rest


def unknown(found: Iterator[tuple[str, str, str]]) -> list[str]:
    """What is told to be typed and cannot be."""
    known = parsers()
    wrong = []
    for where, command, rest in found:
        within = " ".join([command, *rest.split()[:1]])
        within = within if within in known else command
        parser = known.get(within)
        if parser is None:
            wrong.append(f"{where}: companion {command}")
            continue
        options = {option for action in parser._actions for option in action.option_strings}
        line = rest.split("  #")[0].split("\n")[0]
        wrong += [
            f"{where}: companion {within} {option}"
            for option in re.findall(r"(?<= )--[a-z][a-z-]*", line)
            if option not in options
        ]
    return wrong


@pytest.mark.parametrize("page", PAGES)
def test_every_command_of_a_page_can_be_typed(page: str) -> None:
    assert unknown(named(page, text(page))) == []


def test_every_command_that_the_program_names_can_be_typed() -> None:
    found = (
        each
        for path in sorted((ROOT / "companion").rglob("*.py"))
        if NAMED.search(path.read_text("utf-8"))
        for line, told in sentences(path)
        for each in named(f"{path.relative_to(ROOT)}:{line}", told)
    )
    assert unknown(found) == []


def test_that_a_command_is_missing_is_noticed() -> None:
    told = "Try 'companion wrok --typed', or `companion work --tpyed`; companion cards --json"
    assert unknown(named("here", told)) == [
        "here: companion wrok",
        "here: companion work --tpyed",
    ]
