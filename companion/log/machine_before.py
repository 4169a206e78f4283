"""What a machine read last, from the shop's earlier sessions; a session opens with it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from companion.errors import CompanionError
from companion.job.events import EarlierReading, EarlierService
from companion.job.service_due import engine_hours_of_job, serviced
from companion.log.identity import Identity
from companion.log.names import same_machine
from companion.log.sessions import session_folders
from companion.log.summaries import SessionSummary, machine_of, summarize

SESSIONS_READ = 12
"""Sessions of a machine that are looked through, the latest first: opening must not take ever
longer as the years go by."""

READINGS_KEPT = 60
"""Measures kept at most; no spec sheet comes near."""

SERVICES_KEPT = 60
"""Items of service intervals kept at most."""


@dataclass(frozen=True, slots=True)
class _Found:
    folder: Path
    opened: datetime


@dataclass(frozen=True, slots=True)
class MachineBefore:
    """What is known of a machine before a session.

    Attributes:
        readings: The last of each measure, the latest first.
        services: When each item of its service intervals was last done.
    """

    readings: tuple[EarlierReading, ...] = ()
    services: tuple[EarlierService, ...] = ()


def machine_before(
    machine: str,
    at: datetime,
    folders: Callable[[], Iterable[Path]] = session_folders,
    *,
    serial: str | None = None,
) -> MachineBefore:
    """Return what a machine read and had done before.

    A session that cannot be read is passed over, as is one that was opened at this time or later.

    Args:
        machine: Its name; case and punctuation do not matter.
        at: Only what was recorded before counts.
        folders: Gives the folders of all sessions that may be of it; those of the shop if left out.
        serial: Its serial number, where it is known: those that have another are of another one.
    """
    latest: dict[str, EarlierReading] = {}
    done: dict[tuple[str, str], EarlierService] = {}
    for found in _sessions_of(Identity(machine, serial), at, folders)[:SESSIONS_READ]:
        try:
            summary = summarize(found.folder)
        except CompanionError:
            continue
        _keep_readings(latest, summary, at)
        hours = engine_hours_of_job(summary.state)
        for service in serviced(summary.state):
            if summary.last < at:
                done.setdefault(
                    (service.item, service.work),
                    EarlierService(
                        item=service.item, work=service.work, at=summary.last, hours=hours
                    ),
                )
    by_time = sorted(latest.values(), key=lambda reading: reading.at, reverse=True)
    return MachineBefore(tuple(by_time[:READINGS_KEPT]), tuple(done.values())[:SERVICES_KEPT])


def _keep_readings(
    latest: dict[str, EarlierReading], summary: SessionSummary, at: datetime
) -> None:
    name = summary.folder.name
    for fact in summary.state.effective(summary.state.readings):
        known = latest.get(fact.event.measure)
        # Of one session the last call counts; a clock may have been set back in between.
        same = known is not None and known.session == name
        if fact.at < at and (known is None or same or fact.at > known.at):
            latest[fact.event.measure] = EarlierReading(
                measure=fact.event.measure,
                value=fact.event.value,
                unit=fact.event.unit,
                verdict=fact.event.verdict,
                at=fact.at,
                session=name,
            )


def _sessions_of(
    machine: Identity, at: datetime, folders: Callable[[], Iterable[Path]]
) -> list[_Found]:
    """The machine's sessions opened before, the latest first."""
    found = []
    try:
        listed = list(folders())
    except CompanionError:
        # A job must open even where nobody knows what was before.
        return []
    for folder in listed:
        opened = machine_of(folder)
        if opened is None or opened[0] is None or opened[1] >= at:
            continue
        other = opened[0]
        another = machine.serial is not None and other.serial is not None
        if same_machine(other.name, machine.name) and not (
            another and not other.same_serial(machine)
        ):
            found.append(_Found(folder, opened[1]))
    return sorted(found, key=lambda session: session.opened, reverse=True)
