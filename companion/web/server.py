"""Runs a page of the program on an address and a port, quietly, until it is told to stop."""

from __future__ import annotations

import asyncio
import contextlib
import ipaddress
import os
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

if sys.platform != "win32":
    import resource

import h11
import uvicorn
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send
from uvicorn.protocols.http.h11_impl import H11Protocol

from companion.errors import CompanionError
from companion.web.guard import Files, Guard, own_hosts
from companion.web.peer import is_strangers

LOOPBACK = "127.0.0.1"
"""The default address: what happens in the shop stays there."""

CONNECTIONS = 96
"""How many connections are served at once; a browser opens six to one page. For one more, the
connection is closed that has gone the longest without a whole request, so that open connections
alone keep nobody out. Where all of them are being answered, a further one is told so."""

HANDLES_KEPT = 24
"""File handles that are not for connections: logs, clips, the index, the program's own."""

WAITING = 512
"""Connections that the system keeps for us until they are looked at."""

REQUEST_SECONDS = 15.0
"""A request must have come whole in this time, or its connection is closed."""

UNREAD_SECONDS = 30.0
"""A browser that reads nothing of its answer for this long is given up."""

IDLE_SECONDS = 5
"""How long a connection is kept for the next request."""

STOPPING_SECONDS = 2
"""How long requests may take to end once the program is told to stop."""

BUSY = (
    b"HTTP/1.1 503 Service Unavailable\r\nContent-Type: text/plain\r\nConnection: close\r\n\r\n"
    b"Too many look at this page at once; try again in a moment.\n"
)
"""The answer to a connection too many, where all others are being answered."""

_STOPPING = "companion.stopping"


def serve(
    app: ASGIApp,
    *,
    what: str,
    host: str = LOOPBACK,
    port: int = 0,
    token: str | None = None,
    files: Files | None = None,
    started: Callable[[str], None],
) -> None:
    """Serve a page until Ctrl-C; answers that are under way are ended first.

    Args:
        app: Answers; it stands behind a ``Guard``.
        what: What it is, in words, for the sentences of errors: "review page".
        host: Address to listen on.
        port: To listen on; 0 for a free one.
        token: Must be known to whoever looks; needed for any address beyond this machine.
        files: Where files may be sent to.
        started: Is called with the page's address once it can be looked at.

    Raises:
        CompanionError: If it cannot listen there.
    """
    listening = _listen(what, host, port, token)
    with contextlib.suppress(KeyboardInterrupt):
        _Server(app, listening, token, files, started).run(sockets=[listening])


@contextmanager
def serving(
    app: ASGIApp,
    *,
    what: str,
    host: str = LOOPBACK,
    port: int = 0,
    token: str | None = None,
    files: Files | None = None,
) -> Iterator[str]:
    """Serve a page beside whatever else the program does, in a thread of its own.

    Args:
        app: As ``serve``, like all the rest.
        what: As ``serve``.
        host: As ``serve``.
        port: As ``serve``.
        token: As ``serve``.
        files: As ``serve``.

    Yields:
        The page's address.

    Raises:
        CompanionError: If it cannot listen there.
    """
    listening = _listen(what, host, port, token)
    ready = threading.Event()
    server = _Server(app, listening, token, files, lambda _: ready.set())
    thread = threading.Thread(
        target=server.run, kwargs={"sockets": [listening]}, name=what, daemon=True
    )
    thread.start()
    ready.wait()
    try:
        yield server.address
    finally:
        server.should_exit = True
        thread.join()


def stopping(request: Request) -> asyncio.Event:
    """Return what is set when the program is told to stop: long answers wait for it and end."""
    event: asyncio.Event = request.scope[_STOPPING]
    return event


def is_loopback(host: str) -> bool:
    """Whether an address reaches no further than this machine."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def address_of(listening: socket.socket) -> str:
    """Return what to type into a browser on this machine: ``http://127.0.0.1:8765/``."""
    host, port = listening.getsockname()[:2]
    if ipaddress.ip_address(host).is_unspecified:
        host = "::1" if ":" in host else LOOPBACK
    return f"http://{f'[{host}]' if ':' in host else host}:{port}/"


def _listen(what: str, host: str, port: int, token: str | None) -> socket.socket:
    if token is None and not is_loopback(host):
        raise CompanionError(
            f"The {what} would be seen by every machine that reaches {host}; it needs a token for "
            "that."
        )
    made: socket.socket | None = None
    try:
        if not 0 <= port <= 65_535:
            # The system would take such a number for another port.
            raise OverflowError
        family, _, _, _, where = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        made = socket.socket(family, socket.SOCK_STREAM)
        if os.name == "posix":
            # Elsewhere it would let two programs listen on one port.
            made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind(where)
        made.listen(128)
    except (OSError, OverflowError) as error:
        if made is not None:
            made.close()
        why = getattr(error, "strerror", None) or "no such port"
        where_to = ", ".join(
            [host] * (host != LOOPBACK or not port) + [f"port {port}"] * (port != 0)
        )
        ways = ["leave --port out for a free one"] * (port != 0)
        ways += ["name an address that this machine has"] * (not is_loopback(host))
        raise CompanionError(
            f"The {what} cannot listen on {where_to} ({why}); "
            f"{', or '.join(ways) or 'no page can be shown on this machine'}."
        ) from None
    return made


class _Server(uvicorn.Server):
    """Uvicorn with our limits, without a word on the terminal, and with a sign to stop."""

    def __init__(
        self,
        app: ASGIApp,
        listening: socket.socket,
        token: str | None,
        files: Files | None,
        started: Callable[[str], None],
    ) -> None:
        host, port = listening.getsockname()[:2]
        guarded = Guard(app, hosts=own_hosts(host, port), port=port, token=token, files=files)
        self.address = address_of(listening)
        self._ready = started
        self._listening = listening
        self._stopping: asyncio.Event | None = None

        async def answer(scope: Scope, receive: Receive, send: Send) -> None:
            await guarded({**scope, _STOPPING: self._stopping}, receive, send)

        super().__init__(
            uvicorn.Config(
                answer,
                http=_Connection,
                ws="none",
                loop="asyncio",
                lifespan="off",
                log_config=None,
                log_level="critical",
                access_log=False,
                server_header=False,
                # This many are accepted at once; up to four times as many before one can be closed
                # again.
                backlog=max(1, _most_connections() // 8),
                timeout_keep_alive=IDLE_SECONDS,
                timeout_graceful_shutdown=STOPPING_SECONDS,
                proxy_headers=False,
            )
        )

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        # A browser that goes away in the middle is nothing to tell the terminal of.
        asyncio.get_running_loop().set_exception_handler(lambda loop, context: None)
        self._stopping = asyncio.Event()
        await super().startup(sockets)
        # This many may wait to be accepted, so that nobody has to connect twice.
        self._listening.listen(WAITING)
        self._ready(self.address)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        if self._stopping is not None:
            self._stopping.set()
        await super().shutdown(sockets)


def _most_connections() -> int:
    """``CONNECTIONS``, or fewer where this program may have few files open."""
    if sys.platform == "win32":
        return CONNECTIONS
    handles, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    return CONNECTIONS if handles < 0 else max(4, min(CONNECTIONS, handles - HANDLES_KEPT))


class _Connection(H11Protocol):
    """One connection, which may not take for ever."""

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self._unfinished: asyncio.TimerHandle | None = None
        self._unread: asyncio.TimerHandle | None = None
        self._since = self.loop.time()
        self._strangers: bool | None = None
        self._answer = self.app
        self.app = self._answer_own_user

    async def _answer_own_user(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Look once who is at the other end, and only when a request has come whole, since that
        takes a while."""
        if self._strangers is None:
            self._strangers = await asyncio.to_thread(is_strangers, self.client, self.server)
        if self._strangers:
            sentence = "This page is for the user who started it.\n"
            refusal = PlainTextResponse(sentence, 403, {"Connection": "close"})
            await refusal(scope, receive, send)
        else:
            await self._answer(scope, receive, send)

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        super().connection_made(transport)
        self._make_room()
        self._watch_request()

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        if not self.is_waiting:
            self._since = self.loop.time()
        self._watch_request()

    def connection_lost(self, exc: Exception | None) -> None:
        self._end_unfinished()
        self._end_unread()
        super().connection_lost(exc)

    def pause_writing(self) -> None:
        super().pause_writing()
        self._unread = self.loop.call_later(UNREAD_SECONDS, self.transport.abort)

    def resume_writing(self) -> None:
        super().resume_writing()
        self._end_unread()

    def _make_room(self) -> None:
        """Close those that ask for nothing for the longest, if there are more than are served."""
        most = _most_connections()
        if len(self.connections) <= most:
            return
        others = [each for each in self.connections if isinstance(each, _Connection)]
        held = [each for each in others if not each.transport.is_closing()]
        waiting = [each for each in held if each is not self and each.is_waiting]
        # Connections that were answered before are closed last, then those with a form or a photo
        # on its way.
        waiting.sort(
            key=lambda each: (
                each._strangers is False,
                each.conn.their_state is h11.SEND_BODY,
                each._since,
            )
        )
        for each in waiting[: max(0, len(held) - most)]:
            each.transport.abort()
        if len(held) - len(waiting) > most:
            self.transport.write(BUSY)
            self.transport.close()

    @property
    def is_waiting(self) -> bool:
        """Whether nothing is being answered here, because nothing was asked for whole yet."""
        return self.conn.their_state in (h11.IDLE, h11.SEND_BODY)

    def _watch_request(self) -> None:
        if not self.is_waiting:
            self._end_unfinished()
        elif self._unfinished is None:
            self._unfinished = self.loop.call_later(REQUEST_SECONDS, self.transport.abort)

    def _end_unfinished(self) -> None:
        if self._unfinished is not None:
            self._unfinished.cancel()
            self._unfinished = None

    def _end_unread(self) -> None:
        if self._unread is not None:
            self._unread.cancel()
            self._unread = None
