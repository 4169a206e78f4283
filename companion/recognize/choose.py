"""Which recognizer to use: the one asked for, or the best one that is installed."""

from __future__ import annotations

import importlib.util
from pathlib import Path

from companion.errors import WrongUse
from companion.installed import to_add_extra
from companion.recognize.protocol import ModelDamaged, Recognizer, RecognizerUnavailable

NAMES = ("auto", "whisper", "vosk")
"""What may be asked for."""


def choose(name: str = "auto", *, model: Path | None = None) -> Recognizer:
    """Load a recognizer.

    Args:
        name: ``whisper``, ``vosk``, or ``auto`` for Whisper where it is installed, else Vosk:
            held to the grammar,
            Whisper heard more than a Vosk grammar, which holds to words alone, can promise.
        model: Folder of its model; with ``auto``, what the folder holds decides.

    Returns:
        Ready but for ``listen_for``; its ``name`` says which it is.

    Raises:
        WrongUse: If there is no recognizer of this name.
        RecognizerUnavailable: If it, or with ``auto`` every one, is missing or broken.
    """
    if name not in NAMES:
        raise WrongUse(f"There is no recognizer '{name}'; use one of: {', '.join(NAMES)}.")
    if name == "auto":
        return _first_that_loads(model)
    return _load(name, model)


def reason(name: str, model: Path | None = None) -> str:
    """Say why ``choose`` took the recognizer that it took, in a few words."""
    if name != "auto":
        return "as asked for"
    if model is not None:
        return "for which the named model is made"
    return f"the first of {' and '.join(NAMES[1:])} that is installed here"


def available() -> list[tuple[str, bool, str]]:
    """Say of each recognizer whether it can be used.

    Returns:
        In the order in which ``auto`` tries them: name, whether its engine and a model are there,
        and a sentence that says what was found or how to get it. Models are looked for, not
        loaded.
    """
    return [_look(name) for name in NAMES if name != "auto"]


def _first_that_loads(model: Path | None) -> Recognizer:
    from companion.recognize.streaming import is_model

    if model is not None:
        return _load("vosk" if is_model(model) else "whisper", model)
    failures = []
    for name in NAMES[1:]:
        try:
            return _load(name, None)
        except RecognizerUnavailable as error:
            failures.append(error)
    for failure in failures:
        if isinstance(failure, ModelDamaged):
            # What was installed is to be mended; how to get the others would only hide that.
            raise failure
    raise RecognizerUnavailable(" ".join(map(str, failures)))


def _load(name: str, model: Path | None) -> Recognizer:
    if name == "whisper":
        from companion.recognize.held import HeldRecognizer

        return HeldRecognizer(model)
    from companion.recognize.streaming import StreamingRecognizer

    return StreamingRecognizer(model)


def _look(name: str) -> tuple[str, bool, str]:
    try:
        return (name, True, _found(name))
    except RecognizerUnavailable as error:
        return (name, False, str(error))


def _found(name: str) -> str:
    if name == "whisper":
        from companion.recognize.model import how_to_get, packaged_folder

        if not (importlib.util.find_spec("ctranslate2") and importlib.util.find_spec("tokenizers")):
            raise RecognizerUnavailable(f"The Whisper recognizer is not installed; {how_to_get()}")
        return f"Whisper held to the grammar, with the model in '{packaged_folder()}'."
    from companion.recognize.streaming import find_model

    if not importlib.util.find_spec("vosk"):
        raise RecognizerUnavailable(
            f"Vosk is not installed; install it with: {to_add_extra('vosk')}"
        )
    return f"Vosk, with the model in '{find_model()}'."
