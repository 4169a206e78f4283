"""Typed calls read from standard input, whatever stands in it: lines of text, not too long.

Bytes are read, not text, because one byte that cannot be decoded would end a text stream for good.
"""

from __future__ import annotations

import codecs
import re
import select
from collections.abc import Iterator
from typing import TextIO

from companion.errors import CompanionError
from companion.files.limits import LONGEST_TYPED, MOST_WITHOUT_END
from companion.plain_print import ORDERS, REPLACED

TOO_LONG = (
    f"A typed line was longer than {LONGEST_TYPED} characters and was left out; type one call a "
    "line."
)
NO_LINES = (
    "What comes on standard input is no text in lines; nothing more is read from it. Type one call "
    "a line."
)
_AT_ONCE = 1 << 16
"""Bytes that are asked for at once."""
_BEGIN_OTHERS = (b"\xff", b"\xfe", b"\0")
"""First byte of a text that may be in UTF-16."""
_END = re.compile("\r\n|\r|\n")


class InputLost(CompanionError):
    """Standard input cannot be read any further."""


def typed_lines(source: TextIO) -> Iterator[str | None]:
    """Yield the lines of an input, each as soon as it has come.

    Lines end with a line feed, a carriage return or both. What is no text becomes a mark, and so
    does every control character. UTF-16 is known by its beginning.

    Yields:
        Each line without its end; None for one that is longer than ``LONGEST_TYPED``.

    Raises:
        InputLost: If it cannot be read any further; says why.
    """
    held, dropping, after_return, dropped = "", False, False, 0
    for text in _texts(source):
        if after_return:
            # The line was already given at its carriage return; a line feed after that belongs to
            # it.
            text = text.removeprefix("\n")
        after_return = text.endswith("\r") if text else after_return
        *ended, rest = _END.split(text)
        for line in ended:
            whole_line, held = held + line, ""
            if dropping or len(whole_line) > LONGEST_TYPED:
                if not dropping:
                    yield None
                dropping, dropped = False, 0
            else:
                yield plain_line(whole_line)
        held = "" if dropping else held + rest
        if len(held) > LONGEST_TYPED:
            held, dropping = "", True
            yield None
        if dropping:
            dropped += len(rest)
            if dropped > MOST_WITHOUT_END:
                raise InputLost(NO_LINES)
    if held:
        yield plain_line(held)


def plain_line(line: str) -> str:
    """Return a typed line without what a terminal would take for an order."""
    return ORDERS.sub(REPLACED, line.replace("\t", " "))


def _texts(source: TextIO) -> Iterator[str]:
    """The input as text, in the pieces in which it comes."""
    blocks = _blocks(source)
    first = next(blocks, b"")
    while first[:1] in _BEGIN_OTHERS and len(first) < 4 and not first.endswith(b"\n"):
        if not (more := next(blocks, b"")):
            break
        first += more
    decoder = codecs.getincrementaldecoder(_encoding(first, source))("replace")
    text = decoder.decode(first)
    yield text.removeprefix("\ufeff")
    for block in blocks:
        yield decoder.decode(block)
    yield decoder.decode(b"", final=True)


def _encoding(first: bytes, source: TextIO) -> str:
    """How an input is to be read: every second byte of plain words in UTF-16 is zero. The mark that
    such a text begins with is not enough, for one in UTF-8 may begin with the same two bytes."""
    marked = first.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    zeros = [byte == 0 for byte in (first[2:4] if marked else first[:2])]
    if zeros == [False, True]:
        return "utf-16-le"
    if zeros == [True, False]:
        return "utf-16-be"
    named = getattr(source, "encoding", None) or "utf-8"
    # Whatever is ASCII is UTF-8 as well.
    return "utf-8" if codecs.lookup(named).name in ("ascii", "utf-8-sig") else named


def _blocks(source: TextIO) -> Iterator[bytes]:
    below = getattr(source, "buffer", None)
    if below is None:
        # There is no stream of bytes below the text stream, as in a notebook.
        yield from iter(lambda: source.read(_AT_ONCE).encode("utf-8", "replace"), b"")
        return
    raw = getattr(below, "raw", below)
    while True:
        try:
            block = raw.read(_AT_ONCE)
            if block is None:
                # Another program that shares this input has made it non-blocking.
                select.select([raw], [], [])
                continue
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or str(error)
            raise InputLost(
                f"Standard input cannot be read any further ({why.lower()}); what was recorded is "
                "safe, go on with 'companion resume'."
            ) from None
        if not block:
            return
        yield block
