"""The gates that every change passes: lint, layout and types, as anyone runs them by hand."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parent.parent


@pytest.mark.parametrize(
    "gate",
    ["ruff check .", "ruff format --check .", "mypy"],
    ids=["lint", "layout", "types"],
)
def test_gate(gate: str) -> None:
    run = subprocess.run(
        [sys.executable, "-m", *gate.split()],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, f"{gate}\n{run.stdout}{run.stderr}"
