"""The live board: one page for a tablet or a second screen, kept up to date by the server.

The page is drawn here and sent whole, at the first look and again at every change, over server-sent
events; the browser only puts it in place and counts the timers down. However many look, the session
is looked at once for all of them, and each is sent only the latest: one that reads slowly misses
what came between, and holds nobody up.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from dataclasses import dataclass
from datetime import datetime

from anyio.to_thread import run_sync
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from companion.web.board_follower import Follower, Looked
from companion.web.board_view import Board
from companion.web.pages import application, environment, page, static_address
from companion.web.server import stopping

LOOK_SECONDS = 0.22
"""How often the session is looked at while anybody watches: four to five times a second."""

ALIVE_SECONDS = 4.0
"""How often a browser is sent a sign of life where nothing changes. ``board.js`` takes the
connection for lost after three times that."""

RETRY_MILLISECONDS = 2000
"""How soon a browser connects again by itself once the connection is lost."""

STREAMS = 80
"""How many browsers may watch at once; this leaves connections for pages."""

LOOKS = ("light", "dark")
"""What ``?look=`` may ask for; anything else follows the system."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """The board as it is sent.

    Attributes:
        html: What stands inside the page.
        at: When it was drawn, in milliseconds since 1970: the browser's clock may be wrong.
        number: How many were drawn before it that differ.
    """

    html: str
    at: int
    number: int

    def as_json(self) -> str:
        """Return it in one line."""
        return json.dumps({"html": self.html, "now": self.at, "made": _made()})


class Boards:
    """Draws the board, and tells those who watch when it has changed."""

    def __init__(self, follower: Follower) -> None:
        self._follower = follower
        self._drawn = Drawn("", 0, 0)
        self._changed: asyncio.Event | None = None
        self._watching: asyncio.Task[None] | None = None
        self.streams = 0

    async def now(self) -> Drawn:
        """Return the board as it is now."""
        html = await run_sync(self._draw)
        if html != self._drawn.html:
            self._drawn = Drawn(html, _milliseconds(), self._drawn.number + 1)
            if self._changed is not None:
                self._changed.set()
                self._changed = None
        return Drawn(self._drawn.html, _milliseconds(), self._drawn.number)

    def _draw(self) -> str:
        try:
            return draw(self._follower.look())
        except Exception as error:
            # A board that no longer changes must not look as if it were up to date.
            what = f"{type(error).__name__}: {error}".splitlines()[0]
            return draw(Looked("", None, f"The board cannot be drawn ({what})."))

    async def watch(self, stop: asyncio.Event) -> AsyncIterator[str]:
        """Yield server-sent events until the program stops or the browser is gone."""
        self.streams += 1
        try:
            yield f"retry: {RETRY_MILLISECONDS}\n\n"
            seen = -1
            while not stop.is_set():
                drawn = self._drawn
                if drawn.number == 0 or seen < 0:
                    drawn = await self.now()
                if drawn.number != seen:
                    seen = drawn.number
                    yield f"event: board\ndata: {drawn.as_json()}\n\n"
                elif not await self._change(stop):
                    yield f"event: alive\ndata: {_milliseconds()}\n\n"
        finally:
            self.streams -= 1

    async def _change(self, stop: asyncio.Event) -> bool:
        """Wait until the board changes; False where it stays the same for a while."""
        if self._changed is None:
            self._changed = asyncio.Event()
        if self._watching is None or self._watching.done():
            self._watching = asyncio.create_task(self._look(stop))
        try:
            await asyncio.wait_for(self._changed.wait(), ALIVE_SECONDS)
        except TimeoutError:
            return False
        return True

    async def _look(self, stop: asyncio.Event) -> None:
        """Look at the session for all who watch, until nobody does."""
        while self.streams and not stop.is_set():
            await self.now()
            await asyncio.sleep(LOOK_SECONDS)
        if self._changed is not None:
            self._changed.set()
            self._changed = None


def board_application(follower: Follower) -> Starlette:
    """Return the board as an application, to be served behind a guard."""
    boards = Boards(follower)

    async def whole(request: Request) -> Response:
        drawn = await boards.now()
        return page(
            request,
            "board.html",
            look=asked_look(request),
            drawn=drawn,
            inside=drawn.html,
            made=_made(),
            silent=round(3 * ALIVE_SECONDS * 1000),
        )

    async def now(request: Request) -> Response:
        # For browsers without server-sent events.
        return Response((await boards.now()).as_json(), media_type="application/json")

    async def live(request: Request) -> Response:
        if boards.streams >= STREAMS:
            raise HTTPException(503, "Too many look at the board; close one of its pages.")
        return StreamingResponse(
            boards.watch(stopping(request)),
            media_type="text/event-stream",
            headers={"X-Accel-Buffering": "no"},
        )

    return application([Route("/", whole), Route("/now", now), Route("/live", live)])


def draw(looked: Looked) -> str:
    """Return the inside of the page."""
    board = looked.board
    before, asks = _question(board)
    tags = () if board is None else tuple(hold.tag for hold in board.start.holds if hold.tag)
    return (
        environment()
        .get_template("board_now.html")
        .render(
            board=board,
            trouble=looked.trouble,
            tags=tags,
            before=before,
            asks=asks,
            said=_said(board),
        )
    )


def _question(board: Board | None) -> tuple[str, str]:
    """The open question in two parts: what comes before, which is read from near, and what it
    asks."""
    if board is None or board.question is None:
        return "", ""
    before, _, asks = board.question.rpartition(". ")
    return (f"{before}." if before else ""), asks


def _said(board: Board | None) -> str:
    """The last answer without the question at its end, where that stands on the board by itself."""
    if board is None or board.readback is None:
        return ""
    said = board.readback.said
    if board.question is None or not said.endswith(board.question):
        return said
    return said.removesuffix(board.question).strip()


def asked_look(request: Request) -> str:
    """Return which look the address asks for: ``light``, ``dark``, or empty to follow the
    system."""
    look = request.query_params.get("look", "")
    return look if look in LOOKS else ""


def _milliseconds() -> int:
    return round(datetime.now().timestamp() * 1000)


def _made() -> str:
    """What changes when the program was replaced by another version, so that the page is loaded
    anew."""
    return static_address("board.js") + static_address("board.css")
