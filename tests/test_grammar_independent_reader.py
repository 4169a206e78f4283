"""The grammar files, read by an independent JSGF reader: the one in pocketsphinx (PyPI)."""

from __future__ import annotations

import shutil
from pathlib import Path
from random import Random

import pocketsphinx
import pytest

from companion.grammar.compiled import CallGrammar, load_grammar
from companion.grammar.vocabulary import Term, Vocabulary, bench_grammar
from companion.shipped import shipped

JOB = Vocabulary(
    measures={"length": (Term("tappet gap", ("tappet gap", "valve gap")),)},
    parts=(Term("o-ring", ("o ring",)), Term("gearbox")),
    points=(Term("grease point 3", ("grease point three",)),),
    fluids=(Term("gear oil"),),
    timers=(Term("glue"),),
)


def independent(folder: Path) -> pocketsphinx.FsgModel:
    """The finite-state grammar that pocketsphinx builds from ``calls.gram`` and its imports."""
    read = pocketsphinx.Jsgf(str(folder / "calls.gram"))
    assert read.get_name() == "calls"
    rule = read.get_rule("calls.call")
    assert rule.is_public()
    return read.build_fsg(rule, pocketsphinx.LogMath(), 1.0)


@pytest.fixture(scope="module", params=["shipped", "job"])
def both(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[CallGrammar, pocketsphinx.FsgModel]:
    """One grammar, read by both readers from the same files."""
    if request.param == "shipped":
        return load_grammar(), independent(shipped("grammars"))
    folder = tmp_path_factory.mktemp("job") / "grammars"
    shutil.copytree(shipped("grammars"), folder)
    (folder / "bench.gram").write_text(bench_grammar(JOB), encoding="utf-8")
    return load_grammar(JOB), independent(folder)


@pytest.mark.parametrize(
    "name", ["bench", "calls", "common", "conversions", "handbook", "numbers", "units"]
)
def test_each_file_is_read_by_itself(name: str) -> None:
    read = pocketsphinx.Jsgf(str(shipped("grammars") / f"{name}.gram"))
    assert read.get_name() == name


def test_sentences_that_we_draw_are_sentences_there(
    both: tuple[CallGrammar, pocketsphinx.FsgModel],
) -> None:
    ours, theirs = both
    random = Random(5)
    for _ in range(400):
        sentence = " ".join(ours.generate(random))
        assert theirs.accept(sentence), sentence


def test_both_agree_on_near_misses(both: tuple[CallGrammar, pocketsphinx.FsgModel]) -> None:
    ours, theirs = both
    random = Random(6)
    vocabulary = sorted(ours.words)
    agreed = {True: 0, False: 0}
    for _ in range(600):
        sentence = list(ours.generate(random))
        place = random.randrange(len(sentence))
        state = ours.walk(sentence[:place])
        assert state is not None
        near = sorted(ours.arcs(state))
        sentence[place] = random.choice(near if random.random() < 0.7 else vocabulary)
        right = bool(ours.parse(sentence))
        assert bool(theirs.accept(" ".join(sentence))) is right, sentence
        agreed[right] += 1
    assert min(agreed.values()) > 100  # both sides were really tried


def test_that_reader_refuses_what_it_should(tmp_path: Path) -> None:
    # Were it to accept anything, the tests above would say nothing.
    (tmp_path / "calls.gram").write_text("#JSGF V1.0;\ngrammar calls;\npublic <call> = (a;\n")
    with pytest.raises((RuntimeError, ValueError)):
        pocketsphinx.Jsgf(str(tmp_path / "calls.gram"))
