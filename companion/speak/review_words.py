"""What was reviewed after the job, in words."""

from __future__ import annotations

from collections.abc import Sequence

from companion.job import events as ev
from companion.job.events import AnyEvent
from companion.job.state import State
from companion.speak.phrases import Phrase, recorded
from companion.speak.speakable import speakable


def reviewed_phrases(
    state: State, event: ev.Reviewed, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    """Say a mark; of a correction that recorded no value or name, say the call.

    Args:
        state: After the events.
        event: The review.
        events: All that it brought: what stands or falls by it is said by those.
    """
    match event.judgement:
        case "right":
            return (recorded("Marked right"),)
        case "wrong":
            return (recorded("Marked wrong"),)
        case "set-aside" if not any(isinstance(other, ev.Disregarded) for other in events):
            return (recorded("Set aside"),)
        case "note-confirmed":
            return (recorded("Note confirmed"),)
        case "corrected" if not any(
            isinstance(other, ev.Correctable) and not isinstance(other, ev.NoteKept)
            for other in events
        ):
            return (recorded(f"Corrected: {speakable(event.said or '')}"),)
    return ()
