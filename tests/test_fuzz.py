"""Every reader takes an input or refuses it with one sentence, whatever the input.

Hypothesis draws the changes; ``python -m tools.fuzz`` is the long form. What once met a fault
stands in ``tools/fuzz/found``, a folder a reader.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import tools.fuzz
from tools.fuzz.readers import READERS, Read, Reader
from tools.fuzz.table import Tried, write_into
from tools.fuzz.trying import tried

FOUND = Path(tools.fuzz.__file__).parent / "found"

EXAMPLES = 25
"""Of each reader; the long form tries a hundred thousand."""


def folder_of(reader: Reader) -> str:
    return reader.name.split(" (")[0].replace(" ", "-")


@pytest.fixture(scope="module", params=READERS, ids=folder_of)
def opened(request: pytest.FixtureRequest) -> Iterator[tuple[Reader, Read, list[bytes]]]:
    """A reader, ready, and inputs that it takes."""
    with ExitStack() as stack:
        stack.enter_context(pytest.MonkeyPatch.context())
        reader: Reader = request.param
        seeds = reader.seeds()
        yield reader, stack.enter_context(reader.opened()), seeds


def test_the_table_keeps_what_was_not_tried_now(tmp_path: Path) -> None:
    page = tmp_path / "measurements.md"
    page.write_text("# Measurements\n\nMore below.\n")
    write_into([Tried("logs", 7, (), 1.0)], ["tips", "logs"], guided=True, page=page)
    write_into([Tried("tips", 1_000, ("slow",), 2.4)], ["tips", "logs"], guided=False, page=page)
    rows = [line for line in page.read_text().splitlines() if line.startswith("| ")]
    assert [row.split(" | ")[:4] for row in rows[2:]] == [
        ["| tips", "1,000", "1", "2"],
        ["| logs", "7", "0", "1"],
    ]
    assert page.read_text().startswith("# Measurements\n\nMore below.\n\n## Fuzzed inputs\n")


def test_what_is_right_is_taken(opened: tuple[Reader, Read, list[bytes]]) -> None:
    reader, read, seeds = opened
    for seed in seeds:
        if reader.takes_seeds:
            read(seed)


def test_what_once_met_a_fault_meets_none(opened: tuple[Reader, Read, list[bytes]]) -> None:
    reader, read, _ = opened
    for path in sorted((FOUND / folder_of(reader)).glob("*")):
        assert tried(read, path.read_bytes()) is None, path.name


def test_whatever_comes_is_taken_or_refused(opened: tuple[Reader, Read, list[bytes]]) -> None:
    reader, read, seeds = opened

    @settings(
        max_examples=EXAMPLES,
        suppress_health_check=list(HealthCheck),
    )
    @given(st.sampled_from(seeds), st.randoms(use_true_random=False))
    def try_one(seed: bytes, random: Random) -> None:
        fault = tried(read, reader.worse(seeds, seed, random))
        assert fault is None, fault and fault.told

    try_one()
