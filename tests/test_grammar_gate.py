"""A grammar of somebody else's is refused with one sentence where it is too large, too deep, or
says more than can be held."""

from __future__ import annotations

from pathlib import Path
from time import process_time

import pytest

from companion.cli import main
from companion.files.limits import LARGEST_GRAMMAR

HEAD = "#JSGF V1.0;\ngrammar own;\n"
MOST_SECONDS = 60.0
"""Of the processor; those that had no limit took minutes or the memory."""


def chain(links: int, *, backwards: bool) -> str:
    rules = [f"<r{n}> = <r{n + 1}> x;\n" for n in range(links)]
    rules.append(f"<r{links}> = y;\n")
    return "".join(reversed(rules) if backwards else rules) + "public <call> = <r0>;\n"


def doubled(times: int, first: str, top: str) -> str:
    rules = [f"<r0> = {first};\n", *(f"<r{n}> = <r{n - 1}> <r{n - 1}>;\n" for n in range(1, times))]
    return "".join(rules) + f"public <call> = {top.replace('ALL', f'<r{times - 1}>')};\n"


HOSTILE = {
    "options": f"public <call> = {'[' * 50_000}a{']' * 50_000};",
    "stars": f"public <call> = a{'*' * 100_000};",
    "groups left open": f"public <call> = {'(' * 100_000}a;",
    "a chain of rules": chain(5_000, backwards=False),
    "a chain of rules from its end": chain(5_000, backwards=True),
    "rules that double": doubled(40, "x", "ALL {tag}"),
    "rules that double, with tags": doubled(40, "x {tag}", "ALL"),
    "rules that may be silent": doubled(40, "[x {tag}]", "(ALL)* y"),
    "words that cannot be told apart": f"<ab> = a | b;\n<w> = <ab>* a {'<ab> ' * 25};\n"
    "public <call> = <w>;\n",
    "a long round": f"<x> = {'a ' * 50_000};\npublic <call> = (<x> b)* c;\n",
    "many options repeated": f"public <call> = ({'[a] ' * 20_000})*;",
    "a rule that is itself": "public <call> = a <call>;",
    "a quoted word left open": f'public <call> = "{"a " * 100_000}',
    "a tag left open": f"public <call> = a {{{'a ' * 100_000}",
    "a comment left open": f"public <call> = a; /*{'/*' * 100_000}",
    "an import from elsewhere": "import </etc/passwd.*>;\npublic <call> = a;",
    "an import of no name": f"import <{'n' * 300}.*>;\npublic <call> = a;",
    "a weight of many digits": f"public <call> = /{'9' * 100_000}/ a | /1e999999/ b;",
    "a word of great length": f"public <call> = {'a' * 200_000} = b;",
    "too many bytes": f"public <call> = {'a ' * LARGEST_GRAMMAR};",
    "bytes that are no text": "public <call> = caf\udce9;",
    "zeros": "\0" * 10_000,
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_a_hostile_grammar_costs_one_sentence(
    kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "own.gram"
    path.write_bytes((HEAD + HOSTILE[kind]).encode("utf-8", "surrogateescape"))
    began = process_time()
    status = main(["grammar", "check", str(path)])
    assert process_time() - began < MOST_SECONDS
    err = capsys.readouterr().err
    assert status == 1, err
    assert err.startswith(f"companion: {path}")
    assert len(err.splitlines()) == 1
    assert len(err) < 2_000


def test_grammars_that_import_one_another_without_end(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for number in range(2_000):
        (tmp_path / f"g{number}.gram").write_text(
            f"#JSGF V1.0;\ngrammar g{number};\nimport <g{number + 1}.*>;\npublic <call> = a;\n"
        )
    assert main(["grammar", "check", str(tmp_path / "g0.gram")]) == 1
    assert "imported" in capsys.readouterr().err


def test_a_folder_is_no_grammar(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["grammar", "check", str(tmp_path)]) == 1
    assert str(tmp_path) in capsys.readouterr().err
