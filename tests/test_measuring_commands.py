"""Figures in the documents come from commands of this repository: each of them starts."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
COMMANDS = sorted(
    path.stem for path in TESTS.glob("[!t]*.py") if "__main__" in path.read_text(encoding="utf-8")
)


def test_they_are_found() -> None:
    assert {"benchmark", "enrolling", "pauses", "second_hearing", "fit_evidence"} <= set(COMMANDS)


@pytest.mark.parametrize(
    "name", [*COMMANDS, "faults.__main__", "hearing.__main__", "outside.__main__"]
)
def test_what_it_is_made_of_is_there(name: str) -> None:
    assert callable(import_module(f"tests.{name}").main)
