"""Calls of which it is known what was said, heard as a session hears them; nothing is recorded."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from companion.audio.endpointing import Segmenter
from companion.audio.levels import CLIPPED_SHARE, measure_level
from companion.audio.one_call import find_one_call
from companion.audio.utterance import Utterance
from companion.enroll.fit import Outcome, ReadOut, outcome_of
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import CallGrammar
from companion.handbook.unit_table import OunceSystem
from companion.intent.decision import Listening, decide_utterance
from companion.intent.doubt import TO_QUESTIONS
from companion.intent.meaning import call_sign_length, meanings
from companion.recognize.attempt import attempt
from companion.recognize.clearness import narrow
from companion.recognize.protocol import Recognizer

Samples = NDArray[np.float32]

LISTEN_SECONDS = 8.0
"""How long a call is waited for, in seconds of sound: twice the longest call, and time to begin."""

Became = Outcome | Literal["unheard"]
"""What became of a call; ``unheard`` where no speech was found in the sound at all."""


@dataclass(frozen=True, slots=True)
class HeardCall:
    """What became of one call.

    Attributes:
        said: The call, as it was to be said.
        became: See ``Became``.
        text: The words it was taken for; "" where for none.
        reasons: Why, as the decision gives them.
        over_noise: How far its speech was above the noise, in dB in the speech band; None where no
            speech was found.
        noise_floor: The noise under it, in dB of full scale in that band; None alike.
        peak: Its loudest sample, in dB of full scale; None alike.
        clipped: Share of its samples at full scale, 0 to 1.
        narrow: Whether it has nothing above a telephone's band.
    """

    said: str
    became: Became
    text: str = ""
    reasons: tuple[str, ...] = ()
    over_noise: float | None = None
    noise_floor: float | None = None
    peak: float | None = None
    clipped: float = 0.0
    narrow: bool = False

    @property
    def clips(self) -> bool:
        """Whether its sound is overloaded."""
        return self.clipped >= CLIPPED_SHARE


class Listened(Protocol):
    """The microphone that calls are said into."""

    def blocks(self) -> Iterator[Samples]:
        """Yield sound as it comes."""
        ...

    def read(self, timeout: float) -> Samples | None:
        """Return the next block; None where none came in time."""
        ...

    def pause(self) -> None:
        """Drop what comes from now on."""
        ...

    def resume(self) -> None:
        """Keep it again."""
        ...


class Trial:
    """Hears calls by a recognizer and decides about them as a session with no job would.

    Args:
        ears: Listening for ``grammar``.
        grammar: What may be said.
        ounce: Which ounce this shop means.
        open_mic: Whether a call must begin with the call sign.
    """

    def __init__(
        self,
        ears: Recognizer,
        grammar: CallGrammar,
        *,
        ounce: OunceSystem = "us",
        open_mic: bool = False,
    ) -> None:
        self._ears = ears
        self._grammar = grammar
        self._ounce = ounce
        self.open_mic = open_mic

    def of_recordings(self, page: Iterable[ReadOut]) -> Iterator[HeardCall]:
        """Hear recordings, each as one call, as ``companion hear`` does; one that opens with the
        call sign is heard as in open mic.

        Raises:
            HearingFailed: If the recognizer fails.
        """
        for one in page:
            found = find_one_call([one.samples])
            segmenter = Segmenter()
            utterances = (*segmenter.feed(one.samples), *segmenter.flush())
            if found.samples is None or not utterances:
                yield HeardCall(one.said, "unheard")
                continue
            signed = call_sign_length(one.said.split(), self._grammar) > 0
            # Of a recording with a knock in it, the call is what stands out most.
            call = max(utterances, key=lambda each: each.over_noise or 0.0)
            yield self._heard(
                one.said, replace(call, samples=found.samples), segmenter.noise_floor, signed
            )

    def at_microphone(
        self,
        calls: Sequence[str],
        microphone: Listened,
        read_out: Callable[[int, str], None],
        *,
        end_pause: float,
    ) -> Iterator[HeardCall]:
        """Read calls out one by one and hear each.

        Args:
            calls: In the words of the grammar.
            microphone: Open; deaf while a call is read out.
            read_out: Shows and says the call of a number; comes back when it has been said.
            end_pause: Quiet that ends a call, in seconds.

        Raises:
            HearingFailed: If the recognizer fails.
            MicrophoneUnavailable: If the microphone goes away.
        """
        segmenter = Segmenter()
        segmenter.end_pause = end_pause
        blocks = microphone.blocks()
        for number, call in enumerate(calls, start=1):
            microphone.pause()
            try:
                # What came while the last call was recognized belongs to no call; the noise in it
                # counts.
                while (block := microphone.read(0.0)) is not None:
                    segmenter.feed(block)
                segmenter.forget()
                read_out(number, call)
            finally:
                microphone.resume()
            yield self._next(call, blocks, segmenter)

    def _next(self, call: str, blocks: Iterator[Samples], segmenter: Segmenter) -> HeardCall:
        """The call, once something was understood or the time is over. What is taken for talk is
        ignored in open mic, and the call still waited for, as at the bench."""
        heard = HeardCall(call, "unheard")
        listened = 0
        for block in blocks:
            listened += len(block)
            for utterance in segmenter.feed(block):
                heard = self._heard(call, utterance, segmenter.noise_floor, self.open_mic)
                if heard.became != "ignored" or not self.open_mic:
                    return heard
            if listened >= LISTEN_SECONDS * SAMPLE_RATE and not segmenter.speaking:
                return heard
        for utterance in segmenter.flush():
            heard = self._heard(call, utterance, segmenter.noise_floor, self.open_mic)
        return heard

    def _heard(self, said: str, call: Utterance, noise_floor: float, open_mic: bool) -> HeardCall:
        meant = meanings(said.split(), self._grammar, self._ounce)
        answers = any(intent.intent in TO_QUESTIONS for intent in meant)
        listening = Listening(
            call_sign_needed=open_mic and not answers,
            answer_awaited=answers,
            ounce=self._ounce,
            open_mic=open_mic,
        )
        recognition = attempt(self._ears, call.samples, listening.call_sign_needed)
        decision = decide_utterance(recognition, self._grammar, listening)
        level = measure_level(call.samples)
        return HeardCall(
            said=said,
            became=outcome_of(decision, meant),
            text=decision.text,
            reasons=decision.reasons,
            over_noise=call.over_noise,
            noise_floor=noise_floor,
            peak=level.peak,
            clipped=level.clipped,
            narrow=narrow(call.samples),
        )
