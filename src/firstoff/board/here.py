"""What every page stands on: the board, who asks, and the one way to answer."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, NoReturn, TypeVar
from urllib.parse import quote

from fastapi import Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from sqlalchemy import Engine
from starlette.datastructures import FormData, UploadFile

from firstoff import __version__
from firstoff.board import accounts, database, launches, trail
from firstoff.board.accounts import Account
from firstoff.board.guard import LARGEST
from firstoff.board.launches import Launch
from firstoff.board.measures import METRIC, Measures, sign
from firstoff.board.sessions import COOKIE, Sessions, Visit
from firstoff.board.supervisor import Supervisor
from firstoff.board.texts import text
from firstoff.report.tables import probability, unit_signs

Answer = TypeVar("Answer", bound=Response)

MOST_FIELDS = 600  # of one form


class Refused(Exception):
    """A question that is not answered, and why: a key of the texts."""

    def __init__(self, status: int, why: str = "") -> None:
        super().__init__(why)
        self.status = status
        self.why = why or f"fault.{status}"


class SignInFirst(Exception):
    """Nobody is known yet."""


def templates() -> Environment:
    made = Environment(
        loader=PackageLoader("firstoff.board"), autoescape=select_autoescape(default=True), undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    made.globals.update(t=text, version=__version__)
    made.filters.update(
        unit=sign,
        units=unit_signs,
        time=lambda words: f"{words[:10]} {words[11:16]} UTC",
        probability=probability,
        path=lambda words: quote(str(words), safe=""),
    )
    return made


@dataclass
class Board:
    """A folder of launches with its accounts, sessions and worker."""

    root: Path
    engine: Engine
    supervisor: Supervisor
    sessions: Sessions = field(init=False)
    pages: Environment = field(default_factory=templates)
    code: str = ""  # for the first account; empty once there is one
    said: dict[str, str] = field(default_factory=dict)  # token of a visit -> what its next page says

    def __post_init__(self) -> None:
        self.sessions = Sessions(self.engine, database.secret(self.engine))
        if accounts.count(self.engine) == 0:
            letters = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
            self.code = "-".join("".join(secrets.choice(letters) for _ in range(4)) for _ in range(3))


@dataclass
class Here:
    """One question: the board, and who asks."""

    request: Request
    board: Board
    visit: Visit
    fresh: bool  # the visit has no cookie yet

    @property
    def engine(self) -> Engine:
        return self.board.engine

    @property
    def account(self) -> Account:
        assert self.visit.account is not None  # `may` has let only accounts in
        return self.visit.account

    @property
    def address(self) -> str:
        return self.request.client.host if self.request.client else "?"

    def say(self, words: str) -> None:
        """What became of a form, for the next page of this visit."""
        self.board.said[self.visit.token] = words

    def heard(self) -> str:
        """What is to be said now; once."""
        return self.board.said.pop(self.visit.token, "")

    @property
    def measures(self) -> Measures:
        """In which units who asks reads and types."""
        account = self.visit.account
        return Measures(account.units if account else METRIC)

    def note(self, key: str, person: str = "", **values: str) -> None:
        """An event for the audit trail: of this person, or of who asks."""
        who = person or (self.visit.account.name if self.visit.account else "?")
        trail.event(self.board.root, key, who, self.address, **values)

    def launch(self, key: str) -> Launch:
        found = launches.find(self.board.root, self.engine, key)
        if found is None:
            raise Refused(404)
        return found

    def render(self, template: str, status: int = 200, **context: Any) -> HTMLResponse:
        """A page, or a piece of one."""
        words = self.board.pages.get_template(template).render(
            visit=self.visit, account=self.visit.account, csrf=self.visit.csrf, here=self, **context
        )
        return self._with_cookie(HTMLResponse(words, status))

    def to(self, path: str, visit: Visit | None = None) -> RedirectResponse:
        """Another page, under another visit when one is given."""
        answer = RedirectResponse(path, 303)
        if visit is not None:
            self.visit, self.fresh = visit, True
        self._with_cookie(answer)
        return answer

    def _with_cookie(self, answer: Answer) -> Answer:
        if self.fresh:
            secure = self.request.url.scheme == "https"
            answer.set_cookie(
                COOKIE,
                self.board.sessions.cookie(self.visit),
                httponly=True,
                samesite="strict",
                secure=secure,
                path="/",
            )
        return answer


def board_of(request: Request) -> Board:
    found: Board = request.app.state.board
    return found


def here(request: Request) -> Here:
    """Who asks: by the cookie, or nobody."""
    board = board_of(request)
    visit = board.sessions.visit(request.cookies.get(COOKIE, ""))
    return Here(request, board, visit or board.sessions.fresh(), visit is None)


AnyHere = Annotated[Here, Depends(here)]


def may(role: str) -> Callable[[Here], Here]:
    """Lets in accounts of this role and of those after it."""

    def let_in(at: AnyHere) -> Here:
        if at.visit.account is None:
            raise SignInFirst
        if not at.visit.account.may(role):
            raise Refused(403)
        return at

    return let_in


Looking = Annotated[Here, Depends(may("look"))]
Reading = Annotated[Here, Depends(may("readings"))]
Planning = Annotated[Here, Depends(may("plan"))]
Signing = Annotated[Here, Depends(may("sign"))]


def keeping(at: Looking) -> Here:
    """Lets in who keeps the accounts."""
    if not at.account.keeper:
        raise Refused(403)
    return at


Keeping = Annotated[Here, Depends(keeping)]


async def posted(request: Request, at: AnyHere) -> Form:
    """The fields of a form, if it was made for this very visit."""
    form = await request.form(max_files=1, max_fields=MOST_FIELDS, max_part_size=LARGEST)
    sent = request.headers.get("x-form-token") or _words(form, "csrf")
    if not at.board.sessions.genuine(at.visit, sent):
        raise Refused(403, "fault.form")
    return Form(form)


@dataclass(frozen=True)
class Form:
    """What somebody sent."""

    fields: FormData

    def __call__(self, name: str) -> str:
        return _words(self.fields, name)

    def under(self, lead: str) -> dict[str, str]:
        """The fields whose names begin with `lead`, by what follows."""
        return {name[len(lead) :]: _words(self.fields, name) for name in self.fields if name.startswith(lead)}

    def upload(self, name: str) -> tuple[str, bytes]:
        """Name and bytes of a file; empty when none was sent."""
        file = self.fields.get(name)
        return (file.filename or "", file.file.read()) if isinstance(file, UploadFile) else ("", b"")


def _words(form: FormData, name: str) -> str:
    value = form.get(name)
    return value if isinstance(value, str) else ""


Posted = Annotated[Form, Depends(posted)]


def missing() -> NoReturn:
    raise Refused(404)
