"""What a job card may name: measures, parts, conditions and tags, and the work that is called."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from companion.grammar.files import shipped_grammar
from companion.grammar.jsgf import (
    Alternatives,
    Expansion,
    Optional,
    Reference,
    Sequence,
    Tagged,
    children,
)
from companion.job.card import JobCard
from companion.shelf.common import common_measures, common_names
from companion.shelf.rules import shipped_rules


@dataclass(frozen=True, slots=True)
class CardWords:
    """What the steps of a card may refer to.

    Attributes:
        measures: What each known measure measures.
        parts: Every part that is listened for with this card, whatever the machine.
        conditions: Everything that can be called wrong with them.
        tags: Every tag that can be named.
        place: Place of each step, from 0.
        asking: Names of the steps that ask something.
    """

    measures: Mapping[str, str]
    parts: frozenset[str]
    conditions: frozenset[str]
    tags: frozenset[str]
    place: Mapping[str, int]
    asking: frozenset[str]


def words_of(card: JobCard) -> CardWords:
    """Collect what the steps of a card may refer to.

    What only a spec sheet lists is left out: a card must hold on every machine that it is for.
    """
    return CardWords(
        measures={
            **common_measures(),
            **{measure.name: measure.dimension for measure in card.measure},
        },
        parts=common_names("part")
        | {part.name for part in card.part}
        | {part.name for step in card.step for part in step.parts},
        conditions=common_names("condition") | {each.name for each in card.condition},
        tags=common_names("tag-name") | hung_without_a_step() | {tag.name for tag in card.tag},
        place={step.name: index for index, step in reversed(list(enumerate(card.step)))},
        asking=frozenset(step.name for step in card.step if step.asks is not None),
    )


def hung_without_a_step() -> frozenset[str]:
    """Return the tags that calls hang by themselves."""
    return frozenset(shipped_rules().dangers.why)


@cache
def actions() -> Mapping[str, frozenset[str]]:
    """Return the work that can be called, as the grammar of the calls has it.

    Returns:
        By action, the only parts that it is said of; an empty set where it is said of any part.
    """
    found: dict[str, frozenset[str]] = {}
    for verbs, parts in _verbs_and_parts(Reference("work", 0)):
        for verb in verbs:
            open_to_all = not parts or not found.get(verb, parts)
            found[verb] = frozenset() if open_to_all else found.get(verb, frozenset()) | parts
    return found


def _verbs_and_parts(expansion: Expansion) -> Iterator[tuple[frozenset[str], frozenset[str]]]:
    """Each way to call work: its verbs, and the parts named beside them; none where any will do."""
    match expansion:
        case Alternatives(choices, _) if not all(_is_term(each) for each in choices):
            for choice in choices:
                yield from _verbs_and_parts(choice)
        case Reference(name, _) if name in _rules():
            yield from _verbs_and_parts(_rules()[name])
        case Tagged(item, tags) if not _values(tags, "action"):
            yield from _verbs_and_parts(item)
        case Sequence() | Alternatives() | Optional() | Tagged():
            verbs = frozenset(_tagged(expansion, "action"))
            if verbs:
                yield verbs, frozenset(_tagged(expansion, "part"))


def _is_term(expansion: Expansion) -> bool:
    """Whether this is one verb or one part, and not a whole call."""
    return isinstance(expansion, Tagged) and bool(
        _values(expansion.tags, "action") or _values(expansion.tags, "part")
    )


def _tagged(expansion: Expansion, key: str) -> Iterator[str]:
    if isinstance(expansion, Tagged):
        yield from _values(expansion.tags, key)
    if isinstance(expansion, Reference) and expansion.name in _rules():
        yield from _tagged(_rules()[expansion.name], key)
    for inner in children(expansion):
        yield from _tagged(inner, key)


def _values(tags: Iterable[str], key: str) -> tuple[str, ...]:
    return tuple(tag.removeprefix(f"{key}=") for tag in tags if tag.startswith(f"{key}="))


def _rules() -> Mapping[str, Expansion]:
    """The rules of the plain calls; what is always listened for by its full name."""
    return {
        **{name: rule.expansion for name, rule in shipped_grammar("calls").rules.items()},
        **{
            f"common.{name}": rule.expansion
            for name, rule in shipped_grammar("common").rules.items()
        },
    }
