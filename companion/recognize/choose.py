"""Which recognizer to use: the one asked for, or the best one that is installed."""

from __future__ import annotations

from pathlib import Path

from companion.errors import WrongUse
from companion.recognize.protocol import Recognizer

NAMES = ("auto", "whisper", "vosk")


def choose(name: str = "auto", *, model: Path | None = None) -> Recognizer:
    """Load a recognizer."""
    from companion.recognize.held import HeldRecognizer

    if name not in NAMES:
        raise WrongUse(f"There is no recognizer '{name}'; use one of: {', '.join(NAMES)}.")
    return HeldRecognizer(model)
