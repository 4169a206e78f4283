"""A new job card: its steps, and everything else that may stand in it, ready to use."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from companion.blanks.kinds import Kind
from companion.blanks.lines import Lines, Value, one_line
from companion.blanks.usual import MEASURES, Cycle, System, example
from companion.files.stem import stem_of

NAME_WORDS = 3
"""How many words of what a step says make its name."""

_LEFT_OUT = frozenset(
    (
        *("a", "an", "the", "of", "and", "or", "to", "it", "its", "is", "on", "off", "in", "out"),
        *("for", "with", "then", "if", "are", "be", "does", "do"),
    )
)
"""Words that say too little to stand in a name."""


@dataclass(frozen=True, slots=True)
class CardAnswers:
    """What is known of a job.

    Attributes:
        name: Lower-case words with hyphens, as its file.
        title: What it is, for the page.
        kinds: Kinds of machines that it is for; empty for any.
        cycle: How their engines work, or None for any.
        system: The units that are liked.
        steps: What is said at each step of the work; one that ends with "?" asks.
        blank: Whether to write no other steps than those.
    """

    name: str
    title: str
    kinds: tuple[Kind, ...] = ()
    cycle: Cycle | None = None
    system: System = "inches"
    steps: tuple[str, ...] = ()
    blank: bool = False


@dataclass(frozen=True, slots=True)
class _Step:
    """A step as it is written.

    Attributes:
        name: Unique on the card.
        say: What is spoken.
        known: What else counts.
        whole: Whether it is of the work itself: the first of these shows all that may stand in one.
    """

    name: str
    say: str
    known: dict[str, Value] = field(default_factory=dict)
    whole: bool = False


def card_text(answers: CardAnswers) -> str:
    """Return the card as TOML; it passes the check as it is, and with any line that stands ready
    put to use."""
    lines = Lines()
    lines.remark(f"Job card: {one_line(answers.title)}.")
    lines.remark(
        "A line that begins with # and no space stands ready: take the # away and put in what this "
        "job needs. What a step says is heard over an engine, so keep it short; 'companion calls' "
        "lists what can be called."
    )
    lines.gap()
    lines.known("name", answers.name)
    lines.known("title", answers.title)
    lines.ready("invented", True, "only for a job that is made up")
    _fits(lines, answers)
    _words(lines, answers)
    steps = _steps(answers)
    whole = next((place for place, step in enumerate(steps) if step.whole), 0)
    for place in range(len(steps)):
        _step(lines, answers, steps, place, whole=place == whole)
    return lines.text()


def _fits(lines: Lines, answers: CardAnswers) -> None:
    fits: dict[str, Value] = {}
    if answers.cycle is not None:
        fits["cycles"] = [answers.cycle]
    if answers.kinds:
        fits["kinds"] = [kind.name for kind in answers.kinds]
    what = "which machines it is for"
    if fits:
        lines.known("fits", fits, what)
    else:
        lines.ready("fits", {"cycles": ["four-stroke"], "kinds": ["mower"]}, what)


def _words(lines: Lines, answers: CardAnswers) -> None:
    """What only this job names, a line each."""
    lines.gap()
    lines.remark(
        "Names that are listened for in this job besides those of every job and of the machine's "
        "sheet: parts, what can be wrong with them, fluids, measures, tags and timers."
    )
    parts: list[dict[str, Value]] = [
        {"name": part} for part in dict.fromkeys(p for k in answers.kinds for p in k.parts)
    ]
    example_part: dict[str, Value] = {
        "name": "handle clamp",
        "spoken": ["handle clamp", "bar clamp"],
        "plural": ["handle clamps"],
    }
    lines.rows("part", [], [*parts, example_part])
    lines.rows("condition", [], [{"name": "warped", "spoken": ["warped", "twisted"]}])
    lines.rows("fluid", [], [{"name": "gear oil", "spoken": ["gear oil", "gear lube"]}])
    wanted: list[dict[str, Value]] = []
    if answers.cycle == "electric" and not answers.blank:
        wanted.append({"name": "motor current", "dimension": "current"})
    torque: dict[str, Value] = {
        "name": "blade torque",
        "dimension": "torque",
        "spoken": ["blade torque", "blade bolt torque"],
    }
    lines.rows("measure", wanted, [torque])
    lines.rows("tag", [], [{"name": "belt off", "spoken": ["belt off", "no belt"]}])
    lines.rows("timer", [], [{"name": "drain", "spoken": ["drain", "oil drain"]}])


# --- steps --------------------------------------------------------------------------------------


def _steps(answers: CardAnswers) -> list[_Step]:
    own = [_own_step(text) for text in answers.steps]
    if answers.blank:
        steps = own or [_Step("take-in", "Look it over, call findings.")]
    else:
        steps = [*_before(answers), *(own or [_EXAMPLE]), *_after(answers)]
    taken: set[str] = set()
    named = []
    for step in steps:
        name, turn = step.name, 2
        while name in taken:
            name, turn = f"{step.name}-{turn}", turn + 1
        taken.add(name)
        named.append(replace(step, name=name))
    return named


_EXAMPLE = _Step("do-the-work", "Write here what is to be done.", whole=True)


def _own_step(text: str) -> _Step:
    known: dict[str, Value] = {}
    say = text
    if text.endswith("?"):
        # The last sentence is the question; what comes before it is only said.
        before, _, asked = text.rpartition(". ")
        say = f"{before}." if before else "Look at it."
        known["asks"] = asked
    words = [word for word in stem_of(text).split("-") if word not in _LEFT_OUT]
    name = "-".join(words[:NAME_WORDS]) or "step"
    called = _called(text)
    if called:
        known["expects"] = called
    return _Step(name, say, known, whole=True)


def _called(text: str) -> list[str]:
    """The measures that every job listens for and that a step wants called: "Call the gap."."""
    found = []
    for said in re.findall(r"\bcall ([^.?!]*)", text.lower()):
        found += [
            measure
            for measure in ALWAYS_HEARD
            if re.search(rf"\b{measure}\b", said)
            and not any(measure != each and measure in each and each in said for each in MEASURES)
        ]
    return list(dict.fromkeys(found))


ALWAYS_HEARD = (
    *("gap", "play", "compression", "tire pressure", "battery", "coil resistance"),
    *("engine speed", "idle speed", "leak down", "output frequency", "engine hours"),
)
"""Measures of the grammar that comes with the program; a step may expect them on any machine."""


def _before(answers: CardAnswers) -> list[_Step]:
    safe = _Step(
        "make-safe",
        "Key out, plug wire off.",
        {"does": [{"action": "disconnected", "part": "plug wire"}], "engine": "stopped"},
    )
    if answers.cycle == "electric":
        safe = _Step("make-safe", "Unplug it, or take its battery out.")
    return [_Step("take-in", "Look it over, call findings."), safe]


def _after(answers: CardAnswers) -> list[_Step]:
    look = _Step(
        "final-look", "Look it over once more.", {"asks": "Is all tight, and nothing left?"}
    )
    over = _Step("hand-over", "Call follow ups and parts needed. Then close the job.")
    if answers.cycle == "electric":
        run = _Step(
            "run-and-test", "Guards on. Run it, call motor current.", {"expects": ["motor current"]}
        )
        return [look, run, over]
    wire = _Step(
        "plug-wire-on",
        "Plug wire on. Look for tools left behind.",
        {"does": [{"action": "connected", "part": "plug wire"}]},
    )
    run = _Step(
        "run-and-test",
        "Call leaks, idle speed, engine speed.",
        {"engine": "running", "expects": ["idle speed", "engine speed"]},
    )
    start = _Step("start-check", "Outdoors, guards on, area clear. Ask: clear to start.")
    return [look, wire, start, run, over]


def _step(
    lines: Lines, answers: CardAnswers, steps: Sequence[_Step], place: int, *, whole: bool
) -> None:
    step = steps[place]
    lines.header("[[step]]")
    if whole and len(steps) > 1:
        lines.remark("This step has every line that may stand in one; the others have the usual.")
    lines.known("name", step.name)
    lines.known("say", step.say)
    for key, value in step.known.items():
        lines.known(key, value)
    for key, value, remark in _ready(answers, steps, place):
        if key not in step.known and (whole or key in USUAL):
            lines.ready(key, value, remark)


USUAL = frozenset(("asks", "cautions", "needs", "wait", "after", "finds", "windows"))
"""Keys that stand ready in every step."""


def _ready(
    answers: CardAnswers, steps: Sequence[_Step], place: int
) -> list[tuple[str, Value, str]]:
    """What may stand in a step besides: key, example, and what it does."""
    step = steps[place]
    said = " ".join(re.findall(r"[a-z]+", step.name))
    found: list[tuple[str, Value, str]] = [
        ("asks", "Is it tight?", "affirm or negative ends the step"),
        ("cautions", ["Fingers off the pulleys."], "spoken with it, once a job"),
        ("engine", "stopped", "or running, cold: how it must be before"),
        ("needs", ["plug wire off"], "tags that must hang before"),
        ("does", [{"action": "removed", "part": "air filter"}], "counts once the step is done"),
        ("hangs", ["no oil"], "tags that hang once it is done"),
        ("clears", ["no oil"], "tags whose clearing is asked for"),
        ("wait", {"timer": "settle", "minutes": 5}, "a timer that it starts"),
        ("expects", ["gap"], "measures to call before it is done"),
        ("points", ["air filter"], "to tick off by calling work on them"),
        ("tally", [{"point": "spark plug", "count": 2}], "to tick off by number"),
        ("parts", [{"name": "spark plug", "count": 1}], "parts that it takes"),
        ("consumables", ["rags"], "what else it uses up"),
        ("only_if", {"listed": "battery"}, "only where the sheet lists it"),
        ("spoken", [said or "this step"], 'ways to say it after "go to step"'),
    ]
    if place > 0:
        found.append(("after", [steps[place - 1].name], "steps that must be done before"))
    if place + 1 < len(steps):
        later: Value = {"when": {"listed": "battery"}, "to": steps[-1].name}
        if "asks" in step.known:
            later = {"when": {"answer": "negative"}, "to": steps[-1].name}
        found.append(("branch", [later], "where it leads, if that holds"))
    if "asks" in step.known:
        bad: Value = {"answer": "negative", "part": "fuel line", "condition": "leaking"}
        found.append(("finds", [bad], "what an answer means"))
    expected = step.known.get("expects")
    if isinstance(expected, list) and expected:
        found.append(("windows", [_window(answers, str(expected[0]))], "where the sheet has none"))
    return found


def _window(answers: CardAnswers, measure: str) -> Value:
    """An example of what a measure should be, on a machine whose sheet does not say."""
    if measure not in MEASURES:
        unit = {"play": "inch", "tire pressure": "psi", "engine hours": "hour"}[measure]
        return {"measure": measure, "unit": unit, "high": 1}
    _, window = example(measure, answers.cycle or "four-stroke", answers.system)
    row: dict[str, Value] = {"measure": measure, "unit": window.unit}
    for key, value in (("low", window.low), ("high", window.high)):
        if value is not None:
            row[key] = value
    return row
