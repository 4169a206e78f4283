"""What is asked of the review page, served for real; an answer of "500" is a fault."""

from __future__ import annotations

import contextlib
import re
import socket
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import datetime, timedelta
from random import Random

from tests.logs import MONDAY, invented_job
from tools.fuzz.given import Read, Reader, a_place, places
from tools.fuzz.nasty import NUMBERS, PIECES

WAITED = 1.0
"""Seconds for an answer, after which nothing is to come: what was asked is not whole."""

WAITED_FOR_HALF = 0.05
"""The same where not even the head of a request is whole."""

MOST = 4_000_000
"""Bytes of an answer that are read."""

JOB = b"JOB"
HOST = b"HOST"
SECRET = b"SECRET"
LENGTH = b"LENGTH"
CLIP = b"CLIP"
CALL = b"CALL"
"""What stands in a request for the address of the job, the host, the secret of the page's forms,
the length of the body, a clip and the number of a call: known only once it is served."""


@contextmanager
def served() -> Iterator[Read]:
    from companion.log.photos import add_photo
    from companion.review.reviewer import open_review
    from companion.web.adding import FILES
    from companion.web.review import review_application
    from companion.web.server import serving
    from companion.web.shop import Shop, key_of
    from tests.review_pages import picture

    with ExitStack() as stack:
        folder = stack.enter_context(a_place())
        stack.enter_context(places(folder))
        job = folder / "sessions" / "job"
        invented_job(job)
        add_photo(job, picture(size=(20, 20)), at=MONDAY + timedelta(hours=3))
        shop = Shop([])
        stack.callback(shop.close)
        with open_review(job) as review:
            assert review.grammar, "compiled here, so that no request has to wait for it"
        app = review_application(shop, open_review, lambda: datetime.now().astimezone())
        address = stack.enter_context(serving(app, what="review page", files=FILES))
        host, _, port = address.removeprefix("http://").rstrip("/").partition(":")
        known = {HOST: f"{host}:{port}".encode(), JOB: f"/session/{key_of(job)}".encode()}

        def asked(data: bytes) -> bytes:
            for word, meant in known.items():
                data = data.replace(word, meant)
            data = data.replace(LENGTH, str(len(data.partition(b"\r\n\r\n")[2])).encode())
            return _answer(host, int(port), data)

        page = asked(_get(b"JOB"))
        secret = re.search(rb'name="csrf" value="([^"]+)"', page)
        assert page.startswith(b"HTTP/1.1 200")
        assert secret is not None
        known[SECRET] = secret[1]
        clip, call = (re.search(each, page) for each in (rb"/clip/([\w.]+)", rb"/call/(\d+)"))
        assert clip is not None
        assert call is not None
        known |= {CLIP: clip[1], CALL: call[1]}

        def read(data: bytes) -> bytes:
            came = asked(data)
            assert b"HTTP/1.1 500" not in came, came[:300]
            return came

        yield read


def _answer(host: str, port: int, data: bytes) -> bytes:
    came = b""
    with (
        socket.create_connection((host, port), timeout=20) as asking,
        contextlib.suppress(ConnectionError),
    ):
        asking.sendall(data)
        asking.settimeout(WAITED if b"\r\n\r\n" in data else WAITED_FOR_HALF)
        while len(came) < MOST:
            try:
                part = asking.recv(1 << 16)
            except TimeoutError:
                # What is kept open for another request ends here as well.
                asking.shutdown(socket.SHUT_WR)
                asking.settimeout(20)
                continue
            if not part:
                break
            came += part
            if _is_whole(came):
                break
    return came


def _is_whole(came: bytes) -> bool:
    """Whether an answer that says how long it is has come to its end."""
    head, _, body = came.partition(b"\r\n\r\n")
    length = re.search(rb"(?i)\ncontent-length: *(\d+)", head)
    return length is not None and len(body) >= int(length[1])


def worse_request(data: bytes, random: Random) -> bytes:
    """Return a request with one thing in it that a page reads made worse, and all else right."""
    found = list(re.finditer(rb"(?<=[=/:&?;,\"])[^=/:&?;,\"\r\n ]+", data))
    if not found:
        raise ValueError("nothing to change")
    for one in sorted(random.sample(found, min(2, len(found))), key=lambda each: -each.start()):
        if one[0] in (HOST, SECRET) and random.randrange(8):
            continue
        new = random.choice([*NUMBERS, *PIECES, one[0] * 30, one[0][:-1], b""])
        if random.randrange(2):
            new = b"".join(b"%%%02X" % byte for byte in new)
        data = data[: one.start()] + new + data[one.end() :]
    return data


def _get(path: bytes, more: bytes = b"") -> bytes:
    return b"GET " + path + b" HTTP/1.1\r\nHost: HOST\r\nConnection: close\r\n" + more + b"\r\n"


def _post(path: bytes, kind: bytes, body: bytes) -> bytes:
    return (
        b"POST " + path + b" HTTP/1.1\r\nHost: HOST\r\nOrigin: http://HOST\r\nConnection: close\r\n"
        b"Content-Type: " + kind + b"\r\nContent-Length: LENGTH\r\n\r\n" + body
    )


_FORM = b"application/x-www-form-urlencoded"


def _asked() -> list[bytes]:
    from tests.review_pages import picture

    part = (
        b'--q\r\nContent-Disposition: form-data; name="photo"; filename="a.jpg"\r\n'
        b"Content-Type: image/jpeg\r\n\r\n" + picture(size=(20, 20)) + b"\r\n--q--\r\n"
    )
    return [
        _get(b"/"),
        _get(b"/machines?page=2&status=open&q=oil", b"Cookie: a=b; companion-reviewer=x\r\n"),
        _get(b"/machine/quillmoor-tiller"),
        _get(b"/said?q=oil&from=2026-01-01&page=1", b"Accept: text/html\r\n"),
        _get(b"JOB?family=reading&doubt=1"),
        _get(b"JOB/call/CALL"),
        _get(b"JOB/since?after=3"),
        _get(b"JOB/clip/CLIP", b"Range: bytes=0-100\r\nIf-None-Match: x\r\n"),
        _get(b"JOB/wave/CLIP"),
        _get(b"JOB/photo/82"),
        _post(b"/who", _FORM, b"csrf=SECRET&by=Rosa&back=/"),
        _post(b"JOB/act", _FORM, b"csrf=SECRET&do=right&record=CALL&by=Rosa&last=9"),
        _post(
            b"JOB/act",
            _FORM,
            b"csrf=SECRET&do=correct&record=CALL&text=gap+28&by=Rosa&affirmed=yes",
        ),
        _post(b"JOB/act", _FORM, b"csrf=SECRET&do=note&record=CALL&text=oil&why=heard&by=Rosa"),
        _post(b"JOB/photos?csrf=SECRET&by=Rosa", b"multipart/form-data; boundary=q", part),
        b"POST JOB/photos?csrf=SECRET HTTP/1.1\r\nHost: HOST\r\nTransfer-Encoding: chunked\r\n"
        b"Content-Type: multipart/form-data; boundary=q\r\n\r\n5\r\n--q--\r\n0\r\n\r\n",
    ]


READERS = (Reader("requests (HTTP)", served, _asked, change=worse_request, runs=5_000),)
"""The page that anybody on this machine can ask."""
