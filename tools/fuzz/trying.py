"""One input tried: it is taken, or refused with one clear sentence; all else is a fault."""

from __future__ import annotations

import resource
import time
import traceback
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from companion.errors import CompanionError

SLOWEST_SECONDS = 5.0
"""Of the processor's time for one input; the largest that are tried have 60,000 bytes."""

MOST_MEMORY = 3 * 2**30
"""Bytes of address space beyond which an input has filled the memory; a guided run sets it."""

LONGEST_SENTENCE = 1_200
"""Characters of a sentence of error, as ``companion.files.limits`` has it."""

MOST_QUOTED = 81
"""Characters in a row that a sentence has of an input: one more than any quotation has."""

STEP = 20
"""At every so many characters a sentence is looked at for them."""


@dataclass(frozen=True, slots=True)
class Fault:
    """What went wrong with an input.

    Attributes:
        where: The kind of error and the line of the program that it came from; two inputs with the
            same have met the same fault.
        told: Everything there is to say of it.
    """

    where: str
    told: str


def tried(read: Callable[[bytes], object], data: bytes) -> Fault | None:
    """Give an input to a reader.

    Args:
        read: Takes it or raises a ``CompanionError``.
        data: The input.

    Returns:
        None if it was taken or refused as it should be.
    """
    began = time.process_time()
    try:
        # What a library warns of would stand between the program's own lines.
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            read(data)
    except CompanionError as error:
        amiss = _sentence_amiss(str(error), data)
        if amiss is not None:
            return Fault(
                f"sentence: {amiss} in {_line_of(error)}", f"{amiss}: {str(error)[:400]!r}"
            )
    except Exception as error:
        told = "".join(traceback.format_exception(error, limit=-12))
        return Fault(f"{type(error).__name__} in {_line_of(error)}", told[-4000:])
    took = time.process_time() - began
    return Fault("slow", f"took {took:.1f} s") if took > SLOWEST_SECONDS else None


def limit_memory() -> None:
    """Let what fills the memory fail here, and not the machine."""
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))


def _sentence_amiss(text: str, data: bytes) -> str | None:
    if not text.strip():
        return "empty"
    if any(len(line) > LONGEST_SENTENCE for line in text.splitlines()):
        return "too long"
    if _quotes_much(text, data):
        return "quotes too much of the input"
    return "a traceback" if "Traceback" in text else None


def _quotes_much(text: str, data: bytes) -> bool:
    """Whether a sentence has more of the input in a row than a quotation may have."""
    parts = (text[at : at + MOST_QUOTED] for at in range(0, len(text) - MOST_QUOTED + 1, STEP))
    return any(part.encode(errors="replace") in data for part in parts)


def _line_of(error: BaseException) -> str:
    lines = [
        f"{Path(frame.filename).name}:{frame.name}"
        for frame in traceback.extract_tb(error.__traceback__)
        if "/companion/" in frame.filename
    ]
    return lines[-1] if lines else "?"
