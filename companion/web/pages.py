"""Pages from templates, and the few files beside them: style sheets, scripts."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from functools import cache
from http import HTTPStatus
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import BaseRoute, Route

from companion.errors import CompanionError
from companion.web.guard import csrf_of, tell_fault

if TYPE_CHECKING:
    from jinja2 import Environment

HERE = Path(__file__).resolve().parent

OF_OTHER_ROOMS = (HERE.parent / "report" / "machine.css",)
"""Files that a browser may have besides those of this folder."""

KINDS = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
"""By suffix, the files of this folder that a browser may have, with what they are."""

FOR_EVER = "private, max-age=31536000, immutable"
"""``Cache-Control`` of what never changes under its address."""

Filter = Callable[..., Any]


def application(routes: Sequence[BaseRoute]) -> Starlette:
    """Return an application with these pages, the files they need, and a page for what fails."""
    made = Starlette(
        routes=[*routes, Route("/static/{name}", _static)],
        exception_handlers={CompanionError: _failed, HTTPException: _failed, Exception: _broke},
    )
    # A path that is nearly one of ours is not redirected.
    made.router.redirect_slashes = False
    return made


def page(request: Request, template: str, *, status: int = 200, **values: Any) -> Response:
    """Return a page.

    Args:
        request: What it answers.
        template: Name of a file of this folder; it extends ``base.html``.
        status: Of the answer.
        values: For the template, which refuses names it is not given.
    """
    text = environment().get_template(template).render(csrf=csrf_of(request), **values)
    return HTMLResponse(text, status)


def sentence_page(request: Request, status: int, sentence: str) -> Response:
    """Return a page that says one thing.

    Args:
        request: What it answers.
        status: Of HTTP.
        sentence: To read, with its full stop.
    """
    return page(request, "sentence.html", status=status, sentence=sentence)


@cache
def environment() -> Environment:
    """Return what templates are read with; everything put into them is escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(HERE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["static"] = static_address
    return made


@cache
def static_address(name: str) -> str:
    """Return the address of a style sheet or script, which changes when the file does."""
    digest = hashlib.sha256(_static_files()[name].read_bytes()).hexdigest()[:12]
    return f"/static/{name}?{digest}"


def _static(request: Request) -> Response:
    # Looked up by name, so that a path cannot lead anywhere else.
    path = _static_files().get(request.path_params["name"])
    if path is None:
        raise HTTPException(404)
    headers = {"Cache-Control": FOR_EVER} if request.url.query else {}
    return Response(path.read_bytes(), headers=headers, media_type=KINDS[path.suffix])


@cache
def _static_files() -> dict[str, Path]:
    files = (*HERE.iterdir(), *OF_OTHER_ROOMS)
    return {path.name: path for path in files if path.suffix in KINDS}


async def _failed(request: Request, error: Exception) -> Response:
    if isinstance(error, HTTPException):
        told = error.detail != HTTPStatus(error.status_code).phrase
        here = "There is nothing here."
        sentence = error.detail if told else here if error.status_code == 404 else error.detail
        return sentence_page(request, error.status_code, sentence)
    return sentence_page(request, 500, str(error))


async def _broke(request: Request, error: Exception) -> Response:
    # Done before the answer is sent, so that the effect is there when the answer arrives.
    tell_fault(request.scope, error)
    return sentence_page(
        request, 500, "This page could not be made; the rest of the program goes on."
    )
