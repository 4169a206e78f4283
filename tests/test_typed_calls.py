"""Calls kept for the up arrow: calls only, bounded, and never in the way of the work."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from companion.live.typed_calls import LONGEST, MOST, TypedCalls
from companion.session.opening import open_session
from companion.session.session import Session

AT = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Session:
    return open_session(tmp_path_factory.mktemp("shop") / "job", at=AT)


@pytest.fixture
def calls(tmp_path: Path) -> TypedCalls:
    return TypedCalls(tmp_path / "data" / "typed-calls.txt")


def test_calls_are_kept_as_typed_and_read_back_in_order(
    session: Session, calls: TypedCalls
) -> None:
    assert calls.read() == ()
    for text in ("gap 30 thou", "tag no oil"):
        calls.keep(session.typed(text, AT))
    assert calls.read() == ("gap 30 thou", "tag no oil")
    assert calls.path.stat().st_mode & 0o077 == 0


def test_notes_complaints_and_what_was_no_call_are_not_kept(
    session: Session, calls: TypedCalls
) -> None:
    for text in (
        "note the owner is away",
        "complaint it smokes",
        "the dog wants out",
        "gap thirty",
    ):
        calls.keep(session.typed(text, AT))
    assert calls.read() == ()
    assert not calls.path.exists()


def test_the_file_is_cut_to_the_latest(session: Session, calls: TypedCalls) -> None:
    calls.path.parent.mkdir()
    calls.path.write_text("".join(f"gap {number} thou\n" for number in range(MOST + 7)))
    assert calls.read()[0] == "gap 7 thou"
    assert len(calls.path.read_text().splitlines()) == MOST
    calls.keep(session.typed("gap 31 thou", AT))
    assert calls.read()[-1] == "gap 31 thou"


def test_a_damaged_file_gives_what_can_be_used(calls: TypedCalls) -> None:
    calls.path.parent.mkdir()
    calls.path.write_bytes(b"gap 30 thou\n\x1b[2J\n" + b"x" * (LONGEST + 1) + b"\n\nroger\n")
    assert calls.read() == ("gap 30 thou", "roger")


def test_a_folder_that_cannot_be_written_costs_nothing(session: Session, tmp_path: Path) -> None:
    (tmp_path / "data").write_text("a file where the folder should be")
    calls = TypedCalls(tmp_path / "data" / "typed-calls.txt")
    calls.keep(session.typed("gap 30 thou", AT))
    assert calls.read() == ()
