"""One input tried: it is taken, or refused with one clear sentence; all else is a fault."""

from __future__ import annotations

import resource
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from companion.errors import CompanionError

SLOWEST_SECONDS = 5.0
"""Of the processor's time for one input; the largest that are tried have 60,000 bytes."""

MOST_MEMORY = 3 * 2**30
"""Bytes of address space beyond which an input has filled the memory; a guided run sets it."""

LONGEST_SENTENCE = 1_500
"""Characters of a sentence of error: names of files are cut before they are longer."""


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
        read(data)
    except CompanionError as error:
        amiss = _sentence_amiss(str(error))
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


def _sentence_amiss(text: str) -> str | None:
    if not text.strip():
        return "empty"
    if len(text) > LONGEST_SENTENCE and "\n" not in text:
        return "too long"
    return "a traceback" if "Traceback" in text else None


def _line_of(error: BaseException) -> str:
    lines = [
        f"{Path(frame.filename).name}:{frame.name}"
        for frame in traceback.extract_tb(error.__traceback__)
        if "/companion/" in frame.filename
    ]
    return lines[-1] if lines else "?"
