"""What the server of the pages stands: floods, drips, giants, and the end of its file handles."""

from __future__ import annotations

import contextlib
import os
import re
import resource
import socket
import struct
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import httpx
import pytest
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from companion.web import server
from companion.web.guard import BODY_BYTES
from companion.web.pages import application
from companion.web.peer import user_of
from companion.web.server import CONNECTIONS, serving
from tests.review_pages import environment_of, typed

FLOOD = 300


async def _seen(request: Request) -> PlainTextResponse:
    return PlainTextResponse(f"Seen {request.url.path}.")


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    app = application([Route("/", _seen), Route("/second", _seen)])
    with serving(app, what="page") as at:
        yield at


def connected(address: str, begun: bytes = b"") -> socket.socket:
    host, port = address[7:-1].split(":")
    opened = socket.create_connection((host, int(port)), timeout=20)
    # One of a flood may be closed again already.
    with contextlib.suppress(ConnectionError):
        opened.sendall(begun)
    return opened


def answer(connection: socket.socket) -> bytes:
    """Everything that comes until the other side closes; what is reset counts as closed."""
    came = b""
    try:
        while piece := connection.recv(65_536):
            came += piece
    except ConnectionError:
        pass
    return came


def half_open(address: str) -> tuple[bytes, ...]:
    """What whoever only holds a connection sends of a request."""
    own = address[7:-1].encode()
    form = b"POST / HTTP/1.1\r\nHost: " + own + b"\r\nOrigin: http://" + own
    return (
        b"",
        b"GET",
        b"GET / HTTP/1.1\r\nHost: ",
        form + b"\r\nContent-Length: 99\r\n\r\nabc",
        form + b"\r\nTransfer-Encoding: chunked\r\n\r\n3\r\nabc\r\n",
    )


def test_three_hundred_that_hold_a_connection_keep_nobody_waiting(address: str) -> None:
    begun = half_open(address)
    with ExitStack() as kept, httpx.Client(base_url=address, timeout=10) as client:
        for number in range(FLOOD):
            kept.enter_context(connected(address, begun[number % len(begun)]))
        for _ in range(10):
            # On a connection of its own each time, as somebody who comes only now.
            assert httpx.get(address, timeout=5).status_code == 200
        # Nor is one that is in use closed for those that come.
        assert client.get("/").status_code == 200
        for number in range(FLOOD):
            kept.enter_context(connected(address, begun[number % len(begun)]))
            if number % 50 == 0:
                assert client.get("/").status_code == 200


def test_no_more_are_held_than_are_served(address: str) -> None:
    here = Path("/proc/self/fd")
    if not here.is_dir():
        pytest.skip("open files cannot be counted here")
    before = len(list(here.iterdir()))
    with ExitStack() as kept:
        for _ in range(FLOOD):
            kept.enter_context(connected(address))
        assert httpx.get(address).status_code == 200
        # Ours, and the other ends of those that are held.
        assert len(list(here.iterdir())) - before - FLOOD <= CONNECTIONS + 8


def test_a_form_that_is_on_its_way_is_let_in_before_those_who_send_nothing(address: str) -> None:
    own = address[7:-1].encode()
    head = b"POST / HTTP/1.1\r\nHost: " + own + b"\r\nOrigin: http://" + own
    with ExitStack() as kept:
        form = kept.enter_context(connected(address, head + b"\r\nContent-Length: 9\r\n\r\ncsrf"))
        for _ in range(FLOOD):
            kept.enter_context(connected(address, b"GET"))
        form.sendall(b"=none")
        # It is refused for what is in it, and not for the flood.
        assert b"before the program was started again" in answer(form)


@pytest.mark.parametrize("kind", range(5))
def test_a_request_that_drips_is_closed_in_its_time(
    kind: int, address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(server, "REQUEST_SECONDS", 0.4)
    began = time.monotonic()
    with connected(address, half_open(address)[kind]) as drip:
        drip.settimeout(0.05)
        while time.monotonic() - began < 10:
            try:
                # A drop now and then is no reason to wait on.
                drip.sendall(b"1" if kind < 3 else b"")
                if not drip.recv(4096):
                    break
            except TimeoutError:
                continue
            except ConnectionError:
                break
        assert time.monotonic() - began < 5


@pytest.mark.parametrize(
    "head",
    [
        b"GET / HTTP/1.1\r\nHost: {own}\r\nX: " + b"x" * 200_000,
        b"GET /" + b"y" * 200_000 + b" HTTP/1.1\r\nHost: {own}\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: {own}\r\n" + b"A: b\r\n" * 30_000,
        b"GET / HTTP/1.1\r\nHost: {own}\r\nContent-Length: -1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: {own}\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: {own}\r\nTransfer-Encoding: chunked\r\n\r\n%b\r\n" % (b"f" * 40),
        b"GET / HTTP/1.1\r\nHost : {own}\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        b"\x00" * 70_000,
    ],
    ids=["header", "address", "headers", "length below zero", "two lengths", "chunk", "space",
         "tls", "http2", "zeros"],
)  # fmt: skip
def test_a_request_that_is_none_is_refused_and_nothing_is_said_of_it(
    head: bytes, address: str, capfd: pytest.CaptureFixture[str]
) -> None:
    with connected(address, head.replace(b"{own}", address[7:-1].encode())) as opened:
        said = answer(opened)
    assert b"Seen" not in said
    assert said == b"" or said.split()[1] in (b"400", b"403", b"405", b"431")
    assert httpx.get(address).status_code == 200
    assert capfd.readouterr().err == ""


def test_a_body_without_end_is_cut_off(address: str) -> None:
    own = address[7:-1].encode()
    head = b"POST / HTTP/1.1\r\nHost: " + own + b"\r\nOrigin: http://" + own
    sent = 0
    with connected(address, head + b"\r\nContent-Length: 99999999999\r\n\r\n") as opened:
        try:
            while sent < 200 * BODY_BYTES:
                sent += opened.send(b"x" * 65_536)
        except ConnectionError:
            pass
    assert sent < 100 * BODY_BYTES
    assert httpx.get(address).status_code == 200


def test_requests_in_one_breath_are_answered_one_after_the_other(address: str) -> None:
    own = address[7:-1]
    once = f"GET / HTTP/1.1\r\nHost: {own}\r\n\r\n"
    last = f"GET /second HTTP/1.1\r\nHost: {own}\r\nConnection: close\r\n\r\n"
    with connected(address, (once * 50 + last).encode()) as opened:
        said = answer(opened)
    assert said.count(b"HTTP/1.1 200") == 51
    assert said.rfind(b"Seen /second.") > said.rfind(b"Seen /.")


def test_no_request_is_smuggled_in_the_body_of_one_that_is_refused(address: str) -> None:
    own = address[7:-1]
    inner = f"GET /second HTTP/1.1\r\nHost: {own}\r\n\r\n"
    outer = f"POST / HTTP/1.1\r\nHost: example.org\r\nContent-Length: {len(inner)}\r\n\r\n"
    with connected(address, (outer + inner).encode()) as opened:
        said = answer(opened)
    assert said.split()[1] == b"403"
    assert b"Seen" not in said


def test_a_reset_in_the_middle_of_anything_is_nothing_to_tell(
    address: str, capfd: pytest.CaptureFixture[str]
) -> None:
    own = address[7:-1]
    whole = f"GET / HTTP/1.1\r\nHost: {own}\r\n\r\n".encode()
    for cut in range(0, len(whole) + 1, 3):
        with connected(address, whole[:cut]) as opened:
            # Closed so, the other side sees a reset.
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    assert httpx.get(address).status_code == 200
    assert capfd.readouterr().err == ""


def test_the_token_is_told_to_no_other_page_and_in_no_line(
    capfd: pytest.CaptureFixture[str],
) -> None:
    async def fails(_: Request) -> PlainTextResponse:
        raise KeyError("nobody knows")

    app = application([Route("/", _seen), Route("/fails", fails)])
    with serving(app, what="page", token="a-token") as at, httpx.Client(base_url=at) as client:
        came = client.get("/?token=a-token")
        assert "a-token" not in came.headers["Location"] + came.text
        assert came.headers["Referrer-Policy"] == "same-origin"
        cookie = came.headers["Set-Cookie"]
        assert "HttpOnly" in cookie
        assert "SameSite=strict" in cookie
        answered = client.get("/fails?token=a-token")
        assert answered.status_code == 500
        assert "a-token" not in answered.text
        for path in ("/?token=a-tokem", "/x?token=a-token", "//x?token=a-token"):
            assert "a-token" not in client.get(path).text
    assert "a-token" not in "".join(capfd.readouterr())


# --- out of file handles --------------------------------------------------------------------------
@contextmanager
def reviewing_with(handles: int, data: Path) -> Iterator[tuple[int, str]]:
    """The review page of a program that may have so many files open, and its process."""
    program = subprocess.Popen(
        [sys.executable, "-m", "companion", "review", "--no-browser"],
        env=environment_of(data),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (handles, handles)),
    )
    assert program.stdout is not None
    assert program.stderr is not None
    try:
        found = re.search(r"http://[\d.:]+/", program.stdout.readline())
        assert found, program.stderr.read()
        yield program.pid, found[0]
    finally:
        program.send_signal(2)
        assert program.wait(30) == 0
    assert "Traceback" not in program.stderr.read()


def seconds_of(process: int) -> float:
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="counts by /proc")
def test_with_forty_file_handles_it_serves_in_a_flood_and_does_not_spin(tmp_path: Path) -> None:
    typed(tmp_path / "sessions" / "one", "gap 30 thou")
    with reviewing_with(40, tmp_path) as (process, address), ExitStack() as kept:
        assert httpx.get(address, timeout=30).status_code == 200
        host, port = address[7:-1].split(":")
        for number in range(FLOOD):
            # Without waiting for each to be let in.
            one = kept.enter_context(socket.socket())
            one.setblocking(False)
            one.connect_ex((host, int(port)))
            if number % 2:
                with contextlib.suppress(OSError):
                    one.send(b"GET / HTTP/1.1\r\n")
        before, began = seconds_of(process), time.monotonic()
        assert httpx.get(address, timeout=20).status_code == 200
        kept.pop_all().close()
        assert httpx.get(address, timeout=10).status_code == 200
        assert seconds_of(process) - before < 1 + (time.monotonic() - began) / 4


# --- other users of this machine ------------------------------------------------------------------
TABLE = """\
  sl  local_address rem_address   st tx_queue rx_queue tr tm->when retrnsmt   uid  timeout inode
   0: 0100007F:1F90 00000000:0000 0A 00000000:00000000 00:00000000 00000000  1000        0 1111 1
   1: 0100007F:C350 0100007F:1F90 01 00000000:00000000 00:00000000 00000000  1001        0 2222 1
   2: 0100007F:1F90 0100007F:C350 01 00000000:00000000 00:00000000 00000000  1000        0 3333 1
   3: 0100007F:C351 0100007F:1F90 06 00000000:00000000 00:00000000 00000000     0        0 0 3
"""


@pytest.mark.skipif(sys.byteorder != "little", reason="the table is in the order of the machine")
def test_the_user_at_the_other_end_is_found() -> None:
    here = ("127.0.0.1", 8080)
    assert user_of(TABLE, ("127.0.0.1", 50_000), here) == 1001
    assert user_of(TABLE, ("127.0.0.1", 50_001), here) == -1
    assert user_of(TABLE, ("127.0.0.1", 50_002), here) is None


GET = """
import socket, sys
c = socket.create_connection(("127.0.0.1", int(sys.argv[1])), timeout=20)
head = f"GET / HTTP/1.1|Host: 127.0.0.1:{sys.argv[1]}|Connection: close||"
c.sendall(head.replace("|", "\\r\\n").encode())
print(b"".join(iter(lambda: c.recv(4096), b"")).decode())
"""


@pytest.mark.skipif(
    not sys.platform.startswith("linux") or os.geteuid() != 0,
    reason="only an administrator can be somebody else",
)
def test_another_user_of_the_machine_sees_nothing(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    port = address.rsplit(":", 1)[1].strip("/")
    command = ["/usr/bin/env", "python3", "-c", GET, port]
    assert "Seen /." in subprocess.run(command, capture_output=True, text=True, check=True).stdout
    other = subprocess.run(
        command,
        capture_output=True,
        text=True,
        user=65_534,
        cwd="/",
        env={"PATH": "/usr/bin:/bin"},
        check=False,
    )
    if other.returncode == 127:
        pytest.skip("no Python that another user may run")
    assert "Seen" not in other.stdout
    assert "for the user who started it" in other.stdout or "ConnectionResetError" in other.stderr
