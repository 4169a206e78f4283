"""A real sound server of the tests' own: PulseAudio with two null sinks, and a program at them.

One sink is the shop: what is played into it the microphone hears. The other is the loudspeaker:
what the companion says is taken from it. Everything lies in one folder; no other server, sound card
or setting of the computer is touched or needed. Whoever waits here waits for what the server or the
program tells, at most ``PATIENCE``.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import numpy as np
import soundfile

from companion.files.sound_format import SAMPLE_RATE
from tests.sounds import Samples, pause, pink_noise, speak

PATIENCE = 120.0
"""Longest wait for anything, in seconds: a busy computer of two cores is several times slower."""
SHOP, LOUDSPEAKER = "shop", "loudspeaker"
NOISE_LEVEL = 0.02
"""Of the quiet shop, to multiply noise by: about 54 dB under full scale."""
SPEECH_PAUSE = 1.0
"""Silence that ends what is taken for one answer, in seconds."""
SOUND = 1e-3
"""Of full scale: what is louder is no silence."""

_ALSA = """
pcm.!default { type pulse }
ctl.!default { type pulse }
"""
PROGRAMS = {
    "pulseaudio": "pulseaudio",
    "pactl": "pulseaudio-utils",
    "paplay": "pulseaudio-utils",
    "parec": "pulseaudio-utils",
}


class Lines:
    """The lines that a program prints, as they come.

    Args:
        source: Its standard output or error.
    """

    def __init__(self, source: IO[bytes]) -> None:
        self.all: list[str] = []
        self._news = threading.Condition()
        self._ended = False
        self._source = source
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def wait_for(self, pattern: str, after: int = 0) -> int:
        """Return the place after the next line that a pattern is found in.

        Args:
            pattern: A regular expression.
            after: Lines before this place are passed over.

        Raises:
            AssertionError: If it does not come.
        """

        def found() -> int | None:
            for place in range(after, len(self.all)):
                if re.search(pattern, self.all[place]):
                    return place + 1
            return None

        with self._news:
            self._news.wait_for(lambda: found() is not None or self._ended, PATIENCE)
            place = found()
        if place is None:
            raise AssertionError(f"{pattern!r} was not printed, but:\n" + "\n".join(self.all))
        return place

    def whole(self) -> list[str]:
        """Every line, once the program has ended."""
        self._thread.join(PATIENCE)
        return self.all

    def _read(self) -> None:
        for line in self._source:
            with self._news:
                self.all.append(line.decode(errors="replace").rstrip("\n"))
                self._news.notify_all()
        with self._news:
            self._ended = True
            self._news.notify_all()


class SoundServer:
    """PulseAudio in a folder of its own, with a shop and a loudspeaker.

    Args:
        folder: Empty; short enough for the name of a socket.

    Attributes:
        environment: For programs that are to hear and speak here.
    """

    def __init__(self, folder: Path) -> None:
        for name, package in PROGRAMS.items():
            assert shutil.which(name), f"{name} is missing; apt-get install {package}."
        self._folder = folder
        self._run = folder / "run"
        self._run.mkdir(mode=0o700)
        (folder / ".asoundrc").write_text(_ALSA, encoding="ascii")
        self._script = folder / "server.pa"
        self._socket = self._run / "native"
        # No program that is left over from an earlier life of the server may be looked for.
        kept = {name: text for name, text in os.environ.items() if not name.startswith("PULSE")}
        self.environment = {
            **kept,
            "HOME": str(folder),
            "XDG_RUNTIME_DIR": str(self._run),
            "XDG_CONFIG_HOME": str(folder / "config"),
            "PULSE_SERVER": f"unix:{self._socket}",
            # Without these, whatever is left takes the place of a device that was taken away.
            "PULSE_SINK": LOUDSPEAKER,
            "PULSE_SOURCE": f"{SHOP}.monitor",
        }
        self._sinks: dict[str, str] = {}
        self._players: dict[str, subprocess.Popen[bytes]] = {}
        self._server: subprocess.Popen[bytes] | None = None
        self.loudspeaker: Recording | None = None

    def __enter__(self) -> SoundServer:
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()

    # --- the server ---
    def start(self) -> None:
        """Start it; it has neither shop nor loudspeaker yet."""
        self._socket.unlink(missing_ok=True)
        self._script.write_text(
            f"load-module module-native-protocol-unix auth-anonymous=1 socket={self._socket}\n",
            encoding="utf-8",
        )
        command = ["pulseaudio", "-n", "-F", str(self._script), "--daemonize=no", "--system=no"]
        command += ["--exit-idle-time=-1", "--use-pid-file=no", "--log-target=stderr", "-v"]
        command += ["--realtime=no", "--high-priority=no", "--disable-shm=yes"]
        self._server = subprocess.Popen(
            command, env=self.environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
        )
        assert self._server.stderr is not None
        Lines(self._server.stderr).wait_for("Daemon startup complete")

    def kill(self) -> None:
        """End it as a crash would, and with it whatever plays and records."""
        if self._server is not None:
            self._server.kill()
            self._server.wait(PATIENCE)
            if self._server.stderr is not None:
                self._server.stderr.close()
        self._server = None
        for sink in tuple(self._sinks):
            self._forget(sink)

    def hang(self) -> None:
        """Let it answer nobody."""
        assert self._server is not None
        self._server.send_signal(signal.SIGSTOP)

    def wake(self) -> None:
        """Let it answer again."""
        assert self._server is not None
        self._server.send_signal(signal.SIGCONT)

    def tell(self, *words: str) -> str:
        """Give the server an order and return what it prints."""
        return self._ask("pactl", *words).strip()

    # --- its devices ---
    def plug_in_shop(self, rate: int, channels: int) -> None:
        """Let there be a microphone, in a quiet shop."""
        self._plug_in(SHOP, rate, channels)
        noise = self._folder / "noise.wav"
        if not noise.exists():
            soundfile.write(noise, np.tile(pink_noise(20.0) * NOISE_LEVEL, 15), SAMPLE_RATE)
        self._players[SHOP] = self._begin("paplay", f"--device={SHOP}", str(noise))

    def plug_in_loudspeaker(self, rate: int, channels: int) -> None:
        """Let there be a loudspeaker; what it sounds is recorded."""
        self._plug_in(LOUDSPEAKER, rate, channels)
        player = self._begin(
            "parec",
            f"--device={LOUDSPEAKER}.monitor",
            "--raw",
            "--format=s16le",
            f"--rate={SAMPLE_RATE}",
            "--channels=1",
            "--latency-msec=100",
        )
        assert player.stdout is not None
        self._players[LOUDSPEAKER] = player
        self.loudspeaker = Recording(player.stdout)

    def unplug(self, sink: str) -> None:
        """Take the shop's microphone or the loudspeaker away."""
        self.tell("unload-module", self._sinks[sink])
        self._forget(sink)

    def play(self, samples: Samples) -> None:
        """Play sound into the shop, to its end."""
        wave = self._folder / "call.wav"
        soundfile.write(wave, samples, SAMPLE_RATE)
        self._ask("paplay", f"--device={SHOP}", str(wave))

    def call(self, text: str) -> None:
        """Say a call in the shop."""
        self.play(np.concatenate((pause(1.0), speak(text, "rms"), pause(0.3))))

    def _plug_in(self, sink: str, rate: int, channels: int) -> None:
        self._sinks[sink] = self.tell(
            "load-module",
            "module-null-sink",
            f"sink_name={sink}",
            f"rate={rate}",
            f"channels={channels}",
        )

    def _forget(self, sink: str) -> None:
        del self._sinks[sink]
        player = self._players.pop(sink, None)
        if player is not None:
            player.kill()
            player.wait(PATIENCE)
        if sink == LOUDSPEAKER and self.loudspeaker is not None:
            self.loudspeaker.whole()

    def _begin(self, *command: str) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            command,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL if command[0] == "paplay" else subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )

    def _ask(self, *command: str) -> str:
        asked = subprocess.run(
            command,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=PATIENCE,
            check=False,
        )
        assert asked.returncode == 0, (command, asked.stderr)
        return asked.stdout


class Recording:
    """What the loudspeaker sounds, from the moment when it was plugged in.

    Args:
        source: Mono sound of 16 bits at ``SAMPLE_RATE``.
    """

    def __init__(self, source: IO[bytes]) -> None:
        self._source = source
        self._news = threading.Condition()
        self._sound = bytearray()
        self._ended = False
        self._taken = 0
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def next_speech(self) -> Samples:
        """Return what is said next, once ``SPEECH_PAUSE`` of silence has followed it.

        Raises:
            AssertionError: If nothing is said.
        """
        with self._news:
            self._news.wait_for(lambda: self._stretch() is not None or self._ended, PATIENCE)
            stretch = self._stretch()
            assert stretch is not None, "The loudspeaker sounded nothing that ended."
            begin, end = stretch
            sound = self._samples(begin, end)
            self._taken = end
        return sound

    def pass_over(self) -> None:
        """Forget what was sounded until now."""
        with self._news:
            self._taken = len(self._sound) // 2

    def whole(self) -> None:
        """Wait for its end."""
        self._thread.join(PATIENCE)

    def _stretch(self) -> tuple[int, int] | None:
        loud = np.flatnonzero(np.abs(self._samples(self._taken)) > SOUND)
        if not len(loud):
            return None
        needed = int(SPEECH_PAUSE * SAMPLE_RATE)
        last = np.append(loud[1:], len(self._sound) // 2 - self._taken) - loud >= needed
        if not last.any():
            return None
        margin = SAMPLE_RATE // 10
        begin = self._taken + int(loud[0])
        return max(0, begin - margin), self._taken + int(loud[last.argmax()]) + margin

    def _samples(self, begin: int, end: int | None = None) -> Samples:
        whole = len(self._sound) // 2
        part = bytes(self._sound[2 * begin : 2 * (whole if end is None else end)])
        return np.frombuffer(part, dtype="<i2").astype(np.float32) / 32768

    def _read(self) -> None:
        while piece := self._source.read1(1 << 16):  # type: ignore[attr-defined]
            with self._news:
                self._sound += piece
                self._news.notify_all()
        with self._news:
            self._ended = True
            self._news.notify_all()


@dataclass(frozen=True, slots=True)
class Ended:
    """A program that has come to its end."""

    status: int
    out: tuple[str, ...]
    err: tuple[str, ...]


class AtTheServer:
    """``companion`` as a process of its own whose microphone and loudspeaker are the server's.

    Args:
        server: Has started.
        environment: Beside the server's own.
        arguments: Of the program.
    """

    def __init__(
        self, server: SoundServer, environment: Mapping[str, str], arguments: Sequence[str]
    ) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "companion", *arguments],
            env={**server.environment, **environment},
            cwd=Path(__file__).resolve().parent.parent,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        assert self._process.stdout is not None
        assert self._process.stderr is not None
        self.out = Lines(self._process.stdout)
        self.err = Lines(self._process.stderr)
        self._place = 0

    def __enter__(self) -> AtTheServer:
        return self

    def __exit__(self, *_: object) -> None:
        if self._process.poll() is None:
            self._process.kill()
        self._process.wait(PATIENCE)

    def next(self, pattern: str) -> str:
        """Wait for the next line on standard output that a pattern is found in, and return it."""
        self._place = self.out.wait_for(pattern, self._place)
        return self.out.all[self._place - 1]

    def said(self, pattern: str = "") -> str:
        """Wait for the next answer that is printed, and return its words."""
        return self.next(rf"\bsaid    .*{pattern}").split("said    ", 1)[1]

    def said_all(self, *patterns: str) -> list[str]:
        """Wait for answers that may come in any order, and return them in that in which they
        came."""
        begin = self._place
        places = sorted(self.out.wait_for(rf"\bsaid    .*{each}", begin) for each in patterns)
        self._place = places[-1]
        return [self.out.all[place - 1].split("said    ", 1)[1] for place in places]

    def interrupt(self) -> None:
        """Type Ctrl-C."""
        self._process.send_signal(signal.SIGINT)

    def end(self) -> Ended:
        """Wait until it has ended by itself."""
        status = self._process.wait(PATIENCE)
        return Ended(status, tuple(self.out.whole()), tuple(self.err.whole()))
