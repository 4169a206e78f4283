"""Speed and memory, measured: ``python -m tools.benchmark``.

Nothing here is a test: how fast a machine is says nothing about whether the program is right. The
calls are spoken by synthetic voices from Debian packages, as in the tests.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import numpy as np
import psutil

from companion.audio.utterance import Utterance
from companion.files.sound_format import SAMPLE_RATE
from companion.recognize.held import HeldRecognizer, window_frames
from companion.recognize.model import LONGEST_WINDOW, WhisperModel
from companion.session.opening import open_session
from companion.shelf.load import load_card, load_sheet
from tests.sounds import Samples, idling_engine, mix, speak, with_pauses

JOB = ("four-stroke-service", "quillmoor-tiller")
VOICES = ("rms", "slt", "gb")
CALLS = (
    "gap thirty thou",
    "compression one twenty p s i",
    "added ten ounces of oil",
    "start soak timer two hours",
    "tag plug wire off",
    "battery twelve point six volts",
    "torque sixteen foot pounds",
    "shear pin broken",
    "replaced spark plug",
    "need two shear pins",
    "oil level low",
    "spec for gap",
    "convert thirty thou to millimeters",
    "correction thirty one thou",
)
READY = f"""
import psutil
from companion.grammar.compiled import load_grammar
from companion.live.recognizer_beside import RecognizerBeside
from companion.live.recognizer_program import Wanted
from companion.settings import Settings
from companion.shelf.load import load_card, load_sheet
from companion.shelf.words import vocabulary_of

words = None

def words_of_the_job():
    global words
    card, sheet = load_card({JOB[0]!r}), load_sheet({JOB[1]!r})
    words = load_grammar(vocabulary_of(card, sheet, "bench"))
    words.prepare()

ears = RecognizerBeside(Wanted(Settings(), "whisper"), meanwhile=words_of_the_job)
ears.listen_for(words)
both = psutil.Process(), psutil.Process(ears.pid)
infos = [each.memory_full_info() for each in both]
# Linux alone tells how many share what.
print(sum(getattr(info, "pss", info.rss) for info in infos), infos[1].rss)
print(sum(sum(each.cpu_times()[:2]) for each in both))
ears.close()
"""
"""A program that loads the recognizer in a program beside it and compiles the grammar meanwhile, as
a session at the bench does; microphone, voice and session are left out. It prints, in bytes, the
memory of both, what they share counted once, and the resident memory of the one beside, and what
the processor took in seconds."""
STARTS = 5


def main() -> None:
    """Measure and print."""
    print(f"{os.cpu_count()} cores, Python {sys.version.split()[0]}")
    clips = [with_pauses(speak(call, voice)) for voice in VOICES for call in CALLS]
    _getting_ready()
    session_times, decode_times, memory = _session(clips)
    _show("end of the utterance to the record on disk", session_times, "s")
    _show("  of which recognizing", decode_times, "s")
    noisy = [_in_noise(clip, number) for number, clip in enumerate(clips)]
    _show("the same in engine noise at 10 dB", _session(noisy)[0], "s")
    _held_against_free(clips)
    print(f"{'resident memory after a session':<52} {memory / 1e6:6.0f} MB")


def _getting_ready() -> None:
    """Time programs that get ready to listen; beside other busy programs the least of them, and
    what the processor took, say more."""
    waits, memory, beside, processor = [], [], [], []
    for _ in range(STARTS):
        began = time.perf_counter()
        run = subprocess.run(
            [sys.executable, "-c", READY], check=True, capture_output=True, text=True
        )
        waits.append(time.perf_counter() - began)
        together, resident, took = run.stdout.split()
        memory.append(int(together))
        beside.append(int(resident))
        processor.append(float(took))
    _show("start of the program to ready to listen", waits, "s")
    print(f"{'  the least of them':<52} {min(waits):13.3f} s")
    _show("  of the processor", processor, "s")
    print(f"{'memory, ready to listen, both programs':<52} {max(memory) / 1e6:6.0f} MB")
    print(f"{'  resident, the one that recognizes':<52} {max(beside) / 1e6:6.0f} MB")


def _session(clips: Sequence[Samples]) -> tuple[list[float], list[float], int]:
    """Time each utterance through a whole session: recognize, decide, clip and log synced."""
    at = datetime(2026, 4, 11, 9, 0, tzinfo=UTC)
    whole: list[float] = []
    decoding: list[float] = []
    with tempfile.TemporaryDirectory(dir=Path.cwd()) as folder:
        session = open_session(
            Path(folder) / "job",
            at=at,
            card=load_card(JOB[0]),
            sheet=load_sheet(JOB[1]),
            recognizer=HeldRecognizer(),
        )
        for clip in (clips[0], *clips):
            utterance = Utterance(clip, 0.0, len(clip) / SAMPLE_RATE)
            began = time.perf_counter()
            exchange = session.hear(utterance, at)
            whole.append(time.perf_counter() - began)
            assert exchange.heard is not None
            decoding.append(exchange.heard.decode_seconds)
        memory = psutil.Process().memory_info().rss
        session.close()
    # The first warms up what every session loads once.
    return whole[1:], decoding[1:], memory


def _held_against_free(clips: Sequence[Samples]) -> None:
    """Compare with ordinary decoding of the same clips by the same model."""
    model = WhisperModel()
    ears = HeldRecognizer()
    from companion.grammar.compiled import load_grammar
    from companion.shelf.words import vocabulary_of

    ears.listen_for(load_grammar(vocabulary_of(load_card(JOB[0]), load_sheet(JOB[1]), "bench")))

    def freely(clip: Samples, frames: int) -> None:
        model.transcribe(model.encode(clip, frames))

    held = [_time(partial(ears.recognize, clip)) for clip in clips]
    free = [_time(partial(freely, clip, LONGEST_WINDOW)) for clip in clips]
    short = [_time(partial(freely, clip, window_frames(len(clip)))) for clip in clips]
    _show("held to the grammar, one call", held, "s")
    _show("free decoding, usual 30 s window, beam of 5", free, "s")
    _show("free decoding, window cut to the call, beam of 5", short, "s")
    ratios = [one / other for one, other in zip(held, free, strict=True)]
    _show("held / free, clip by clip", ratios, "")
    ratios = [one / other for one, other in zip(held, short, strict=True)]
    _show("held / free with the cut window", ratios, "")


def _in_noise(clip: Samples, seed: int) -> Samples:
    noise = idling_engine(len(clip) / SAMPLE_RATE + 0.1, seed=seed % 5)
    return mix(clip, noise[: len(clip)], 10.0)


def _time(act: Callable[[], object]) -> float:
    began = time.perf_counter()
    act()
    return time.perf_counter() - began


def _show(what: str, values: Sequence[float], unit: str) -> None:
    median, late = statistics.median(values), float(np.percentile(values, 95))
    print(f"{what:<52} median {median:6.3f} {unit:1}   95th percentile {late:6.3f} {unit}")


if __name__ == "__main__":
    main()
