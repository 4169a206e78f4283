"""Tags, the start gate, and that the engine runs or stands."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from companion.job import events as ev
from companion.job.events import AnyEvent
from companion.job.reason import Reason
from companion.job.state import State
from companion.speak.numbers import number_words
from companion.speak.phrases import CONSEQUENCE, FACT, WARNING, Phrase, recorded
from companion.speak.reason_words import (
    NEVER_CHECKED,
    checked_words,
    reason_lines,
    reasons_words,
    unknown_words,
)
from companion.speak.speakable import sentence, speakable
from companion.speak.worded.words import Table, Words, always

TAGS_NAMED = 3
"""How many of the tags that still hang are named when one comes down."""


def _logged(reasons: Sequence[Reason]) -> str:
    """Why the engine must not be started, as paper has it: with dates, not "two days ago"."""
    return "; ".join(reason_lines(reasons, dated=True))


# --- tags ---------------------------------------------------------------------------------------


def _hung_logged(event: ev.TagHung) -> str:
    why = event.reason or (f"step {event.step}" if event.step else "")
    why = reasons_words(event.because, dated=True) or why or event.by
    return f"tag hung: {event.tag} ({why})"


def tags_hung_phrases(events: Sequence[AnyEvent]) -> tuple[Phrase, ...]:
    """Say all the tags together that a call hung."""
    hung = [event.tag for event in events if isinstance(event, ev.TagHung)]
    if not hung:
        return ()
    by_step = all(event.by == "step" for event in events if isinstance(event, ev.TagHung))
    if len(hung) > 1 and by_step:
        # The step itself says what to take off; "read tags" names them.
        count = number_words(Decimal(len(hung))).capitalize()
        return (recorded(f"{count} tags hung", CONSEQUENCE),)
    one = "Tag" if len(hung) == 1 else "Tags"
    return (recorded(f"{one} hung: {', '.join(hung)}", CONSEQUENCE),)


def _cleared_said(
    state: State, event: ev.TagCleared, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    cleared = sentence(f"Tag cleared: {event.tag}")
    if any(isinstance(other, ev.Asked) and other.about == "clear-tag" for other in events):
        # The next tag is asked about at once; after the last, what still hangs is said.
        return (recorded(cleared),)
    left = [tag.tag for tag in state.tags]
    if len(left) > TAGS_NAMED:
        # "Read tags" names them.
        still = f"{number_words(Decimal(len(left))).capitalize()} still hang."
    else:
        still = f"Still hanging: {', '.join(left)}." if left else "No tag hangs."
    return (Phrase(FACT, "recorded", f"{cleared} {speakable(still)}"),)


# --- the start ----------------------------------------------------------------------------------


def _checked_logged(event: ev.StartChecked) -> str:
    tags = ", ".join(event.standing)
    hanging = f"tags hang: {tags}" if tags else "no tag hangs"
    why = f"; do not start: {_logged(event.reasons)}" if event.reasons else ""
    return f"clear to start asked: {hanging}{why}{_known_logged(event)}"


def _known_logged(event: ev.StartChecked) -> str:
    known = event.known
    checked, unknown = event.checked, event.not_checked
    if known is not None:
        checked = (*(f"{fluid} level" for fluid in known.full), *known.cleared)
        left = (f"{known.steps_left} steps of the card",) if known.steps_left else ()
        unknown = (*(f"{fluid} level" for fluid in known.unknown), *left)
    said = f"; checked: {', '.join(checked)}" if checked else ""
    return f"{said}; not checked: {', '.join(unknown)}" if unknown else said


def _checked_said(
    state: State, event: ev.StartChecked, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    against = reason_lines(event.reasons) or tuple(f"tag {tag} hangs" for tag in event.standing)
    if not against:
        return ()
    first, *others = (sentence(reason) for reason in against)
    said = [f"Do not start. {first}", *others]
    known = event.known
    # Older logs have what was and was not checked in words.
    checked = event.checked if known is None else checked_words(known)
    if checked:
        said.append(sentence(f"Checked: {', '.join(checked)}"))
    # Things that no call reports are read out when the gate would open; here they would only be
    # tiring.
    unknown = (
        tuple(each for each in event.not_checked if each not in NEVER_CHECKED)
        if known is None
        else unknown_words(known)
    )
    if unknown:
        said.append(sentence(f"Not checked: {', '.join(unknown)}"))
    return tuple(Phrase(WARNING, "warning", each) for each in said)


# --- the engine ---------------------------------------------------------------------------------


def _running_logged(event: ev.EngineRunning) -> str:
    against = f" against the tags {', '.join(event.against)}" if event.against else ""
    reasons = f"; {_logged(event.reasons)}" if event.reasons else ""
    return f"engine running{against}{reasons}"


def _running_said(
    state: State, event: ev.EngineRunning, events: Sequence[AnyEvent]
) -> tuple[Phrase, ...]:
    if not event.against and not event.reasons:
        return (recorded("Engine running"),)
    said = ["Stop the engine."]
    if event.against:
        hang = "This tag hangs" if len(event.against) == 1 else "These tags hang"
        said.append(sentence(f"{hang}: {', '.join(event.against)}"))
    said.extend(sentence(reason) for reason in reason_lines(event.reasons))
    return (Phrase(WARNING, "warning", " ".join(said)),)


START: Table = {
    # All tags of a call are said together, by ``tags_hung_phrases``.
    ev.TagHung: Words(_hung_logged, recalled=lambda event: f"tag {event.tag}"),
    ev.TagCleared: Words(lambda event: f"tag cleared: {event.tag}", _cleared_said),
    ev.StartChecked: Words(_checked_logged, _checked_said),
    ev.StartAffirmed: Words(lambda event: "start affirmed", always("Start affirmed")),
    ev.EngineRunning: Words(
        _running_logged, _running_said, warns=lambda event: bool(event.against)
    ),
    ev.EngineStopped: Words(lambda event: "engine stopped", always("Engine stopped")),
}
"""The words for what holds a start, and for the engine."""
