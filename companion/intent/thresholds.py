"""How sure is sure enough: every figure that a decision hangs on, in one place."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Thresholds:
    """The figures; confidences and shares run from 0 to 1.

    Chosen on the voices that may be tuned on, where a wrong record costs as much as a thousand
    needless questions, and so that hardly one clean call in twenty is asked about. There, of 1548
    calls, half of them under noise at 5 to 10 dB or other people's talk, 19 were recorded wrong
    with 0.7 for both ``clear_call`` and ``number``, and 3 with 0.9 and 0.95.

    Attributes:
        call: Below this call confidence an utterance is no call: ignored, or asked to be said
            again where a key was held.
        clear_call: Below this call confidence no call without a number is recorded without a
            question.
        clear_number: The same of a call with a number.
        record: Confidence from which a call without a number is recorded.
        number: Confidence from which a call with a number is recorded: a wrong number does more
            harm and is harder to notice.
        number_agreed: The same where a second recognizer heard the same number. In 810 calls it
            once heard the same wrong one, so that it stays no lower than for other calls.
        second_sure: How sure the second recognizer must be for its number to count. Of 810 calls,
            a third of them by voices hard to hear, ten were recorded wrong without it, five with
            any number of its asked about or only those above 0.15, and eight with those above 0.3;
            needless questions were 177, 135 and 82 more.
        answer: Confidence from which "affirm", "negative" and "roger" are taken: a wrong "affirm"
            takes a tag down.
        worth_asking: Below this confidence a question would be more wrong than right: say again.
        rival_share: Share of the best meaning's confidence from which another meaning is too close.
        sound_alike_share: The same, where only numbers that sound alike stand against each other.
        answer_rival_share: The same, where the best meaning is an answer.
        most_candidates: How many candidates a question goes through.
        far: How many times above the window, or below it, a value is doubted.
        far_open: The same where the window has no end on that side, from its only end.
        far_kelvins: How far outside its window a temperature is doubted, in kelvins.
        likeness: Likeness of a written word to one of the grammar from which they may be the same.
        sure_likeness: Likeness from which an unknown word is taken for it without a question.
        close_match: Words of difference within which two matches are too close to choose from.
        most_difference: Words of difference, of ten, beyond which nothing is matched.
    """

    call: float = 0.35
    clear_call: float = 0.85
    clear_number: float = 0.85
    record: float = 0.85
    number: float = 0.95
    number_agreed: float = 0.85
    second_sure: float = 0.15
    answer: float = 0.9
    worth_asking: float = 0.2
    rival_share: float = 0.1
    sound_alike_share: float = 0.05
    answer_rival_share: float = 0.1
    most_candidates: int = 3
    far: float = 2.0
    far_open: float = 10.0
    far_kelvins: float = 60.0
    likeness: float = 0.6
    sure_likeness: float = 0.75
    close_match: float = 0.25
    most_difference: float = 3.5


DEFAULT = Thresholds()
"""The figures in use."""
