"""What is asked about calls with a number, and what it takes: ``python -m tools.asking``.

Readings and volumes by voices that nothing was fitted on, clean and over an idling engine, each
heard twice. Counted is what becomes of the first hearing, with no sheet, with one whose window the
value is in, and with one that wants the number that sounds like it; how long the questions are, as
they are put and as they would be put about the whole call; and what becomes of those that were not
recorded, where the whole call is said again, or the number alone in answer. Ten minutes.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from statistics import mean

from companion.enroll.fit import Outcome, outcome_of
from companion.files.sound_format import SAMPLE_RATE
from companion.grammar.compiled import load_grammar
from companion.grammar.other_numbers import JOINING, number_words
from companion.intent.decision import decide_utterance
from companion.intent.doubt import SOUND_ALIKE
from companion.intent.intents import Fluid, Intent, Reading
from companion.intent.interpret import understand
from companion.intent.outcome import Decision, Expectation, Listening
from companion.job.events import Asked
from companion.job.state import State
from companion.recognize.choose import choose
from companion.recognize.protocol import Recognition
from companion.shelf.rules import shipped_rules
from companion.speak.questions import question_phrase
from tests.sounds import speak
from tools.hearing.manifest import CLEAN, PACES, PITCHES, Clip, sound_of
from tools.hearing.material import CALLS, OTHER_VOICES, TUNING_VOICES, meaning_of
from tools.hearing.measure import OUTCOMES

CONDITIONS = ((CLEAN, 0.0), ("engine", 10.0), ("engine", 5.0))
BESIDE = 0.1
"""How far the ends of a sheet's window are from the value, as a share of it."""
BESIDE_KELVINS = 5.0
"""The same of a temperature."""
ASKING_VOICE = "us-man"
"""Speaks the questions when their length is measured."""
_ALIKE = {word: other for pair in SOUND_ALIKE for word in pair for other in pair - {word}}


@dataclass(frozen=True, slots=True)
class Said:
    """One call, said twice, and its number alone.

    Attributes:
        call: The call.
        twice: What was heard of it each time.
        number: What was heard of the number.
    """

    call: str
    twice: tuple[Recognition, Recognition]
    number: Recognition


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tools.asking", description=__doc__)
    parser.add_argument("--tuning", action="store_true", help="voices that may be tuned on")
    parser.add_argument("--every", type=int, default=1, metavar="N", help="only every Nth call")
    options = parser.parse_args()
    voices = TUNING_VOICES if options.tuning else OTHER_VOICES
    for noise, level in CONDITIONS:
        said = list(_heard(voices, noise, level, options.every))
        name = noise if noise == CLEAN else f"{noise} {level:.0f} dB"
        print(f"\n{name + ', first hearing':<44}{'calls':>6}{_heads()}")
        for title, listening in SHEETS.items():
            heard = [(each.call, one) for each in said for one in each.twice]
            print(_first(title, heard, listening), flush=True)
        print(f"{'those not recorded, with the window':<44}{'':>6}{_heads()}")
        for title, answers in (("the call again", _again), ("the number alone", _number)):
            for beside in (False, True):
                with_it = "with the first" if beside else "by itself"
                print(_line(f"  {title}, {with_it}", answers(said, beside=beside)), flush=True)


def _heads() -> str:
    return "".join(f"{name:>10}" for name in OUTCOMES)


def _heard(voices: Sequence[str], noise: str, level: float, every: int) -> Iterator[Said]:
    grammar = load_grammar()
    ears = choose()
    ears.listen_for(grammar)
    calls = [call for call in CALLS if isinstance(meaning_of(call, grammar), Reading | Fluid)]
    for turn, voice in enumerate(voices):
        for place, call in enumerate(calls[::every]):

            def clip(said: str, hearing: int, voice: str = voice, at: int = place + turn) -> Clip:
                pace, pitch = PACES[(at + hearing) % 3], PITCHES[(at // 3 + hearing) % 3]
                return Clip(said, voice, noise, level, pace, pitch, at * 7 + 1000 * hearing)

            first, second = (ears.recognize(sound_of(clip(call, hearing))) for hearing in (0, 1))
            alone = ears.recognize(sound_of(clip(_number_in(call), 2)), number_alone=True)
            yield Said(call, (first, second), alone)


def _number_in(call: str) -> str:
    """The words of a call that its number is made of; of an inch or a liter the part of it."""
    inside = number_words(load_grammar()) | JOINING
    words = [word for word in call.split() if word in inside]
    while words[-1:] and words[-1] in JOINING:
        words.pop()
    return " ".join(words)


# --- what is known of the machine ---
def _no_sheet(call: str) -> Listening:
    return Listening(answer_awaited=False)


def _with_window(call: str) -> Listening:
    return Listening(expectations=_window(meaning_of(call, load_grammar())))


def _wants_the_other(call: str) -> Listening | None:
    """With a sheet that wants the number that sounds like the one in the call."""
    other = " ".join(_ALIKE.get(word, word) for word in call.split())
    meant = understand(other, load_grammar(), Listening()).intents
    return None if other == call or not meant else Listening(expectations=_window(meant[0]))


SHEETS: dict[str, Callable[[str], Listening | None]] = {
    "no sheet": _no_sheet,
    "a sheet with the value in its window": _with_window,
    "a sheet that wants the one that sounds alike": _wants_the_other,
}


def _window(meant: Intent) -> dict[str, Expectation]:
    if not isinstance(meant, Reading | Fluid):
        return {}
    value, unit = meant.si.value, meant.si.unit
    far = BESIDE_KELVINS if unit == "K" else BESIDE * abs(value)
    name = meant.measure if isinstance(meant, Reading) else str(meant.fluid)
    if isinstance(meant, Fluid) and meant.action == "drained":
        name = f"{name} drained"
    return {name: Expectation(value - far, value + far, unit)}


# --- what becomes of it ---
def _decided(call: str, heard: Recognition, listening: Listening) -> tuple[Decision, Outcome]:
    grammar = load_grammar()
    decision = decide_utterance(heard, grammar, listening)
    return decision, outcome_of(decision, (meaning_of(call, grammar),))


def _first(
    title: str,
    heard: Sequence[tuple[str, Recognition]],
    listening: Callable[[str], Listening | None],
) -> str:
    counts: Counter[Outcome] = Counter()
    asked: list[Decision] = []
    for call, one in heard:
        known = listening(call)
        if known is None:
            continue
        decision, outcome = _decided(call, one, known)
        counts[outcome] += 1
        if decision.outcome == "ask":
            asked.append(decision)
    line = _line(title, counts)
    if not asked:
        return line
    short = [_question(each) for each in asked]
    whole = [_question(replace(each, figure=None)) for each in asked]
    return (
        f"{line}\n  {len(asked)} questions, {sum(each.figure is not None for each in asked)} about "
        f"the figure alone: {_words(short):.1f} words, {_seconds(short):.1f} s; about the whole "
        f"call {_words(whole):.1f} words, {_seconds(whole):.1f} s"
    )


def _again(said: Sequence[Said], *, beside: bool) -> Counter[Outcome]:
    counts: Counter[Outcome] = Counter()
    for each in said:
        for first, second in (each.twice, each.twice[::-1]):
            listening = _with_window(each.call)
            before, _ = _decided(each.call, first, listening)
            if before.outcome in ("ask", "say-again"):
                hearing = before.hearing if beside else None
                counts[_decided(each.call, second, replace(listening, before=hearing))[1]] += 1
    return counts


def _number(said: Sequence[Said], *, beside: bool) -> Counter[Outcome]:
    counts: Counter[Outcome] = Counter()
    for each in said:
        for first in each.twice:
            listening = _with_window(each.call)
            before, _ = _decided(each.call, first, listening)
            if before.figure is not None:
                answering = replace(
                    listening,
                    answer_awaited=True,
                    doubted=before.intents,
                    before=before.hearing if beside else None,
                )
                counts[_decided(each.call, each.number, answering)[1]] += 1
    return counts


def _line(title: str, counts: Counter[Outcome]) -> str:
    figures = "".join(f"{counts[outcome]:>10}" for outcome in OUTCOMES)
    return f"{title:<44}{sum(counts.values()):>6}{figures}"


# --- how long the questions are ---
def _question(decision: Decision) -> str:
    event = Asked(about="doubt", candidates=decision.intents, figure=decision.figure)
    return question_phrase(State.start(shipped_rules()), event).text


def _words(questions: Sequence[str]) -> float:
    return mean(len(question.split()) for question in questions)


def _seconds(questions: Sequence[str]) -> float:
    return mean(map(_spoken_seconds, questions))


@cache
def _spoken_seconds(question: str) -> float:
    return len(speak(question, ASKING_VOICE)) / SAMPLE_RATE


if __name__ == "__main__":
    main()
