"""The calls in their one plain form, by family: what a list shows, and what is named to somebody
who was not understood.

A frame is words with slots: ``{part}``. What may stand in a slot is read out of the grammar, and a
frame that the grammar does not have is left out; so nothing here can name a call that is none.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from companion.grammar.compiled import CallGrammar
from companion.grammar.phrases import Words

SLOTS = ("measure", "fluid", "part", "condition", "tag", "timer", "step")
"""What is filled in, by the tag that the grammar has on it."""

_PROVED_BY: Mapping[str, tuple[Words, Words]] = {
    "measure": (("spec", "for"), ()),
    "fluid": (("how", "much", "more"), ()),
    "condition": (("spark", "plug"), ()),
    "tag": (("tag",), ()),
    "timer": (("cancel",), ("timer",)),
    "step": (("go", "to", "step"), ()),
}
"""Words before and after a name of each slot in some call, to try whether the name can stand
there."""

FAMILIES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("record a reading", ("{measure} …",)),
    (
        "record fluid",
        (
            "added …", "drained …", "{fluid} level full", "{fluid} level low", "{fluid} level over",
        ),
    ),
    ("fill it right", ("how much more {fluid}", "{fluid} grade")),
    ("correct", ("correction …", "disregard")),
    (
        "time something",
        ("start {timer} timer", "start timer …", "time left", "cancel {timer} timer", "roger"),
    ),
    ("hang and clear tags", ("tag {tag}", "clear tag {tag}", "read tags")),
    ("ask for the start", ("clear to start",)),
    (
        "follow the card",
        (
            "step done", "next step", "step back", "say step", "skip step", "go to step {step}",
            "what's left",
        ),
    ),
    ("record a finding", ("{part} {condition}", "oil leak", "fuel leak", "smells of gas",
                          "spark weak", "no spark")),
    (
        "record work",
        (
            "checked {part}", "cleaned {part}", "greased {part}", "oiled {part}",
            "lubricated {part}", "tightened {part}", "loosened {part}", "removed {part}",
            "installed {part}", "replaced {part}", "repaired {part}", "adjusted {part}",
            "sharpened {part}", "soaked {part}", "freed {part}", "inflated {part}",
            "opened {part}", "closed {part}", "disconnected {part}", "hooked up {part}",
            "raised machine", "lowered machine",
        ),
    ),
    (
        "keep track of parts",
        ("need {part}", "used {part}", "follow up {part}", "parts for this step", "parts for job"),
    ),
    ("keep a note, or what the customer says", ("note", "complaint")),
    ("tell which machine it is", ("serial number …",)),
    ("answer", ("affirm", "negative")),
    (
        "hear it again",
        (
            "say again", "spec for {measure}", "read back {measure}", "read back {fluid}",
            "read back parts", "read back steps", "read back findings", "read back work",
            "read back follow ups", "read back timers", "read back fluids", "read back readings",
            "read back serial number",
        ),
    ),
    ("know what fits now", ("help",)),
    (
        "ask the handbook",
        (
            "convert …", "torque for …", "wrench for …", "drill for …", "mix …",
            "oil grade for …", "charge for …", "pulley …", "tip speed for …", "frequency at …",
            "displacement …", "advice on compression", "advice on leak down", "say source",
        ),
    ),
    ("tell the engine's state", ("engine running", "engine stopped")),
    ("stop listening, go on", ("stand by", "resume")),
    ("put it aside, finish", ("park job", "close job")),
)  # fmt: skip
"""By what somebody wants to do; ``…`` stands for what follows, mostly a number with its unit."""


@dataclass(frozen=True, slots=True)
class Frame:
    """One plain call of a grammar, with slots.

    Attributes:
        family: What somebody wants to do with it.
        parts: Words, and slots in braces.
        goes_on: Whether something follows that is no slot.
    """

    family: str
    parts: tuple[str, ...]
    goes_on: bool

    @property
    def text(self) -> str:
        """The frame as a list shows it: "tag …"."""
        shown = (part[1:-1].upper() if part.startswith("{") else part for part in self.parts)
        return " ".join((*shown, *(("…",) if self.goes_on else ())))

    @property
    def slots(self) -> tuple[str, ...]:
        """What is filled in."""
        return tuple(part[1:-1] for part in self.parts if part.startswith("{"))

    def filled(self, names: Mapping[str, Words]) -> Words | None:
        """The words with these names in the slots; up to the first slot that none is given for, or
        None where that leaves nothing."""
        words: list[str] = []
        for part in self.parts:
            if not part.startswith("{"):
                words.append(part)
                continue
            name = names.get(part[1:-1])
            if name is None:
                break
            words += name
        return tuple(words) or None


@lru_cache(maxsize=8)
def names_of(grammar: CallGrammar) -> Mapping[str, Mapping[Words, Words]]:
    """By slot, every way to say a name, each with the plain way to say it.

    Args:
        grammar: What may be said.
    """
    named: dict[str, dict[str, list[Words]]] = {slot: {} for slot in SLOTS}
    for phrase in grammar.phrases:
        for tag in phrase.tags:
            key, _, value = tag.partition("=")
            if key in named and not phrase.opening:
                sayings = [each for each in phrase.sayings if _is_name(key, each, grammar)]
                if sayings:
                    named[key].setdefault(value, []).extend(sayings)
    return {
        slot: {said: _plain(name, sayings) for name, sayings in names.items() for said in sayings}
        for slot, names in named.items()
    }


def _is_name(slot: str, said: Words, grammar: CallGrammar) -> bool:
    """Whether a whole call is made of these words, and not only the end of a name ("down")."""
    before, after = _PROVED_BY.get(slot, ((), ()))
    end = grammar.walk((*before, *said, *after))
    return not before or (end is not None and grammar.is_final(end))


def _plain(name: str, sayings: list[Words]) -> Words:
    """The plain way to say a name: as it is recorded, where it can be said so."""
    recorded = tuple(name.replace("-", " ").split())
    return recorded if recorded in sayings else sayings[0]


@lru_cache(maxsize=8)
def frames_of(grammar: CallGrammar) -> tuple[Frame, ...]:
    """The frames that this grammar has, in the order of ``FAMILIES``."""
    found = []
    for family, texts in FAMILIES:
        for text in texts:
            goes_on = text.endswith(" …")
            frame = Frame(family, tuple(text.removesuffix(" …").split()), goes_on)
            if next(_calls(frame, grammar), None) is not None:
                found.append(frame)
    return tuple(found)


def is_plain_call(words: Words, grammar: CallGrammar) -> bool:
    """Whether these words are a call, or the beginning of one."""
    return bool(words) and grammar.walk(words) is not None


def _calls(frame: Frame, grammar: CallGrammar) -> Iterator[Words]:
    """The frame with every plain name in its slots, as far as the grammar has that."""
    names = names_of(grammar)
    choices = [tuple(dict.fromkeys(names[slot].values())) for slot in frame.slots]
    for chosen in product(*choices):
        filled = dict(zip(frame.slots, chosen, strict=True))
        words = frame.filled(filled)
        if words is not None and is_plain_call(words, grammar):
            yield words
