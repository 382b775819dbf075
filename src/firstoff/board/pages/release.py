"""Release: the evidence, and a named person's decision on it, signed into the records."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board import accounts, entry, jobs
from firstoff.board.here import Here, Looking, Posted, Signing
from firstoff.board.jobs import Result
from firstoff.board.keeping import PAGE_ONLY, kept
from firstoff.board.launches import Launch, judged, known
from firstoff.board.measures import Measures, sign
from firstoff.board.pages.overview import frame, job_state
from firstoff.board.standing import decided, decisions
from firstoff.board.texts import text
from firstoff.errors import InputFault, Message
from firstoff.launch.recorded.account import decided_text
from firstoff.launch.recorded.authority import Author, records_place
from firstoff.launch.recorded.recommended import Recommended
from firstoff.launch.recorded.recommended import kept as kept_recommendation
from firstoff.launch.recorded.sign import WORDS, Decision, close_action, raise_if_refused, sign_recommended
from firstoff.launch.recorded.standing import standing
from firstoff.launch.release import write_decided
from firstoff.records import open_records
from firstoff.records.keys import is_protected

router = APIRouter(prefix="/launch/{key}/release")
FIELDS = ("word", "reason", "until", "customer", "owner", "due")
LONGEST = 600  # signs of a reason


@router.get("")
def release(at: Looking, key: str) -> Response:
    return _page(at, key)


def _page(
    at: Here, key: str, status: int = 200, messages: Sequence[Message] = (), typed: Mapping[str, str] | None = None
) -> Response:
    around = frame(at, key, "release")
    launch, of = around["launch"], around["known"]
    state = job_state(at, launch, "release")
    result: Result | None = state["result"]
    found = _measured(result.content, at.measures) if result else None
    return at.render(
        "release.html", status, job=state, found=found, stands=decided(of, launch), history=decisions(of, launch),
        report=job_state(at, launch, "report"), words=_words(result.content) if result else (),
        shown=_digest(result) if result else "", messages=_on_page(messages), typed=typed or {},
        protected=is_protected(at.account.name), said=at.heard(), kept=kept(launch, "release", result), **around,
    )  # fmt: skip


def _measured(content: Mapping[str, Any], m: Measures) -> Mapping[str, Any]:
    """The evidence in the account's own units."""
    if not m.us:
        return content
    found: dict[str, Any] = m.everywhere(content)
    for row in found["rows"]:
        name, unit, limits, *rest = row["row"]
        row["row"] = [name, sign(m.unit(unit)), m.numbers(limits, unit), *rest]
    return found


def _words(content: Mapping[str, Any]) -> tuple[str, ...]:
    """What may be decided on this evidence, the strictest first; `sign` refuses the rest in any case."""
    if any(f["safety"] and (f["word"] == "hold" or f["basis"] != "readings") for f in content["findings"]):
        return ("hold",)
    return tuple(w for w in reversed(WORDS) if w != "concession" or any(f["concession"] for f in content["findings"]))


def _digest(result: Result) -> str:
    """Of the recommendation that a form was made from."""
    return hashlib.sha256(json.dumps(result.content, sort_keys=True).encode()).hexdigest()


def _on_page(messages: Sequence[Message]) -> list[Message]:
    """Messages that name options of the command line, for the fields of a form."""
    return [
        replace(m, key="" if m.key == "--sign" else m.key.removeprefix("--"),
                allowed="" if m.allowed.startswith("--") else m.allowed)
        for m in messages
    ]  # fmt: skip


@router.post("/sign")
def sign_it(at: Signing, key: str, form: Posted) -> Response:
    """Decide and sign, with the password once more; on what was shown, or not at all."""
    typed = {name: " ".join(form(name).split())[:LONGEST] for name in FIELDS}
    who = f"name {at.account.name}"
    if at.board.sessions.must_wait(who):
        return _page(at, key, 429, [Message(text("in.wait"))], typed)
    if accounts.check(at.engine, at.account.name, form("password")) is None:
        at.board.sessions.failed(who)
        return _page(at, key, 400, [Message(text("sign.password"))], typed)
    launch = at.launch(key)
    try:
        with entry.WRITING:  # nobody saves sheets or readings on the board meanwhile
            found = _recommended(at, launch, form("shown"))
            decision = Decision(**typed)
            raise_if_refused(found, decision)  # before there is a records file that has nothing in it
            author = Author(at.account.name, lambda _: form("passphrase"), how=text("sign.how"))
            with open_records(records_place(None, launch.folder)) as records:
                sign_recommended(found, records, author, decision, launch.good)
                stands = standing(records, found.job, found.readings)
            write_decided(found.job, launch.folder, "\n".join(decided_text(stands)))
    except InputFault as fault:
        return _page(at, key, 400, fault.messages, typed)
    at.say(text("sign.done", word=typed["word"]))
    return at.to(f"/launch/{quote(key, '')}/release")


def _recommended(at: Here, launch: Launch, shown: str) -> Recommended:
    """The recommendation that the page showed, if it is of the files as they are. InputFault when it is not."""
    result = jobs.result(at.engine, launch.key, "release")
    proof, job = judged(launch).proof, known(launch).job
    if result is None or proof is None or job is None or not jobs.is_current(result, launch.inputs):
        raise InputFault([Message(text("sign.old"))])
    if _digest(result) != shown:
        raise InputFault([Message(text("sign.other"))])
    content = {name: value for name, value in result.content.items() if name not in PAGE_ONLY}
    units = {name: c.unit for name, c in proof.characteristics.items()}
    assert launch.readings is not None  # there is a proof
    return kept_recommendation(job, content, launch.readings, units)


@router.post("/close")
def close(at: Signing, key: str, form: Posted) -> Response:
    """An open action is closed: what closed it, by whom, when."""
    launch, note = at.launch(key), " ".join(form("note").split())[:LONGEST]
    if not note:
        return _page(at, key, 400, [Message(text("action.note_needed"))])
    try:
        with open_records(records_place(None, launch.folder), create=False) as records:
            close_action(records, Author(at.account.name, lambda _: form("passphrase")), form("action"), note)
    except InputFault as fault:
        return _page(at, key, 400, fault.messages)
    at.say(text("action.closed", action=form("action")))
    return at.to(f"/launch/{quote(key, '')}/release")
