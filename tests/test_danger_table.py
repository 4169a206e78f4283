"""What every part does to the start under every action and condition that can be called."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.grammar.automaton import every_sentence
from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.files import shipped_grammar
from companion.grammar.linking import link
from companion.grammar.parsing import parse_words
from companion.grammar.spoken import spoken_automaton
from companion.grammar.vocabulary import Term
from companion.intent import intents as it
from companion.job import events as ev
from companion.job.danger_table import ALWAYS_MENDED
from companion.shelf.dangers import TABLE, load_dangers
from companion.shelf.load import load_card, load_sheet, shipped_cards, shipped_sheets
from companion.shelf.rules import shipped_rules
from companion.shelf.words import vocabulary_of
from companion.shipped import shipped
from tests.bench_job import AFFIRM, CLEAR_TO_START, SHEET, Job, added, drained, level, work

TABLE_IN_USE = shipped_rules().dangers

# --- everything that can be called ----------------------------------------------------------------


class Jobs:
    """The words of one job: parts, conditions, and the grammar that they are called in."""

    def __init__(self, card: str | None, sheet: str | None) -> None:
        words = vocabulary_of(
            None if card is None else load_card(card), None if sheet is None else load_sheet(sheet)
        )
        self.grammar: CallGrammar = load_grammar(words)
        terms = (*words.parts, *words.points, *words.counted, *said("common", "part"))
        self.parts = {term.name: _first(term) for term in terms}
        conditions = (*words.conditions, *said("common", "condition"))
        self.conditions = {term.name: _first(term) for term in conditions}

    def hears(self, words: str) -> bool:
        here = self.grammar.walk(words.split())
        return here is not None and self.grammar.is_final(here)

    def can_be_called(self, action: str, part: str) -> bool:
        said_as = SPOKEN.get(action)
        return said_as is not None and self.hears(f"{said_as} {self.parts[part]}")


@cache
def said(grammar: str, rule: str) -> tuple[Term, ...]:
    """What a rule of a shipped grammar names, with a way to say each."""
    linked = link(shipped_grammar(grammar), rule, shipped_grammar)
    spoken: dict[str, list[str]] = {}
    for words in every_sentence(spoken_automaton(linked)):
        node = parse_words(linked, words)[0].nodes[0]
        spoken.setdefault(node.value or " ".join(words), []).append(" ".join(words))
    return tuple(Term(name, tuple(ways)) for name, ways in spoken.items())


def _first(term: Term) -> str:
    return (term.spoken or (term.name,))[0]


SPOKEN = {
    action: words
    for grammar in ("common", "calls")
    for words, action in re.findall(
        r"\(?([a-z ]+?)\)? \{action=(\w+)\}",
        (shipped("grammars") / f"{grammar}.gram").read_text(encoding="utf-8"),
    )
    if action not in ("added", "drained")
}
"""Every action that a work call can name, as it is said."""

JOBS = [
    (None, None),
    *((card, None) for card in shipped_cards()),
    *((None, sheet) for sheet in shipped_sheets()),
    ("four-stroke-service", "quillmoor-tiller"),
]


@cache
def job_of(card: str | None, sheet: str | None) -> Jobs:
    return Jobs(card, sheet)


@pytest.mark.parametrize(("card", "sheet"), JOBS)
def test_whatever_is_called_is_harmless_with_a_reason_or_holds_with_a_way_back(
    card: str | None, sheet: str | None
) -> None:
    job = job_of(card, sheet)
    for part in job.parts:
        mended = [each for each in ALWAYS_MENDED if job.can_be_called(each, part)]
        assert mended, part
        for action in SPOKEN:
            row = TABLE_IN_USE.work(part, action)
            if not job.can_be_called(action, part):
                continue
            if row.harmless is not None:
                assert row.harmless.endswith("."), (part, action)
                continue
            # What the gate says was not called is the first way back, so that one must be heard.
            assert job.can_be_called(row.back[0], part), (part, action)
            assert row.tag is not None
            assert job.hears(f"clear tag {row.tag}"), row.tag
        for condition, spoken in job.conditions.items():
            assert job.hears(f"{job.parts[part]} {spoken}"), (part, condition)
            found = TABLE_IN_USE.found(part, condition)
            assert found.harmless is None or found.harmless.endswith("."), (part, condition)
            assert found.tag is None or job.hears(f"clear tag {found.tag}")


@pytest.mark.parametrize(
    ("said_as", "part"),
    [("raised", "machine"), ("closed", "fuel valve"), ("disconnected", "plug wire")],
)
def test_what_is_said_of_few_parts_is_heard_in_every_job(said_as: str, part: str) -> None:
    for papers in JOBS:
        job = job_of(*papers)
        assert job.hears(f"{said_as} {part}")
        back = SPOKEN[TABLE_IN_USE.work(part, said_as).back[0]]
        assert job.hears(f"{back} {part}")


def test_the_actions_are_those_of_the_grammar() -> None:
    assert SPOKEN["connected"] == "hooked up"
    assert len(SPOKEN) >= 20


def test_removing_or_loosening_whatever_it_is_holds() -> None:
    for papers in JOBS:
        for part in job_of(*papers).parts:
            for action in ("removed", "loosened"):
                assert TABLE_IN_USE.work(part, action).harmless is None, (action, part)


GIVES_WAY = (
    *("cracked", "broken", "leaking", "bent", "loose", "missing", "burnt", "frayed", "sheared"),
    *("torn", "stripped", "melted", "chafed", "swollen", "frozen", "scored", "chipped", "milky"),
    *("pulsing", "stretched", "rough", "noisy", "hard", "seized", "sticking", "stiff"),
)
"""Conditions with which hardly any part may run; trimmer line, which breaks in use, is excepted."""


def test_a_part_that_gives_way_holds_whichever_it_is() -> None:
    for papers in JOBS:
        job = job_of(*papers)
        for part in job.parts:
            for condition in GIVES_WAY:
                if condition not in job.conditions or part == "line":
                    continue
                assert TABLE_IN_USE.found(part, condition).harmless is None, (part, condition)


def test_a_brake_a_guard_a_stop_or_a_control_holds_whatever_is_found() -> None:
    kept = ("brake", "guard", "stop switch", "switch", "governor", "throttle", "linkage", "cable")
    # Nobody says of a guard that it is dull.
    for papers in JOBS:
        job = job_of(*papers)
        for part in job.parts:
            if not any(each in part for each in kept) or part.endswith("bolt"):
                continue
            for condition in job.conditions:
                if condition != "dull":
                    assert TABLE_IN_USE.found(part, condition).harmless is None, (part, condition)


def test_no_finding_is_mended_by_taking_off_loosening_or_looking() -> None:
    # A dipstick that was dry is looked at again once oil is in.
    undoing = {"removed", "loosened", "disconnected", "opened", "raised", "closed", "lowered"}
    for row in TABLE_IN_USE.rows.found:
        assert not undoing & set(row.mended), row
        assert "checked" not in row.mended or row.parts == ("dipstick",)


# --- what the trade knows to be dangerous ---------------------------------------------------------

Story = tuple[it.Intent, ...]


def found(part: str, condition: str) -> it.Finding:
    return it.Finding(part=part, condition=condition)


def _many(action: str, part: str, count: int) -> it.Work:
    return it.Work(action=action, part=part, count=count)


DANGERS: tuple[tuple[str, Story], ...] = (
    ("spark plug", (work("removed", "spark plug"),)),
    ("drain plug", (drained("20"), work("removed", "drain plug"), added("20"), level("full"))),
    *(
        (part, (work("removed", part),))
        for part in (
            *("dipstick", "air filter", "muffler", "throttle cable", "control linkage", "wheel"),
            *("end cover", "outlet", "knife", "hopper", "spark screen", "blade brake", "cord"),
            *("governor spring", "stop switch", "fuel cap", "nozzle", "wand", "harness", "deck"),
            *("discharge chute", "feed curtain", "recoil rope", "trimmer head", "line knife"),
            *("oil filter", "head gasket", "ground wire", "breaker", "drum lock", "valve cover"),
        )
    ),
    *((part, (found(part, "leaking"),)) for part in ("drain plug", "oil seal", "hose", "battery")),
    *((part, (found(part, "missing"),)) for part in ("spark plug", "muffler", "nozzle", "wheel")),
    *((part, (found("guard", how),)) for part, how in (("guard", "cracked"), ("guard", "bent"))),
    *((part, (found(part, "cracked"),)) for part in ("knife", "battery", "fuel tank", "flywheel")),
    *(("brake cable", (found("brake cable", how),)) for how in ("broken", "frayed", "stretched")),
    *(("blade brake", (found("blade brake", how),)) for how in ("failed", "worn", "sticking")),
    ("outlet", (found("outlet", "burnt"),)),
    ("cord", (found("cord", "frayed"),)),
    ("handle bolt", (_many("loosened", "handle bolt", 4), work("tightened", "handle bolt"))),
    # A second bolt is another one; so are pins, wheels and knives.
    ("deck bolt", (*(work("loosened", "deck bolt"),) * 2, work("tightened", "deck bolt"))),
    ("shear pin", (*(work("removed", "shear pin"),) * 2, work("installed", "shear pin"))),
    ("wheel", (*(work("removed", "wheel"),) * 2, work("installed", "wheel"))),
    ("fuel line", (found("fuel line", "cracked"), work("tightened", "fuel line"))),
    (
        "fuel line",
        (
            found("fuel line", "cracked"),
            work("removed", "fuel line"),
            work("installed", "fuel line"),
            AFFIRM,
        ),
    ),
    ("blade bolt", (found("blade bolt", "loose"), work("adjusted", "blade bolt"))),
    ("oil", (drained("20"), added("40"), level("full"), AFFIRM)),
    ("oil", (added("40"), level("full"), AFFIRM)),
    # What looks like mending and is none.
    ("guard", (found("guard", "cracked"), work("installed", "guard"), AFFIRM)),
    ("blade", (found("blade", "bent"), work("sharpened", "blade"))),
    ("blade", (found("blade", "cracked"), work("checked", "blade"))),
    ("brake", (found("brake", "sticking"), work("oiled", "brake"))),
    ("drum bearing", (found("drum bearing", "rough"), work("greased", "drum bearing"))),
    ("spindle", (found("spindle", "seized"), work("greased", "spindle"))),
    ("pump", (found("pump", "frozen"), work("cleaned", "pump"))),
    ("idler spring", (found("idler spring", "stretched"), work("adjusted", "idler spring"))),
    ("battery cable", (work("loosened", "battery cable"), work("adjusted", "battery cable"))),
    ("brake cable", (found("brake cable", "rusted"), work("oiled", "brake cable"))),
    ("deck", (found("deck", "rusted"), work("cleaned", "deck"))),
    ("muffler", (found("muffler", "rusted"), work("cleaned", "muffler"))),
    ("muffler", (found("muffler", "dirty"),)),
    ("oil filter", (found("oil filter", "plugged"), work("cleaned", "oil filter"))),
    ("spark screen", (found("spark screen", "plugged"),)),
    ("battery", (found("battery", "dry"), work("oiled", "battery"))),
    ("dipstick", (found("dipstick", "dry"),)),
    ("grass bag", (found("grass bag", "worn"),)),
    ("oil seal", (found("oil seal", "loose"), work("tightened", "oil seal"))),
    ("wheel pin", (found("wheel pin", "missing"), work("tightened", "wheel pin"))),
    # A part of another name is another part.
    ("belt guard", (work("removed", "belt guard"), work("installed", "guard"))),
    ("blade bolt", (work("removed", "blade bolt"), work("installed", "blade"))),
    ("fuel line", (work("disconnected", "fuel line"), work("installed", "line"))),
    ("fuel filter", (work("removed", "fuel filter"), work("replaced", "filter"))),
    # A bolt that lies in its hole is not tight.
    ("head bolt", (work("removed", "head bolt"), work("installed", "head bolt"))),
    ("wheel bolt", (work("loosened", "wheel bolt"), work("checked", "wheel bolt"))),
    ("plug wire", (work("disconnected", "plug wire"), work("checked", "plug wire"))),
    ("machine", (work("raised", "machine"), work("checked", "machine"))),
    ("fuel valve", (work("closed", "fuel valve"), work("cleaned", "fuel valve"))),
)  # fmt: skip


def test_all_of_them_are_back_only_when_all_are_called_back() -> None:
    all_loose = it.Finding(part="hopper bolt", condition="loose", every=True)
    all_off = it.Work(action="removed", part="knife", every=True)
    job = Job().call(all_loose, work("tightened", "hopper bolt"), CLEAR_TO_START)
    assert job.said.startswith("Do not start. Hopper bolts were called loose")
    job.call(it.Work(action="tightened", part="hopper bolt", every=True), CLEAR_TO_START)
    assert job.last(ev.StartChecked).reasons == ()
    job.call(all_off, _many("installed", "knife", 3), CLEAR_TO_START)
    assert job.against_start == ("tag drive open: knives were removed",)
    job.call(it.Work(action="installed", part="knife", every=True), AFFIRM, CLEAR_TO_START)
    assert job.last(ev.StartChecked).reasons == ()


def _named(danger: tuple[str, Story]) -> str:
    return f"{danger[0]}-{len(danger[1])}"


@pytest.mark.parametrize(("part", "calls"), DANGERS, ids=map(_named, DANGERS))
def test_the_gate_is_shut_and_names_the_part(part: str, calls: Story) -> None:
    job = Job(SHEET).call(*calls, CLEAR_TO_START)
    assert job.asked is None
    assert part in " ".join(job.against_start)
    # However often it is affirmed, and whatever tag is asked for.
    for tag in job.tags:
        job.call(it.TagClear(tag=tag), AFFIRM)
    job.call(CLEAR_TO_START, AFFIRM)
    assert job.all(ev.StartAffirmed) == []
    assert part in " ".join(job.against_start)


def test_three_of_four_are_told_and_each_that_is_tightened_counts() -> None:
    job = Job().call(_many("loosened", "handle bolt", 4), work("tightened", "handle bolt"))
    assert "three of four handle bolts were loosened" in job.call(CLEAR_TO_START).said
    job.call(_many("tightened", "handle bolt", 2), CLEAR_TO_START)
    assert "one of four handle bolts was loosened" in job.said
    job.call(work("tightened", "handle bolt"), AFFIRM, CLEAR_TO_START)
    assert job.asked is not None
    assert job.asked.about == "start"


HARMLESS: tuple[Story, ...] = (
    (found("air filter", "dirty"),),
    (found("spark plug", "fouled"), found("spark plug", "worn"), found("spark plug", "wet")),
    (found("blade", "dull"), work("sharpened", "blade")),
    (found("drive belt", "worn"), found("drive belt", "glazed")),
    (found("tine", "rusted"), found("deck", "dirty"), found("handle bolt", "rusted")),
    (found("battery", "dead"),),
    (found("line", "broken"), found("line", "missing"), found("line", "worn")),
    (found("fuel filter", "plugged"), found("skid shoe", "worn"), found("tire", "worn")),
    tuple(
        work(action, part)
        for action in (
            *("greased", "oiled", "lubricated", "cleaned", "adjusted", "sharpened", "checked"),
            *("soaked", "repaired", "replaced", "installed", "tightened"),
        )
        for part in ("axle", "blade", "air filter", "handle bolt", "throttle cable")
    ),
    (work("opened", "fuel valve"), work("lowered", "machine"), work("connected", "plug wire")),
    (added("2"), level("full")),
    # Each mended as the trade mends it.
    (found("handle bolt", "loose"), work("tightened", "handle bolt")),
    (found("fuel line", "cracked"), work("replaced", "fuel line")),
    (found("blade", "nicked"),),
    (found("throttle cable", "sticking"), work("oiled", "throttle cable")),
    (found("drive belt", "loose"), work("adjusted", "drive belt")),
    (found("spark screen", "plugged"), work("cleaned", "spark screen")),
    (found("tire", "flat"), work("repaired", "tire")),
    (found("muffler bolt", "missing"), work("replaced", "muffler bolt")),
    (found("fuel cap", "missing"), work("installed", "fuel cap")),
    (found("chain", "dry"), work("oiled", "chain")),
    (work("removed", "spark plug"), work("installed", "spark plug"), AFFIRM),
    (work("removed", "muffler"), work("replaced", "muffler"), AFFIRM),
    (found("guard", "cracked"), work("replaced", "guard"), AFFIRM),
    # Over, let out to the mark: nothing has to be put in again.
    (level("over"), drained("3"), level("full"), AFFIRM),
)  # fmt: skip


@pytest.mark.parametrize("calls", HARMLESS, ids=lambda calls: calls[0].intent)
def test_what_is_harmless_or_mended_opens(calls: Story) -> None:
    job = Job(SHEET).call(*calls, CLEAR_TO_START)
    assert job.last(ev.StartChecked).reasons == ()
    assert job.asked is not None
    assert job.asked.about == "start"
    assert job.call(AFFIRM).all(ev.StartAffirmed)


# --- the file -------------------------------------------------------------------------------------

WHOLE = """
[[tag]]
tag = "part off"
why = "It is out."

[[fluid]]
fluid = "oil"
tag = "part off"

[[work]]
actions = ["oiled"]
harmless = "It opens nothing."

[[work]]
left = "off"
back = ["installed"]
tag = "part off"

[[found]]
conditions = ["dull"]
harmless = "It is whole."

[[found]]
"""


def _line(text: str, of: str) -> int:
    return text[: text.index(of)].count("\n") + 1


def test_a_table_can_be_as_short_as_this(tmp_path: Path) -> None:
    path = tmp_path / "dangers.toml"
    path.write_text(WHOLE, encoding="utf-8")
    table = load_dangers(path)
    assert table.work("whatever", "removed").tag == "part off"
    assert table.found("whatever", "cracked").mended_by == ALWAYS_MENDED


@pytest.mark.parametrize(
    ("written", "instead", "reason"),
    [
        ('why = "It is out."', "", "has no 'why'"),
        ('why = "It is out."', 'why = "It is out."\ncolor = "red"', "unknown key 'color'"),
        ('left = "off"', 'left = "gone"', "'left'"),
        ('left = "off"\n', "", "a row that holds needs 'left', 'back' and 'tag'"),
        ('back = ["installed"]\n', "", "a row that holds needs 'left', 'back' and 'tag'"),
        ('harmless = "It opens nothing."', "", "a row that holds needs 'left', 'back' and 'tag'"),
        (
            'harmless = "It opens nothing."',
            'harmless = "It opens nothing."\nleft = "off"',
            "a harmless row has no 'left', 'back' or 'tag'",
        ),
        (
            'actions = ["oiled"]\nharmless = "It opens nothing."',
            'actions = ["oiled"]\nleft = "off"\nback = ["oiled"]\ntag = "part off"',
            "'oiled' both opens and ends it",
        ),
        (
            'harmless = "It is whole."',
            'harmless = "It is whole."\nmended = ["oiled"]',
            "a harmless row has no 'mended' or 'tag'",
        ),
        (
            'back = ["installed"]\ntag = "part off"',
            'back = ["installed"]\ntag = "out"',
            "there is no tag 'out'",
        ),
        ('fluid = "oil"\ntag = "part off"', 'fluid = "oil"\ntag = "dry"', "there is no tag 'dry'"),
        ('[[fluid]]', '[[tag]]\ntag = "part off"\nwhy = "Y."\n[[fluid]]', "listed twice"),
        ('actions = ["oiled"]\n', "", "a row of everything must be the last"),
        ('conditions = ["dull"]\n', "", "a row of everything must be the last"),
        (
            '\n[[found]]\n',
            '\n[[found]]\nparts = ["belt"]\n',
            "the last row must be of every part and hold",
        ),
    ],
)  # fmt: skip
def test_a_wrong_table_is_refused_with_its_line(
    tmp_path: Path, written: str, instead: str, reason: str
) -> None:
    path = tmp_path / "dangers.toml"
    # The last of its kind, where the same stands twice.
    before, _, after = WHOLE.rpartition(written)
    path.write_text(before + instead + after, encoding="utf-8")
    with pytest.raises(CompanionError, match=r"dangers\.toml:\d+: ") as refused:
        load_dangers(path)
    assert reason in str(refused.value)


def test_the_line_that_is_named_is_the_one_that_is_wrong(tmp_path: Path) -> None:
    path = tmp_path / "dangers.toml"
    text = WHOLE.replace(
        'back = ["installed"]\ntag = "part off"', 'back = ["installed"]\ntag = "x"'
    )
    path.write_text(text, encoding="utf-8")
    number = _line(text, 'tag = "x"')
    with pytest.raises(CompanionError, match=rf"dangers\.toml:{number}: "):
        load_dangers(path)


def _tags() -> Iterator[str]:
    yield from (each.tag for each in TABLE_IN_USE.rows.tag)


def test_every_tag_of_the_table_says_why_and_can_be_called_in_every_job() -> None:
    assert load_dangers(TABLE).rows == TABLE_IN_USE.rows
    fluids = {row.tag: row.fluid for row in TABLE_IN_USE.rows.fluid}
    for tag in _tags():
        assert TABLE_IN_USE.why[tag].endswith("."), tag
        for papers in JOBS:
            job = job_of(*papers)
            if tag in fluids and not job.hears(f"drained one pint of {fluids[tag]}"):
                continue
            assert job.hears(f"clear tag {tag}"), (tag, papers)


def test_no_call_clears_every_tag_at_once() -> None:
    job = job_of(None, None)
    for words in ("clear tags", "clear all tags", "clear tag", "clear tag no oil plug wire off"):
        assert not job.hears(words), words
