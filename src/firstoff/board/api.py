"""The one door for machines: a rig posts the readings of a part, with a token of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from fastapi import Depends, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from firstoff import __version__
from firstoff.board import accounts, entry, launches, trail
from firstoff.board.entry import Changed
from firstoff.board.guard import HEADERS
from firstoff.board.here import Board
from firstoff.board.launches import NEW_READINGS, digest, judged, known
from firstoff.board.texts import text
from firstoff.errors import InputFault, Message

_BEARER = HTTPBearer(auto_error=False, description="The rig's token, made by who keeps the accounts.")


class Reading(BaseModel):
    """One measured value."""

    characteristic: str = Field(max_length=80, examples=["rebound_0.52"])
    value: float = Field(allow_inf_nan=False, examples=[1222.0])
    unit: str = Field(max_length=20, examples=["N"])


class Readings(BaseModel):
    """What was read on one part; it is added to the readings of the launch, never written over another."""

    launch: str = Field(max_length=120, description="The launch's folder name.")
    part: str = Field(min_length=1, max_length=60)
    lot: str = Field("", max_length=60)
    gauge: str = Field("", max_length=60)
    temperature: float | None = Field(None, description="Of the part, in °C.", allow_inf_nan=False)
    readings: list[Reading] = Field(min_length=1, max_length=200)


class Verdict(BaseModel):
    """The verdict on one characteristic of the part; value in SI."""

    characteristic: str
    value: float
    verdict: str
    p_conform: float | None


class Taken(BaseModel):
    """What became of the readings."""

    file: str
    verdicts: list[Verdict]
    said: str


class Refusal(BaseModel):
    """Why nothing was taken: one message for each fault."""

    messages: list[dict[str, Any]]


def create_api(board: Board) -> FastAPI:
    """The interface for rigs, with its own description at /api/openapi.json and nothing else in it."""
    api = FastAPI(title="firstoff launch board: readings", version=__version__, docs_url=None, redoc_url=None)
    refusals: dict[int | str, dict[str, Any]] = {code: {"model": Refusal} for code in (400, 401, 404, 409, 422, 429)}

    @api.post("/readings", status_code=201, responses=refusals, summary="Add the readings of one part")
    def readings(
        sent: Readings,
        request: Request,
        bearer: Annotated[HTTPAuthorizationCredentials | None, Depends(_BEARER)] = None,
    ) -> Taken:
        address = f"rig {request.client.host if request.client else '?'}"
        rig = accounts.rig_of(board.engine, bearer.credentials) if bearer else None
        if rig is None:
            if board.sessions.must_wait(address):
                raise Declined(429, [Message("has failed too often; wait a quarter of an hour", key="token")])
            board.sessions.failed(address)
            trail.event(board.root, "event.token_refused", "", address.removeprefix("rig "))
            raise Declined(401, [Message("is no token of this board, or was ended", key="token")])
        return _take(board, rig, sent)

    for kind, answer in ((Declined, _declined), (RequestValidationError, _malformed), (HTTPException, _refused),
                         (OSError, _not_written), (Exception, _broken)):  # fmt: skip
        api.add_exception_handler(kind, answer)
    return api


def _refusal(status: int, messages: Sequence[Message], headers: Mapping[str, str] | None = None) -> JSONResponse:
    return JSONResponse({"messages": [m.as_dict() for m in messages]}, status, headers)


def _declined(_: Request, fault: Exception) -> JSONResponse:
    assert isinstance(fault, Declined)
    return _refusal(fault.status, fault.messages)


def _malformed(_: Request, fault: Exception) -> JSONResponse:
    """What is not of the described form. It is not repeated: it may be nothing that JSON can hold."""
    assert isinstance(fault, RequestValidationError)
    return _refusal(422, [Message(e["msg"], key=".".join(map(str, e["loc"][1:]))) for e in fault.errors()])


def _refused(_: Request, fault: Exception) -> JSONResponse:
    assert isinstance(fault, HTTPException)
    return _refusal(fault.status_code, [Message(str(fault.detail))], fault.headers)


def _not_written(_: Request, __: Exception) -> JSONResponse:
    return _refusal(507, [Message(text("fault.507"))])


def _broken(_: Request, __: Exception) -> JSONResponse:
    """A fault of the program; the server's terminal shows where."""
    return _refusal(500, [Message(text("fault.500"))], HEADERS)


class Declined(Exception):
    """Readings that are not taken."""

    def __init__(self, status: int, messages: list[Message]) -> None:
        super().__init__(status)
        self.status = status
        self.messages = messages


def _take(board: Board, rig: str, sent: Readings) -> Taken:
    """Add one line to the readings file and judge it."""
    names = {"part": sent.part, "lot": sent.lot, "gauge": sent.gauge,
             "temperature": "" if sent.temperature is None else f"{sent.temperature:.10g}"}  # fmt: skip
    for _ in range(entry.TRIES):
        launch = launches.find(board.root, board.engine, sent.launch)
        if launch is None:
            raise Declined(404, [Message("is no launch of this board", key="launch", found=sent.launch)])
        of, shown = known(launch), digest(launch.readings)
        try:
            sheet = entry.sheet_of(launch, of) if of.job else None
            if sheet is None or not of.job:
                what = "takes no readings line by line: its sheet has faults, or its readings are a workbook"
                raise Declined(409, [Message(what, key="launch", found=sent.launch)])
            values = {r.characteristic: f"{r.value:.10g} {r.unit}".strip() for r in sent.readings}
            unknown = [name for name in values if name not in entry.header_of(of).characteristics]
            if unknown:
                faults = [Message("is no characteristic of this launch", key=name) for name in unknown]
                raise Declined(400, faults)
            made = entry.with_part(sheet, of, None, names, values)
            entry.tried(made.text().encode(), launch.readings.name if launch.readings else NEW_READINGS, of)
            file = entry.store(launch, made.text(), shown)
        except InputFault as fault:
            raise Declined(400, list(fault.messages)) from fault
        except Changed:
            continue
        said = trail.recorded(board.root, board.engine, launch, rig, readings=True)
        return Taken(file=file.name, verdicts=_verdicts(board, sent), said=said)
    raise Declined(409, [Message("is being written by others; send it again", key="launch", found=sent.launch)])


def _verdicts(board: Board, sent: Readings) -> list[Verdict]:
    launch = launches.find(board.root, board.engine, sent.launch)
    proof = judged(launch).proof if launch else None
    return [
        Verdict(characteristic=v.characteristic, value=v.value, verdict=v.verdict, p_conform=v.p_conform)
        for v in (proof.judgement.parts if proof else ())
        if (v.lot, v.part) == (sent.lot, sent.part)
    ]
