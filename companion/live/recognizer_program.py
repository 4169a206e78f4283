"""The recognizer in a program of its own; see ``recognizer_beside.py``, which starts it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.errors import CompanionError
from companion.grammar.compiled import CallGrammar
from companion.live.beside import serve
from companion.recognize.protocol import Recognition, Recognizer
from companion.recognize.spotting import Spotted, Spotter, spotter_of
from companion.settings import Settings


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which recognizer to load.

    Attributes:
        settings: Of the shop.
        name: Of the recognizer, or None.
        model: Folder of its model, or None.
        second: Name of the second recognizer, or None.
        voice: Name of an enrolled voice, or None.
    """

    settings: Settings
    name: str | None = None
    model: Path | None = None
    second: str | None = None
    voice: str | None = None

    def load(self) -> Recognizer:
        """Load it; raises as ``recognizer_of``."""
        from companion.enroll.recognizer_of import recognizer_of

        return recognizer_of(
            self.settings,
            name=self.name,
            model=self.model,
            second=self.second,
            voice=self.voice,
        )


@dataclass(frozen=True, slots=True)
class ListenFor:
    """Hold what is heard to a grammar."""

    grammar: CallGrammar


@dataclass(frozen=True, slots=True)
class Hear:
    """Recognize an utterance."""

    samples: NDArray[np.float32]
    call_sign_needed: bool
    number_alone: bool


@dataclass(frozen=True, slots=True)
class Spot:
    """Look for the call sign in a sound."""

    samples: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Transcribe:
    """Transcribe free speech."""

    samples: NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of a message.

    Attributes:
        value: A name, a recognition, a transcript, a place of the call sign or nothing.
        failed: What was raised, in a line; None where it worked.
        refused: A sentence for whoever started it, with its exit status; None where there is none.
        news: What became of the second recognizer.
    """

    value: str | Recognition | Spotted | None = None
    failed: str | None = None
    refused: tuple[str, int] | None = None
    news: tuple[str, ...] = ()


class Ears:
    """Answers messages with the recognizer that the first of them names."""

    def __init__(self, load: Callable[[Any], Recognizer]) -> None:
        self._load = load
        self._recognizer: Recognizer | None = None
        self._spotter: Spotter | None = None

    def answer(self, message: Any, tell: Callable[[object], None]) -> None:
        """Answer one message, whatever is raised."""
        try:
            value = self._do(message)
        except CompanionError as error:
            tell(Answer(refused=(str(error), error.exit_status)))
        except Exception as error:
            tell(Answer(failed=f"{type(error).__name__}: {error}".strip(": ")))
        else:
            news = getattr(self._recognizer, "news", None)
            tell(Answer(value, news=() if news is None else tuple(news())))

    def _do(self, message: Any) -> str | Recognition | Spotted | None:
        if self._recognizer is None:
            self._recognizer = self._load(message)
            return self._recognizer.name
        match message:
            case ListenFor(grammar=grammar):
                self._recognizer.listen_for(grammar)
                self._spotter = spotter_of(self._recognizer, grammar)
                return self._recognizer.name
            case Hear(samples=samples, call_sign_needed=needed, number_alone=alone):
                return self._recognizer.recognize(
                    samples, call_sign_needed=needed, number_alone=alone
                )
            case Spot(samples=samples):
                return None if self._spotter is None else self._spotter.spot(samples)
            case Transcribe(samples=samples):
                return self._recognizer.transcribe(samples)
        raise TypeError("no such message")


def main() -> None:
    """Serve the program that started this one."""
    # Imported by its real name: pickles name the module that a message's class comes from.
    from companion.live.recognizer_program import Ears as Named

    serve(Named(lambda wanted: wanted.load()).answer)


if __name__ == "__main__":
    main()
