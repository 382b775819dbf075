"""Accounts and the tokens of rigs, for who keeps them."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board import accounts
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
        accounts.add(at.engine, form("name"), form("role"), form("password"))
    except InputFault as fault:
        return _page(at, 400, fault.messages)
    return at.to("/people")


@router.post("/change")
def change(at: Keeping, form: Posted) -> Response:
    """Another role, or whether the account is in use. Nobody shuts out themselves."""
    name = form("name")
    if accounts.find(at.engine, name) is None or name == at.account.name:
        return at.to("/people")
    try:
        accounts.change(at.engine, name, role=form("role"), active=int(form("active") == "1"))
    except InputFault as fault:
        return _page(at, 400, fault.messages)
    return at.to("/people")


@router.post("/rigs")
def add_rig(at: Keeping, form: Posted) -> Response:
    try:
        token = accounts.make_token(at.engine, form("label"), at.account.name)
    except InputFault as fault:
        return _page(at, 400, fault.messages)
    return _page(at, token=token, label=form("label"))


@router.post("/rigs/end")
def end_rig(at: Keeping, form: Posted) -> Response:
    accounts.end_token(at.engine, form("digest"))
    return at.to("/people")
