"""How well somebody was heard, in one sentence, and what to do about it: by what was measured."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any, Literal

from companion.audio.calibration import LOUD_FLOOR
from companion.audio.levels import QUIET_SPEECH
from companion.trial.heard import HeardCall

NEAR_NOISE = 12.0
"""Speech less than this over the noise, in dB in the speech band, is near it: of 900 calls by five
synthetic voices over three noises 0.9 were right at once from 15 dB on, 0.8 between 12 and 15, 0.7
between 10 and 12, half below that (``docs/measurements.md``)."""
FAINT_PEAK = QUIET_SPEECH + 6
"""Loudest sample of a call, in dB of full scale, below which the input is turned up first: from
there on down, words are no longer found in the sound even of a quiet room."""
LOUD_ENOUGH = -30.0
"""Speech, in dB of full scale in the speech band, from which a microphone is near enough: what is
spoken 5 cm away lies at -20, at half a meter 20 dB lower."""
WELL = 0.9
"""Share of calls right at once from which somebody is heard well; none may be recorded wrong."""
FAIRLY = 0.8
"""Share of calls that are right at once or asked about rightly from which somebody is heard well
enough to work with; none may be recorded wrong."""
OFTEN = 0.2
"""Share of calls from which what is wrong with them is no accident."""
MOST_NAMED = 3
"""Misheard calls that the sentence names at most."""

Verdict = Literal["well", "fairly", "badly"]
Cause = Literal[
    "none", "nothing", "clipped", "lost", "noise", "far", "faint", "narrow", "call sign", "voice"
]
"""What is in the way: nothing is; nothing was heard at all; the input is overloaded; the computer
lost sound; the noise is loud; the voice is too near the noise in a place that is not loud; the
input is turned down; the microphone gives a telephone's band alone; the call sign is not heard;
none of these, so how this person speaks."""


@dataclass(frozen=True, slots=True)
class Around:
    """What was measured and known besides the calls.

    Attributes:
        noise_floor: Before anything was said, in dB of full scale in the speech band; None for
            recordings.
        lost: How often sound was lost because this computer was too busy.
        call_sign: What opens a call; None where none is needed.
        voice: Name of the enrolled voice that was heard by, or None.
    """

    noise_floor: float | None = None
    lost: int = 0
    call_sign: str | None = None
    voice: str | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """What came of a page.

    Attributes:
        verdict: How well somebody is heard.
        cause: What is in the way, first of all.
        sentence: Both, with what to do.
        over_noise: Speech over noise, the middle one of the calls, in dB; None if none was heard.
        noise_floor: The noise, in dB of full scale in the speech band, or None.
        peak: Loudest sample of a call, the middle one of the calls, in dB of full scale, or None.
    """

    verdict: Verdict
    cause: Cause
    sentence: str
    over_noise: float | None
    noise_floor: float | None
    peak: float | None


def tell(calls: Sequence[HeardCall], around: Around) -> Told:
    """Judge a page, or what was heard of it.

    Args:
        calls: At least one.
        around: What was measured besides.
    """
    over_noise = _middle(call.over_noise for call in calls)
    heard_floor = _middle(call.noise_floor for call in calls)
    noise_floor = heard_floor if around.noise_floor is None else around.noise_floor
    peak = _middle(call.peak for call in calls)
    verdict = _verdict(calls)
    cause = _cause(calls, around, verdict, _Sound(over_noise, noise_floor, peak))
    parts = [f"It hears you {_HOW[verdict]} here: {_counts(calls)}{_named(calls)}"]
    if over_noise is not None:
        parts.append(f"your voice is {over_noise:.0f} dB over the noise")
    return Told(
        verdict,
        cause,
        f"{', '.join(parts)}; {_advice(cause, around)}.",
        over_noise,
        noise_floor,
        peak,
    )


_HOW: Mapping[Verdict, str] = {"well": "well", "fairly": "fairly well", "badly": "badly"}


@dataclass(frozen=True, slots=True)
class _Sound:
    over_noise: float | None
    noise_floor: float | None
    peak: float | None


def _verdict(calls: Sequence[HeardCall]) -> Verdict:
    right = _share(calls, "right")
    if _share(calls, "wrong"):
        return "badly"
    if right >= WELL:
        return "well"
    return "fairly" if right + _share(calls, "asked") >= FAIRLY else "badly"


def _cause(calls: Sequence[HeardCall], around: Around, verdict: Verdict, sound: _Sound) -> Cause:
    # An overloaded input is mended even where all was heard: it is the next call that suffers.
    if sum(call.clips for call in calls) >= max(1.0, OFTEN * len(calls)):
        return "clipped"
    if verdict == "well":
        return "none"
    if around.lost:
        return "lost"
    loud = sound.noise_floor is not None and sound.noise_floor >= LOUD_FLOOR
    if sound.over_noise is None or sound.peak is None:
        # Nothing stood out from the noise, if there is any.
        return "noise" if loud else "nothing"
    if sound.over_noise < NEAR_NOISE or (loud and _share(calls, "unheard") >= OFTEN):
        spoken = sound.over_noise + (sound.noise_floor or 0.0)
        return "noise" if loud or spoken >= LOUD_ENOUGH else "far"
    if sound.peak < FAINT_PEAK:
        return "faint"
    if sum(call.narrow for call in calls) > len(calls) / 2:
        return "narrow"
    unsigned = sum("no call sign" in call.reasons for call in calls)
    if around.call_sign is not None and unsigned >= max(1.0, OFTEN * len(calls)):
        return "call sign"
    return "nothing" if _share(calls, "unheard") > 0.5 else "voice"


def _advice(cause: Cause, around: Around) -> str:
    match cause:
        case "none":
            return "nothing needs to be done"
        case "nothing":
            return (
                "say each call once it has been read out, nearer to the microphone, and look in "
                "the sound settings whether it is the one that you mean"
            )
        case "clipped":
            return (
                "the input is overloaded, so turn its level down, or hold the microphone further "
                "from your mouth"
            )
        case "lost":
            return "this computer is too busy to take all sound, so end what else runs on it"
        case "noise":
            return (
                "the noise is too loud for it, so stop the engine while you call, turn the "
                "microphone away from the machine, or use a headset"
            )
        case "far":
            return (
                "that is too little, so hold the microphone nearer to your mouth, or use a headset"
            )
        case "faint":
            return (
                "the sound is faint, so turn the input level up, or hold the microphone nearer to "
                "your mouth"
            )
        case "narrow":
            return (
                "the sound has nothing above a telephone's band, in which numbers sound alike, so "
                "use a microphone with a wire, or switch the headset to wideband speech"
            )
        case "call sign":
            return (
                f"“{around.call_sign}” is not heard, so say it and the call in one breath, choose "
                "another with 'companion settings call_sign WORD', or listen after a key with "
                "'companion settings push_to_talk true'"
            )
        case "voice":
            if around.voice is None:
                return (
                    "microphone and noise are not in the way, so enroll your voice with "
                    "'companion enroll NAME', and then try again"
                )
            return (
                "microphone and noise are not in the way, so speak as when the voice "
                f"'{around.voice}' was enrolled, or enroll it anew, after 'companion enroll NAME "
                "--remove'"
            )


def _counts(calls: Sequence[HeardCall]) -> str:
    counted = (
        (("asked",), "asked about rightly"),
        (("say-again",), "to be said again"),
        (("ignored", "unheard"), "not heard"),
        (("wrong",), "RECORDED WRONG"),
    )
    parts = [f"{sum(call.became == 'right' for call in calls)} of {len(calls)} right at once"]
    for kinds, words in counted:
        number = sum(call.became in kinds for call in calls)
        if number:
            parts.append(f"{number} {words}")
    return ", ".join(parts)


def _named(calls: Sequence[HeardCall]) -> str:
    """What was taken for something else, the worst first."""
    wrong = [call for call in calls if call.became == "wrong"]
    taken = [
        call
        for call in calls
        if call.became in ("asked", "say-again") and call.text and differing(call)[0]
    ]
    named = [
        f"“{said}” as “{heard}”" if heard else f"without “{said}”"
        for said, heard in map(differing, (*wrong, *taken))
        if said
    ]
    few = [*dict.fromkeys(named)][:MOST_NAMED]
    return f" ({', '.join(few)})" if few else ""


def differing(call: HeardCall) -> tuple[str, str]:
    """Return the words of a call that were heard otherwise, and what they were taken for.

    Both are empty where every word was heard.
    """
    said, heard = call.said.split(), call.text.split()
    while said and heard and said[0] == heard[0]:
        said, heard = said[1:], heard[1:]
    while said and heard and said[-1] == heard[-1]:
        said, heard = said[:-1], heard[:-1]
    if not said and heard:
        # A word too many: told with the call itself.
        return call.said, call.text
    return " ".join(said), " ".join(heard)


def in_words(call: HeardCall) -> str:
    """Return what became of a call, for the line after it."""
    match call.became:
        case "right":
            return "right at once"
        case "asked":
            return "asked about rightly" if call.text == call.said else f"asked about “{call.text}”"
        case "say-again":
            taken = call.text and call.text != call.said
            return f"to be said again, taken for “{call.text}”" if taken else "to be said again"
        case "ignored":
            return "not heard as a call"
        case "unheard":
            return "nothing was heard"
        case "wrong":
            return f"WRONG: it would have been recorded as “{call.text}”"


def call_values(call: HeardCall) -> dict[str, Any]:
    """Return a call as it is printed as JSON."""
    return {
        "said": call.said,
        "became": call.became,
        "heard": call.text,
        "reasons": [*call.reasons],
        "over_noise_db": _rounded(call.over_noise),
        "noise_floor_db": _rounded(call.noise_floor),
        "peak_db": _rounded(call.peak),
        "clipped": round(call.clipped, 4),
        "narrow": call.narrow,
    }


def told_values(told: Told) -> dict[str, Any]:
    """Return what came of a page as it is printed as JSON."""
    return {
        "works": told.verdict != "badly",
        "verdict": told.verdict,
        "cause": told.cause,
        "sentence": told.sentence,
        "over_noise_db": _rounded(told.over_noise),
        "noise_floor_db": _rounded(told.noise_floor),
        "peak_db": _rounded(told.peak),
    }


def _rounded(figure: float | None) -> float | None:
    return None if figure is None else round(figure, 1)


def _share(calls: Sequence[HeardCall], became: str) -> float:
    return sum(call.became == became for call in calls) / len(calls)


def _middle(figures: Iterable[float | None]) -> float | None:
    known = [figure for figure in figures if figure is not None]
    return median(known) if known else None
