"""What is said about how somebody speaks: too loud, or too near the noise; never at every call."""

from __future__ import annotations

from datetime import datetime, timedelta

from companion.audio.levels import QUIET_SPEECH, measure_level
from companion.audio.utterance import Utterance
from companion.job.events import Heard

NEAR_NOISE = 8.0
"""Speech less than this over the noise, in dB in the speech band, is hardly heard right; measured
over all their sound, that is five dB over an engine or a compressor."""
AGAIN_AFTER = timedelta(minutes=5)
"""A hint of the same kind is given again only after this time."""
TOO_LOUD = "Too loud; step back from the microphone."
TOO_QUIET = "Too quiet; come closer to the microphone."


class Hints:
    """Hints after calls, each kind at most once in ``AGAIN_AFTER``."""

    def __init__(self) -> None:
        self._given: dict[str, datetime] = {}

    def after(self, utterance: Utterance, heard: Heard, at: datetime) -> str | None:
        """Return the hint to give after a call, if any.

        Args:
            utterance: What was spoken.
            heard: What was made of it. Nothing is said about talk that was not for the companion,
                nor before a question is answered.
            at: When.
        """
        if heard.outcome not in ("record", "say-again"):
            return None
        hint = _hint(utterance)
        if hint is None or (hint == TOO_LOUD and heard.outcome == "say-again"):
            # "Say again. It was too loud." was said already.
            return None
        given = self._given.get(hint)
        if given is not None and at - given < AGAIN_AFTER:
            return None
        self._given[hint] = at
        return hint


def _hint(utterance: Utterance) -> str | None:
    if "clipped" in utterance.troubles:
        return TOO_LOUD
    faint = measure_level(utterance.samples).peak < QUIET_SPEECH
    near_noise = utterance.over_noise is not None and utterance.over_noise < NEAR_NOISE
    return TOO_QUIET if faint or near_noise else None
