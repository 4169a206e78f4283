"""The words that a loaded card and sheet add to what is always listened for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from companion.errors import CompanionError
from companion.grammar.vocabulary import Term, Vocabulary
from companion.handbook.unit_table import MEASURE_DIMENSIONS, MeasureDimension
from companion.handbook.units import dimension
from companion.job.card import CardMeasure, CardStep, JobCard
from companion.job.rules import Rules
from companion.job.sheet import SpecFluid, SpecReading, SpecSheet, SpecTerm
from companion.job.sheet_measures import measures
from companion.shelf.common import terms_of_rule
from companion.shelf.rules import shipped_rules


def vocabulary_of(
    card: JobCard | None,
    sheet: SpecSheet | None,
    call_sign: str = "bench",
    rules: Rules | None = None,
) -> Vocabulary:
    """Collect the words of a job.

    Args:
        card: The job card, or None.
        sheet: The machine's spec sheet, or None.
        call_sign: The word that opens a call in open-mic mode.
        rules: Whose tags may hang by themselves; those that travel with the program if None.

    Returns:
        What the card and the sheet name, each name once with every way to say it. With neither, the
        words of the shipped ``bench.gram``, so that a bench without a job still hears the usual.

    Raises:
        CompanionError: If card and sheet give the same measure different dimensions.
    """
    rules = rules or shipped_rules()
    if card is None and sheet is None:
        return _everyday(call_sign, rules)
    card = card or JobCard(name="", title="")
    sheet = sheet or SpecSheet(name="", kind="")
    steps = card.step
    needed = (Term(part.name) for step in steps for part in step.parts)
    parts = _merged(_terms(card.part), _terms(sheet.part), needed)
    points = _merged(Term(point) for step in steps for point in step.points)
    known = {part.name: part for part in parts}
    tallied = _merged(Term(tally.point) for step in steps for tally in step.tally)
    counted = [known.get(each.name, each) for each in tallied]
    fluids = _merged(_terms(card.fluid), _terms(sheet.fluid))
    always_heard = {term.name for term in terms_of_rule("common", "tag-name")}
    all_fluids = (*fluids, *terms_of_rule("common", "fluid-name"))
    return Vocabulary(
        measures=_measures(card.measure, measures(sheet)),
        parts=parts,
        points=tuple(point for point in points if point.name not in known),
        counted=tuple(counted),
        fluids=fluids,
        conditions=_merged(_terms(card.condition), _terms(sheet.condition)),
        tags=_merged(
            _terms(card.tag),
            (Term(tag) for step in steps for tag in (*step.hangs, *step.clears)),
            # A tag that hangs by itself must be listened for, or it could never be cleared.
            (
                Term(tag)
                for tag in rules.dangers.tags_that_may_hang(fluid.name for fluid in all_fluids)
                if tag not in always_heard
            ),
        ),
        timers=_merged(
            _terms(card.timer),
            (Term(step.wait.timer) for step in steps if step.wait is not None),
        ),
        steps=tuple(_step_term(step) for step in steps if _step_term(step).spoken),
        units=_units(sheet),
        call_sign=call_sign,
    )


def _units(sheet: SpecSheet) -> Mapping[str, str]:
    """The unit of each measure that the sheet has in one unit only."""
    units: dict[str, set[str]] = {}
    for each in measures(sheet):
        units.setdefault(each.measure, set()).add(each.unit)
    return {name: unit for name, (unit, *others) in units.items() if not others}


def _terms(specs: Iterable[SpecTerm | SpecFluid]) -> Iterable[Term]:
    for spec in specs:
        yield Term(spec.name, spec.spoken, spec.plural if isinstance(spec, SpecTerm) else ())


def _merged(*several: Iterable[Term]) -> tuple[Term, ...]:
    """Each name once, with every way to say it that any of them gives."""
    by_name: dict[str, Term] = {}
    for term in (term for terms in several for term in terms):
        before = by_name.get(term.name)
        if before is None:
            by_name[term.name] = term
            continue
        spoken: tuple[str, ...] = ()
        if before.spoken or term.spoken:
            # Where only one of them gives other words, the name itself may still be said.
            spoken = _once(before.spoken or (term.name,), term.spoken or (term.name,))
        by_name[term.name] = Term(term.name, spoken, _once(before.plural, term.plural))
    return tuple(by_name.values())


def _once(*several: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words for each in several for words in each))


def _step_term(step: CardStep) -> Term:
    """A step as it is gone to by name; without anything to say where its name holds a digit."""
    name = step.name.replace("-", " ")
    sayable = re.fullmatch(r"[a-z ]+", name) is not None
    return Term(step.name, step.spoken or ((name,) if sayable else ()))


def _measures(
    of_card: Iterable[CardMeasure], of_sheet: Iterable[SpecReading]
) -> Mapping[MeasureDimension, tuple[Term, ...]]:
    by_dimension: dict[MeasureDimension, list[Term]] = {kind: [] for kind in MEASURE_DIMENSIONS}
    meant: dict[str, MeasureDimension] = {}
    named = [
        *((each.name, each.dimension, each.spoken) for each in of_card),
        *((each.measure, measure_dimension(each), each.spoken) for each in of_sheet),
    ]
    for name, kind, spoken in named:
        if meant.setdefault(name, kind) != kind:
            raise CompanionError(
                f"The job card measures '{name}' in units of {meant[name]} but the spec sheet in "
                f"units of {kind}; change one of them."
            )
        by_dimension[kind].append(Term(name, spoken))
    return MappingProxyType({kind: _merged(terms) for kind, terms in by_dimension.items() if terms})


def measure_dimension(reading: SpecReading) -> MeasureDimension:
    """Return what a sheet's measure measures, by its unit.

    Raises:
        CompanionError: If the unit is none that a measure can have.
    """
    kind = next((each for each in MEASURE_DIMENSIONS if each == dimension(reading.unit)), None)
    if kind is None:
        raise CompanionError(f"'{reading.measure}' cannot be measured in {reading.unit}.")
    return kind


def _everyday(call_sign: str, rules: Rules) -> Vocabulary:
    called = terms_of_rule("bench", "tag-name")
    heard = {term.name for term in (*called, *terms_of_rule("common", "tag-name"))}
    fluids = (*terms_of_rule("bench", "fluid-name"), *terms_of_rule("common", "fluid-name"))
    hang = rules.dangers.tags_that_may_hang(fluid.name for fluid in fluids)
    return Vocabulary(
        measures=MappingProxyType(
            {kind: terms_of_rule("bench", f"{kind}-measure") for kind in MEASURE_DIMENSIONS}
        ),
        parts=tuple(
            Term(term.name, term.spoken, plural.spoken if plural else ())
            for term in terms_of_rule("bench", "part")
            for plural in [
                next(
                    (each for each in terms_of_rule("bench", "parts") if each.name == term.name),
                    None,
                )
            ]
        ),
        fluids=terms_of_rule("bench", "fluid-name"),
        conditions=terms_of_rule("bench", "condition"),
        tags=(*called, *(Term(tag) for tag in hang if tag not in heard)),
        timers=terms_of_rule("bench", "timer-name"),
        steps=terms_of_rule("bench", "step-name"),
        call_sign=call_sign,
    )
