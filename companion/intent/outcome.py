"""What a decision takes and gives: what is being listened for, and what became of an utterance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from companion.intent.intents import Intent

Outcome = Literal["record", "ask", "say-again", "ignore"]
"""``record``: act on the intent. ``ask``: put its readback as a question and act on "affirm" only.
``say-again``: it was a call but not understood. ``ignore``: it was no call for us."""


Figure = Literal["one", "either"]
"""How only a figure is asked about: one, by yes or no or the number; or which of two, by the
number."""


@dataclass(frozen=True, slots=True)
class Expectation:
    """What the loaded spec sheet expects of a measure or fluid.

    Attributes:
        low: Lower end of the window in SI, or None.
        high: Upper end of the window in SI, or None; of a fluid, how much the machine takes.
        unit: The SI unit of all three.
        usual: What was read last, in SI, or None.
    """

    low: float | None
    high: float | None
    unit: str
    usual: float | None = None


@dataclass(frozen=True, slots=True)
class Likely:
    """One meaning that an utterance may have had.

    Attributes:
        words: The likeliest sentence of that meaning.
        intents: Every intent that it can mean, the most usual first.
        confidence: 0 to 1, that it was meant, by the sound alone.
    """

    words: tuple[str, ...]
    intents: tuple[Intent, ...]
    confidence: float


@dataclass(frozen=True, slots=True)
class Hearing:
    """What a call may have been, by its sound alone.

    Attributes:
        likely: Each of another meaning, the likeliest first.
        call_confidence: Estimated probability that it was a call and the likeliest sentence that
            call, 0 to 1.
    """

    likely: tuple[Likely, ...]
    call_confidence: float


@dataclass(frozen=True, slots=True)
class Listening:
    """What the decision needs to know besides the words.

    Attributes:
        call_sign_needed: Open-mic mode, and no answer is awaited: a call must begin with the call
            sign.
        answer_awaited: The companion asked something and waits for "affirm" or "negative".
        ounce: Which fluid ounce (and pint, quart, gallon) this shop means.
        expectations: By measure or fluid name.
        correcting: The measure or fluid whose value "correction" would replace, if known.
        correcting_unit: The unit in which that one was called, which holds for a bare number.
        awaited: Names of the measures, fluids and parts that the current step waits for.
        used: How often this person has used which frame (``companion.intent.frame``).
        open_mic: Whether the microphone is open; an answer then needs no call sign, but a short
            word does.
        doubted: The readings or volumes that the open question is about, in the order in which they
            are asked about; their number may then be said alone.
        before: The hearing just before this one, where it was asked about or was to be said again,
            and nothing came between.
    """

    call_sign_needed: bool = False
    answer_awaited: bool = False
    ounce: Literal["us", "imperial"] = "us"
    expectations: dict[str, Expectation] | None = None
    correcting: str | None = None
    correcting_unit: str | None = None
    awaited: frozenset[str] = frozenset()
    used: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    open_mic: bool = False
    doubted: tuple[Intent, ...] = ()
    before: Hearing | None = None


@dataclass(frozen=True, slots=True)
class Decision:
    """The outcome for one utterance.

    Attributes:
        outcome: See ``Outcome``.
        text: The words it is taken to be, or "" when ignored.
        intents: Empty for ``say-again`` and ``ignore``; one for ``record``; for ``ask`` the
            candidates in the order in which they are to be asked about (each by yes or no).
        confidence: 0 to 1, that the first intent is what was said.
        reasons: Why, each a short phrase for the log: "close rival: gap fifty thou", "3 times the
            spec", "low confidence".
        figure: Of ``ask``, where nothing but the figure is in doubt, so that only that is asked:
            "seventeen?" (``one``), or "seventeen or seventy?" (``either``).
        hearing: What was perhaps said, by the sound alone; None of a typed call.
    """

    outcome: Outcome
    text: str
    intents: tuple[Intent, ...]
    confidence: float
    reasons: tuple[str, ...]
    figure: Figure | None = None
    hearing: Hearing | None = None
