"""A session begun, or taken up where its log ends."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from itertools import chain
from pathlib import Path
from typing import Literal

from companion import __version__
from companion.enroll.ways_file import WaysFile
from companion.job.card import JobCard
from companion.job.events import (
    AnyEvent,
    SessionOpened,
    SessionResumed,
    Trouble,
    WorkOrderKept,
)
from companion.job.folding.evolve import evolve, fold
from companion.job.sheet import SpecSheet
from companion.job.state import State
from companion.job.uncollected import uncollected
from companion.log.followed import refuse_senseless, state_of
from companion.log.machine_before import MachineBefore
from companion.log.machine_watch import MachineWatch
from companion.log.writer import LogWriter
from companion.recognize.protocol import Recognizer
from companion.session.own_log import left_by
from companion.session.session import Session
from companion.shelf.rules import shipped_rules

NOTHING_BEFORE = MachineBefore()
"""Of a machine that nobody knows yet."""


def open_session(
    folder: Path,
    *,
    at: datetime,
    card: JobCard | None = None,
    sheet: SpecSheet | None = None,
    call_sign: str = "bench",
    ounce: Literal["us", "imperial"] = "us",
    air_temperature: Decimal | None = None,
    recognizer: Recognizer | None = None,
    open_mic: bool = False,
    earlier: MachineBefore = NOTHING_BEFORE,
    machine: MachineWatch | None = None,
    own_ways: WaysFile | None = None,
    order: WorkOrderKept | None = None,
) -> Session:
    """Start a new job in a new session folder.

    Args:
        folder: Must not hold a log yet.
        at: When, with its offset from UTC.
        card: The job's steps, or None to work without a card.
        sheet: The machine's figures, or None.
        call_sign: Opens a call in open-mic mode.
        ounce: Which fluid ounce is meant.
        air_temperature: To be expected, in degrees Celsius, or None.
        recognizer: See ``Session``.
        open_mic: See ``Session``.
        earlier: What is known of the machine from before; kept in the log, so that the session
            needs no other to be understood.
        machine: How the machine stands by its other sessions; None where it is no machine that
            anybody could know again.
        own_ways: See ``Session``.
        order: Whose job it is, where that is known already.

    Raises:
        SeveralMachines: If several machines go by its name; nothing is made then.
        CompanionError: If the folder cannot be written or holds a log.
    """
    known = None if machine is None else machine.known()
    writer = LogWriter.create(folder)
    opened = SessionOpened(
        session=folder.name,
        machine=sheet.model_dump(mode="json") if sheet is not None else None,
        card=card.model_dump(mode="json") if card is not None else None,
        call_sign=call_sign,
        ounce=ounce,
        air_temperature=air_temperature,
        software=__version__,
        earlier=earlier.readings,
        serviced_before=earlier.services,
        machine_name=_own_name(machine, sheet),
        serial=None if machine is None else machine.identity.serial,
    )
    try:
        first = [opened, *(each for each in (order, known) if each is not None)]
        records = writer.append(first, at)
    except BaseException:
        writer.give_up()
        raise
    session = Session(
        writer,
        fold(records, shipped_rules()),
        opened=at,
        recognizer=recognizer,
        open_mic=open_mic,
        own_ways=own_ways,
    )
    if machine is not None:
        session.watch_machine(machine)
    return session


def _own_name(machine: MachineWatch | None, sheet: SpecSheet | None) -> str | None:
    """The name of this very machine, where it is not simply that of its sheet."""
    name = None if machine is None else machine.identity.name
    return None if sheet is not None and name == sheet.name else name


def resume_session(
    folder: Path,
    *,
    at: datetime,
    recognizer: Recognizer | None = None,
    open_mic: bool = False,
    watch: Callable[[State], MachineWatch | None] = lambda state: None,
    own_ways: WaysFile | None = None,
) -> Session:
    """Take up a job where its log ends; a torn last line is set aside and said so in the log.

    Args:
        folder: The session folder.
        at: When, with its offset from UTC.
        recognizer: See ``Session``.
        open_mic: See ``Session``.
        watch: Gives how the machine of the session stands by its other sessions.
        own_ways: See ``Session``.

    Raises:
        CompanionError: If there is no log, it is damaged or from a newer version, or another
            program has it.
    """
    # What is made here stays for as long as the session: the records, their fold, the grammar.
    with uncollected():
        writer = LogWriter.open(folder)
        try:
            return _resumed(
                writer,
                at=at,
                recognizer=recognizer,
                open_mic=open_mic,
                watch=watch,
                own_ways=own_ways,
            )
        except BaseException:
            writer.close()
            raise


def _resumed(
    writer: LogWriter,
    *,
    at: datetime,
    recognizer: Recognizer | None,
    open_mic: bool,
    watch: Callable[[State], MachineWatch | None],
    own_ways: WaysFile | None,
) -> Session:
    # The log is held meanwhile: what others write stands before what is read here, or after what is
    # written.
    with writer.turn():
        contents = writer.contents()
        events: list[AnyEvent] = [SessionResumed(software=__version__)]
        if contents.recovered is not None:
            events.insert(0, Trouble(what=contents.recovered))
        opened = contents.records[0].at
        state = state_of(writer.folder, contents.records)
        refuse_senseless(writer.folder, state)
        machine = watch(state)
        if machine is not None:
            for folder in left_by(contents.records):
                machine.leave_out(folder)
            events.append(machine.known(opened))
        written = writer.append(events, at)
        for record in written:
            state = evolve(state, record)
    session = Session(
        writer,
        state,
        opened=opened,
        recognizer=recognizer,
        open_mic=open_mic,
        own_ways=own_ways,
    )
    session.recall(chain(contents.records, written))
    if machine is not None:
        session.watch_machine(machine)
    return session
