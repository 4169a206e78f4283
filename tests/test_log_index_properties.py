"""However the logs came to be what they are, an index that followed them has what a new one has."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from companion.job import events as ev
from companion.log.index import SessionIndex
from companion.log.index_file import INDEX_NAME, SEQS
from companion.log.writer import LogWriter
from tests.logs import MACHINE, MONDAY, Bench, fluid, reading

EVENTS: tuple[ev.AnyEvent, ...] = (
    reading("gap", "30", "thou", verdict="in"),
    reading("engine hours", "98", "hour", verdict="unknown"),
    fluid("drained", "18", "ounce"),
    fluid("added", "20", "ounce"),
    ev.LevelRead(fluid="oil", level="full"),
    ev.FindingRecorded(part="shear pin", condition="broken"),
    ev.WorkRecorded(action="replaced", part="shear pin"),
    ev.WorkRecorded(action="removed", part="guard"),
    ev.TagHung(tag="no fuel", by="voice"),
    ev.TagCleared(tag="no fuel"),
    ev.PartNeeded(part="shear pin", count=2),
    ev.PartUsed(part="shear pin", count=2),
    ev.FollowUpRecorded(part="carburetor"),
    ev.NoteKept(text="the cable is frayed", draft=False),
    ev.SerialRecorded(serial="QT 4"),
    ev.Disregarded(record=2),
    ev.JobParked(),
    ev.JobClosed(),
)
NAMES = ("Quillmoor tiller", "Tarnfield mower")

Step = tuple[str, int, int]
STEPS = st.lists(
    st.tuples(
        st.sampled_from(("open", "call", "call", "call", "spoil", "mend", "remove", "look")),
        st.integers(0, 3),
        st.integers(0, len(EVENTS) - 1),
    ),
    max_size=24,
)


class Shop:
    """Logs that change, and an index that looks at them now and then."""

    def __init__(self, data: Path) -> None:
        self.data = data
        self.index = SessionIndex(data)
        self.whole: dict[Path, bytes] = {}

    def folder(self, number: int) -> Path:
        return self.data / "sessions" / f"session-{number}"

    def step(self, what: str, number: int, which: int) -> None:
        folder = self.folder(number)
        log = folder / "log.jsonl"
        if what == "look":
            self.index.refresh()
        elif what == "open" and not folder.exists():
            bench = Bench(folder, start=MONDAY + timedelta(days=number), clips=False)
            bench.open(machine={**MACHINE, "name": NAMES[which % 2]})
            bench.writer.close()
        elif what == "call" and folder.exists() and folder not in self.whole:
            with LogWriter.open(folder) as writer:
                heard = ev.Heard(
                    text=f"call {which}", engine="typed", confidence=1, call_confidence=1,
                    outcome="record",
                )  # fmt: skip
                at = MONDAY + timedelta(days=number, minutes=writer.next_seq)
                writer.append([heard, EVENTS[which]], at)
        elif what == "spoil" and folder.exists() and folder not in self.whole:
            self.whole[folder] = log.read_bytes()
            log.write_bytes(self.whole[folder].replace(b'"seq"', b'"sec"', 1))
        elif what == "mend" and folder in self.whole:
            log.write_bytes(self.whole.pop(folder))
        elif what == "remove" and folder.exists():
            self.whole.pop(folder, None)
            shutil.rmtree(folder)


def held(data: Path) -> dict[str, Any]:
    """Everything that an index holds, but for when it was written."""
    database = sqlite3.connect(data / INDEX_NAME)
    try:
        tables = {
            "session": "SELECT * FROM session ORDER BY folder",
            "fact": "SELECT folder, fact.* FROM fact JOIN session ON session = number "
            "ORDER BY folder, seq",
            "machine": "SELECT * FROM machine ORDER BY machine_key, serial_key",
            "said": f"SELECT folder, said.rowid % {SEQS}, words, who, at FROM said "
            f"JOIN session ON said.rowid / {SEQS} = number ORDER BY folder, said.rowid",
        }
        found: dict[str, Any] = {name: _rows(database, sql) for name, sql in tables.items()}
        found["words"] = _rows(
            database, "SELECT count(*) FROM said WHERE said MATCH 'call OR cable'"
        )
        found["orphans"] = _rows(
            database, "SELECT count(*) FROM fact WHERE session NOT IN (SELECT number FROM session)"
        )
        return found
    finally:
        database.close()


def _rows(database: sqlite3.Connection, sql: str) -> list[tuple[Any, ...]]:
    cursor = database.execute(sql)
    left_out = {"number", "session", "written"}
    kept = [place for place, column in enumerate(cursor.description) if column[0] not in left_out]
    return [tuple(row[place] for place in kept) for row in cursor]


def in_a_shop(act: Callable[[Path], None]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        act(Path(folder))


@settings(max_examples=25)
@given(steps=STEPS)
def test_an_index_that_followed_the_logs_has_what_a_new_one_has(steps: list[Step]) -> None:
    def act(data: Path) -> None:
        shop = Shop(data)
        for each in steps:
            shop.step(*each)
        shop.index.refresh()
        followed = held(data)
        shop.index.rebuild()
        shop.index.close()
        assert followed == held(data)
        assert followed["orphans"] == [(0,)]

    in_a_shop(act)


@settings(max_examples=60)
@given(words=st.text(max_size=30))
def test_whatever_is_typed_is_looked_for_and_nothing_else(words: str) -> None:
    assert SHOP.search(words).total >= 0
    assert SHOP.sessions(words).total >= 0
    assert len(SHOP.machines(words)) <= 1


def _small_shop() -> SessionIndex:
    # For the whole module: nothing changes in it.
    data = Path(tempfile.mkdtemp())
    shop = Shop(data)
    for each in (("open", 0, 0), ("call", 0, 0), ("call", 0, 13)):
        shop.step(*each)
    return shop.index


SHOP = _small_shop()
