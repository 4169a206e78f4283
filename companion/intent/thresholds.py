"""How sure is sure enough: every figure that a decision hangs on, in one place."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Thresholds:
    """The figures; confidences and shares run from 0 to 1.

    Those that a clip decides, from ``call`` to ``number``, ``rival_share`` and
    ``sound_alike_share``, are what cost least on the voices that may be tuned on, where a value
    recorded wrong in silence costs as much as a thousand needless questions, another wrong record
    as much as a hundred: ``python -m tools.fit_evidence`` finds them. ``docs/hearing.md`` says
    where they differ from that, and why.

    Attributes:
        call: Below this call confidence an utterance is no call: ignored, or asked to be said
            again where a key was held.
        clear_call: Below this call confidence no call without a number is recorded without a
            question.
        clear_number: The same of a call with a number: a wrong number does more harm and is harder
            to notice; and of one that ends the job or the listening.
        sure_number: From this call confidence on, and with the call sign, ``number`` is enough for
            a call with a number; below it ``number_less_sure`` is needed.
        half_call: Below this call confidence what was heard before a pause may be half a call.
        record: Confidence from which a call without a number is recorded.
        number: Confidence from which a call with a number is recorded.
        number_less_sure: The same where the call confidence is below ``sure_number``.
        number_twice: Both of these for a call that was heard alike twice: that the two hearings
            lean on each other is reckoned with already (``companion.intent.heard_before``).
        number_alone: The same of a number by itself, which answers a question: a word or two in
            noise have nothing beside them that speaks for what they are.
        alone_rival_share: See ``rival_share`` and ``sound_alike_share``, of a number by itself.
        number_agreed: The same where a second recognizer heard the same number; it may agree on a
            wrong one, and so this is no lower than for other calls.
        second_sure: How sure the second recognizer must be for its number to count
            (``docs/measurements.md`` has what other figures would cost).
        answer: Confidence from which "affirm" and "roger" are taken: a wrong "affirm" takes a tag
            down.
        negative: The same for "negative": taken wrongly it records nothing, and what was asked
            about must be called again.
        worth_asking: Below this confidence a question would be more wrong than right: say again.
        rival_share: Share of the best meaning's confidence from which another meaning is too close.
        sound_alike_share: The same, where only numbers that sound alike stand against each other.
        two_share: The same, where a "two" after tens or a digit may have been lost or gained.
        opposite_share: The same, where one word of the best is the opposite of the rival's, unless
            parts are counted: one that is needed or used stands in no danger. A call that was heard
            alike twice needs no more than others.
        before_n_share: The same, where the best has a teen before a word that begins with an n.
        answer_rival_share: The same, where the best meaning is an answer.
        negative_rival_share: The same, where it is "negative".
        most_candidates: How many candidates a question goes through.
        far: How many times above the window, or below it, a value is doubted.
        far_open: The same where the window has no end on that side, from its only end.
        far_kelvins: How far outside its window a temperature is doubted, in kelvins.
        likeness: Likeness of a written word to one of the grammar from which they may be the same.
        sure_likeness: Likeness from which an unknown word is taken for it without a question.
        close_match: Words of difference within which two matches are too close to choose from.
        most_difference: Words of difference, of ten, beyond which nothing is matched.
    """

    call: float = 0.3
    clear_call: float = 0.55
    clear_number: float = 0.8
    sure_number: float = 0.9
    half_call: float = 0.75
    record: float = 0.9
    number: float = 0.97
    number_less_sure: float = 0.985
    number_twice: float = 0.95
    number_alone: float = 0.975
    alone_rival_share: float = 0.01
    number_agreed: float = 0.85
    second_sure: float = 0.15
    answer: float = 0.9
    negative: float = 0.7
    worth_asking: float = 0.2
    rival_share: float = 0.07
    sound_alike_share: float = 0.014
    two_share: float = 0.003
    opposite_share: float = 0.003
    before_n_share: float = 0.001
    answer_rival_share: float = 0.1
    negative_rival_share: float = 0.3
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
