"""Hears everything once, and keeps what the fits need: they are then quick and can be repeated."""

from __future__ import annotations

import pickle
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, lru_cache, partial
from pathlib import Path

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.recognize import held
from companion.recognize.clearness import falling, narrow
from companion.recognize.evidence import evidence
from companion.recognize.free import FreeText
from companion.recognize.held import HeldRecognizer
from companion.recognize.weighing import Weighed, weigh
from tools.fit_evidence.material import Kind, Sound, recordings_to_fit, sounds
from tools.hearing.closed import grammar_of
from tools.hearing.cores import every_core

ROOTS = (Path("/"),)


@dataclass(frozen=True)
class Heard:
    """What was found in one sound.

    Attributes:
        kind: What it is.
        said: What was said; empty where nobody spoke.
        called: Whether that was a sentence of the grammar that it was heard with.
        noise: What was heard besides, and how many dB below.
        level: See ``noise``.
        weighed: The sentences found, best first.
        free: The free text.
        transcript: The same in words.
        doubt: How unsure the phonemes are.
        fall: How steeply the sound falls.
        narrow: Whether it has nothing above a telephone's band.
    """

    kind: Kind
    said: str
    called: bool
    noise: str
    level: float
    weighed: tuple[Weighed, ...]
    free: FreeText
    transcript: str
    doubt: float
    fall: float
    narrow: bool


def heard_of(
    people: Path, keep: Path, roots: Sequence[Path] = ROOTS, every: int = 1
) -> list[Heard]:
    """Hear everything, or read what was heard before.

    Args:
        people: People's speech.
        keep: A file for what was heard; read where it is there already.
        roots: Where Debian's packages are installed or unpacked.
        every: Of all sounds only every so many.
    """
    if keep.exists():
        return list(pickle.loads(keep.read_bytes()))
    recordings = recordings_to_fit(roots)
    hear = partial(_hear, people=people, recordings=recordings)
    with every_core() as pool:
        found = [each for each in pool.map(hear, sounds(people, every), chunksize=8) if each]
    keep.write_bytes(pickle.dumps(found))
    return found


def _hear(sound: Sound, people: Path, recordings: Sequence[Path]) -> Heard | None:
    grammar = _grammar(sound.held_to)
    found = _found(sound, people, recordings)
    if found is None:
        return None
    called = sound.kind == "call" or sound.held_to is not None
    assert grammar is not None
    return Heard(sound.kind, sound.said, called, sound.noise, sound.level, *found)


def _found(
    sound: Sound, people: Path, recordings: Sequence[Path]
) -> tuple[tuple[Weighed, ...], FreeText, str, float, float, bool] | None:
    ears, kept = _ears()
    _hold(sound.held_to)
    kept.clear()
    samples = sound.samples(people, recordings)
    ears.recognize(samples)
    return (*kept[0], falling(samples), narrow(samples)) if kept else None


_Kept = list[tuple[tuple[Weighed, ...], FreeText, str, float]]


@cache
def _ears() -> tuple[HeldRecognizer, _Kept]:
    """This process's recognizer, and where it leaves what it found."""
    kept: _Kept = []
    all_weighed: list[tuple[Weighed, ...]] = []

    def keep_weighed(*arguments: object) -> tuple[Weighed, ...]:
        all_weighed[:] = [weigh(*arguments)]  # type: ignore[arg-type]
        return all_weighed[0]

    def keep_evidence(best: Weighed, free: FreeText, transcript: str, doubt: float) -> object:
        kept.append((all_weighed[0], free, transcript, doubt))
        return evidence(best, free, transcript, doubt)

    vars(held)["weigh"] = keep_weighed
    vars(held)["evidence"] = keep_evidence
    return HeldRecognizer(), kept


@lru_cache(maxsize=4)
def _grammar(expansion: str | None) -> CallGrammar:
    return load_grammar() if expansion is None else grammar_of(expansion)


_held: list[str | None] = ["nothing yet"]


def _hold(expansion: str | None) -> None:
    if _held[0] != expansion:
        _ears()[0].listen_for(_grammar(expansion))
        _held[0] = expansion
