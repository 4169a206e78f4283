"""Sound files heard one by one, each as a single call, without a session: what ``companion hear``
prints."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.audio.files import read_utterance
from companion.audio.segment import Segmenter
from companion.audio.utterance import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar
from companion.intent.decision import Decision, Listening, decide_utterance
from companion.recognize.protocol import Recognition, Recognizer

WHOLE_CLIP_SECONDS = 8.0
"""A clip no longer than this is heard whole; of a longer one, what lies between its first and last
speech."""

LONGEST_CALL_SECONDS = 30.0
"""More than this is no call: the recognizer's window ends there."""


@dataclass(frozen=True, slots=True)
class HeardFile:
    """What became of one file."""

    file: Path
    decision: Decision
    decode_seconds: float

    def as_json(self) -> dict[str, Any]:
        """The line that ``companion hear --json`` prints."""
        decision = self.decision
        found = [intent.model_dump(mode="json") for intent in decision.intents]
        line: dict[str, Any] = {
            "file": str(self.file),
            "text": decision.text,
            "intent": found[0] if found else None,
            "outcome": decision.outcome,
            "confidence": round(decision.confidence, 4),
            "decode_s": round(self.decode_seconds, 4),
            "reasons": list(decision.reasons),
        }
        if len(found) > 1:
            line["candidates"] = found
        return line


def hear_file(
    path: Path, recognizer: Recognizer, grammar: CallGrammar, listening: Listening
) -> HeardFile:
    """Hear one file as one call.

    Args:
        path: Any sound file.
        recognizer: Already listening for ``grammar``.
        grammar: What may be said.
        listening: What the decision needs to know besides.

    Raises:
        CompanionError: If the file is missing or holds no sound that can be read.
    """
    sound = read_utterance(path)
    samples = call_in(sound.samples)
    if samples is None:
        return HeardFile(path, Decision("ignore", "", (), 0.0, ("no speech",)), 0.0)
    if len(samples) > LONGEST_CALL_SECONDS * SAMPLE_RATE:
        return HeardFile(path, Decision("ignore", "", (), 0.0, ("too long for a call",)), 0.0)
    recognition: Recognition = recognizer.recognize(
        samples, call_sign_needed=listening.call_sign_needed
    )
    decision = decide_utterance(recognition, grammar, listening)
    reasons = (*decision.reasons, *sound.troubles)
    return HeardFile(path, replace(decision, reasons=reasons), recognition.decode_seconds)


def call_in(samples: NDArray[np.float32]) -> NDArray[np.float32] | None:
    """The part of a clip that may hold a call, or None where nothing is spoken.

    Args:
        samples: Shape (n,), mono, -1 to 1, 16 kHz.
    """
    if not len(samples) or float(np.max(np.abs(samples))) < 1e-4:
        return None
    if len(samples) <= WHOLE_CLIP_SECONDS * SAMPLE_RATE:
        return samples
    segmenter = Segmenter()
    spoken = [*segmenter.feed(samples), *segmenter.flush()]
    if not spoken:
        return None
    first = round(spoken[0].start * SAMPLE_RATE)
    last = round(spoken[-1].start * SAMPLE_RATE) + len(spoken[-1].samples)
    return samples[first:last]
