"""The record of what was heard or typed, with all that led to what became of it."""

from __future__ import annotations

from companion.audio.utterance import Utterance
from companion.intent.outcome import Decision
from companion.job.events import Heard, Rival
from companion.log.clips import Clip
from companion.recognize.attempt import HearingFailed
from companion.recognize.protocol import Recognition, Recognizer

RIVALS_KEPT = 4
"""How many other hypotheses the log keeps beside the best."""


def sound_heard(
    utterance: Utterance,
    recognition: Recognition,
    decision: Decision,
    *,
    clip: Clip | None,
    take: tuple[str, ...],
) -> Heard:
    """Return the record of a call by voice.

    Args:
        utterance: The sound.
        recognition: What it was taken for.
        decision: What becomes of it. Talk that is not for the companion leaves no trace of what was
            said.
        clip: Where the sound is kept; None where it is not.
        take: The plain calls that may have been meant, where the words say so.
    """
    kept = decision.outcome != "ignore"
    return Heard(
        text=decision.text,
        engine=recognition.engine,
        confidence=round(decision.confidence, 4),
        call_confidence=round(recognition.call_confidence, 4),
        rivals=_rivals(recognition, decision) if kept else (),
        clip=None if clip is None else clip.path,
        clip_sha256=None if clip is None else clip.sha256,
        draft=recognition.transcript if kept else None,
        outcome=decision.outcome,
        reasons=(*decision.reasons, *utterance.troubles),
        decode_seconds=round(recognition.decode_seconds, 4),
        take=take,
    )


def text_heard(text: str, decision: Decision, *, take: tuple[str, ...]) -> Heard:
    """Return the record of a typed call; see ``sound_heard``.

    Args:
        text: As it was typed.
        decision: What becomes of it.
        take: The plain calls that may have been meant, where the words say so.
    """
    return Heard(
        text=text.strip(),
        engine="typed",
        confidence=decision.confidence,
        call_confidence=1.0,
        outcome=decision.outcome,
        reasons=decision.reasons,
        take=take,
    )


def nothing_heard(
    utterance: Utterance,
    recognizer: Recognizer | None,
    error: HearingFailed,
    *,
    clip: Clip | None,
) -> Heard:
    """Return the record of a sound at which the recognizer failed; see ``sound_heard``.

    Args:
        utterance: The sound.
        recognizer: The one that failed; None where there is none.
        error: Why.
        clip: Where the sound is kept; None where it is not.
    """
    return Heard(
        text="",
        engine="" if recognizer is None else recognizer.name,
        confidence=0.0,
        call_confidence=0.0,
        clip=None if clip is None else clip.path,
        clip_sha256=None if clip is None else clip.sha256,
        outcome="say-again",
        reasons=(error.reason, *utterance.troubles),
    )


def _rivals(recognition: Recognition, decision: Decision) -> tuple[Rival, ...]:
    others = [h for h in recognition.hypotheses if h.text != decision.text]
    return tuple(
        Rival(text=h.text, confidence=round(h.confidence, 4)) for h in others[:RIVALS_KEPT]
    )
