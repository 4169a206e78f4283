"""A recognizer in a program of its own, for the tests of what it does to a session.

``python -m tests.ears_program`` serves like ``companion.live.recognizer_program``. What it does
with a sound stands in its first sample: it hears a gap, raises, hangs in a library, or breaks. It
does not load while the folder that it is given as its model is not there.
"""

from __future__ import annotations

import ctypes
from typing import Any

import numpy as np
from numpy.typing import NDArray

from companion.grammar.compiled import CallGrammar
from companion.live.beside import serve
from companion.live.recognizer_program import Ears
from companion.recognize.protocol import Hypothesis, Recognition, RecognizerUnavailable

HEARS, RAISES, HANGS, BREAKS = 0.0, 0.25, 0.5, 0.75


class Engine:
    """Conforms to ``Recognizer``."""

    name = "told what to do"

    def listen_for(self, grammar: CallGrammar) -> None:
        """Every word will do."""

    def recognize(
        self,
        samples: NDArray[np.float32],
        *,
        call_sign_needed: bool = False,
        number_alone: bool = False,
    ) -> Recognition:
        # What engines print goes nowhere.
        print("decoding", flush=True)
        match float(samples[0]):
            case 0.25:
                raise ValueError("bad shape")
            case 0.5:
                ctypes.CDLL(None).pause()
            case 0.75:
                ctypes.string_at(0)
        heard = Hypothesis("gap thirty thou", 0.0, 0.99)
        return Recognition(self.name, (heard,), 0.99, None, 0.1)

    def transcribe(self, samples: NDArray[np.float32]) -> str | None:
        return "gap thirty thou"


def load(wanted: Any) -> Engine:
    """Load it, where its model is."""
    if not wanted.model.is_dir():
        raise RecognizerUnavailable(f"The model in '{wanted.model}' is gone; put it back.")
    return Engine()


def main() -> None:
    """Serve the test that started it."""
    serve(Ears(load).answer)


if __name__ == "__main__":
    main()
