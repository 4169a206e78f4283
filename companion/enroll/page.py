"""The page of calls that a person reads out: spoken into the microphone, or from recordings."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field

from companion.audio.endpointing import Segmenter
from companion.audio.files import read_sound
from companion.audio.utterance import Utterance
from companion.enroll.fit import FEWEST, ReadOut
from companion.enroll.voice_profile import VoiceProfile, voice_paths
from companion.errors import CompanionError
from companion.files.limits import MOST_RECORDINGS
from companion.files.plain import is_plain, real_path
from companion.files.quoting import quoted
from companion.grammar.compiled import CallGrammar
from companion.log.clips import Clip, read_clip
from companion.shelf.toml_file import read_model

PAGE = (
    "gap thirteen thou",
    "added eighteen ounces of oil",
    "compression one oh five p s i",
    "engine speed thirty two hundred",
    "battery twelve point seven volts",
    "clear tag no oil",
    "torque forty six foot pounds",
    "start soak timer ninety minutes",
    "shear pin worn",
    "correction sixteen thou",
    "read back compression",
    "affirm",
    "intake clearance four thou",
    "tire pressure fifty p s i",
    "air temperature minus nine celsius",
    "play three eighths inch",
    "drained half a quart of oil",
    "oil level low",
    "replaced spark plug",
    "need seventeen bolts",
    "tag no fuel",
    "step done",
    "say again",
    "clear to start",
    "engine running",
    "negative",
    "disregard",
    "roger",
)
"""Calls of every frequent family, and number words that are easily confused."""
SHORT = 12
"""Calls of the short page: the first so many."""
MANIFEST = "calls.toml"
"""In a folder of recordings: which file holds which call."""
TRIES = 3
"""How often a call is asked for where nothing usable is heard."""


class Recorded(BaseModel):
    """One recording.

    Attributes:
        file: Path inside the folder.
        said: The call, in the words of the grammar.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    file: str
    said: str


class Manifest(BaseModel):
    """What ``calls.toml`` holds: a ``[[call]]`` for each recording."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    call: tuple[Recorded, ...] = Field(min_length=1)


class Source(Protocol):
    """The microphone that hears a page."""

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """Yield sound as it comes."""
        ...


def from_folder(folder: Path, grammar: CallGrammar, *, fewest: int = FEWEST) -> tuple[ReadOut, ...]:
    """Read recordings and what was said in them.

    Args:
        folder: Holds them, and ``calls.toml``.
        grammar: What may have been said.
        fewest: How many there must be.

    Raises:
        CompanionError: If the folder, the manifest or a recording is missing or cannot be used, or
            what was said is no call.
    """
    path = folder / MANIFEST
    if not folder.is_dir():
        raise CompanionError(f"There is no folder {folder}; name one that holds recordings.")
    if not path.exists():
        raise CompanionError(
            f"{folder}: no {MANIFEST} in this folder; write one with a [[call]] for each "
            'recording: file = "01.wav" and said = "gap thirteen thou".'
        )
    manifest, _ = read_model(path, Manifest, "list of recordings")
    if len(manifest.call) < fewest:
        raise CompanionError(
            f"{path}: {len(manifest.call)} calls are too few to know a voice by; record at least "
            f"{fewest}."
        )
    if len(manifest.call) > MOST_RECORDINGS:
        raise CompanionError(
            f"{path}: {len(manifest.call):,} calls are more than are needed; keep at most "
            f"{MOST_RECORDINGS:,}."
        )
    for one in manifest.call:
        if not grammar.parse(one.said.split()):
            raise CompanionError(
                f"{path}: '{quoted(one.said)}' is no call as it stands; write its words out."
            )
        if not is_plain(real_path(folder / one.file)):
            raise CompanionError(
                f"{path}: there is no recording {quoted(one.file)} in this folder; mend its name."
            )
    return tuple(ReadOut(one.said, read_sound(folder / one.file)) for one in manifest.call)


def from_profile(profile: VoiceProfile) -> tuple[ReadOut, ...]:
    """The page as it was read before, from the clips that were kept.

    Raises:
        CompanionError: If a clip is missing, damaged, or not the one that was read out.
    """
    _, folder = voice_paths(profile.name)
    return tuple(
        ReadOut(
            call.said,
            read_clip(folder, call.clip, call.clip_sha256),
            Clip(call.clip, call.clip_sha256),
        )
        for call in profile.calls
    )


def with_more(page: tuple[ReadOut, ...], more: tuple[ReadOut, ...]) -> tuple[ReadOut, ...]:
    """Add calls to a page that was read before, each recording once."""
    known = [one.samples for one in page]
    new = [one for one in more if not any(np.array_equal(one.samples, kept) for kept in known)]
    return (*page, *new)


def from_microphone(
    page: tuple[str, ...], microphone: Source, show: Callable[[str], None]
) -> tuple[ReadOut, ...]:
    """Show a page call by call and record each.

    Args:
        page: The calls.
        microphone: Open.
        show: Shows a line.

    Raises:
        CompanionError: If a call is not heard after ``TRIES`` times.
        MicrophoneUnavailable: If the microphone goes away.
    """
    segmenter = Segmenter()
    blocks = microphone.blocks()
    read: list[ReadOut] = []
    for number, call in enumerate(page, start=1):
        for _ in range(TRIES):
            show(f"{number} of {len(page)}: {call}")
            heard = _next(blocks, segmenter)
            if heard is None:
                break
            if not heard.troubles:
                read.append(ReadOut(call, heard.samples))
                break
            show(f"The sound was {' and '.join(heard.troubles)}; once more, please.")
        if len(read) < number:
            raise CompanionError(
                f"'{call}' could not be recorded; try the microphone with 'companion checkup'."
            )
    return tuple(read)


def _next(blocks: Iterator[NDArray[np.float32]], segmenter: Segmenter) -> Utterance | None:
    """The next utterance; None when the sound ends."""
    for block in blocks:
        for utterance in segmenter.feed(block):
            return utterance
    return next(iter(segmenter.flush()), None)
