"""Accounts and the tokens of rigs, for who keeps them."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board import accounts, trail
from firstoff.board.accounts import ROLES
from firstoff.board.here import Here, Keeping, Posted
from firstoff.errors import InputFault, Message

router = APIRouter(prefix="/people")


def _page(
    at: Here, status: int = 200, messages: tuple[Message, ...] = (), token: str = "", label: str = ""
) -> Response:
    return at.render(
        "people.html", status, people=accounts.listed(at.engine), rigs=accounts.rigs(at.engine), roles=ROLES,
        messages=messages, token=token, label=label,
    )  # fmt: skip


@router.get("")
def people(at: Keeping) -> Response:
    return _page(at)


@router.post("/add")
def add(at: Keeping, form: Posted) -> Response:
    try:
        made = accounts.add(at.engine, form("name"), form("role"), form("password"))
    except InputFault as fault:
        return _page(at, 400, fault.messages)
    at.note("event.added", name=made.name, role=made.role)
    return at.to("/people")


@router.post("/change")
def change(at: Keeping, form: Posted) -> Response:
    """Another role, or whether the account is in use. Nobody shuts out themselves."""
    name = form("name")
    if accounts.find(at.engine, name) is None or name == at.account.name:
        return at.to("/people")
    active = form("active") == "1"
    try:
        accounts.change(at.engine, name, role=form("role"), active=int(active))
    except InputFault as fault:
        return _page(at, 400, fault.messages)
    at.note("event.changed" if active else "event.ended", name=name, role=form("role"))
    return at.to("/people")


@router.post("/rigs")
def add_rig(at: Keeping, form: Posted) -> Response:
    try:
        token = accounts.make_token(at.engine, form("label"), at.account.name)
    except InputFault as fault:
        return _page(at, 400, fault.messages)
    at.note("event.token", label=form("label"))
    return _page(at, token=token, label=form("label"))


@router.post("/rigs/end")
def end_rig(at: Keeping, form: Posted) -> Response:
    label = next((rig["label"] for rig in accounts.rigs(at.engine) if rig["digest"] == form("digest")), None)
    if label is not None:
        accounts.end_token(at.engine, form("digest"))
        at.note("event.token_ended", label=label)
    return at.to("/people")


@router.get("/trail")
def audit_trail(at: Keeping) -> Response:
    """Who did what: the last entries of the records."""
    return at.render("trail.html", entries=trail.entries(at.board.root))
