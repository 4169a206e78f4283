"""The words that change with the job: measures, parts, fluids, conditions, tags and timers."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from companion.errors import CompanionError
from companion.grammar.named import named_by_rule
from companion.grammar.plural import plural
from companion.grammar.short_measures import (
    bare_readings,
    bolts_torqued,
    longer_measures,
    short_readings,
)
from companion.handbook.unit_table import MEASURE_DIMENSIONS, MeasureDimension


@dataclass(frozen=True, slots=True)
class Term:
    """A name and the ways to say it.

    Attributes:
        name: The name that is recorded: singular, lower case, single spaces.
        spoken: Every way to say it in the singular, in lower-case words; the name itself if empty.
        plural: Ways to say it in the plural; formed from ``spoken`` by the usual rule if empty.
    """

    name: str
    spoken: tuple[str, ...] = ()
    plural: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """The words of one loaded job, added to those that are always listened for.

    Attributes:
        measures: For each dimension, what can be measured in it.
        parts: Whatever can be broken, tightened, replaced or needed.
        points: Named points to tick off ("grease point three"); treated as parts by work calls.
        counted: Points to tick off by number ("greased six grease points"); parts like all others.
        fluids: Whatever is drained and added.
        conditions: What can be wrong with a part.
        tags: The texts of "do not start" tags.
        timers: Names of timers.
        steps: Names of the steps of the card.
        units: Of a measure, the one unit that the spec sheet has it in: it may be left out.
        call_sign: The word that opens a call in open-mic mode.
    """

    measures: Mapping[MeasureDimension, tuple[Term, ...]] = field(
        default_factory=lambda: MappingProxyType({})
    )
    parts: tuple[Term, ...] = ()
    points: tuple[Term, ...] = ()
    counted: tuple[Term, ...] = ()
    fluids: tuple[Term, ...] = ()
    conditions: tuple[Term, ...] = ()
    tags: tuple[Term, ...] = ()
    timers: tuple[Term, ...] = ()
    steps: tuple[Term, ...] = ()
    units: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    call_sign: str = "bench"


@dataclass(frozen=True, slots=True)
class _Form:
    """One way to say a name.

    Attributes:
        words: What is said.
        name: What is recorded.
        given: Whether the card or the sheet has it; plurals by rule and the usual words give way.
    """

    words: str
    name: str
    given: bool = True


_WITHOUT_A_SHEET = (
    "public <bare-reading> = <common.speed-measure> <numbers.whole-number> {bare=rpm};",
    "public <short-reading> = <common.speed-measure> <numbers.whole-number> {bare=rpm};",
    "public <longer-measure> = (plug gap | spark plug gap) {measure=gap};",
    "public <short-torque> = <common.torque-measure>;",
)
"""As ``bench.gram`` has them; what may be left out or shortened depends on the sheet."""


def bench_grammar(vocabulary: Vocabulary) -> str:
    """Write the JSGF text that stands in place of ``bench.gram``.

    It has the same public rules. What ``common.gram`` already has is left out; a rule without words
    of its own refers to the one there, since not every JSGF reader understands ``<VOID>``.

    Raises:
        CompanionError: If a term cannot be said as it is written, or two names are said alike.
    """
    rules = [f"public <call-sign> = {_said(vocabulary.call_sign, 'the call sign')} {{call-sign}};"]
    measures: dict[str, list[_Form]] = {
        f"{dimension}-measure": _forms(vocabulary.measures.get(dimension, ()), "measure")
        for dimension in MEASURE_DIMENSIONS
    }
    rules += _rules("measure", measures)
    rules += _rules("fluid", {"fluid-name": _forms(vocabulary.fluids, "fluid")})
    rules += _rules("tag", {"tag-name": _forms(vocabulary.tags, "tag")})
    rules += _rules("timer", {"timer-name": _forms(vocabulary.timers, "timer")})
    named = (*vocabulary.parts, *vocabulary.points, *vocabulary.counted)
    parts = {
        "part": [*_forms(named, "part"), *_by_hand(named), *_usual("usual-part")],
        "parts": [
            *_plurals((*vocabulary.parts, *vocabulary.counted)),
            *_plurals_given(vocabulary.points),
            *_usual("usual-parts"),
        ],
    }
    rules += _rules("part", parts)
    # A name that is its own plural ("brake pads") is one thing where no number is said with it.
    alone = {form.words for form in parts["part"]} | _common_forms("part").keys()
    parts["several"] = [form for form in parts["parts"] if form.words not in alone]
    rules += _rules("part", {"several": parts["several"]}, fallback="parts")
    rules += _sided(parts)
    rules += _rules("step", {"step-name": _forms(vocabulary.steps, "step")})
    conditions = [*_forms(vocabulary.conditions, "condition"), *_usual("usual-condition")]
    rules += _rules("condition", {"condition": conditions})
    rules.append(_tags_alone(_forms(vocabulary.tags, "tag"), parts, conditions))
    if vocabulary.units:
        measured = _measure_forms(vocabulary)
        rules.append(bare_readings(measured, vocabulary.units))
        rules.append(short_readings(measured, vocabulary.units))
        rules += [longer_measures(measured), bolts_torqued(measured)]
    else:
        rules += _WITHOUT_A_SHEET
    return "\n".join(["#JSGF V1.0 UTF-8 en;", "grammar bench;", "", *rules, ""])


def _forms(terms: Iterable[Term], what: str) -> list[_Form]:
    return [
        _Form(_said(words, f"the {what} '{term.name}'"), _recorded(term, what))
        for term in terms
        for words in term.spoken or (term.name,)
    ]


def _by_hand(terms: Iterable[Term]) -> list[_Form]:
    """Names with a side in them, as the side is called too: "left hand pin"."""
    return [
        _Form(f"{side} hand {rest}", term.name, given=False)
        for term in terms
        for words in term.spoken or (term.name,)
        for side, _, rest in (words.partition(" "),)
        if side in ("left", "right") and rest and not rest.startswith("hand ")
    ]


def _usual(rule: str) -> list[_Form]:
    """What any machine may have, from a rule of ``common.gram`` that only this grammar refers
    to."""
    return [_Form(words, name, given=False) for words, name in _common_forms(rule).items()]


def _plurals(terms: Iterable[Term]) -> list[_Form]:
    forms = _plurals_given(terms)
    for term in terms:
        if term.plural:
            continue
        by_rule = [plural(words) for words in term.spoken or (term.name,)]
        forms += [_Form(words, term.name, given=False) for words in by_rule if words is not None]
    return forms


def _plurals_given(terms: Iterable[Term]) -> list[_Form]:
    return [
        _Form(_said(words, f"the plural of the part '{term.name}'"), term.name)
        for term in terms
        for words in term.plural
    ]


def _said(words: str, whose: str) -> str:
    """The words, if each can stand in a grammar and be spoken."""
    if not re.fullmatch(r"[a-z][a-z']*( [a-z][a-z']*)*", words):
        raise CompanionError(
            f"'{words}' for {whose} cannot be listened for; give a spoken form in lower-case words"
            " of letters a to z with single spaces between them, and numbers as words."
        )
    return words


def _recorded(term: Term, what: str) -> str:
    if term.name != " ".join(term.name.lower().split()) or not term.name:
        raise CompanionError(
            f"The {what} '{term.name}' must be named in lower case with single spaces; put other"
            " ways to say it under its spoken forms."
        )
    return term.name


def _rules(key: str, forms: Mapping[str, list[_Form]], fallback: str | None = None) -> list[str]:
    """Rules whose forms must not be said alike unless they mean the same name.

    A rule without forms stands for the one of ``common.gram`` with its name, or with that of
    ``fallback``.
    """
    common = {rule: _common_forms(fallback or rule) for rule in forms}
    meant: dict[str, str] = {}
    for rule in forms:
        meant.update(common[rule])
    for form in (form for rule in forms.values() for form in rule if form.given):
        if meant.setdefault(form.words, form.name) != form.name:
            raise CompanionError(
                f"'{form.words}' is given for the {key} '{form.name}' but means"
                f" '{meant[form.words]}' already; give one of them another spoken form."
            )
    written = []
    for rule, all_forms in forms.items():
        by_name: dict[str, dict[str, None]] = {}
        for form in all_forms:
            if (
                form.words not in common[rule]
                and meant.setdefault(form.words, form.name) == form.name
            ):
                by_name.setdefault(form.name, {})[form.words] = None
        choices = [
            f"({' | '.join(words)}) {{{key}={_escaped(name)}}}" for name, words in by_name.items()
        ]
        said = "\n  | ".join(choices) or f"<common.{fallback or rule}>"
        written.append(f"public <{rule}> = {said};")
    return written


def _tags_alone(
    tags: Sequence[_Form], parts: Mapping[str, list[_Form]], conditions: Sequence[_Form]
) -> str:
    """A rule for the tags that are hung by their name alone.

    Left out are those that say what was done or found ("guard off", "bolts loose"): they are
    recorded as that.
    """
    known = {**_common_forms("part"), **_common_forms("parts")}
    named = known.keys() | {form.words for forms in parts.values() for form in forms}
    wrong = {"off"} | _common_forms("condition").keys() | {form.words for form in conditions}
    forms = dict(_common_forms("tag-name"))
    for form in tags:
        forms.setdefault(form.words, form.name)
    choices = []
    for words, name in forms.items():
        thing, _, state = words.rpartition(" ")
        if not (state in wrong and thing in named):
            choices.append(f"({words}) {{tag={_escaped(name)}}}")
    return f"public <tag-alone> = {_lines(choices)};"


def _measure_forms(vocabulary: Vocabulary) -> Mapping[MeasureDimension, Mapping[str, str]]:
    """What may be measured: by dimension, each way to say it and the measure that it means."""
    forms: dict[MeasureDimension, Mapping[str, str]] = {}
    for dimension in MEASURE_DIMENSIONS:
        said = dict(_common_forms(f"{dimension}-measure"))
        for form in _forms(vocabulary.measures.get(dimension, ()), "measure"):
            said.setdefault(form.words, form.name)
        forms[dimension] = said
    return forms


def _lines(choices: Sequence[str]) -> str:
    return "\n  | ".join(choices)


def _sided(parts: Mapping[str, list[_Form]]) -> list[str]:
    """Rules for a part with its side: "left wheel".

    Where a part has a side in its own name ("front fitting", also said "front grease fitting"),
    that part is meant, and what would say the same is left out after that side.
    """
    every = _common_forms("part").keys() | _common_forms("parts").keys()
    every |= {form.words for forms in parts.values() for form in forms}
    written = []
    for rule, forms in parts.items():
        there = "parts" if rule == "several" else rule
        names = dict(_common_forms(there))
        for form in forms:
            names.setdefault(form.words, form.name)
        choices = []
        free = []
        for side, where in _common_forms("side").items():
            # Of "left front", both "left front guard" and "front guard" may be names.
            opening = [side, *([side.split()[1]] if " " in side else [])]
            # "Right belt" and "drive belt" sound alike over an engine: a plain belt has no side.
            opening.append("drive")
            fitting = {
                words: name
                for words, name in names.items()
                if not any(f"{before} {words}" in every for before in opening)
            }
            if len(fitting) == len(names):
                free.append(f"({side}) {{side={where}}}")
                continue
            said = (f"({words}) {{part={_escaped(name)}}}" for words, name in fitting.items())
            choices.append(f"({side}) {{side={where}}} ({' | '.join(said)})")
        if free:
            choices.insert(0, f"({' | '.join(free)}) (<common.{there}> | <{rule}>)")
        said_so = "\n  | ".join(choices)
        written.append(f"public <sided-{rule}> = {said_so};")
    return written


def _escaped(tag: str) -> str:
    return re.sub(r"([\\{}])", r"\\\1", tag)


def _common_forms(rule: str) -> Mapping[str, str]:
    """What ``common.gram`` has for a rule: what is said, and the name that it means."""
    return named_by_rule("common", rule)
