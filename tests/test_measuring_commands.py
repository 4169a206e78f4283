"""Figures in the documents come from commands of this repository: each of them starts."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).parent.parent
COMMANDS = sorted(
    f"{folder}.{path.stem}"
    for folder in ("tools", "tests")
    for path in (CHECKOUT / folder).glob("[!t]*.py")
    if "__main__" in path.read_text(encoding="utf-8")
)
PACKAGES = [
    *("tools.faults", "tools.fit_evidence", "tools.fuzz", "tools.hearing", "tools.ways"),
    "tests.outside",
]


def test_they_are_found() -> None:
    known = {"benchmark", "enrolling", "pauses", "second_hearing"}
    assert {f"tools.{name}" for name in known} <= set(COMMANDS)


@pytest.mark.parametrize("name", [*COMMANDS, *(f"{package}.__main__" for package in PACKAGES)])
def test_what_it_is_made_of_is_there(name: str) -> None:
    assert callable(import_module(name).main)
