"""Set-up of the board, sign-in, sign-out, one's own password."""

from __future__ import annotations

import hmac

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board import accounts
from firstoff.board.accounts import SHORTEST
from firstoff.board.here import AnyHere, Looking, Posted
from firstoff.board.texts import text
from firstoff.errors import InputFault, Message

router = APIRouter()


@router.get("/set-up")
def set_up(at: AnyHere) -> Response:
    if not at.board.code:
        return at.to("/sign-in")
    return at.render("set_up.html", name="", messages=(), least=SHORTEST)


@router.post("/set-up")
def set_up_now(at: AnyHere, form: Posted) -> Response:
    """The first account, by the code that the terminal shows; five wrong ones and the door stays shut for a while."""
    if not at.board.code:
        return at.to("/sign-in")
    who = f"set-up {at.address}"
    if at.board.sessions.must_wait(who, "set-up"):
        return at.render("set_up.html", 429, name="", messages=_say("in.wait"), least=SHORTEST)
    sent = form("code").strip().upper()
    if not hmac.compare_digest(sent.encode(), at.board.code.encode()):
        at.board.sessions.failed(who, "set-up")
        return at.render("set_up.html", 400, name=form("name"), messages=_say("setup.wrong"), least=SHORTEST)
    if form("password") != form("again"):
        return at.render("set_up.html", 400, name=form("name"), messages=_say("setup.differ"), least=SHORTEST)
    try:
        made = accounts.add(at.engine, form("name"), "sign", form("password"), keeper=True, first=True)
    except InputFault as fault:
        return at.render("set_up.html", 400, name=form("name"), messages=fault.messages, least=SHORTEST)
    at.board.code = ""
    at.note("event.set_up", made.name)
    return at.to("/", at.board.sessions.begin(made))


def _say(key: str) -> tuple[Message, ...]:
    return (Message(text(key)),)


@router.get("/sign-in")
def sign_in(at: AnyHere) -> Response:
    return at.to("/set-up") if at.board.code else at.render("sign_in.html", name="", messages=())


@router.post("/sign-in")
def sign_in_now(at: AnyHere, form: Posted) -> Response:
    """Five failures of one name or from one address within a quarter of an hour, and it waits."""
    name = " ".join(form("name").split())[:80]
    who = (f"name {name}", f"address {at.address}")
    if at.board.sessions.must_wait(*who):
        return at.render("sign_in.html", 429, name=name, messages=_say("in.wait"))
    account = accounts.check(at.engine, name, form("password"))
    if account is None:
        at.board.sessions.failed(*who)
        at.note("event.failed", name)
        return at.render("sign_in.html", 400, name=name, messages=_say("in.wrong"))
    at.board.sessions.succeeded(who[0])
    at.board.sessions.end(at.visit)
    at.note("event.in", account.name)
    return at.to("/", at.board.sessions.begin(account))


@router.post("/sign-out")
def sign_out(at: AnyHere, form: Posted) -> Response:
    if at.visit.account is not None:
        at.note("event.out")
    at.board.sessions.end(at.visit)
    return at.to("/sign-in", at.board.sessions.fresh())


@router.get("/me")
def me(at: Looking) -> Response:
    return at.render("me.html", messages=(), least=SHORTEST)


@router.post("/me/units")
def units_now(at: Looking, form: Posted) -> Response:
    try:
        accounts.set_units(at.engine, at.account.name, form("units"))
    except InputFault as fault:
        return at.render("me.html", 400, messages=fault.messages, least=SHORTEST)
    return at.to("/me")


@router.post("/me")
def me_now(at: Looking, form: Posted) -> Response:
    who = f"name {at.account.name}"
    if at.board.sessions.must_wait(who):
        return at.render("me.html", 429, messages=_say("in.wait"), least=SHORTEST)
    if accounts.check(at.engine, at.account.name, form("old")) is None:
        at.board.sessions.failed(who)
        return at.render("me.html", 400, messages=_say("me.wrong"), least=SHORTEST)
    if form("new") != form("again"):
        return at.render("me.html", 400, messages=_say("setup.differ"), least=SHORTEST)
    try:
        accounts.set_password(at.engine, at.account.name, form("new"))
    except InputFault as fault:
        return at.render("me.html", 400, messages=fault.messages, least=SHORTEST)
    at.note("event.password")
    return at.to("/sign-in", at.board.sessions.fresh())
