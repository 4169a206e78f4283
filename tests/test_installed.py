"""What the program prints holds wherever it is installed, in a checkout or far from one."""

from __future__ import annotations

import ast
import importlib.metadata
import importlib.util
import re
import shlex
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from companion.installed import to_add, to_add_extra, to_mend

ROOT = Path(__file__).parent.parent
EXTRAS = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"][
    "optional-dependencies"
]

ONLY_IN_A_CHECKOUT = re.compile(
    r"checkout|\.venv|pip install|pipx |README|DEVELOPERS|\bdocs/|models_readme|\btests[./]|"
    r"demo_sessions[/.]|"
    r"\bpyproject|\[(whisper|vosk|sphinx|parquet)\]"
)


# --- the command that brings a package ---
def test_beside_pip_the_command_names_this_interpreter() -> None:
    command = shlex.split(to_add("espeakng-loader"))
    assert command == [sys.executable, "-m", "pip", "install", "espeakng-loader"]
    assert shlex.split(to_mend("pocketsphinx==5.1.1")) == [
        *command[:4],
        "--force-reinstall",
        "--no-deps",
        "pocketsphinx==5.1.1",
    ]


def test_in_an_environment_of_pipx_the_command_is_one_of_pipx(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = tmp_path / "bench-companion"
    kept.mkdir()
    (kept / "pipx_metadata.json").write_text("{}")
    monkeypatch.setattr(sys, "prefix", str(kept))
    assert to_add("vosk>=0.3.45") == 'pipx runpip bench-companion install "vosk>=0.3.45"'


def test_in_an_environment_without_pip_the_command_is_one_of_uv(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    assert shlex.split(to_add("vosk>=0.3.45")) == [
        *("uv", "pip", "install", "--python", sys.executable, "vosk>=0.3.45")
    ]


@pytest.mark.parametrize("folder", ["two words", "quo'ted", 'dou"ble', "dollar$HOME", "plain"])
def test_a_path_is_one_word_for_the_shell(folder: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", f"/srv/{folder}/python")
    assert shlex.split(to_add("vosk"))[0] == f"/srv/{folder}/python"


@pytest.mark.parametrize("extra", ["whisper", "vosk", "sphinx", "parquet"])
def test_an_extra_is_named_by_what_it_is_made_of(extra: str) -> None:
    named = shlex.split(to_add_extra(extra))[4:]
    assert {str(Requirement(each)) for each in named} == {
        str(Requirement(each)) for each in EXTRAS[extra]
    }


def test_where_nothing_is_known_of_the_installation_the_extra_itself_is_named(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def unknown(name: str) -> None:
        raise importlib.metadata.PackageNotFoundError(name)

    monkeypatch.setattr(importlib.metadata, "requires", unknown)
    assert shlex.split(to_add_extra("vosk"))[4:] == ["bench-companion[vosk]"]


# --- everything that is printed ---
def sentences(path: Path) -> Iterator[tuple[int, str]]:
    """The strings of a module that are no docstring, with their lines."""
    tree = ast.parse(path.read_text("utf-8"))
    told = {
        id(statement.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        for statement in node.body
        if isinstance(statement, ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
            yield node.lineno, node.value


def test_nothing_printed_speaks_of_what_only_a_checkout_has() -> None:
    package = ROOT / "companion"
    found = [
        f"{path.relative_to(ROOT)}:{line}: {text}"
        for path in sorted(package.rglob("*.py"))
        if ONLY_IN_A_CHECKOUT.search(path.read_text("utf-8"))
        for line, text in sentences(path)
        if ONLY_IN_A_CHECKOUT.search(text)
    ]
    assert found == []


@pytest.mark.parametrize("kind", ["*.html", "*.js", "*.toml", "*.j2"])
def test_no_page_or_table_does(kind: str) -> None:
    found = [
        str(path.relative_to(ROOT))
        for path in sorted((ROOT / "companion").rglob(kind))
        if re.search(r"\.venv|pip install|models_readme|DEVELOPERS", path.read_text("utf-8"))
    ]
    assert found == []
