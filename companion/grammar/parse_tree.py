"""The tagged tree that parsing a call gives: which expansions matched which words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Node:
    """One tagged expansion of the grammar and the words it matched.

    Attributes:
        key: What stands before ``=`` in the JSGF tag (``measure`` of ``{measure=gap}``), or the
            whole tag (``number`` of ``{number}``).
        value: What stands after ``=``; None where the tag has none, so that the words are the
            value.
        start: Index of the first word matched.
        end: Index one past the last word matched.
        children: Tagged expansions inside this one, in the order of the words.
    """

    key: str
    value: str | None
    start: int
    end: int
    children: tuple[Node, ...] = ()

    def walk(self) -> Iterator[Node]:
        """Yield this node and then every node below it, in the order of the words."""
        yield self
        for child in self.children:
            yield from child.walk()


@dataclass(frozen=True, slots=True)
class Parse:
    """One way in which the grammar accepts a whole sentence.

    Attributes:
        words: The sentence, lower case, a string a word.
        nodes: The outermost tagged expansions, in the order of the words.
    """

    words: tuple[str, ...]
    nodes: tuple[Node, ...]

    def walk(self) -> Iterator[Node]:
        """Yield every tagged expansion, each before those inside it."""
        for node in self.nodes:
            yield from node.walk()

    def first(self, key: str) -> Node | None:
        """Return the first node with this key, or None."""
        return next((node for node in self.walk() if node.key == key), None)

    def all(self, key: str) -> tuple[Node, ...]:
        """Return every node with this key, in the order of the words."""
        return tuple(node for node in self.walk() if node.key == key)

    def text(self, node: Node) -> str:
        """Return the words that ``node`` matched, separated by single spaces."""
        return " ".join(self.words[node.start : node.end])
