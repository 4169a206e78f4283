"""Figures that are taken for one another, over noise: hardly one is recorded wrong in silence.

These are the calls that go wrong if any do, by voices that nothing was fitted on. The stated rate
over all calls is what ``python -m tools.hearing`` measures.
"""

from __future__ import annotations

from tools.hearing.manifest import Clip
from tools.hearing.measure import hear

CALLS = (
    "gap thirteen thou",
    "gap thirty thou",
    "gap fifty thou",
    "gap fifteen thou",
    "drained eighteen ounces of oil",
    "added twenty ounces of oil",
    "compression ninety five p s i",
    "compression one oh five p s i",
    "tire pressure fourteen p s i",
    "torque sixteen foot pounds",
    "engine speed thirty two hundred",
    "start timer fifteen minutes",
    "correction thirty one thou",
    "battery twelve point four volts",
)
VOICES = ("rms", "us-man", "scotland")
NOISES = (("clean", 0.0), ("engine", 10.0), ("compressor", 10.0), ("radio", 10.0))
MOST_WRONG = 1


def test_hardly_a_figure_is_recorded_wrong_without_a_question() -> None:
    clips = [
        Clip(said, voice, *NOISES[(place + turn) % len(NOISES)], 1.0, 1.0, place)
        for place, said in enumerate(CALLS)
        for turn, voice in enumerate(VOICES)
    ]
    heard = [hear(clip, "whisper") for clip in clips]
    wrong = [(one.clip, one.best) for one in heard if one.outcome == "wrong"]
    assert len(wrong) <= MOST_WRONG, wrong
    assert sum(one.outcome in ("right", "asked") for one in heard) >= 0.93 * len(heard)
