"""Printing plain text only: names, calls and reasons come from logs and ZIPs of others, and a
terminal takes some characters in them for control codes.

A command prints through this from its first word to its last, so that no sentence has to mind it.
"""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, TextIO, cast

from companion.files.limits import LONGEST_SENTENCE

ORDERS = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)
"""Control characters except tab and line feed, characters that break a line or change the direction
of writing, and lone surrogates, which no encoding can write (file names may hold them)."""
REPLACED = "\ufffd"
"""Stands in place of each of them."""


class PlainText:
    """A stream that writes text without control codes, and that does not fail where nothing can be
    written; all else is passed to the stream below.

    Args:
        below: Where it is written.
        raises: Whether an error is raised at once when the reader went away ("| head").

    Attributes:
        lost: Why not all could be written, or None.
    """

    def __init__(self, below: TextIO, *, raises: bool = False) -> None:
        self.below = below
        self.lost: OSError | ValueError | None = None
        self._raises = raises

    def write(self, text: str) -> int:
        """Write a text and return its length."""
        plain = ORDERS.sub(REPLACED, text)
        with self._kept():
            try:
                self.below.write(plain)
            except UnicodeEncodeError as error:
                # The encoding of this terminal or pipe lacks some of the characters.
                self.below.write(plain.encode(error.encoding, "replace").decode(error.encoding))
        return len(text)

    def flush(self) -> None:
        """Let everything written so far out."""
        with self._kept():
            self.below.flush()

    @contextmanager
    def _kept(self) -> Iterator[None]:
        """Go on where nothing can be written: the work does not depend on whether anybody reads of
        it."""
        try:
            yield
        except (OSError, ValueError) as error:
            if self._raises and isinstance(error, BrokenPipeError):
                raise
            self.lost = self.lost or error
            self.give_up()

    def give_up(self) -> None:
        """Write nothing more, and keep what is still buffered from failing at the end."""
        with suppress(OSError, ValueError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, self.below.fileno())
            os.close(nowhere)

    def writelines(self, lines: list[str]) -> None:
        """Write one after the other."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.below, name)


@contextmanager
def plain_print() -> Iterator[tuple[PlainText, PlainText]]:
    """Let standard output and standard error take text alone.

    Yields:
        The two, to look whether anything was lost.
    """
    out, err = sys.stdout, sys.stderr
    plain_out, plain_err = PlainText(out, raises=True), PlainText(err)
    sys.stdout, sys.stderr = cast(TextIO, plain_out), cast(TextIO, plain_err)
    try:
        yield plain_out, plain_err
    finally:
        with suppress(BrokenPipeError):
            plain_out.flush()
        plain_err.flush()
        sys.stdout, sys.stderr = out, err


def drawn_on(stream: TextIO) -> TextIO:
    """Return the stream below, for whatever draws on a terminal and needs control codes."""
    return stream.below if isinstance(stream, PlainText) else stream


def json_text(value: Any, indent: int | None = None) -> str:
    """Return JSON that is the same wherever it is printed: what would be replaced is escaped."""
    text = json.dumps(value, ensure_ascii=False, indent=indent)
    # The only control character outside a string is the line feed, which is left as it is.
    return ORDERS.sub(lambda found: f"\\u{ord(found.group()):04x}", text)


def whole(text: str) -> str:
    """Return text that any encoding can write: bytes that could not be decoded become a mark
    each."""
    return text.encode("utf-8", "surrogateescape").decode("utf-8", "replace") if text else text


def shortened(sentence: str) -> str:
    """Return a text of several lines with its middle left out in each that is too long."""
    lines = sentence.split("\n")
    if all(len(line) <= LONGEST_SENTENCE for line in lines):
        return sentence
    half = LONGEST_SENTENCE // 2
    return "\n".join(
        line if len(line) <= LONGEST_SENTENCE else f"{line[:half]} … {line[-half:]}"
        for line in lines
    )
