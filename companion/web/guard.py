"""Stands before every page: who may look, who may change something, what the browser may do.

A page on this machine can be reached by every page that the user has open elsewhere. So a request
must name this page as its host (no other name may be pointed at it), and whatever changes
something must come from a page of its own, twice shown: by what the browser says of its origin,
and by a secret that only such a page holds.
"""

from __future__ import annotations

import contextlib
import hmac
import ipaddress
import re
import secrets
import sys
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs, urlencode

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

BODY_BYTES = 256 * 1024
"""The most that a request may bring, in bytes, where no files are sent."""

TAKEN_IN = 16
"""How many times that limit is read of a request that is too large, so that the browser still takes
the answer."""

CSRF_FIELD = "csrf"
"""Name of the form field, or of the part of the address, that holds the page's secret."""

CSRF_HEADER = "X-Companion-Csrf"
"""Name of the header that may hold it in place of the field."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; media-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""What a browser may load: only what this page has itself, and nothing that stands in the text."""

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    # No other page is told the address; our own forms still say where they come from, which the
    # stricter "no-referrer" would hide from us as well.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
    "X-Frame-Options": "DENY",
}
"""Sent with every answer."""

_SAFE = ("GET", "HEAD")
_CSRF = "companion.csrf"
_TOLD = "companion_told"


class Guard:
    """The first thing that sees a request."""

    def __init__(
        self,
        app: ASGIApp,
        *,
        hosts: Hosts,
        port: int,
        token: str | None = None,
        body_bytes: int = BODY_BYTES,
        files: Files | None = None,
    ) -> None:
        """Stand before a page.

        Args:
            app: The page.
            hosts: What it may be called by.
            port: It listens on; two pages of one machine keep their cookies apart by it.
            token: Must be known to whoever looks: ``/?token=…`` once, a cookie from then on.
            body_bytes: The most that a request may bring.
            files: Where files may be sent to, which are more than that.
        """
        self._app = app
        self._hosts = hosts
        self._cookie = f"companion-{port}"
        self._token = token
        self._body_bytes = body_bytes
        self._files = files
        self._csrf = secrets.token_urlsafe(24)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, refuse, or hand on."""
        if scope["type"] != "http":
            return
        send = _with_headers(send)
        refused = self._refused(scope) or self._without_token(scope)
        body = b""
        files = self._files
        if scope["method"] in _SAFE or files is None or not files.path.fullmatch(scope["path"]):
            files = None
        unread = scope["method"] not in _SAFE
        if refused is None and files is None:
            body, refused = await self._body(scope, receive)
            unread = False
        # Nothing of files is read before the secret is seen: it stands in the address.
        if refused is None and scope["method"] not in _SAFE and not self._knows_csrf(scope, body):
            refused = _refusal(
                403,
                "This form is from before the program was started again; go back, copy what you "
                "typed, and load the page anew.",
            )
        if refused is not None:
            if unread:
                await _thrown_away(receive, files.most_bytes if files else self._body_bytes)
            await refused(scope, receive, send)
            return
        handed = _given(body, receive) if files is None else _counted(receive, files.most_bytes)
        await self._hand_on({**scope, _CSRF: self._csrf}, handed, send)

    def _refused(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        hosts = headers.getlist("host")
        if len(hosts) != 1 or not self._hosts.include(hosts[0]):
            return _refusal(403, "This page is for this computer only.")
        site = headers.get("sec-fetch-site", "none")
        if scope["method"] in _SAFE:
            # A link from elsewhere may be followed, but nothing of ours may be embedded elsewhere.
            if site == "cross-site" and headers.get("sec-fetch-mode", "navigate") != "navigate":
                return _refusal(403, "Only the pages of this program may use this.")
            return None
        if scope["method"] != "POST":
            return _refusal(405, "Pages are looked at, and forms are sent; nothing else.")
        origin = headers.get("origin")
        if origin == f"http://{hosts[0]}" and site in ("none", "same-origin"):
            return None
        if origin is None and site == "same-origin":
            return None
        return _refusal(403, "Only a form of this page may change something.")

    def _without_token(self, scope: Scope) -> Response | None:
        if self._token is None:
            return None
        request = Request(scope)
        if _same(_cookie(request, self._cookie), self._token):
            return None
        if scope["method"] in _SAFE and _same(request.query_params.get("token"), self._token):
            rest = [pair for pair in request.query_params.multi_items() if pair[0] != "token"]
            # The path is not used as it was asked for: "//elsewhere" would lead away.
            onward = request.url.path if not request.url.path.startswith("//") else "/"
            answer = RedirectResponse(onward + (f"?{urlencode(rest)}" if rest else ""), 303)
            answer.set_cookie(
                self._cookie, self._token, httponly=True, samesite="strict", max_age=31_536_000
            )
            return answer
        return _refusal(403, "Open this page by the whole address that the program printed.")

    def _knows_csrf(self, scope: Scope, body: bytes) -> bool:
        headers = Headers(scope=scope)
        given = [headers.get(CSRF_HEADER)]
        with contextlib.suppress(ValueError):
            given += parse_qs(scope["query_string"].decode("latin-1")).get(CSRF_FIELD, [])
            if headers.get("content-type", "").startswith("application/x-www-form-urlencoded"):
                given += parse_qs(body.decode("latin-1")).get(CSRF_FIELD, [])
        return any(_same(each, self._csrf) for each in given)

    async def _body(self, scope: Scope, receive: Receive) -> tuple[bytes, Response | None]:
        if scope["method"] in _SAFE:
            return b"", None
        too_much = _refusal(
            413, f"That is more than the {self._body_bytes // 1024} KiB that may be sent at once."
        )
        body = bytearray()
        came = 0
        while True:
            message = await receive()
            if message["type"] != "http.request":
                return b"", _refusal(400, "The form did not come whole; nothing was changed.")
            piece = message.get("body", b"")
            came += len(piece)
            if came <= self._body_bytes:
                body += piece
            # What is too much is still read, and thrown away.
            if came > TAKEN_IN * self._body_bytes:
                return b"", too_much
            if not message.get("more_body", False):
                return bytes(body), too_much if came > self._body_bytes else None

    async def _hand_on(self, scope: Scope, receive: Receive, send: Send) -> None:
        begun = False

        async def watched(message: Message) -> None:
            nonlocal begun
            begun = begun or message["type"] == "http.response.start"
            await send(message)

        try:
            await self._app(scope, receive, watched)
        except Exception as error:
            tell_fault(scope, error)
            if not begun:
                sentence = "This page could not be made; the rest of the program goes on."
                await _refusal(500, sentence)(scope, receive, send)


@dataclass(frozen=True, slots=True)
class Files:
    """Where files may be sent to.

    Attributes:
        path: What the whole path of the address looks like there.
        most_bytes: That a request may bring there.
    """

    path: re.Pattern[str]
    most_bytes: int


@dataclass(frozen=True, slots=True)
class Hosts:
    """What a page may be called by.

    Attributes:
        port: It listens on.
        names: Names and addresses of the machine.
        any_address: Whether any address in figures will do: the page is listened for on all that
            the machine has, and only a name can be pointed at it from elsewhere.
    """

    port: int
    names: frozenset[str]
    any_address: bool

    def include(self, host: str) -> bool:
        """Whether the ``Host`` of a request is one of them."""
        name, colon, port = host.rpartition(":")
        if not colon or name.endswith(":") or "]" in port:
            name, port = host, "80"
        if port != str(self.port):
            return False
        name = name.lower()
        return name in self.names or (self.any_address and _is_address(name))


def own_hosts(host: str, port: int) -> Hosts:
    """Return what a page that listens on an address may be called by."""
    address = ipaddress.ip_address(host)
    if address.is_unspecified:
        return Hosts(port, frozenset({"localhost"}), any_address=True)
    names = {f"[{host}]" if address.version == 6 else host}
    if address.is_loopback:
        names.add("localhost")
    return Hosts(port, frozenset(names), any_address=False)


def tell_fault(scope: Scope, error: Exception) -> None:
    """Print a fault of ours on the terminal, in one line and only once each.

    Args:
        scope: What could not be answered.
        error: The fault.
    """
    if getattr(error, _TOLD, False):
        return
    what = f"{type(error).__name__}: {error}".splitlines()[0]
    print(f"The page {scope['path']!r} could not be made ({what}).", file=sys.stderr, flush=True)
    with contextlib.suppress(AttributeError):
        setattr(error, _TOLD, True)


def csrf_of(request: Request) -> str:
    """Return the secret that a form of this page has to hold, in a field ``csrf``."""
    secret: str = request.scope[_CSRF]
    return secret


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name.removeprefix("[").removesuffix("]"))
    except ValueError:
        return False
    return True


def _same(given: str | None, wanted: str) -> bool:
    return given is not None and hmac.compare_digest(given.encode(), wanted.encode())


def _cookie(request: Request, name: str) -> str | None:
    with contextlib.suppress(CookieError):
        found = SimpleCookie(request.headers.get("cookie", "")).get(name)
        return found.value if found is not None else None
    return None


def _refusal(status: int, sentence: str) -> Response:
    return PlainTextResponse(sentence + "\n", status, {"Connection": "close"})


def _with_headers(send: Send) -> Send:
    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(raw=message["headers"])
            for name, value in HEADERS.items():
                headers[name] = value
            # A clip or a style sheet may be marked as never changing.
            headers.setdefault("Cache-Control", "no-store")
            message = {**message, "headers": headers.raw}
        await send(message)

    return sent


def _counted(receive: Receive, most: int) -> Receive:
    """A body that is handed on as it comes, up to so many bytes."""
    came = 0

    async def next_piece() -> Message:
        nonlocal came
        while True:
            message = await receive()
            if message["type"] != "http.request":
                raise HTTPException(400, "The files did not come whole; add them again.")
            came += len(message.get("body", b""))
            if came <= most:
                return message
            # The rest is read and thrown away: a browser that is cut off shows no answer.
            if came > TAKEN_IN * most or not message.get("more_body", False):
                raise HTTPException(
                    413,
                    f"That is more than the {most // 1_000_000} MB that may be sent at once; add "
                    "fewer at a time.",
                )

    return next_piece


async def _thrown_away(receive: Receive, most: int) -> None:
    """Read what a refused request brings, up to a bound: a browser whose connection is closed while
    it sends shows no answer."""
    came = 0
    while came <= TAKEN_IN * most:
        message = await receive()
        came += len(message.get("body", b""))
        if message["type"] != "http.request" or not message.get("more_body", False):
            return


def _given(body: bytes, receive: Receive) -> Receive:
    """A body that was read already, handed on as if it came now."""
    handed = False

    async def again() -> Message:
        nonlocal handed
        if handed:
            return await receive()
        handed = True
        return {"type": "http.request", "body": body, "more_body": False}

    return again
