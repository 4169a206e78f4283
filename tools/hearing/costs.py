"""What the other ways of each family of calls cost in hearing.

The plain calls are heard with the ways of that family, beside the plain calls alone and all the
ways together.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache, partial

from companion.enroll.fit import Outcome, outcome_of
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.jsgf import Alternatives, Reference, Void
from companion.grammar.linking import LinkedRules
from companion.intent.decision import decide_utterance
from companion.recognize.choose import choose
from companion.recognize.protocol import Recognizer
from tests.sounds import Samples
from tools.hearing import tables
from tools.hearing.cores import every_core
from tools.hearing.manifest import CLEAN, Clip, sound_of
from tools.hearing.material import listening_for, meaning_of

WAYS = "calls.way"
"""The rule whose alternatives are the families of ways."""

FAMILIES: Mapping[str, tuple[str, ...]] = {
    "none: the plain calls": (),
    "readings": ("reading-way",),
    "fluids, levels": ("fluid-way", "level-way", "filling-way"),
    "findings": ("finding-way",),
    "work": ("work-way",),
    "parts, follow ups, notes": ("parts-call-way", "follow-up-way", "note-way", "serial-way"),
    "timers": ("timer-way", "acknowledge-way"),
    "tags, the start": ("tag-way", "start-way"),
    "steps": ("step-way",),
    "answers, corrections, the session": ("correction-way", "plain-way", "help-way"),
    "questions": ("measure-ask", "readback-way", "spec-way", "handbook-way"),
    "all": ("*",),
}
"""What stands beside the plain calls in each measurement."""


@dataclass(frozen=True, slots=True)
class Cost:
    """What one grammar made of the clips.

    Attributes:
        words: Of the grammar.
        states: Of its automaton.
        outcomes: By condition ("clean", "10 dB") and clip.
        seconds: Of processor time, spent on recognizing.
    """

    words: int
    states: int
    outcomes: Mapping[str, tuple[Outcome, ...]]
    seconds: float


def grammar_with(families: Sequence[str]) -> CallGrammar:
    """The shipped grammar with only these families of ways."""
    rules = load_grammar().rules
    ways = rules.expansions[WAYS]
    assert isinstance(ways, Alternatives)
    kept = tuple(
        choice
        for choice in ways.choices
        if isinstance(choice, Reference)
        and ("*" in families or choice.name.rpartition(".")[2] in families)
    )
    ways_kept = Alternatives(kept, (1.0,) * len(kept)) if kept else Void()
    return CallGrammar(LinkedRules(rules.top, {**rules.expansions, WAYS: ways_kept}))


def costs(clips: Sequence[Clip], recognizer: str) -> Iterator[tuple[str, Cost]]:
    """Measure each family in turn, on every core."""
    with every_core() as pool:
        for name in FAMILIES:
            grammar = grammar_with(FAMILIES[name])
            found = pool.map(partial(_hear, family=name, recognizer=recognizer), clips, chunksize=8)
            outcomes: dict[str, list[Outcome]] = {}
            seconds = 0.0
            for clip, (outcome, spent) in zip(clips, found, strict=True):
                condition = CLEAN if clip.noise == CLEAN else f"{clip.level:.0f} dB"
                outcomes.setdefault(condition, []).append(outcome)
                seconds += spent
            yield (
                name,
                Cost(
                    len(grammar.words),
                    len(grammar.automaton.arcs),
                    {condition: tuple(each) for condition, each in outcomes.items()},
                    seconds,
                ),
            )


def table(found: Mapping[str, Cost]) -> str:
    """A row a family: how large the grammar is, and how it hears against the plain calls alone."""
    plain = next(iter(found.values()))
    headings = (
        "with the ways of", "words", "states", "clean, recorded", "recorded or rightly asked",
        "10 dB, recorded", "recorded or rightly asked", "wrong", "decoding",
    )  # fmt: skip
    rows = []
    for name, cost in found.items():
        shares = [
            f"{100 * _share(cost.outcomes[condition], kinds):.1f} %"
            for condition in (CLEAN, "10 dB")
            for kinds in (("right",), ("right", "asked"))
        ]
        wrong = sum(outcome == "wrong" for each in cost.outcomes.values() for outcome in each)
        rows.append(
            (
                name,
                str(cost.words),
                str(cost.states),
                *shares,
                str(wrong),
                f"{cost.seconds / plain.seconds:.2f}",
            )
        )
    return tables.table(headings, rows)


def _share(outcomes: Sequence[Outcome], kinds: Sequence[str]) -> float:
    return sum(outcome in kinds for outcome in outcomes) / max(1, len(outcomes))


@cache
def _ears(recognizer: str) -> Recognizer:
    return choose(recognizer)


@lru_cache(maxsize=1)
def _held_to(family: str, recognizer: str) -> tuple[Recognizer, CallGrammar]:
    """This process's recognizer, listening for the plain calls and a family of ways."""
    grammar = grammar_with(FAMILIES[family])
    ears = _ears(recognizer)
    ears.listen_for(grammar)
    return ears, grammar


def _hear(clip: Clip, family: str, recognizer: str) -> tuple[Outcome, float]:
    ears, grammar = _held_to(family, recognizer)
    sound = _sound(clip)
    began = time.process_time()
    recognition = ears.recognize(sound)
    spent = time.process_time() - began
    decision = decide_utterance(recognition, grammar, listening_for(clip.said))
    return outcome_of(decision, (meaning_of(clip.said, grammar),)), spent


@cache
def _sound(clip: Clip) -> Samples:
    return sound_of(clip)
