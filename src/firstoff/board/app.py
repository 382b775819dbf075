"""The board as a web application; `serve` runs it."""

from __future__ import annotations

from collections.abc import AsyncIterator, Collection
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.responses import Response
from fastapi.staticfiles import StaticFiles
from starlette.requests import ClientDisconnect

from firstoff.board.api import create_api
from firstoff.board.database import open_board
from firstoff.board.guard import HEADERS, Guard
from firstoff.board.here import Board, Refused, SignInFirst, here
from firstoff.board.pages import (
    entrance,
    first_offs,
    follow,
    keep,
    overview,
    people,
    reasons,
    release,
    rigs,
    sheet,
    station,
)
from firstoff.board.supervisor import Supervisor
from firstoff.launch.predict import BUILDS

LOCAL = ("localhost", "127.0.0.1", "::1")


def create_app(folder: Path, hosts: Collection[str] = (), work: bool = True, builds: int = BUILDS) -> FastAPI:
    """The board of a folder of launch folders.

    hosts: names under which it may be asked, beside this machine's own. work: with a worker; else jobs wait.
    builds: trial builds of what it predicts.
    """
    engine = open_board(folder)
    board = Board(folder, engine, Supervisor(folder, engine, builds))

    @asynccontextmanager
    async def life(_: FastAPI) -> AsyncIterator[None]:
        if work:
            board.supervisor.start()
        try:
            yield
        finally:
            board.supervisor.close()

    app = FastAPI(title="firstoff", openapi_url=None, docs_url=None, redoc_url=None, lifespan=life)
    app.state.board = board
    for pages in (entrance, people, overview, first_offs, reasons, release, follow, keep, rigs, station, sheet):
        app.include_router(pages.router)
    app.mount("/api", create_api(board))
    app.mount("/static", StaticFiles(packages=[("firstoff.board", "static")]))
    app.add_exception_handler(SignInFirst, _sign_in_first)
    app.add_exception_handler(Refused, _refused)
    app.add_exception_handler(404, _not_found)
    app.add_exception_handler(ClientDisconnect, _broken_off)
    app.add_exception_handler(OSError, _not_written)
    app.add_exception_handler(Exception, _broken)
    app.add_middleware(Guard, hosts={*LOCAL, *hosts})
    return app


def _sign_in_first(request: Request, _: Exception) -> Response:
    at = here(request)
    target = "/set-up" if at.board.code else "/sign-in"
    if request.headers.get("hx-request"):
        return Response(status_code=401, headers={"HX-Redirect": target})
    return at.to(target)


def _refused(request: Request, fault: Exception) -> Response:
    assert isinstance(fault, Refused)
    return here(request).render("fault.html", fault.status, why=fault.why)


def _not_found(request: Request, _: Exception) -> Response:
    return here(request).render("fault.html", 404, why="fault.404")


def _not_written(request: Request, _: Exception) -> Response:
    return here(request).render("fault.html", 507, why="fault.507")


def _broken_off(_: Request, __: Exception) -> Response:
    """Who asked has gone in the middle of the question: nothing was read of it, and nobody hears the answer."""
    return Response(status_code=400)


def _broken(request: Request, _: Exception) -> Response:
    """A fault of the program; the server's terminal shows where."""
    answer = here(request).render("fault.html", 500, why="fault.500")
    answer.headers.update(HEADERS)  # this answer is given outside the guard
    return answer
