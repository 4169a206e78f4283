"""A person's voice enrolled: a page of calls read out once, what was misheard, and the fit to it.

The fit is tried before it is kept: a layer fitted to one half of the calls hears the other half,
and the other way round. It is kept only if it hears them no worse, and mistakes no call that was
not mistaken before.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import count
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from companion.enroll.voice_profile import (
    EnrolledCall,
    VoiceProfile,
    in_base64,
    save_voice,
    voice_paths,
)
from companion.errors import CompanionError
from companion.files.disk import make_folders
from companion.grammar.compiled import CallGrammar
from companion.intent.decision import Listening, decide_utterance
from companion.intent.intents import Intent
from companion.intent.meaning import meanings
from companion.intent.outcome import Decision
from companion.log.clips import Clip, keep_clip
from companion.recognize.attempt import attempt
from companion.recognize.fit_to_voice import Spoken, fitted
from companion.recognize.held import HeldRecognizer
from companion.recognize.phonemes import LastLayer, network_sha256
from companion.recognize.pronunciation import ways_to_say

Samples = NDArray[np.float32]
Outcome = Literal["right", "asked", "say-again", "ignored", "wrong"]

FEWEST = 6
"""Calls below which nothing is fitted."""
NOISE_BELOW = 10.0
"""Each call is used twice, once as it is and once with noise this many dB below it: a fit made in a
quiet room must hold in a loud one."""
LISTENING = Listening(answer_awaited=True)


@dataclass(frozen=True, slots=True)
class ReadOut:
    """A call that a person read out.

    Attributes:
        said: What the page said.
        samples: The sound at 16 kHz.
        clip: Where it is kept already, in the person's folder, or None.
    """

    said: str
    samples: Samples
    clip: Clip | None = None


@dataclass(frozen=True, slots=True)
class Enrolled:
    """What came of a page.

    Attributes:
        profile: As it was saved.
        path: Where.
        after: By call, what became of it with the layer fitted to the other half of the page.
    """

    profile: VoiceProfile
    path: Path
    after: tuple[Outcome, ...]


def enroll(
    name: str,
    page: Sequence[ReadOut],
    ears: HeldRecognizer,
    grammar: CallGrammar,
    at: datetime,
    progress: Callable[[int, int], None] | None = None,
) -> Enrolled:
    """Hear a page, fit to it what helps, and keep clips and fit.

    Args:
        name: Of the person.
        page: Of calls of the grammar, at least ``FEWEST`` for anything to be fitted.
        ears: With its own last layer; already listening for ``grammar``.
        grammar: What may be said.
        at: When.
        progress: Told how many hearings of how many are done.

    Raises:
        CompanionError: If the recognizer fails, or nothing can be written.
    """
    _, folder = voice_paths(name)
    hearings = count(1)

    def hear(one: ReadOut) -> tuple[Outcome, Decision]:
        heard = _heard(ears, grammar, one)
        if progress is not None:
            progress(next(hearings), 2 * len(page))
        return heard

    before = [hear(one) for one in page]
    layer, after = _fit(page, ears, hear, [outcome for outcome, _ in before])
    _make(folder)
    clips = [
        one.clip or keep_clip(folder, number, one.samples) for number, one in enumerate(page, 1)
    ]
    calls = tuple(
        EnrolledCall(
            said=one.said,
            clip=clip.path,
            clip_sha256=clip.sha256,
            heard=decision.text,
            outcome=outcome,
        )
        for one, clip, (outcome, decision) in zip(page, clips, before, strict=True)
    )
    profile = VoiceProfile(
        name=name,
        made=at,
        model=ears.model_sha256,
        network=network_sha256(),
        calls=calls,
        weight=None if layer is None else in_base64(layer.weight),
        bias=None if layer is None else in_base64(layer.bias),
    )
    return Enrolled(profile, save_voice(profile), after)


def report_lines(enrolled: Enrolled) -> list[str]:
    """What a person is told of the page: how much was heard, what was misheard and as what, and
    whether a fit helps."""
    calls = enrolled.profile.calls
    right = sum(call.outcome == "right" for call in calls)
    lines = [f"Heard right at once: {right} of {len(calls)}."]
    lines += [f"  {call.said}: {_misheard(call)}" for call in calls if call.outcome != "right"]
    if enrolled.profile.weight is None:
        lines.append("Fitting to this voice would not help: it is heard as it was.")
    else:
        fitted_right = enrolled.after.count("right")
        lines.append(
            f"Fitted to this voice. Fitted to one half of the page, the other half is heard right: "
            f"{fitted_right} of {len(calls)}."
        )
    lines.append(
        f"Kept in {enrolled.path}, with the clips beside it; nothing leaves this computer."
    )
    return lines


def _misheard(call: EnrolledCall) -> str:
    match call.outcome:
        case "ignored":
            return "not heard as a call"
        case "wrong":
            return f"MISHEARD as “{call.heard}”"
        case "asked":
            return "asked about" if call.heard == call.said else f"asked about “{call.heard}” first"
        case _:
            if call.heard == call.said:
                return "heard, but not surely enough"
            return f"not understood, taken for “{call.heard}”"


def helps(before: Sequence[Outcome], after: Sequence[Outcome]) -> bool:
    """Whether a fit may be taken: it hears as many calls right, and no other call in place of one
    that was not misheard before."""
    misheard = any(
        now == "wrong" and then != "wrong" for then, now in zip(before, after, strict=True)
    )
    return not misheard and after.count("right") >= before.count("right")


def _fit(
    page: Sequence[ReadOut],
    ears: HeldRecognizer,
    hear: Callable[[ReadOut], tuple[Outcome, Decision]],
    before: Sequence[Outcome],
) -> tuple[LastLayer | None, tuple[Outcome, ...]]:
    """The layer for this page, or None where it would not help; and how each half was heard with
    the layer that was fitted to the other."""
    own = ears.last_layer
    spoken = [_spoken(ears, one, number) for number, one in enumerate(page)]
    if own is None or not all(spoken) or len(page) < FEWEST:
        return None, tuple(before)
    after: list[Outcome] = list(before)
    for half in (0, 1):
        others = [each for two in spoken[1 - half :: 2] for each in two]
        ears.use_last_layer(fitted(own, others), "a trial")
        for number in range(half, len(page), 2):
            after[number] = hear(page[number])[0]
    ears.use_last_layer(own, "")
    if not helps(before, after):
        return None, tuple(after)
    return fitted(own, [each for two in spoken for each in two]), tuple(after)


def _spoken(ears: HeldRecognizer, one: ReadOut, seed: int) -> tuple[Spoken, ...]:
    """A call as the fit wants it, clean and in noise; nothing where there is no sound."""
    ways = ways_to_say(one.said.split())
    hidden = [ears.hidden(sound) for sound in (one.samples, _in_noise(one.samples, seed))]
    found = [Spoken(each, ways) for each in hidden if each is not None and ways]
    return tuple(found) if len(found) == len(hidden) else ()


def _in_noise(samples: Samples, seed: int) -> Samples:
    """With noise whose power falls by 3 dB an octave, as in most rooms."""
    length = len(samples)
    spectrum = np.fft.rfft(np.random.default_rng(seed).standard_normal(length))
    spectrum[1:] /= np.sqrt(np.arange(1, len(spectrum)))
    noise = np.fft.irfft(spectrum, length)
    ratio = 10 ** (-NOISE_BELOW / 20) * np.sqrt(np.mean(samples**2) / np.mean(noise**2))
    return np.asarray(samples + ratio * noise, dtype=np.float32)


def _heard(ears: HeldRecognizer, grammar: CallGrammar, one: ReadOut) -> tuple[Outcome, Decision]:
    recognition = attempt(ears, one.samples, call_sign_needed=False)
    decision = decide_utterance(recognition, grammar, LISTENING)
    return outcome_of(decision, meanings(one.said.split(), grammar)), decision


def outcome_of(decision: Decision, meant: Iterable[Intent]) -> Outcome:
    """Compare what became of a call with what was meant."""
    match decision.outcome:
        case "record":
            return "right" if decision.intents[0] in meant else "wrong"
        case "ask":
            return "asked" if set(decision.intents) & set(meant) else "say-again"
        case "say-again":
            return "say-again"
        case "ignore":
            return "ignored"


def _make(folder: Path) -> None:
    try:
        make_folders(folder)
    except OSError as error:
        raise CompanionError(
            f"{folder} cannot be made ({error.strerror}); mend the permissions of the data folder."
        ) from None
