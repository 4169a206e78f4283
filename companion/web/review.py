"""The review application: lists of sessions and machines, and each session to look over."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote, urlencode

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from companion.errors import CompanionError
from companion.job.events import PhotoAdded
from companion.log.clips import CLIP_FOLDER, hashes_of_clips
from companion.log.index_found import Status
from companion.log.index_read import NoSuchMachine
from companion.log.pictures import MOST_BYTES
from companion.report.machine_page import machine_body
from companion.web.acting import MOST_NAME, Acting, Came, Wish, wish_of, words_of
from companion.web.adding import MOST_AT_ONCE, Added, Sent, add_sent
from companion.web.filters import KINDS, choice_of
from companion.web.guard import csrf_of
from companion.web.pages import application, environment, page, sentence_page
from companion.web.photos import photo_file, photo_of, photo_on_page
from companion.web.reviewers import OpenReview, PrepareReview
from companion.web.shop import NoSession, Shop, View, key_of
from companion.web.sounds import clip_file, outline
from companion.web.summary import summary_of
from companion.web.timeline import FAMILIES, OTHER

ROWS = 50
"""Rows of one page of a list."""

PATIENCE = 1.0
"""Seconds that a list waits for the index before it says that the index is being made."""

MESSAGES_KEPT = 200
"""Messages kept at most until the page that they are for has been loaded."""

STATUSES: tuple[Status, ...] = ("open", "parked", "closed", "unreadable")

A_DAY = "private, max-age=86400"
"""``Cache-Control`` of a sound and its outline: a clip is never written over."""

NAME_COOKIE = "companion-reviewer"


def review_application(
    shop: Shop,
    open_review: OpenReview,
    now: Callable[[], datetime],
    prepare: PrepareReview | None = None,
) -> Starlette:
    """Return the application; ``adding.FILES`` says where it takes files.

    Args:
        shop: The sessions.
        open_review: Opens one for review.
        now: The time, with its offset from UTC.
        prepare: Is called with each session whose page is opened.
    """
    _put_filters()
    pages = _Pages(shop, Acting(shop, open_review, now), now, prepare)
    app = application(
        [
            Route("/", pages.sessions),
            Route("/machines", pages.machines),
            Route("/machine/{key}", pages.machine),
            Route("/said", pages.said),
            Route("/who", pages.who, methods=["POST"]),
            Route("/session/{key}", pages.session),
            Route("/session/{key}/call/{seq:int}", pages.call),
            Route("/session/{key}/since", pages.since),
            Route("/session/{key}/clip/{name}", pages.clip),
            Route("/session/{key}/wave/{name}", pages.wave),
            Route("/session/{key}/photo/{seq:int}", pages.photo),
            Route("/session/{key}/photo/{seq:int}/change", pages.change_photo),
            Route("/session/{key}/photos", pages.add_photos, methods=["POST"]),
            Route("/session/{key}/act", pages.act, methods=["POST"]),
        ]
    )
    app.add_exception_handler(NoSession, _no_session)
    return app


def session_address(key: str, query: str = "", record: int = 0) -> str:
    """Return the address of a session's page, with a choice of calls and a record to jump to.

    Args:
        key: Of the session, as the shop gives it.
        query: The choice of calls, as in an address; empty for all.
        record: Number of the record to jump to; 0 for none.
    """
    jump = f"#r{record}" if record else ""
    return f"/session/{quote(key)}{f'?{query}' if query else ''}{jump}"


class _Pages:
    """Answers requests; all but ``act`` and ``add_photos`` change nothing."""

    def __init__(
        self,
        shop: Shop,
        acting: Acting,
        now: Callable[[], datetime],
        prepare: PrepareReview | None,
    ) -> None:
        self._shop = shop
        self._acting = acting
        self._now = now
        self._prepare = prepare
        self._messages: dict[int, Came] = {}
        self._numbers = itertools.count(1)
        self._lock = threading.Lock()

    # --- lists -----------------------------------------------------------------------------------
    def sessions(self, request: Request) -> Response:
        reading = self._being_read(request)
        if reading is not None:
            return reading
        words, status, number = _looked_for(request), _status(request), _page_number(request)
        found = self._shop.index.sessions(
            words, status=status, limit=ROWS, offset=(number - 1) * ROWS
        )
        said = self._shop.index.search(words, limit=5) if words else None
        return self._page(
            request,
            "sessions.html",
            found=found,
            said=said,
            words=words,
            stands=status,
            statuses=STATUSES,
            paging=_paging(request, number, found.total),
        )

    def machines(self, request: Request) -> Response:
        reading = self._being_read(request)
        if reading is not None:
            return reading
        words = _looked_for(request)
        return self._page(
            request, "machines.html", machines=self._shop.index.machines(words), words=words
        )

    def machine(self, request: Request) -> Response:
        reading = self._being_read(request)
        if reading is not None:
            return reading
        try:
            history = self._shop.index.machine(request.path_params["key"])
        except NoSuchMachine as error:
            raise HTTPException(404, str(error)) from None
        body = machine_body(history, lambda session: session_address(key_of(session.folder)))
        return self._page(
            request,
            "machine_page.html",
            machine=history.row,
            body=body,
        )

    def said(self, request: Request) -> Response:
        reading = self._being_read(request)
        if reading is not None:
            return reading
        words, number = _looked_for(request), _page_number(request)
        machine = request.query_params.get("machine") or None
        found = self._shop.index.search(
            words, limit=ROWS, offset=(number - 1) * ROWS, machine=machine
        )
        return self._page(
            request,
            "said.html",
            found=found,
            words=words,
            machine=machine,
            paging=_paging(request, number, found.total),
        )

    def _being_read(self, request: Request) -> Response | None:
        reading = self._shop.being_read(PATIENCE)
        if reading is None:
            return None
        return self._page(request, "being_read.html", done=reading[0], of=reading[1])

    # --- one session -----------------------------------------------------------------------------
    def session(self, request: Request) -> Response:
        view = self._view(request)
        if self._prepare is not None:
            self._prepare(view.state)
        choice = choice_of(request.query_params)
        shown = [turn for turn in view.turns if choice.shows(turn)]
        steps = dict.fromkeys(turn.step for turn in view.turns if turn.step)
        families = [
            name for name in (*FAMILIES, OTHER) if any(t.family == name for t in view.turns)
        ]
        return self._page(
            request,
            "session.html",
            view=view,
            choice=choice,
            kinds={name: words for name, (words, _) in KINDS.items()},
            shown=shown,
            steps=list(steps),
            families=families,
            summary=summary_of(view),
            message=self._message(request),
            back=choice.query,
        )

    def call(self, request: Request) -> Response:
        view = self._view(request)
        turn = view.call(request.path_params["seq"])
        if turn is None:
            raise HTTPException(404, "There is no such call in this session.")
        part = "part" in request.query_params
        return self._page(
            request,
            "call_part.html" if part else "call.html",
            view=view,
            turn=turn,
            text=request.query_params.get("text", "")[:200],
            why="",
            message=None,
            back=choice_of(request.query_params).query,
        )

    def since(self, request: Request) -> Response:
        view = self._view(request)
        told = request.query_params.get("last", "")
        last = int(told) if told.isascii() and told.isdecimal() and len(told) < 12 else view.last
        if last >= view.last:
            return Response(status_code=204)
        choice = choice_of(request.query_params)
        module: Any = environment().get_template("turn.html").module
        touched = view.touched_since(last)
        return JSONResponse(
            {
                "last": view.last,
                "came": view.last - last,
                "turns": [
                    {
                        "seq": turn.seq,
                        "html": module.turn_item(view, turn, choice.query),
                        "shown": choice.shows(turn),
                    }
                    for turn in touched
                ],
                "summary": environment()
                .get_template("summary_part.html")
                .render(view=view, summary=summary_of(view), csrf=csrf_of(request), back=""),
            }
        )

    def clip(self, request: Request) -> Response:
        try:
            path = clip_file(*self._clip(request))
        except CompanionError as error:
            raise HTTPException(404, str(error)) from None
        return FileResponse(path, media_type="audio/flac", headers={"Cache-Control": A_DAY})

    def wave(self, request: Request) -> Response:
        try:
            heights = outline(*self._clip(request))
        except CompanionError as error:
            raise HTTPException(404, str(error)) from None
        return JSONResponse(heights, headers={"Cache-Control": A_DAY})

    def _clip(self, request: Request) -> tuple[Path, str, str | None]:
        """The session folder, the file name of the clip that is asked for, and its hash."""
        view, name = self._view(request), request.path_params["name"]
        return view.folder, name, hashes_of_clips(view.records).get(f"{CLIP_FOLDER}/{name}")

    def photo(self, request: Request) -> Response:
        # Found by the number of its record: no name from outside leads to a file.
        view, photo = self._photo(request)
        try:
            data, kind = photo_file(view.folder, photo, small="small" in request.query_params)
        except CompanionError as error:
            raise HTTPException(404, str(error)) from None
        return Response(data, media_type=kind, headers={"Cache-Control": A_DAY})

    def change_photo(self, request: Request) -> Response:
        view, _ = self._photo(request)
        seq = request.path_params["seq"]
        photo = photo_on_page(view.folder, view.records[seq - 1], view.state)
        back = choice_of(request.query_params).query
        return self._page(request, "photo.html", view=view, photo=photo, back=back)

    def _photo(self, request: Request) -> tuple[View, PhotoAdded]:
        view = self._view(request)
        photo = photo_of(view.records, request.path_params["seq"])
        if photo is None:
            raise HTTPException(404, "There is no such photo in this session.")
        return view, photo

    # --- what changes something ------------------------------------------------------------------
    async def act(self, request: Request) -> Response:
        async with request.form(max_files=0, max_fields=40) as form:
            fields = {name: value for name, value in form.items() if isinstance(value, str)}
        return await run_in_threadpool(self._act, request, fields)

    def _act(self, request: Request, fields: dict[str, str]) -> Response:
        key = request.path_params["key"]
        wish = wish_of(fields, _name(request))
        if wish is None:
            raise HTTPException(400, "That form is none of this page's.")
        back = choice_of_text(fields.get("back", ""))
        came = self._acting.act(key, wish)
        answer = self._answer(request, key, wish, came, back)
        if wish.by and wish.by != _name(request):
            _keep_name(answer, wish.by)
        return answer

    async def add_photos(self, request: Request) -> Response:
        key = request.path_params["key"]
        folder = await run_in_threadpool(self._shop.folder, key)
        added = Added()
        try:
            async with request.form(max_files=MOST_AT_ONCE, max_fields=10) as form:
                by = words_of(_field(form, "by") or _name(request), MOST_NAME)
                step, back = _field(form, "step"), choice_of_text(_field(form, "back"))
                files = [file for file in form.getlist("photos") if isinstance(file, UploadFile)]
                for file in files if by else ():
                    # A form in which no file was chosen sends an empty one without a name.
                    if file.filename or file.size:
                        sent = Sent(file.filename or "", await file.read(MOST_BYTES + 1))
                        added = await run_in_threadpool(
                            add_sent, folder, sent, added, step=step, by=by, at=self._now()
                        )
        except OSError as error:
            raise HTTPException(
                507,
                f"The photos could not be taken in ({error.strerror}); free some space on the "
                "disk, then add them again.",
            ) from None
        came = added.came() if by else Came("who", "Say first who adds the photos.")
        answer: Response
        if "x-companion-script" in request.headers:
            status = 200 if came.kind == "recorded" else 422
            told = {"kind": came.kind, "text": came.text, "by": by}
            answer = JSONResponse(told, status)
        else:
            query = urlencode({"told": self._keep(came)})
            query = f"{back}&{query}" if back else query
            answer = RedirectResponse(session_address(key, query), 303)
        if by and by != _name(request):
            _keep_name(answer, by)
        return answer

    def _answer(self, request: Request, key: str, wish: Wish, came: Came, back: str) -> Response:
        by_script = "x-companion-script" in request.headers
        if came.kind == "recorded":
            if by_script:
                return JSONResponse({"kind": came.kind, "text": came.text, "by": wish.by})
            query = urlencode({"told": self._keep(came)})
            query = f"{back}&{query}" if back else query
            return RedirectResponse(session_address(key, query, wish.record), 303)
        status = {"failed": 500, "refused": 422, "meanwhile": 409}.get(came.kind, 200)
        values = {"key": key, "wish": wish, "came": came, "back": back}
        if by_script:
            part = environment().get_template("ask_part.html")
            html = part.render(csrf=csrf_of(request), **values)
            return JSONResponse({"kind": came.kind, "text": came.text, "html": html}, status)
        return self._page(request, "ask.html", status=status, **values)

    async def who(self, request: Request) -> Response:
        async with request.form(max_files=0, max_fields=10) as form:
            name, key = str(form.get("by", "")), str(form.get("session", ""))
        answer = RedirectResponse(session_address(key) if key else "/", 303)
        _keep_name(answer, words_of(name, MOST_NAME))
        return answer

    # --- how it is done --------------------------------------------------------------------------
    def _view(self, request: Request) -> View:
        return self._shop.view(request.path_params["key"])

    def _page(
        self, request: Request, template: str, *, status: int = 200, **values: Any
    ) -> Response:
        return page(request, template, status=status, reviewer=_name(request), **values)

    def _keep(self, came: Came) -> int:
        with self._lock:
            number = next(self._numbers)
            self._messages[number] = came
            while len(self._messages) > MESSAGES_KEPT:
                self._messages.pop(next(iter(self._messages)))
        return number

    def _message(self, request: Request) -> Came | None:
        told = request.query_params.get("told", "")
        if not (told.isascii() and told.isdecimal() and len(told) < 12):
            return None
        with self._lock:
            return self._messages.pop(int(told), None)


def choice_of_text(query: str) -> str:
    """Return a choice of calls that a form brought back, with nothing else in it."""
    from starlette.datastructures import QueryParams

    return choice_of(QueryParams(query[:2000])).query


def _no_session(request: Request, error: Exception) -> Response:
    return sentence_page(request, 404, str(error))


def _looked_for(request: Request) -> str:
    return " ".join(request.query_params.get("q", "")[:200].split())


def _status(request: Request) -> Status | None:
    told = request.query_params.get("status", "")
    return next((status for status in STATUSES if status == told), None)


def _page_number(request: Request) -> int:
    told = request.query_params.get("page", "")
    return max(1, int(told)) if told.isascii() and told.isdecimal() and len(told) < 7 else 1


def _paging(request: Request, number: int, total: int) -> dict[str, Any]:
    def at(page_number: int) -> str:
        pairs = [pair for pair in request.query_params.multi_items() if pair[0] != "page"]
        return f"{request.url.path}?{urlencode([*pairs, ('page', str(page_number))])}"

    pages = max(1, -(-total // ROWS))
    return {
        "number": number,
        "pages": pages,
        "before": at(number - 1) if number > 1 else None,
        "after": at(number + 1) if number < pages else None,
    }


def _field(form: FormData, name: str) -> str:
    value = form.get(name)
    return value if isinstance(value, str) else ""


def _name(request: Request) -> str:
    told = unquote(request.cookies.get(NAME_COOKIE, ""))
    return " ".join("".join(sign for sign in told if sign.isprintable()).split())[:MOST_NAME]


def _keep_name(answer: Response, name: str) -> None:
    answer.set_cookie(
        NAME_COOKIE, quote(name), max_age=31_536_000, httponly=True, samesite="strict", path="/"
    )


def _put_filters() -> None:
    made = environment()
    made.filters.update(
        clock=lambda at: f"{at:%H:%M}",
        day=lambda at: f"{at:%A} {at.day} {at:%B %Y}",
        moment=lambda at: f"{at.day} {at:%b} {at.year}, {at:%H:%M}",
        seconds=lambda length: f"{length:.1f} s",
        spaced=lambda name: name.replace("-", " "),
    )
    made.globals.update(key_of=key_of, session_address=session_address)
