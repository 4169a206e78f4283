"""Sound files heard one by one, each as a single call, without a session: what ``companion hear``
prints."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from companion.audio.one_call import read_one_call
from companion.errors import CompanionError
from companion.grammar.compiled import CallGrammar
from companion.intent.decision import Listening, decide_utterance
from companion.intent.outcome import Decision
from companion.intent.suggested import take_instead
from companion.recognize.attempt import HearingFailed, attempt
from companion.recognize.protocol import Recognizer


@dataclass(frozen=True, slots=True)
class HeardFile:
    """What became of one file."""

    file: Path
    decision: Decision
    decode_seconds: float
    take: tuple[str, ...] = ()

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
        if decision.outcome == "say-again":
            line["take"] = list(self.take)
        if len(found) > 1:
            line["candidates"] = found
        return line


def hear_file(
    path: Path,
    recognizer: Callable[[], Recognizer],
    grammar: CallGrammar,
    listening: Listening,
) -> HeardFile:
    """Hear one file as one call.

    Args:
        path: Any sound file.
        recognizer: Gives one that listens for ``grammar``; asked for only once a file could be
            read, since it takes seconds to load.
        grammar: What may be said.
        listening: What the decision needs to know besides.

    Raises:
        CompanionError: If the file is missing or holds no sound that can be read, or the
            recognizer fails at it.
    """
    found = read_one_call(path)
    # Loaded before the sound is judged: a recognizer that cannot hear is reported even where there
    # is silence.
    ears = recognizer()
    if found.too_long:
        return HeardFile(path, Decision("ignore", "", (), 0.0, ("too long for a call",)), 0.0)
    if found.samples is None:
        return HeardFile(path, Decision("ignore", "", (), 0.0, ("no speech",)), 0.0)
    try:
        recognition = attempt(ears, found.samples, listening.call_sign_needed)
    except HearingFailed as error:
        raise CompanionError(f"{path}: {error} ({error.reason})") from error
    decision = decide_utterance(recognition, grammar, listening)
    reasons = (*decision.reasons, *found.troubles)
    take = take_instead(decision, recognition.transcript, grammar)
    return HeardFile(path, replace(decision, reasons=reasons), recognition.decode_seconds, take)
