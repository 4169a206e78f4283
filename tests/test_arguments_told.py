"""Every public function with several parameters tells what each of them is, with its unit."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import companion

PACKAGE = Path(companion.__file__).parent

SEVERAL = 3
"""From so many parameters on a signature alone no longer says what each is for."""

Function = ast.FunctionDef | ast.AsyncFunctionDef


class Told(NamedTuple):
    """A public function: where it stands, its parameters, and what its docstrings tell."""

    place: str
    parameters: tuple[str, ...]
    docstring: str


def public_functions(tree: ast.Module, file: str) -> Iterator[Told]:
    """Yield the functions of a module and the methods of its classes that others may call."""
    for node in tree.body:
        if isinstance(node, Function):
            if not node.name.startswith("_"):
                yield told(node, file)
        elif isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for method in node.body:
                if isinstance(method, Function) and (
                    method.name == "__init__" or not method.name.startswith("_")
                ):
                    yield told(method, file, node)


def told(function: Function, file: str, owner: ast.ClassDef | None = None) -> Told:
    given = function.args
    named = [each.arg for each in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
    static = any(
        isinstance(each, ast.Name) and each.id == "staticmethod" for each in function.decorator_list
    )
    if owner is not None and not static:
        named = named[1:]
    docstring = ast.get_docstring(function) or ""
    if owner is not None and function.name == "__init__":
        # What a class is made of may be told by the class itself.
        docstring += f"\n{ast.get_docstring(owner) or ''}"
    return Told(f"{file}:{function.lineno}: {function.name}", tuple(named), docstring)


def untold(function: Told) -> tuple[str, ...]:
    """The parameters that no line of the docstring begins with."""
    if len(function.parameters) < SEVERAL:
        return ()
    return tuple(
        name
        for name in function.parameters
        if not re.search(rf"^\s+{name}: \S", function.docstring, re.MULTILINE)
    )


def test_every_public_function_of_several_parameters_tells_of_each() -> None:
    functions = [
        function
        for path in sorted(PACKAGE.rglob("*.py"))
        for function in public_functions(
            ast.parse(path.read_text(encoding="utf-8")), str(path.relative_to(PACKAGE))
        )
    ]
    assert sum(len(each.parameters) >= SEVERAL for each in functions) > 300
    assert [f"{each.place}: {', '.join(untold(each))}" for each in functions if untold(each)] == []


def test_a_parameter_that_is_not_told_is_found() -> None:
    lacking = ast.parse(
        '''
class Bench:
    """A bench.

    Args:
        width: In meters.
    """

    def __init__(self, width: float, depth: float, height: float) -> None:
        """Build it.

        Args:
            depth: In meters.
        """

    def move(self, by: float, to: float) -> None:
        """Move it."""

    @staticmethod
    def count(of: int, by: int, at: int) -> int:
        """Count them.

        Args:
            of: What.
            by:
            at: Where.
        """
'''
    )
    assert [untold(each) for each in public_functions(lacking, "bench.py")] == [
        ("height",),
        (),
        ("by",),
    ]
