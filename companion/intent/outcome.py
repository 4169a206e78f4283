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
    """

    outcome: Outcome
    text: str
    intents: tuple[Intent, ...]
    confidence: float
    reasons: tuple[str, ...]
