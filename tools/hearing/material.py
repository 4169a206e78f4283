"""What is said to the companion, and near it, when its hearing is measured."""

from __future__ import annotations

from num2words import num2words

from companion.grammar.compiled import CallGrammar
from companion.intent.intents import Intent
from companion.intent.interpret import understand
from companion.intent.outcome import Listening

TUNING_VOICES = ("gb", "slt-hts", "awb")
"""Voices that thresholds and weights may be fitted on."""
OTHER_VOICES = ("rms", "us-man", "scotland", "heart")
"""Voices held back: nothing was fitted on them."""
FITTED_NOISES = frozenset({"pink", "engine", "hum", "clanks"})
"""Noises that the phoneme network met when it was fitted."""

CALLS = tuple(
    call.strip()
    for call in """
    gap thirty thou, gap thirteen thou, gap fifty thou, gap fifteen thou, gap twenty eight thou,
    gap thirty one thou, gap point oh three oh inch, gap zero point seven six millimeters,
    compression one twenty p s i, compression ninety five p s i, compression one oh five p s i,
    intake clearance six thou, exhaust clearance eight thou, tire pressure fifteen p s i,
    tire pressure fourteen p s i, engine speed thirty six hundred, engine speed thirty two hundred,
    idle speed fourteen fifty, battery twelve point six volts, battery twelve point four volts,
    air temperature minus five celsius, torque sixteen foot pounds, torque thirty one foot pounds,
    torque twelve and a half newton meters, play one eighth inch, leak down fifteen percent,
    added twenty ounces of oil, added four ounces of oil, drained half a liter of oil,
    drained eighteen ounces of oil, added one more ounce, added half a quart of oil,
    oil level full, oil level low, oil level over, start soak timer two hours,
    start timer fifteen minutes, start warm up timer ten minutes, time left, cancel soak timer,
    roger, tag no oil, clear tag no oil, read tags, clear to start, step done, next step, step back,
    skip step, say step, shear pin broken, drive belt worn, handle bolt loose, greased auger shaft,
    tightened handle bolt, replaced spark plug, cleaned carburetor, need two shear pins,
    used one spark plug, used three bolts, follow up carburetor, correction thirty one thou,
    correction sixteen foot pounds, disregard, affirm, yes, negative, no, say again, read back gap,
    read back oil, read back parts, spec for gap, convert thirty thou to millimeters,
    torque for three eighths grade five, wrench for three eighths bolt,
    mix fifty to one for two gallons, engine running, engine stopped, stand by, resume, park job,
    close job, bench gap thirty thou, bench oil level full, bench roger
    """.replace("\n", " ").split(",")
)

TALK = tuple(
    line.strip()
    for line in """
    did you see the game last night; what time is it; put the kettle on would you; hello; okay;
    that one is going to cost about thirty dollars; where did I put my glasses;
    my brother bought a new truck; the radio is too loud; I need two coffees and a sandwich;
    he said the oil was fine but I don't believe him; this thing is a mess; watch your fingers;
    the blade looks pretty dull to me but what do I know; hold this for a second; alright then;
    and now the weather for the weekend; you have got to be kidding me; stop stop stop;
    it won't start no matter what I try; turn it a little to the left; good morning;
    there are about fifty of them in the box; check the mail when you get a chance; ouch;
    I think we're out of spark plugs; keep going a bit more; let's have lunch at twelve thirty
    """.replace("\n", " ").split(";")
)

ANSWERS = frozenset({"affirm", "yes", "negative", "no"})
"""Calls that answer a question."""


def listening_for(call: str) -> Listening:
    """A key is held; for a call that answers a question, one is open."""
    return Listening(answer_awaited=call in ANSWERS)


def meaning_of(call: str, grammar: CallGrammar) -> Intent:
    """What a call means."""
    return understand(call, grammar, listening_for(call)).intents[0]


def family_of(call: str, grammar: CallGrammar) -> str:
    """The family of a call: "reading", "fluid", "timer"."""
    return meaning_of(call, grammar).intent.split(".")[0]


def in_words(number: int) -> str:
    """A whole number as it is read out: "one hundred and twenty one"."""
    return str(num2words(number)).replace("-", " ").replace(",", "")
