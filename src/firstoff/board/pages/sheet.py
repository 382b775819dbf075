"""The sheets themselves, as the plain text they are."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board import sheets
from firstoff.board.entry import Changed
from firstoff.board.here import Here, Looking, Planning, Posted, Refused, missing
from firstoff.board.launches import Launch, digest
from firstoff.board.pages.overview import frame
from firstoff.board.trail import recorded

router = APIRouter(prefix="/launch/{key}/sheets")


@router.get("")
def first(at: Looking, key: str) -> Response:
    return sheet(at, key, at.launch(key).sheet.name)


@router.get("/{name}")
def sheet(at: Looking, key: str, name: str) -> Response:
    return _page(at, key, name)


def _read(launch: Launch, name: str) -> str:
    if name not in sheets.files(launch):
        missing()
    try:
        return (launch.folder / name).read_text("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise Refused(409) from fault


def _page(at: Here, key: str, name: str, status: int = 200, typed: str | None = None) -> Response:
    around = frame(at, key, "sheets")
    launch = around["launch"]
    before = _read(launch, name)
    text = before if typed is None else typed
    return at.render(
        "sheet.html", status, name=name, names=sheets.files(launch), text=text, said=at.heard(),
        shown=digest(launch.folder / name), compared=_compared(launch, name, before, text), **around,
    )  # fmt: skip


def _compared(launch: Launch, name: str, before: str, text: str) -> dict[str, Any]:
    """What the checker says, each beside its line, and what was changed."""
    messages = sheets.checked(launch, name, text)
    elsewhere = [m for m in messages if m.file != name or not m.line]
    return {"rows": sheets.rows(before, text, name, messages), "elsewhere": elsewhere, "name": name,
            "refused": sheets.is_refused(messages), "same": sheets.tidy(before) == sheets.tidy(text)}  # fmt: skip


@router.post("/{name}/check")
def check(at: Planning, key: str, name: str, form: Posted) -> Response:
    """The same for what is typed; nothing is saved."""
    launch = at.launch(key)
    before = _read(launch, name)
    return at.render("_compared.html", compared=_compared(launch, name, before, sheets.tidy(form("text"))))


@router.post("/{name}")
def save(at: Planning, key: str, name: str, form: Posted) -> Response:
    """Save a sheet without faults, if it is still the one that was shown; else show both."""
    launch = at.launch(key)
    before, text = _read(launch, name), sheets.tidy(form("text"))
    if sheets.is_refused(sheets.checked(launch, name, text)):
        return _page(at, key, name, 400, text)
    try:
        sheets.store(launch, name, text, form("shown"))
    except Changed:
        sent = {"text": text, "shown": digest(launch.folder / name)}
        here_is = f"/launch/{key}/sheets/{name}"
        return at.render("conflict.html", 409, file=name, rows=[(name, text, before)], sent=sent, action=here_is,
                         leave=here_is, **frame(at, key, "sheets"))  # fmt: skip
    at.say(recorded(at.board.root, at.engine, launch, at.account.name, readings=False))
    return at.to(f"/launch/{quote(key, '')}/sheets/{quote(name, '')}")
