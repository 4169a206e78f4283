"""Inputs made worse: bytes of any kind, and JSON whose values become what no program wrote.

All choices are drawn from a ``random.Random``, so that Hypothesis, atheris and a plain loop can
drive them alike.
"""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from collections.abc import Callable, Sequence
from random import Random
from typing import Any

LONGEST = 60_000
"""Bytes up to which an input may grow: enough for what is too long to be long."""

NUMBERS = (
    *(b"0", b"-1", b"-0", b"0.0", b"00", b"1e999999999", b"-1E+99999999", b"1E-999999", b"NaN"),
    *(
        b"Infinity",
        b"-Infinity",
        b"inf",
        b"nan",
        b"1_000",
        b"0x7fffffff",
        b"9" * 400,
        b"1" + b"0" * 5000,
    ),
    *(
        b"9223372036854775808",
        b"-9223372036854775809",
        b"4294967296",
        b"0." + b"0" * 400 + b"1",
        b"1/0",
    ),
)
"""Numbers on the far side of everything."""

PIECES = (
    *(
        b"\x00",
        b"\xff",
        b"\xfe\xff",
        b"\xef\xbb\xbf",
        b"\xed\xa0\x80",
        b"\xf4\x90\x80\x80",
        b"\r",
        b"\n",
    ),
    *(
        b"\r\n",
        b"\x1b[2J",
        b"\x1b]0;x\x07",
        b"\xe2\x80\xae",
        b"\xc2\x85",
        b"\xe2\x80\xa8",
        b"\t",
        b" " * 300,
    ),
    *(
        b"../" * 8,
        b"/dev/zero",
        b"/etc/passwd",
        b"~root/",
        b"con",
        b"a" * 300,
        b"%s%n",
        b"${x}",
        b"{{7*7}}",
    ),
    *(
        b"[" * 60,
        b"{" * 60,
        b'{"a":' * 60,
        b"(" * 60,
        b"]",
        b"}",
        b'"',
        b"'",
        b'"""',
        b"\\",
        b"\\u0000",
    ),
    *(
        b"\\ud800",
        b"null",
        b"true",
        b"false",
        b"#",
        b"=",
        b"<!--",
        b"<script>",
        b"&amp;",
        b"'; DROP TABLE x",
    ),
    *(
        b"0001-01-01T00:00:00+14:00",
        b"9999-12-31T23:59:59-23:59",
        b"2026-02-30T00:00:00Z",
        b"T",
        b"Z",
    ),
)
"""What readers stumble over."""

Change = Callable[[bytes, Random], bytes]


def worse(
    data: bytes, random: Random, others: Sequence[bytes], words: Sequence[bytes] = ()
) -> bytes:
    """Return an input with one to six changes.

    Args:
        data: To begin with.
        random: Drawn from.
        others: Inputs of the same kind, from which parts are taken.
        words: Words of its kind.
    """
    for _ in range(random.randint(1, 6)):
        change = random.choice(_CHANGES)
        data = change(data, random)
        what = random.randrange(8)
        if what == 0 and others:
            data = _spliced(data, random.choice(others), random)
        elif what == 1 and words:
            data = _put_in(data, random.choice(words), random)
    return data[:LONGEST]


def worse_log(data: bytes, random: Random) -> bytes:
    """Return a log with a few values changed and its chain made whole again, mostly."""
    lines = [json.loads(line) for line in data.splitlines() if line]
    for _ in range(random.randint(1, 4)):
        if not lines:
            break
        at = random.randrange(len(lines))
        what = random.randrange(10)
        if what == 0:
            lines.insert(at, json.loads(json.dumps(random.choice(lines))))
        elif what == 1:
            del lines[at]
        elif what == 2:
            other = random.randrange(len(lines))
            lines[at], lines[other] = lines[other], lines[at]
        else:
            lines[at]["data"] = worse_value(lines[at].get("data", {}), random)
            if random.randrange(12) == 0:
                lines[at] = worse_value(lines[at], random)
    chained = random.randrange(10) > 0
    return chain(lines) if chained else b"".join(_raw(line) + b"\n" for line in lines)


def chain(lines: Sequence[Any]) -> bytes:
    """Return the lines of a log numbered and chained, as whoever forges one would."""
    prev, made = "0" * 64, []
    for number, line in enumerate(lines, start=1):
        if isinstance(line, dict):
            line = {**line, "seq": number, "prev": prev}
        raw = _raw(line)
        prev = hashlib.sha256(raw).hexdigest()
        made.append(raw + b"\n")
    return b"".join(made)


def worse_toml(data: bytes, random: Random) -> bytes:
    """Return TOML with a few values changed, written out anew so that it is TOML still, mostly.

    Raises:
        ValueError: If it is no TOML before.
    """
    content: Any = tomllib.loads(data.decode(), parse_float=str)
    for _ in range(random.randint(1, 3)):
        made = worse_value(content, random)
        content = made if isinstance(made, dict) and made else content
    lines = (f"{json.dumps(key)} = {_in_toml(value)}\n" for key, value in content.items())
    return "".join(lines).encode(errors="replace")


_PLAIN_NUMBER = re.compile(r"-?(0|[1-9]\d*)\.\d+")


def _in_toml(value: Any) -> str:
    if isinstance(value, dict):
        pairs = (f"{json.dumps(key)} = {_in_toml(each)}" for key, each in value.items())
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_in_toml, value)) + "]"
    if isinstance(value, str):
        plain = _PLAIN_NUMBER.fullmatch(value) is not None
        return value if plain else json.dumps(value, ensure_ascii=False)
    return {None: '""', True: "true", False: "false"}.get(value) or str(value)


def worse_value(value: Any, random: Random) -> Any:
    """Return a JSON value with one thing in it changed, however deep."""
    if isinstance(value, dict) and value and random.randrange(8):
        key = random.choice(sorted(value))
        changed = dict(value)
        what = random.randrange(14)
        if what == 0:
            del changed[key]
        elif what == 1:
            changed[key + random.choice(["", "s", "\x00", "_"])] = changed.pop(key)
        elif what == 2:
            changed[random.choice(["seq", "kind", "value", "unit", "of", "extra"])] = _strange(
                random
            )
        else:
            changed[key] = worse_value(value[key], random)
        return changed
    if isinstance(value, list) and value and random.randrange(6):
        at = random.randrange(len(value))
        what = random.randrange(8)
        if what == 0:
            return [*value[:at], *value[at + 1 :]]
        if what == 1:
            return value[: at + 1] * random.choice([2, 50])
        return [*value[:at], worse_value(value[at], random), *value[at + 1 :]]
    if isinstance(value, str) and value and random.randrange(2):
        return _worse_text(value, random)
    return _strange(random)


def _worse_text(text: str, random: Random) -> str:
    at = random.randrange(len(text))
    what = random.randrange(7)
    if what == 0:
        return text[:at]
    if what == 1:
        return text * random.choice([2, 40])
    if what == 2:
        return random.choice(NUMBERS).decode()
    if what == 3:
        return re.sub(r"\d+", lambda _: random.choice(NUMBERS).decode(), text, count=1)
    if what == 4:
        return (
            text[:at] + chr(random.choice([0, 10, 27, 0x202E, 0xD800, 0x1F600, 0x2028])) + text[at:]
        )
    if what == 5:
        return random.choice(PIECES).decode(errors="replace")
    return text[at:] + text[:at]


def _strange(random: Random) -> Any:
    return random.choice(_STRANGE)


_STRANGE: tuple[Any, ...] = (
    *(
        None,
        True,
        False,
        0,
        -1,
        1,
        2,
        3,
        7,
        10**18,
        10**400,
        -(10**30),
        1e308,
        5e-324,
        0.1,
        "",
        " ",
    ),
    *(
        "x",
        "oil",
        "ounce",
        "thou",
        "no such unit",
        "1E+999999999",
        "1e-99999",
        "NaN",
        "9" * 3000,
        "../../x",
    ),
    *(
        "audio/0001.flac",
        "audio/../log.jsonl",
        "/dev/zero",
        "a" * 5000,
        "\x00",
        "\ud800",
        "\x1b[31m",
    ),
    *([], [[]], {}, {"a": {}}, [1, 2, 3], ["x"] * 200, {"value": "1", "unit": "m"}),
    *("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59.999999-14:00", "2026-02-30T00:00:00Z"),
)


def _raw(line: Any) -> bytes:
    return json.dumps(line, ensure_ascii=False, separators=(",", ":")).encode(errors="replace")


# --- bytes ----------------------------------------------------------------------------------------


def _place(data: bytes, random: Random) -> int:
    return random.randint(0, len(data))


def _put_in(data: bytes, piece: bytes, random: Random) -> bytes:
    at = _place(data, random)
    return data[:at] + piece + data[at:]


def _flipped(data: bytes, random: Random) -> bytes:
    if not data:
        return b"\x80"
    at = random.randrange(len(data))
    return data[:at] + bytes([data[at] ^ (1 << random.randrange(8))]) + data[at + 1 :]


def _without_part(data: bytes, random: Random) -> bytes:
    one, other = sorted((_place(data, random), _place(data, random)))
    return data[:one] + data[min(other, one + random.choice([1, 4, 60, 10_000])) :]


def _part_again(data: bytes, random: Random) -> bytes:
    one, other = sorted((_place(data, random), _place(data, random)))
    part = data[one:other][:400]
    return data[:one] + part * random.choice([2, 3, 50]) + data[one:]


def _cut(data: bytes, random: Random) -> bytes:
    return data[: _place(data, random)]


def _piece(data: bytes, random: Random) -> bytes:
    return _put_in(data, random.choice(PIECES), random)


def _number(data: bytes, random: Random) -> bytes:
    found = list(re.finditer(rb"\d+(\.\d+)?", data))
    if not found:
        return _put_in(data, random.choice(NUMBERS), random)
    one = random.choice(found)
    return data[: one.start()] + random.choice(NUMBERS) + data[one.end() :]


def _lines_moved(data: bytes, random: Random) -> bytes:
    lines = data.split(b"\n")
    one, other = random.randrange(len(lines)), random.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def _line_gone(data: bytes, random: Random) -> bytes:
    lines = data.split(b"\n")
    del lines[random.randrange(len(lines))]
    return b"\n".join(lines)


def _spliced(data: bytes, other: bytes, random: Random) -> bytes:
    return data[: _place(data, random)] + other[_place(other, random) :]


_CHANGES: tuple[Change, ...] = (
    *(_flipped, _without_part, _part_again, _cut, _piece, _piece, _number, _number),
    *(_lines_moved, _line_gone),
)
