"""A live session: beginning a job and going on with it."""

from __future__ import annotations

import argparse
import sys
from contextlib import nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from companion.commands.arguments import (
    add_command,
    board_option,
    ear_options,
    job_options,
    order_options,
    quiet_option,
    serial_option,
)
from companion.commands.given import files_of, job_given, list_session, live_ears, own_ways_of, tell
from companion.errors import CompanionError, WrongUse
from companion.plain_print import whole

if TYPE_CHECKING:
    from datetime import datetime

    from companion.commands.given import Job
    from companion.enroll.ways_file import WaysFile
    from companion.job.card import JobCard
    from companion.job.events import WorkOrderKept
    from companion.job.sheet import SpecSheet
    from companion.job.state import State
    from companion.log.machine_before import MachineBefore
    from companion.log.machine_watch import MachineWatch
    from companion.recognize.protocol import Recognizer
    from companion.session.session import Session
    from companion.settings import Settings


def add_to(commands: Any) -> None:
    """Add the commands of this file."""
    made = add_command(
        commands,
        "work",
        work,
        "companion work --job four-stroke-service --machine quillmoor-tiller",
    )
    job_options(made)
    made.add_argument(
        "--name",
        type=whole,
        metavar="NAME",
        help="what this very machine is called, if not as its sheet",
    )
    serial_option(made)
    order_options(made)
    made.add_argument(
        "--typed", action="store_true", help="read calls from standard input, a line each"
    )
    made.add_argument(
        "--push-to-talk", action="store_true", help="listen after the Enter key or a pedal"
    )
    made.add_argument("--out", type=Path, metavar="DIR", help="session folder to make")
    board_option(made)
    ear_options(made)
    quiet_option(made)

    made = add_command(commands, "resume", resume, "companion resume")
    made.add_argument(
        "session", nargs="?", metavar="SESSION", help="name or folder; else the last one open"
    )
    made.add_argument(
        "--typed", action="store_true", help="read calls from standard input, a line each"
    )
    made.add_argument(
        "--push-to-talk", action="store_true", help="listen after the Enter key or a pedal"
    )
    board_option(made)
    ear_options(made)
    quiet_option(made)


@dataclass(frozen=True, slots=True)
class _Begun:
    """What a session begins with: the job, its order, when and where, and the machine."""

    job: Job
    order: WorkOrderKept | None
    at: datetime
    folder: Path
    machine: MachineWatch | None


def work(options: argparse.Namespace) -> None:
    """Start a live session."""
    from companion.session.opening import open_session
    from companion.settings import load_settings

    settings = load_settings()
    recognizer: Recognizer | None = None
    if options.typed:
        begun = _begun(options)
    else:
        recognizer, begun = live_ears(options, settings, lambda: _spoken(options, settings))
    job, machine = begun.job, begun.machine
    push_to_talk = options.push_to_talk or settings.push_to_talk
    session = open_session(
        begun.folder,
        at=begun.at,
        card=job.card,
        sheet=job.sheet,
        call_sign=settings.call_sign,
        ounce=settings.ounce,
        air_temperature=settings.air_temperature,
        recognizer=recognizer,
        open_mic=not push_to_talk,
        earlier=_earlier(machine, begun.at),
        machine=machine,
        own_ways=own_ways_of(options, settings),
        order=begun.order,
    )
    tell(session.left_out)
    if recognizer is not None:
        from companion.grammar.unsayable import unsayable_sentences

        tell(unsayable_sentences(session.grammar.words, files_of(options)))
    list_session(begun.folder, None if machine is None else machine.identity.name)
    if machine is None:
        session.watch_when_named = lambda state: _watch(state, begun.folder)
    _live(session, settings, options)


def _begun(options: argparse.Namespace) -> _Begun:
    from companion.job.fits import fits
    from companion.live.loop import now
    from companion.log.sessions import new_session_folder
    from companion.log.work_order import work_order
    from companion.shelf.check import asked_at_start

    order = work_order(options.customer, options.work_order)
    job = job_given(options)
    if job.card is not None and job.sheet is not None and not fits(job.card, job.sheet):
        print(
            f"companion: the card {job.card.name} is not meant for a {job.sheet.kind}: look at "
            "each step before you do it, or choose another of 'companion cards'.",
            file=sys.stderr,
        )
    tell(asked_at_start(job.card, job.sheet))
    at = now()
    named = options.name or (job.sheet.name if job.sheet else None)
    folder = options.out or new_session_folder(at, named or "job")
    return _Begun(job, order, at, folder, _machine(options, job, folder))


def _spoken(options: argparse.Namespace, settings: Settings) -> _Begun:
    """The same, and the words of the job, which are kept for the session."""
    begun = _begun(options)
    _compile(begun.job.card, begun.job.sheet, settings.call_sign)
    return begun


def _taken_up(folder: Path) -> None:
    """Compile the words of a job that is taken up. What is wrong with its log is told when it is
    opened."""
    from companion.log.followed import state_of
    from companion.log.reader import read_log

    with suppress(CompanionError):
        state = state_of(folder, read_log(folder).records)
        _compile(state.card, state.sheet, state.call_sign)


def _compile(card: JobCard | None, sheet: SpecSheet | None, call_sign: str) -> None:
    from companion.grammar.compiled import load_grammar
    from companion.shelf.words import vocabulary_of

    load_grammar(vocabulary_of(card, sheet, call_sign)).prepare()


def _earlier(machine: MachineWatch | None, at: datetime) -> MachineBefore:
    """What is known of the machine from before."""
    from companion.log.machine_before import MachineBefore, machine_before
    from companion.log.machine_folders import folders_of

    if machine is None:
        return MachineBefore()
    name, serial = machine.identity.name, machine.identity.serial
    return machine_before(name, at, lambda: folders_of(name, serial), serial=serial)


def _machine(options: argparse.Namespace, job: Job, folder: Path) -> MachineWatch | None:
    """How the machine stands by its other sessions; None where it has neither sheet nor name."""
    from companion.log.identity import Identity
    from companion.log.machine_watch import MachineWatch

    name = options.name or (job.sheet.name if job.sheet else None)
    if name is None:
        if options.serial:
            raise WrongUse("--serial is of a machine: name it with --machine or --name as well.")
        return None
    serial = options.serial or (job.sheet.identification.serial if job.sheet else None)
    from companion.log.machine_folders import folders_of

    machine = MachineWatch(Identity(name, serial), folder, lambda: folders_of(name, serial))
    for other in machine.namesakes():
        print(
            f"companion: '{other}' has the serial number {serial} too; the two are kept apart. If "
            "they are one machine, start again with --name and the one name for both.",
            file=sys.stderr,
        )
    return machine


def resume(options: argparse.Namespace) -> None:
    """Take up a job where its log ends."""
    from companion.log.finding import find_session
    from companion.log.went_on import refuse_lost
    from companion.settings import load_settings

    settings = load_settings()
    folder = find_session(options.session, unfinished=True)
    refuse_lost(folder)
    recognizer: Recognizer | None = None
    if not options.typed:
        recognizer, _ = live_ears(options, settings, lambda: _taken_up(folder))
    open_mic = not (options.push_to_talk or settings.push_to_talk)
    ways = own_ways_of(options, settings)
    session = _resumed(folder, recognizer, open_mic=open_mic, own_ways=ways)
    tell(session.left_out)
    _live(session, settings, options)


def _resumed(
    folder: Path, recognizer: Recognizer | None, *, open_mic: bool, own_ways: WaysFile | None
) -> Session:
    from companion.live.loop import now
    from companion.log.archive import bring_back
    from companion.session.opening import resume_session

    def watch(state: State) -> MachineWatch | None:
        return _watch(state, folder)

    # A job that is resumed belongs on the list again.
    bring_back([folder])
    session = resume_session(
        folder,
        at=now(),
        recognizer=recognizer,
        open_mic=open_mic,
        watch=watch,
        own_ways=own_ways,
    )
    if session.machine is None:
        session.watch_when_named = watch
    return session


def _watch(state: State, folder: Path) -> MachineWatch | None:
    """How the machine of a session stands by its others; None where nothing says which it is."""
    from companion.log.identity import identity_of
    from companion.log.machine_folders import folders_of
    from companion.log.machine_watch import MachineWatch

    identity = identity_of(state)
    if identity is None:
        return None
    name, serial = identity.name, identity.serial
    return MachineWatch(identity, folder, lambda: folders_of(name, serial))


def _live(session: Session, settings: Settings, options: argparse.Namespace) -> None:
    from companion.live.board_beside import board_beside
    from companion.live.run import run_live
    from companion.log.finding import session_of_machine

    def go_on_with(name: str, before: Session) -> Session:
        return _resumed(
            session_of_machine(name, before.state, before.folder),
            before.recognizer,
            open_mic=before.open_mic,
            own_ways=before.listened_for.own_ways,
        )

    wanted = options.board or settings.board
    try:
        with board_beside(session.folder) if wanted else nullcontext(()) as beside:
            session = run_live(
                session,
                settings,
                typed=options.typed,
                push_to_talk=options.push_to_talk or settings.push_to_talk,
                quiet=options.quiet,
                go_on_with=go_on_with,
                beside=beside,
            )
    finally:
        session.close()
    print(f"Session: {session.folder}")
    _leave_sheet(session)


def _leave_sheet(session: Session) -> None:
    """Leave a sheet of a machine that a call has named, and tell where it is."""
    from companion.called_machine import leave_sheet

    left = leave_sheet(session.state)
    if left is None:
        return
    if left.new:
        print(f"Sheet:   {left.path} (new; what its manual says stands ready to be filled in)")
    else:
        print(f"Sheet:   {left.path}")
    print(f"Next:    companion work --machine {left.path.stem}")
