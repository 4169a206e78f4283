"""Events and answers put into the words that are spoken: one short reply for all a call brought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from companion.job import events as ev
from companion.job.answers import Answer, TagsHanging
from companion.job.events import AnyEvent, Unsaid
from companion.job.record import Record
from companion.job.state import State
from companion.speak.aloud import aloud
from companion.speak.answer_words import answer_phrases, sources
from companion.speak.beside_words import beside_phrases
from companion.speak.phrases import CAUTION, LEFT, WEIGHT, Phrase, Tone, recorded
from companion.speak.pieces import joined, pieces
from companion.speak.speakable import sentence, speakable
from companion.speak.worded.start import tags_hung_phrases
from companion.speak.worded.table import event_phrases


@dataclass(frozen=True, slots=True)
class Reply:
    """What to sound and say: a short tone first, then the text.

    Attributes:
        tone: To sound.
        text: To say.
        source: Where the figures in it are from, to show and to say when asked; None where it gives
            none of the handbook or the sheet.
        rest: What is still to be said after it, piece by piece, so that none takes longer than
            eight seconds and a call can come between them.
        cautions: Those in the text, in whole sentences.
    """

    tone: Tone
    text: str
    source: str | None = None
    rest: tuple[Unsaid, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def whole(self) -> str:
        """All of it, with the rest."""
        return " ".join((self.text, *(piece.text for piece in self.rest)))


def word(
    state: State,
    events: Sequence[AnyEvent],
    answers: Sequence[Answer],
    left: Sequence[str] = (),
    beside: Sequence[Record] = (),
) -> Reply | None:
    """One spoken answer for everything a call brought; None when nothing is to be said.

    Args:
        state: After the events.
        events: Recorded by the call, in order.
        answers: To give, in order.
        left: Cautions that were not yet said when the call came, in whole sentences.
        beside: What somebody else recorded meanwhile, in order.
    """
    phrases = [
        *beside_phrases(state, beside),
        *(phrase for event in events for phrase in event_phrases(state, event, events)),
        # All hanging tags are read out; the new ones are among them.
        *(
            ()
            if any(isinstance(each, TagsHanging) for each in answers)
            else tags_hung_phrases(events)
        ),
        *(phrase for answer in answers for phrase in answer_phrases(state, answer)),
    ]
    if not phrases:
        phrases.extend(_acknowledged(events))
    said = {phrase.text for phrase in phrases}
    phrases.extend(Phrase(LEFT, "none", text) for text in left if text not in said)
    if not phrases:
        return None
    phrases.sort(key=lambda phrase: phrase.place)
    tone = max((phrase.tone for phrase in phrases), key=WEIGHT.index)
    first, *rest = pieces(phrases)
    unsaid = tuple(_unsaid(piece) for piece in rest)
    return Reply(tone, joined(first), sources(answers), unsaid, _cautions(first))


def word_not_understood(reasons: Sequence[str], take: Sequence[str] = ()) -> Reply:
    """Ask to say a call again, with the reason where it helps to say it better.

    Args:
        reasons: Short phrases from the decision, such as "the unit is missing: thou or inches".
        take: Plain calls near to what was said, or how they begin.
    """
    for reason in reasons:
        trouble, _, fitting = reason.partition(": ")
        if trouble == "a short answer needs the call sign":
            return Reply("not-understood", "Say affirm or negative, or the call sign before it.")
        if trouble == "a unit alone":
            return Reply("not-understood", f"Say again. Which reading? {sentence(fitting)}")
        if trouble == "the unit is missing":
            return Reply("not-understood", f"Say again. Which unit? {sentence(fitting)}")
        if trouble.endswith((" does not fit", " is no unit here")):
            return Reply(
                "not-understood", f"Say again. {_unquoted(trouble)}: {speakable(fitting)}."
            )
        if trouble.endswith(" of this job"):
            # Nobody at the bench can look up the list of names.
            names = f"I take: {speakable(_one_of(take))}." if take else "Say help."
            return Reply("not-understood", f"Say again. {_unquoted(trouble)}. {names}")
        if trouble.endswith(" turns it around") or trouble == _UNKNOWN_WORD:
            said = f"{_unquoted(trouble)}: {speakable(fitting)}" if fitting else _unquoted(trouble)
            return Reply("not-understood", f"Say again. {said}.")
        if _MEANS_OTHERWISE in trouble:
            return Reply("not-understood", f"Say again. {_unquoted(trouble)}.")
    for reason in reasons:
        if reason in _HEARD_BADLY:
            return Reply("not-understood", f"Say again. {_HEARD_BADLY[reason]}")
    if take:
        return Reply("not-understood", f"Say again. I take: {speakable(_one_of(take))}.")
    if any(reason.startswith(_NOTHING_NEAR) for reason in reasons):
        return Reply("not-understood", "Say again, or say help.")
    return Reply("not-understood", "Say again.")


def word_trouble(what: str) -> Reply:
    """Say that a device was lost or something else around the job failed.

    Args:
        what: One plain sentence, as it is printed.
    """
    return Reply("warning", sentence(aloud(what)))


_UNKNOWN_WORD = "a word in it is not known"

_MEANS_OTHERWISE = " means something else of "

_NOTHING_NEAR = ("no call is like this", "understood only as far as")
"""How reasons begin of words that were typed or heard well, and are no call."""

_HEARD_BADLY = {
    "clipped": "It was too loud.",
    "silent": "Nothing was heard.",
    "too-long": "It was too long.",
    "truncated": "The end is missing.",
    "gap": "A part of it was lost.",
    "a question is open, and 'note' sounds like 'nope'": "Negative, or note?",
}


def _one_of(calls: Sequence[str]) -> str:
    if len(calls) < 3:
        return " or ".join(calls)
    return f"{', '.join(calls[:-1])}, or {calls[-1]}"


def _unquoted(trouble: str) -> str:
    said = speakable(trouble.replace("'", ""))
    return said[:1].upper() + said[1:]


def _acknowledged(events: Sequence[AnyEvent]) -> tuple[Phrase, ...]:
    """Nothing but a question answered by "affirm": say at least that it was heard."""
    if any(isinstance(event, ev.Answered) and event.answer == "affirm" for event in events):
        return (recorded("Roger"),)
    return ()


def _unsaid(piece: Sequence[Phrase]) -> Unsaid:
    return Unsaid(text=joined(piece), cautions=_cautions(piece))


def _cautions(piece: Sequence[Phrase]) -> tuple[str, ...]:
    return tuple(phrase.text for phrase in piece if phrase.place in (CAUTION, LEFT))


__all__ = ["Reply", "Tone", "word", "word_not_understood", "word_trouble"]
