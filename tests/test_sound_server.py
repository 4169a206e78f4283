"""Whole spoken sessions on a real sound server: calls go in by the microphone, answers come out of
the loudspeaker, and devices come and go meanwhile.

Nothing here is waited for but what the program prints, what the loudspeaker sounds and what the
server does, so that a slow computer makes it slower and not wrong.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from pathlib import Path

import pytest

from companion.recognize.held import HeldRecognizer
from companion.speak.speakable import speakable
from tests.sound_server import LOUDSPEAKER, SHOP, AtTheServer, Ended, SoundServer
from tests.sounds import Samples, pause

ALIKE = 0.7
"""Share of letters in order that a transcript without any grammar must have of what was printed;
the voice's own measure is 0.87 over many sentences, silence and other sentences lie under 0.5."""
SLOW = 4.0
"""How late the loudspeaker begins, in seconds, beside what starting a player takes."""


@dataclass
class Told:
    """What came of a session.

    Attributes:
        spoken: What the loudspeaker sounded, each with the words that were printed for it.
        sound_log: What the sound library printed by itself.
    """

    ended: Ended
    spoken: list[tuple[str, Samples]]
    sound_log: str
    checkup: list[str] = field(default_factory=list)


class Session:
    """One program at a server of its own, and what is done with both."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "server").mkdir()
        self.server = SoundServer(folder / "server")
        self.sound_log = folder / "sound.log"
        self.spoken: list[tuple[str, Samples]] = []
        self.environment = {
            "BENCH_COMPANION_DATA": str(folder / "data"),
            "BENCH_COMPANION_SETTINGS": str(folder / "settings.toml"),
            "BENCH_COMPANION_SOUND_LOG": str(self.sound_log),
        }

    def at_work(self) -> AtTheServer:
        return AtTheServer(self.server, self.environment, ["work"])

    def answer(self, program: AtTheServer, pattern: str) -> None:
        """Wait for an answer on the screen and out of the loudspeaker."""
        words = program.said(pattern)
        assert self.server.loudspeaker is not None
        self.spoken.append((words, self.server.loudspeaker.next_speech()))

    def told(self, ended: Ended) -> Told:
        log = self.sound_log.read_text(encoding="utf-8") if self.sound_log.exists() else ""
        return Told(ended, self.spoken, log)


def devices_come_and_go(session: Session) -> Told:
    """Devices are taken away and come back as others."""
    server = session.server
    server.start()
    server.plug_in_shop(48_000, 1)
    server.plug_in_loudspeaker(44_100, 1)
    with session.at_work() as program:
        session.answer(program, "licensed practice")
        server.call("bench gap thirty thou")
        session.answer(program, "Gap, thirty")

        server.unplug(LOUDSPEAKER)
        server.call("bench tag no oil")
        program.said("no oil")
        program.said("loudspeaker")
        server.unplug(SHOP)
        program.said("has stopped giving sound")
        server.plug_in_shop(44_100, 2)
        program.said("gives sound again")
        server.plug_in_loudspeaker(48_000, 8)
        server.call("bench gap thirty one thou")
        session.answer(program, "Gap, thirty one")
        session.answer(program, "takes sound again")

        # The server lets the program listen to what else there is: nothing.
        server.unplug(SHOP)
        session.answer(program, "gives silence")
        server.plug_in_shop(16_000, 8)
        server.call("bench park job")
        session.answer(program, "parked")
        return session.told(program.end())


def the_server_is_slow_hangs_and_crashes(session: Session) -> Told:
    """It takes five seconds to begin, then answers nobody, then is ended and started anew."""
    server = session.server
    server.start()
    server.plug_in_shop(48_000, 2)
    server.plug_in_loudspeaker(48_000, 2)
    with session.at_work() as program:
        session.answer(program, "licensed practice")
        server.tell("suspend-sink", LOUDSPEAKER, "1")
        server.call("bench gap thirty thou")
        words = program.said("Gap, thirty")
        server.play(pause(SLOW))
        server.tell("suspend-sink", LOUDSPEAKER, "0")
        assert server.loudspeaker is not None
        session.spoken.append((words, server.loudspeaker.next_speech()))

        server.hang()
        program.said("has stopped giving sound")
        program.said("loudspeaker")
        server.wake()
        program.said("gives sound again")
        program.said("takes sound again")

        server.kill()
        program.said("has stopped giving sound")
        program.said("loudspeaker")
        server.start()
        server.plug_in_loudspeaker(44_100, 1)
        server.plug_in_shop(16_000, 1)
        session.answer(program, "gives sound again")
        session.answer(program, "takes sound again")
        server.tell("set-source-mute", f"{SHOP}.monitor", "1")
        session.answer(program, "gives silence")
        server.tell("set-source-mute", f"{SHOP}.monitor", "0")
        server.call("bench park job")
        session.answer(program, "parked")
        return session.told(program.end())


def checked_up(session: Session) -> Told:
    """The command that tries everything, and a microphone that gives nothing at all."""
    server = session.server
    server.start()
    server.plug_in_shop(44_100, 2)
    server.plug_in_loudspeaker(48_000, 2)
    with AtTheServer(server, session.environment, ["checkup"]) as program:
        assert server.loudspeaker is not None
        server.loudspeaker.next_speech()
        return session.told(program.end())


Script = Callable[[Session], Told]
SCRIPTS: tuple[Script, ...] = (devices_come_and_go, the_server_is_slow_hangs_and_crashes, checked_up)


@pytest.fixture(scope="module")
def running() -> Iterator[dict[Script, Future[Told]]]:
    """The sessions, side by side: most of their time is that of the sound itself."""
    with tempfile.TemporaryDirectory(prefix="sound-") as folder, ThreadPoolExecutor() as pool:
        sessions = []
        for script in SCRIPTS:
            place = Path(folder) / script.__name__
            place.mkdir()
            sessions.append(Session(place))
        try:
            yield {
                script: pool.submit(script, session)
                for script, session in zip(SCRIPTS, sessions, strict=True)
            }
        finally:
            for session in sessions:
                session.server.kill()
