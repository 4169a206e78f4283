"""How well a person is heard with this microphone beside this machine: what ``companion checkup
--voice`` does. Nothing is recorded anywhere."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from companion.audio.calibration import OVERLOADED, SECONDS, calibrate
from companion.audio.devices import MicrophoneUnavailable, find_device
from companion.audio.microphone import Microphone
from companion.audio.silence import SENTENCE as SILENT
from companion.enroll.fit import ReadOut
from companion.enroll.page import from_folder
from companion.enroll.recognizer_of import recognizer_of
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.settings import Settings
from companion.shelf.words import vocabulary_of
from companion.speak.speakable import sentence
from companion.speak.voice import Voice
from companion.speak.wording import Reply
from companion.trial.heard import HeardCall, Trial
from companion.trial.told import Around, Told, tell

SHOWN = (
    "Let the machine run as it does while you work. Each call is read out; then say it as you "
    "would at the bench. Nothing is recorded. Be silent first, for the noise."
)
SPOKEN = "I read out ten calls. Say each one after me. Be silent first, for the noise."


class VoiceCheckup:
    """One page of calls, from a microphone or from recordings.

    Args:
        settings: Of the shop.
        voice: Name of an enrolled voice; that of the settings if None.

    Attributes:
        heard: The calls so far, also where hearing ends early.
        of: How many there are in all.
    """

    def __init__(self, settings: Settings, voice: str | None = None) -> None:
        self._settings = settings
        self._voice = voice or settings.enrolled_voice
        self._around = Around(
            call_sign=None if settings.push_to_talk else settings.call_sign, voice=self._voice
        )
        self._grammar: CallGrammar | None = None
        self._trial: Trial | None = None
        self.heard: list[HeardCall] = []
        self.of = 0

    @property
    def call_sign(self) -> str | None:
        """What opens a call; None where a key is held."""
        return self._around.call_sign

    def told(self) -> Told:
        """Return how well the calls so far were heard, one at least."""
        return tell(self.heard, self._around)

    def require_microphone(self) -> None:
        """Look for the microphone, before anything is loaded.

        Raises:
            MicrophoneUnavailable: If there is none; says how to go on without.
        """
        try:
            find_device("input", self._settings.microphone)
        except MicrophoneUnavailable as error:
            raise MicrophoneUnavailable(
                f"{error} To try recordings instead, add --clips."
            ) from error

    def load(self) -> Trial:
        """Load the recognizer, once.

        Raises:
            CompanionError: If it cannot be used, or there is no such enrolled voice.
        """
        if self._trial is None:
            ears = recognizer_of(self._settings, voice=self._voice)
            grammar = self._call_grammar()
            ears.listen_for(grammar)
            self._trial = Trial(
                ears, grammar, ounce=self._settings.ounce, open_mic=self.call_sign is not None
            )
        return self._trial

    def recordings(self, folder: Path) -> tuple[ReadOut, ...]:
        """Read a folder of recordings.

        Raises:
            CompanionError: If the folder, its list or a recording cannot be used.
        """
        return from_folder(folder, self._call_grammar(), fewest=1)

    def hear_recordings(self, page: Sequence[ReadOut], became: Callable[[HeardCall], None]) -> None:
        """Hear recordings one by one.

        Args:
            page: From ``recordings``.
            became: Told of each call once it was heard.

        Raises:
            CompanionError: If the recognizer fails.
        """
        self.of = len(page)
        for call in self.load().of_recordings(page):
            self.heard.append(call)
            became(call)

    def hear(
        self,
        calls: Sequence[str],
        voice: Voice,
        show: Callable[[str], None],
        became: Callable[[HeardCall], None],
    ) -> None:
        """Read calls out and hear each by the microphone.

        Args:
            calls: To be said.
            voice: Reads them out; the microphone is deaf meanwhile.
            show: Shows a line.
            became: Told of each call once it was heard.

        Raises:
            MicrophoneUnavailable: If the microphone gives nothing or goes away.
            CompanionError: If the recognizer fails.
        """
        self.of = len(calls)
        with Microphone(self._settings.microphone) as microphone:

            def read_out(number: int, call: str) -> None:
                show(f"{number} of {len(calls)}: {call}")
                voice.say(Reply("none", sentence(call)))

            self._measure(microphone, voice, show)
            for call in self.load().at_microphone(
                calls, microphone, read_out, end_pause=self._settings.end_pause
            ):
                self.heard.append(call)
                self._around = replace(self._around, lost=microphone.overflows)
                became(call)

    def _measure(self, microphone: Microphone, voice: Voice, show: Callable[[str], None]) -> None:
        """The noise, before anything is said."""
        show(SHOWN)
        microphone.pause()
        voice.say(Reply("none", SPOKEN))
        microphone.resume()
        noise = calibrate(microphone.listen_for_seconds(SECONDS))
        if noise.silent:
            raise MicrophoneUnavailable(f"{microphone.name}: {SILENT}")
        if noise.verdict == "overloaded":
            raise MicrophoneUnavailable(f"{microphone.name}: {OVERLOADED}")
        self._around = replace(self._around, noise_floor=noise.noise_floor)

    def _call_grammar(self) -> CallGrammar:
        if self._grammar is None:
            self._grammar = load_grammar(vocabulary_of(None, None, self._settings.call_sign))
        return self._grammar
