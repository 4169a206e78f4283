"""Sessions from recordings: the same as at the bench, with the clock taken from the recordings.

A folder for replay holds ``session.toml`` and the sound files it names. Nothing in it says what
the outcome is: every recording goes through the segmenter and the recognizer as a microphone's
sound would.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from companion.audio.endpointing import Segmenter
from companion.audio.files import BLOCK_SECONDS, stream_sound
from companion.audio.noise_floor import FRAME
from companion.audio.utterance import Utterance
from companion.errors import CompanionError
from companion.files.plain import is_plain_below, stands_there
from companion.files.quoting import quoted
from companion.files.sound_format import SAMPLE_RATE
from companion.job.sheet import SpecSheet
from companion.log.identity import Identity
from companion.log.machine_before import MachineBefore, machine_before
from companion.log.machine_watch import MachineWatch
from companion.recognize.protocol import Recognizer
from companion.session.exchange import Considered, Exchange
from companion.session.opening import open_session
from companion.session.session import Session
from companion.shelf.load import load_card, load_sheet, shipped_cards, shipped_sheets
from companion.shelf.own import own_cards, own_sheets
from companion.shelf.toml_file import read_model
from companion.shipped import shipped

SESSION_FILE = "session.toml"
EXAMPLE = "generator-load-check"
"""The bundled session that shows how a folder for replay is laid out."""


class Recording(BaseModel):
    """One stretch of sound.

    Attributes:
        file: Path inside the folder.
        at: When it starts, in the session's own time, with its offset from UTC.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    file: str
    at: AwareDatetime


class ReplaySession(BaseModel):
    """What ``session.toml`` holds.

    Attributes:
        title: One line.
        invented: True where the machine and the figures are made up.
        job: Job card, by a path inside the folder, by shipped name, or by that of an own one.
        machine: Spec sheet, likewise.
        mode: Whether a call begins with the call sign.
        call_sign: That word.
        ounce: Which fluid ounce is meant.
        licence: Of the recordings.
        before: Path inside the folder of an earlier job of the machine, a folder of the same kind,
            which is replayed first.
        recording: In the order of time.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    title: str
    invented: bool = False
    job: str | None = None
    machine: str | None = None
    mode: Literal["open-mic", "push-to-talk"] = "push-to-talk"
    call_sign: str = "bench"
    ounce: Literal["us", "imperial"] = "us"
    licence: str | None = None
    before: str | None = None
    recording: tuple[Recording, ...] = Field(min_length=1)


def load_replay(folder: Path) -> ReplaySession:
    """Read a folder's ``session.toml``.

    Raises:
        CompanionError: If it is missing or malformed, names a file that is not there, or goes
            back in time.
    """
    path = folder / SESSION_FILE
    if not stands_there(path):
        raise CompanionError(
            f"{folder}: no {SESSION_FILE} in this folder; give a folder like "
            f"'{shipped('demo_sessions') / EXAMPLE}'."
        )
    plan, _ = read_model(path, ReplaySession, "session file")
    previous: datetime | None = None
    for recording in plan.recording:
        if not is_plain_below(folder, recording.file):
            raise CompanionError(
                f"{path}: the recording {quoted(recording.file)} is not there; it must be a plain "
                "file inside the folder."
            )
        if previous is not None and recording.at < previous:
            raise CompanionError(
                f"{path}: {quoted(recording.file)} starts before the recording above it."
            )
        previous = recording.at
    return plan


def utterances(
    path: Path, session: Session, begins: datetime
) -> Iterator[tuple[Utterance, Considered | None]]:
    """Stream a sound file through the segmenter, as a microphone's sound goes through it; what is
    said before a pause is considered at once, so that the outcome does not depend on the machine's
    speed.

    Args:
        path: Any sound file.
        session: Considers; nothing is recorded.
        begins: When the sound begins.

    Yields:
        Each utterance, with what was made of it already.

    Raises:
        CompanionError: If the file cannot be read as sound.
    """
    segmenter = Segmenter(interims=True)
    number = 0
    considered: Considered | None = None
    for block in stream_sound(path, round(BLOCK_SECONDS * SAMPLE_RATE)):
        # Fed frame by frame: a pause within a block may be over at its end.
        for begin in range(0, len(block), FRAME):
            for utterance in segmenter.feed(block[begin : begin + FRAME]):
                yield utterance, considered if utterance.interim == number else None
            interim = segmenter.interim
            if interim is not None and interim.number != number:
                at = begins + timedelta(seconds=segmenter.seconds)
                number, considered = interim.number, session.consider(interim.utterance, at)
                if considered is not None:
                    segmenter.end_after(number, considered.pause * segmenter.end_pause)
    for utterance in segmenter.flush():
        yield utterance, considered if utterance.interim == number else None


def open_replay(
    plan: ReplaySession,
    folder: Path,
    out: Path,
    recognizer: Recognizer | None,
    earlier: Sequence[Path] = (),
) -> Session:
    """Open the session that a replay is kept in.

    Args:
        plan: From ``load_replay``.
        folder: Where its files are.
        out: The new session folder.
        recognizer: The engine; None where the calls are typed.
        earlier: Session folders of the machine's earlier jobs. Nothing else that the shop has of it
            counts: what is heard depends on the recordings alone.

    Raises:
        CompanionError: If its card or sheet cannot be loaded, or the session folder not be made.
    """
    at = plan.recording[0].at
    sheet = load_sheet(_found(plan.machine, folder, own_sheets())) if plan.machine else None
    return open_session(
        out,
        at=at,
        card=load_card(_found(plan.job, folder, own_cards())) if plan.job else None,
        sheet=sheet,
        earlier=machine_before(sheet.name, at) if sheet else MachineBefore(),
        machine=None if sheet is None else _machine(sheet, out, earlier),
        call_sign=plan.call_sign,
        ounce=plan.ounce,
        recognizer=recognizer,
        open_mic=plan.mode == "open-mic",
    )


def _machine(sheet: SpecSheet, out: Path, earlier: Sequence[Path]) -> MachineWatch:
    identity = Identity(sheet.name, sheet.identification.serial)
    return MachineWatch(identity, out, lambda: earlier, gone=dict)


def _found(name: str, folder: Path, own: Path) -> str | Path:
    """A card or sheet beside the recordings; else the shipped one of that name, or else, so that
    recordings sound the same in every shop, one of the shop's own."""
    if is_plain_below(folder, name):
        return folder / name
    shipped = {*shipped_cards(), *shipped_sheets()}
    if name not in shipped and is_plain_below(own, f"{name}.toml"):
        return own / f"{name}.toml"
    return name


def replay(
    plan: ReplaySession, folder: Path, session: Session, show: Callable[[Exchange], None]
) -> None:
    """Drive a session with recordings.

    Args:
        plan: From ``load_replay``.
        folder: Where its files are.
        session: Just opened.
        show: Called with every exchange as soon as it is on disk.
    """
    at = plan.recording[0].at
    show(session.open(at))
    for recording in plan.recording:
        ring_until(session, recording.at, show)
        for utterance, considered in utterances(folder / recording.file, session, recording.at):
            at = recording.at + timedelta(seconds=utterance.start + utterance.seconds)
            ring_until(session, at, show)
            show(session.hear(utterance, at, considered))
    # The rest of the last answer is said, too.
    ring_until(session, at, show)


def ring_until(session: Session, at: datetime, show: Callable[[Exchange], None]) -> None:
    """Let every timer due up to ``at`` ring at its own time.

    Args:
        session: The job.
        at: The latest time that counts, with its offset from UTC.
        show: Is given each exchange.
    """
    while (deadline := session.next_deadline()) is not None and deadline <= at:
        exchange = session.tick(deadline)
        if exchange is None:
            break
        show(exchange)
