"""Whole spoken sessions on a real sound server: calls go in by the microphone, answers come out of
the loudspeaker, and devices come and go meanwhile.

Nothing here is waited for but what the program prints, what the loudspeaker sounds and what the
server does, so that a slow computer makes it slower and not wrong.
"""

from __future__ import annotations

import os
import re
import tempfile
from bisect import bisect_left
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from companion.audio.silence import SOUND_AGAIN
from companion.recognize.held import HeldRecognizer
from companion.speak.speakable import speakable
from companion.speak.speech import SpeechEngine
from companion.trial.drawn import calls_of
from tests.sound_server import LOUDSPEAKER, SHOP, SOUND, AtTheServer, Ended, SoundServer
from tests.sounds import Samples, pause

ALIKE = 0.7
"""Share of letters in order that a transcript without any grammar must have of what was printed;
the voice's own measure is 0.87 over many sentences, silence and other sentences lie under 0.5."""
PIECE = 1200
"""Samples by which a sound is looked for in another, at 16 kHz: some periods of the voice."""
SAME_PIECE = 0.7
"""Correlation with a piece, from which it counts as found."""
SAME_SOUND = 0.4
"""Share of its pieces from which a sound is the other. On two busy cores an answer had 0.43 to 0.96
of its own, and 0.14 to 0.55 of the nearest other one, always less than of its own."""
VOICED = 0.02
"""Of full scale: pieces softer than that are alike."""
SLOW = 4.0
"""How late the loudspeaker begins, in seconds, beside what starting a player takes."""
WHOLE = 0.95
"""Share of what sounds in some answers from which all of them are taken to be said; the tone before
each is shorter than the shortest of them."""
FRAME = 320


def sounding(samples: Samples) -> int:
    """How many frames of a sound are no silence: a busy server makes pauses where none were."""
    frames = samples[: len(samples) // FRAME * FRAME].reshape(-1, FRAME)
    return int(np.count_nonzero(np.abs(frames).max(axis=1) > SOUND))


@cache
def _voice() -> SpeechEngine:
    """The companion's own, to know how long it takes for an answer."""
    return SpeechEngine()


@dataclass
class Told:
    """What came of a session.

    Attributes:
        spoken: What the loudspeaker sounded, each with the words that may have been said there.
        sound_log: What the sound library printed by itself.
    """

    ended: Ended
    spoken: list[tuple[tuple[str, ...], Samples]]
    sound_log: str


class Session:
    """One program at a server of its own, and what is done with both.

    A server that is starved tears holes into a call, and the program then asks whether it was one:
    that counts as heard, which is what is looked at here.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "server").mkdir()
        self.server = SoundServer(folder / "server")
        self.sound_log = folder / "sound.log"
        self.spoken: list[tuple[tuple[str, ...], Samples]] = []
        self.environment = {
            "BENCH_COMPANION_DATA": str(folder / "data"),
            "BENCH_COMPANION_SETTINGS": os.devnull,
            "BENCH_COMPANION_SOUND_LOG": str(self.sound_log),
        }

    def at_work(self) -> AtTheServer:
        return AtTheServer(self.server, self.environment, ["work"])

    def answers(self, program: AtTheServer, *patterns: str) -> None:
        """Wait for answers, one after the other, on the screen and out of the loudspeaker."""
        self.heard(" ".join(program.said(pattern) for pattern in patterns))

    def heard(self, *either: str) -> None:
        """Wait until words have come out of the loudspeaker, the shortest of some at least."""
        assert self.server.loudspeaker is not None
        needed = WHOLE * min(sounding(_voice().render(words)) for words in either)
        sound = self.server.loudspeaker.next_speech()
        while sounding(sound) < needed:
            sound = np.concatenate((sound, self.server.loudspeaker.next_speech()))
        self.spoken.append((either, sound))

    def both_back(self, program: AtTheServer, *before: str) -> None:
        """Wait until microphone and loudspeaker are told to be back, aloud.

        Args:
            program: Has lost both.
            before: What it said while it had: it may just be trying to say one of them.
        """
        said = " ".join(program.said_all("gives sound again", "I can speak again"))
        self.heard(said, *(f"{each} {said}" for each in before))

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
        session.answers(program, "licensed practice")
        server.call("bench gap thirty thou")
        session.answers(program, "[Gg]ap, thirty")

        server.unplug(LOUDSPEAKER)
        server.call("bench tag no oil")
        program.said("no oil")
        lost = [program.said("loudspeaker")]
        server.unplug(SHOP)
        lost.append(program.said("has stopped giving sound"))
        server.plug_in_loudspeaker(48_000, 8)
        server.plug_in_shop(44_100, 2)
        session.both_back(program, *lost)
        server.call("bench gap thirty one thou")
        session.answers(program, "[Gg]ap, thirty one")

        # The server lets the program listen to what else there is, and leaves it there.
        server.unplug(SHOP)
        session.answers(program, "gives silence")
        server.plug_in_shop(16_000, 8)
        session.answers(program, "gives sound again")
        server.call("bench park job")
        session.answers(program, "parked")
        return session.told(program.end())


def the_server_is_slow_hangs_and_crashes(session: Session) -> Told:
    """It takes five seconds to begin, then answers nobody, then is ended and started anew."""
    server = session.server
    server.start()
    server.plug_in_shop(48_000, 2)
    server.plug_in_loudspeaker(48_000, 2)
    with session.at_work() as program:
        session.answers(program, "licensed practice")
        server.tell("suspend-sink", LOUDSPEAKER, "1")
        server.call("bench gap thirty thou")
        words = program.said("[Gg]ap, thirty")
        server.play(pause(SLOW))
        server.tell("suspend-sink", LOUDSPEAKER, "0")
        session.heard(words)

        server.hang()
        program.said_all("has stopped giving sound", "does not take any sound")
        server.wake()
        program.said_all("gives sound again", "I can speak again")

        server.kill()
        lost = program.said_all("has stopped giving sound", "cannot be used")
        server.start()
        server.plug_in_loudspeaker(44_100, 1)
        server.plug_in_shop(16_000, 1)
        session.both_back(program, *lost)
        server.call("bench park job")
        session.answers(program, "parked")
        return session.told(program.end())


def checked_up(session: Session) -> Told:
    """The command that tries everything, and a microphone that gives nothing at all."""
    server = session.server
    server.start()
    server.plug_in_shop(44_100, 2)
    server.plug_in_loudspeaker(48_000, 2)
    with AtTheServer(server, session.environment, ["checkup"]) as program:
        found = program.end()
    server.tell("set-source-mute", f"{SHOP}.monitor", "1")
    server.unplug(LOUDSPEAKER)
    with AtTheServer(server, session.environment, ["checkup"]) as program:
        lost = program.end()
    return session.told(Ended(found.status, found.out + lost.out, found.err + lost.err))


def a_voice_checked_up(session: Session) -> Told:
    """Calls are read out, then heard; Ctrl-C comes in the middle of it."""
    server = session.server
    server.start()
    server.plug_in_shop(44_100, 2)
    server.plug_in_loudspeaker(48_000, 2)
    arguments = ["checkup", "--voice", "--page", str(VOICE_PAGE)]
    with AtTheServer(server, session.environment, arguments) as program:
        program.next("Be silent")
        assert server.loudspeaker is not None
        server.loudspeaker.next_speech()
        for number, call in enumerate(CHECKED, start=1):
            program.next(f"^{number} of 10: {call}$")
            # So long the microphone is deaf.
            server.loudspeaker.next_speech()
            server.call(call)
            program.next("^  ")
        program.next(f"^{len(CHECKED) + 1} of 10: ")
        program.interrupt()
        return session.told(program.end())


VOICE_PAGE = 7
CHECKED = calls_of(VOICE_PAGE, "bench")[:2]
"""Calls that are said there before Ctrl-C comes."""
GONE = "The microphone 'default' has stopped giving sound; plug it in again."
BACK = "The microphone 'default' gives sound again."
SILENT = "The microphone gives silence; check that it is not muted."
UNHEARD = "I cannot speak; read the screen."
NOT_THERE = "The loudspeaker cannot be used; check that it is plugged in and that no other program "
NOT_THERE += f"holds it. {UNHEARD}"
NO_SERVER = NOT_THERE.replace("used;", "used (Illegal combination of I/O devices);")
STUCK = (
    "The loudspeaker 'default' does not take any sound; check that it is plugged in and switched "
)
STUCK += f"on. {UNHEARD}"
HEARD = "I can speak again."

Script = Callable[[Session], Told]
SCRIPTS: tuple[Script, ...] = (
    devices_come_and_go,
    the_server_is_slow_hangs_and_crashes,
    checked_up,
    a_voice_checked_up,
)

TOLD: dict[Script, tuple[str, ...]] = {
    devices_come_and_go: (NOT_THERE, GONE, BACK, HEARD, SILENT, SOUND_AGAIN),
    the_server_is_slow_hangs_and_crashes: (
        *(GONE, STUCK, BACK, HEARD),
        *(NO_SERVER, GONE, BACK, HEARD),
    ),
}
"""What is told at each, in any order: microphone and loudspeaker are two threads."""
SPOKEN = 11
"""Answers that are listened to, over both."""


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


def test_every_session_is_worked_through(running: dict[Script, Future[Told]]) -> None:
    """What was called is heard, by whichever microphone, and the job is parked by voice."""
    for script, heard in (
        (devices_come_and_go, ["gap thirty thou", "tag no oil", "gap thirty one thou", "park job"]),
        (the_server_is_slow_hangs_and_crashes, ["gap thirty thou", "park job"]),
    ):
        ended = running[script].result().ended
        assert ended.status == 0
        assert re.findall("heard   “bench (.*?)”", "\n".join(ended.out)) == heard


def test_what_is_said_is_what_is_printed(running: dict[Script, Future[Told]]) -> None:
    """The recognizer understands it as that; or else, as it makes little of some figures in that
    voice, it is the sound of those words and of no others that were said in these sessions.

    Two sessions tell of a lost loudspeaker in nearly the same words: their sounds are the same to
    two thirds and a hole decides which is nearer; a transcript would pass for either just so."""
    recognizer = HeldRecognizer()
    spoken = [pair for one in running.values() for pair in one.result().spoken]
    assert len(spoken) == SPOKEN
    printed = {words for either, _ in spoken for words in either}
    for either, sound in spoken:
        heard = recognizer.transcribe(sound) or ""
        if max(alike(words, heard) for words in either) >= ALIKE:
            continue
        share = max(share_sounded(_voice().render(words), sound) for words in either)
        others = [
            share_sounded(_voice().render(words), sound)
            for words in printed.difference(either)
            if not any(alike(words, own) >= ALIKE for own in either)
        ]
        assert share >= SAME_SOUND, (either, heard)
        assert share > max(others), (either, heard)


def test_what_is_told_is_true_and_nothing_else_stands_between(
    running: dict[Script, Future[Told]],
) -> None:
    """Neither a false word of microphone or loudspeaker, nor a line of the sound library's; and
    the library did print."""
    for script, sentences in TOLD.items():
        told = running[script].result()
        lines = sorted(told.ended.err)
        assert lines == sorted(f"companion: {sentence}" for sentence in sentences)
        assert re.search(r"ALSA lib|Expression", told.sound_log)
        assert "ALSA" not in "\n".join(told.ended.out)


def test_the_checkup_finds_both_at_work_or_says_what_to_do(
    running: dict[Script, Future[Told]],
) -> None:
    ended = running[checked_up].result().ended
    assert ended.err == ()
    assert ended.out[0].startswith("works  microphone: default gives sound, noise at ")
    assert ended.out[1] == "works  speaker: a tone was played on default."
    assert f"FAILS  microphone: default: {SILENT}" in ended.out
    assert f"FAILS  speaker: {NOT_THERE.removesuffix(UNHEARD).strip()}" in ended.out


def test_a_voice_is_checked_up_and_what_was_heard_before_ctrl_c_is_told(
    running: dict[Script, Future[Told]],
) -> None:
    """Each call is read out before it is listened for, so that it never hears itself."""
    ended = running[a_voice_checked_up].result().ended
    assert ended.status == 130
    assert ended.err == ("companion: stopped after 2 of 10 calls; nothing is recorded.",)
    assert ended.out[1:5:2] == tuple(f"{n} of 10: {call}" for n, call in enumerate(CHECKED, 1))
    # A starved server tears holes into a call, and a question is then right.
    assert {*ended.out[2:6:2]} <= {"  right at once", "  asked about rightly"}
    assert re.match(r"It hears you .* here: . of 2 right at once", ended.out[6])
    assert ended.out[7] == f"The same calls again: companion checkup --voice --page {VOICE_PAGE}"


def share_sounded(expected: Samples, sounded: Samples) -> float:
    """How far two sounds are the same: a busy server tears holes into one and changes its rate a
    little, so that the other is looked for in it piece by piece, in order."""
    loudness = np.sqrt(np.convolve(sounded**2, np.ones(PIECE), "valid") + 1e-6)
    voiced = _voiced(expected)
    spectrum = np.fft.rfft(sounded)
    places: list[int] = []
    for piece in voiced:
        product = spectrum * np.conj(np.fft.rfft(piece, len(sounded)))
        correlation = np.fft.irfft(product, len(sounded))[: len(loudness)]
        likeness = correlation / loudness / np.linalg.norm(piece)
        if likeness.max() >= SAME_PIECE:
            # The longest rising run counts: places[n] is the least end of one of n + 1.
            place = int(likeness.argmax())
            at = bisect_left(places, place)
            places[at : at + 1] = [place]
    return len(places) / max(len(voiced), len(_voiced(sounded)))


def _voiced(samples: Samples) -> Samples:
    """The pieces of a sound that are no pauses, shape (n, PIECE)."""
    pieces = samples[: len(samples) // PIECE * PIECE].reshape(-1, PIECE)
    return pieces[np.sqrt(np.mean(pieces**2, axis=1)) > VOICED]


def alike(printed: str, heard: str) -> float:
    """How far two sentences are the same, letter by letter, figures read out."""
    one, other = (re.sub(r"[^a-z]", "", speakable(text).lower()) for text in (printed, heard))
    # A transcript may go in circles; the first round is what was said.
    first = re.sub(r"[^a-z]", "", speakable(heard.partition(". ")[0]).lower())
    rounds = (other, first, other[: len(one)])
    return max(SequenceMatcher(None, one, part).ratio() for part in rounds)
