"""A tiller over four years, as a shop would have typed it; invented, as its sheet is."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

from companion.log.identity import Identity
from companion.log.machine_before import machine_before
from companion.log.machine_watch import MachineWatch
from companion.log.sessions import new_session_folder
from companion.session.opening import open_session
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet

TILLER = "Quillmoor rear tine tiller"

YEARS: tuple[tuple[datetime, tuple[str, ...]], ...] = (
    (
        datetime(2023, 4, 3, 9, 0, tzinfo=UTC),
        (
            "engine hours 40 hours", "gap 30 thou", "compression 120 psi", "battery 12.6 volts",
            "drained 18 ounces of oil", "added 20 ounces of oil", "oil level full", "affirm",
            "air filter dirty", "cleaned air filter", "close job", "affirm",
        ),
    ),
    (
        datetime(2024, 4, 9, 9, 0, tzinfo=UTC),
        (
            "engine hours 71.5 hours", "gap 38 thou", "gap 29 thou", "compression 112 psi",
            "complaint runs rough when hot", "replaced spark plug", "used one spark plug",
            "drained 18 ounces of oil", "added 20 ounces of oil", "oil level full", "affirm",
            "close job", "affirm",
        ),
    ),
    (
        datetime(2025, 4, 1, 9, 0, tzinfo=UTC),
        (
            "engine hours 98 hours", "gap 26 thou", "compression 97 psi", "drive belt worn",
            "need a drive belt", "follow up carburetor", "note the cable is frayed at the lever",
            "close job", "affirm",
        ),
    ),
    (
        datetime(2026, 3, 30, 9, 0, tzinfo=UTC),
        (
            "engine hours 121 hours", "gap 31 thou", "compression 84 psi",
            "drained 18 ounces of oil", "shear pin broken", "need two shear pins", "park job",
        ),
    ),
)  # fmt: skip


def tiller_of_years() -> list[Path]:
    """Type all the jobs; their session folders, the first first."""
    return [typed(at, calls) for at, calls in YEARS]


def opened(at: datetime, *, sheet: str = "quillmoor-tiller", name: str | None = None) -> Session:
    """Open a job as the program does, knowing what was before."""
    spec = load_sheet(sheet)
    folder = new_session_folder(at, name or spec.name)
    machine = MachineWatch(Identity(name or spec.name), folder)
    return open_session(
        folder,
        at=at,
        card=load_card("four-stroke-service"),
        sheet=spec,
        earlier=machine_before(spec.name, at),
        machine=machine,
    )


def typed(at: datetime, calls: Sequence[str]) -> Path:
    """Type a whole job; its session folder."""
    session = opened(at)
    session.open(at)
    for call in calls:
        at += timedelta(seconds=40)
        while session.more_to_say:
            session.tick(at)
        session.typed(call, at)
    session.close()
    return session.folder
