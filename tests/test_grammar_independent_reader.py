"""The grammar files, read by an independent JSGF reader: the one in pocketsphinx (PyPI)."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Mapping
from pathlib import Path
from random import Random

import pocketsphinx
import pytest

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.files import shipped_grammar
from companion.grammar.jsgf import parse_jsgf
from companion.grammar.linking import link
from companion.grammar.vocabulary import Term, Vocabulary, bench_grammar
from companion.shipped import shipped

JOB = Vocabulary(
    measures={"length": (Term("tappet gap", ("tappet gap", "valve gap")),)},
    parts=(Term("o-ring", ("o ring",)), Term("gearbox")),
    points=(Term("grease point 3", ("grease point three",)),),
    fluids=(Term("gear oil"),),
    timers=(Term("glue"),),
)


def independent(folder: Path, name: str) -> pocketsphinx.FsgModel:
    """The finite-state grammar that pocketsphinx builds of a public rule of ``calls.gram``, or of
    what that imports."""
    read = pocketsphinx.Jsgf(str(folder / "calls.gram"))
    assert read.get_name() == "calls"
    rule = read.get_rule(name)
    assert rule.is_public()
    return read.build_fsg(rule, pocketsphinx.LogMath(), 1.0)


def assert_drawn_alike(ours: CallGrammar, theirs: pocketsphinx.FsgModel, count: int) -> None:
    """Sentences that we draw are sentences there."""
    random = Random(5)
    for _ in range(count):
        sentence = " ".join(ours.generate(random))
        assert theirs.accept(sentence), sentence


def agreed_on(ours: CallGrammar, theirs: pocketsphinx.FsgModel, count: int) -> Mapping[bool, int]:
    """Near misses, about each of which both agree: how many are sentences, and how many are not."""
    random = Random(6)
    vocabulary = sorted(ours.words)
    agreed = {True: 0, False: 0}
    for _ in range(count):
        sentence = list(ours.generate(random))
        place = random.randrange(len(sentence))
        state = ours.walk(sentence[:place])
        assert state is not None
        near = sorted(ours.arcs(state))
        sentence[place] = random.choice(near if random.random() < 0.7 else vocabulary)
        right = bool(ours.parse(sentence))
        assert bool(theirs.accept(" ".join(sentence))) is right, sentence
        agreed[right] += 1
    return agreed


@pytest.mark.parametrize(
    "name", ["bench", "calls", "common", "conversions", "handbook", "numbers", "units"]
)
def test_each_file_is_read_by_itself(name: str) -> None:
    read = pocketsphinx.Jsgf(str(shipped("grammars") / f"{name}.gram"))
    assert read.get_name() == name


def test_whole_calls_are_read_alike() -> None:
    ours, theirs = load_grammar(), independent(shipped("grammars"), "calls.call")
    assert_drawn_alike(ours, theirs, 400)
    # Both sides were really tried.
    assert min(agreed_on(ours, theirs, 600).values()) > 100


def test_the_words_of_a_job_are_read_alike_rule_by_rule(tmp_path: Path) -> None:
    """Whole calls refer to them as they do to those of the shipped file."""
    folder = tmp_path / "grammars"
    shutil.copytree(shipped("grammars"), folder)
    written = bench_grammar(JOB)
    (folder / "bench.gram").write_text(written, encoding="utf-8")
    job = parse_jsgf(written, "bench.gram")
    agreed = Counter[bool]()
    for name in job.rules:
        ours = CallGrammar(link(job, name, shipped_grammar))
        theirs = independent(folder, f"bench.{name}")
        assert_drawn_alike(ours, theirs, 40)
        agreed.update(agreed_on(ours, theirs, 40))
    assert min(agreed.values()) > 100


def test_that_reader_refuses_what_it_should(tmp_path: Path) -> None:
    # Were it to accept anything, the tests above would say nothing.
    (tmp_path / "calls.gram").write_text("#JSGF V1.0;\ngrammar calls;\npublic <call> = (a;\n")
    with pytest.raises((RuntimeError, ValueError)):
        pocketsphinx.Jsgf(str(tmp_path / "calls.gram"))
