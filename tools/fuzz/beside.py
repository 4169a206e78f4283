"""Files that lie beside a log or in the data folder, and what comes on standard input."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import soundfile

from tests.logs import MONDAY, invented_job, tone
from tools.fuzz.given import Read, Reader, a_data_folder, a_file, a_file_in, a_place, places
from tools.fuzz.nasty import worse_toml

# --- keys, signatures, anchors, tips, lists -------------------------------------------------------


def _signatures(data: Path) -> object:
    from companion.log.signatures import signatures_of

    return [(each.anchor.short, each.anchor.full) for each in signatures_of(data)]


def _signed() -> list[bytes]:
    from companion.log.shop_key import make_key
    from companion.log.signatures import SIGNATURES_NAME, sign_log

    with a_place() as folder, places(folder):
        make_key()
        invented_job(folder / "job")
        assert sign_log(folder / "job", MONDAY) is not None
        return [(folder / "job" / SIGNATURES_NAME).read_bytes()]


def _key(data: Path) -> object:
    from companion.log.shop_key import public_hex, shop_key

    key = shop_key()
    return key and public_hex(key)


def _keys() -> list[bytes]:
    from companion.log.shop_key import KEY_NAME, make_key

    with a_place() as folder, places(folder):
        make_key()
        return [(folder / KEY_NAME).read_bytes()]


@contextmanager
def typed_words() -> Iterator[Read]:
    """What is typed as an anchor or a public key."""
    from companion.log.anchor import Anchor
    from companion.log.shop_key import read_public

    def read(data: bytes) -> object:
        kind, _, text = data.decode(errors="surrogateescape").partition(" ")
        return read_public(text) if kind == "key" else Anchor.read(text)

    yield read


def _tip(data: Path) -> object:
    from companion.log.tip import read_tip

    tip = read_tip(data)
    return tip


def _tips() -> list[bytes]:
    from companion.log.tip import Tip, tip_bytes

    return [tip_bytes(Tip(3, "ab" * 32)), b"000000000003 " + b"ab" * 32 + b"\n"]


def _removed(data: Path) -> object:
    from companion.log.removed import removed_clips

    return removed_clips(data)


def _list(data: Path) -> object:
    from companion.log.other_places import gone, other_places, unread_list
    from companion.log.summaries import list_sessions

    return other_places(data), gone(data), unread_list(data), list_sessions()


def _archive(data: Path) -> object:
    from companion.log.archive import archived

    return archived(data)


def _token(data: Path) -> object:
    from companion.web.board_server import kept_token

    token = kept_token()
    assert token.isascii()
    assert len(token) <= 1024
    return token


@contextmanager
def live() -> Iterator[Read]:
    """What a session that is worked on says of itself, while its lock is held."""
    import os

    from companion.log.in_use import take_live
    from companion.log.live_status import STATUS_NAME, live_status

    with a_place() as folder, a_file_in(folder, STATUS_NAME) as write:
        lock = take_live(folder)
        try:
            yield lambda data: (write(data), live_status(folder))
        finally:
            os.close(lock)


# --- standard input -------------------------------------------------------------------------------


class _Pieces(io.BytesIO):
    """Gives what it holds in small pieces, as a pipe may."""

    def read(self, most: int | None = -1, /) -> bytes:
        return super().read(min(most or 1, 61))


@contextmanager
def standard_input() -> Iterator[Read]:
    """Bytes of any kind, in any pieces."""
    from companion.files.limits import LONGEST_TYPED
    from companion.live.typed_lines import typed_lines
    from companion.plain_print import ORDERS

    def read(data: bytes) -> object:
        whole = list(typed_lines(io.TextIOWrapper(io.BytesIO(data), "utf-8")))
        for line in whole:
            assert line is None or (len(line) <= LONGEST_TYPED and not ORDERS.search(line)), line
        return list(typed_lines(io.TextIOWrapper(_Pieces(data), "ascii")))

    yield read


def _lines() -> list[bytes]:
    text = "gap thirty thou\r\ntag no oil\nvergaser läuft über — 0,7 mm\r"
    return [text.encode(kind) for kind in ("utf-8", "utf-8-sig", "utf-16", "utf-16-be", "cp1252")]


# --- recordings -----------------------------------------------------------------------------------


@contextmanager
def recordings() -> Iterator[Read]:
    """The list of a folder of recordings for ``enroll``."""
    from companion.enroll.page import MANIFEST, from_folder
    from companion.grammar.compiled import load_rules
    from companion.grammar.vocabulary import Vocabulary
    from companion.intent.own_ways import load_with

    grammar, _ = load_with(load_rules(Vocabulary()), (), ("bench",), ())
    with a_place() as folder, a_file_in(folder, MANIFEST) as write:
        for number in range(1, 9):
            soundfile.write(folder / f"{number:02}.wav", tone(0.05), 16_000)
        yield lambda data: (write(data), from_folder(folder, grammar))


def _recorded() -> list[bytes]:
    from companion.enroll.page import PAGE

    return [
        "".join(
            f'[[call]]\nfile = "{number:02}.wav"\nsaid = "{call}"\n'
            for number, call in enumerate(PAGE[:8], start=1)
        ).encode()
    ]


def _call(path: Path) -> object:
    from companion.audio.one_call import read_one_call

    return read_one_call(path)


def _calls() -> list[bytes]:
    made = []
    for seconds, rate, kind, subtype in (
        (0.3, 16_000, "WAV", "PCM_16"),
        (0.2, 44_100, "WAV", "PCM_24"),
        (0.2, 8_000, "WAV", "ULAW"),
        (9.0, 8_000, "OGG", "VORBIS"),
        (0.3, 16_000, "FLAC", "PCM_16"),
    ):
        out = io.BytesIO()
        soundfile.write(out, tone(seconds), rate, format=kind, subtype=subtype)
        made.append(out.getvalue())
    return made


READERS = (
    Reader("standard input", standard_input, _lines),
    Reader(
        "list of sessions",
        partial(a_data_folder, "elsewhere.jsonl", _list),
        lambda: [b'{"path":"/tmp/x","machine":"Quillmoor tiller"}\n"/tmp/y"\n'],
    ),
    Reader(
        "archive", partial(a_data_folder, "archived.json", _archive), lambda: [b'["job","other"]']
    ),
    Reader(
        "state of a live session",
        live,
        lambda: [b'{"v":1,"pid":7,"mode":"listening","at":"2026-03-02T09:15:00+01:00"}\n'],
    ),
    Reader("tips", partial(a_data_folder, "log.tip", _tip), _tips),
    Reader(
        "removed clips",
        partial(a_data_folder, "audio.removed", _removed),
        lambda: [
            json.dumps(
                {"clip": "audio/0001.flac", "at": MONDAY.isoformat(), "sha256": "ab" * 32}
            ).encode()
        ],
    ),
    Reader("signatures", partial(a_data_folder, "log.signatures", _signatures), _signed),
    Reader("key of the shop", partial(a_data_folder, "shop.key", _key), _keys),
    Reader(
        "anchors and public keys",
        typed_words,
        lambda: [b"anchor 142-3f9a-c2d1-88e0-1b7c-90aa", b"key " + b"ab" * 32],
    ),
    Reader(
        "token of the board",
        partial(a_data_folder, "board.token", _token),
        lambda: [b"a" * 43 + b"\n"],
    ),
    Reader("recordings to enroll by (TOML)", recordings, _recorded, change=worse_toml),
    Reader("calls in sound files", partial(a_file, "call.wav", _call), _calls),
)
"""What lies beside a log, and what is typed."""
