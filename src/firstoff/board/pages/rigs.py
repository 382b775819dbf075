"""The tests beside the route, computed: each hit with its force, the room that is left and what stays of it."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board.here import Looking, missing
from firstoff.board.launches import judged
from firstoff.board.pages.overview import frame, job_state
from firstoff.board.rigs import rigs

router = APIRouter(prefix="/launch/{key}/tests")


@router.get("")
def tests(at: Looking, key: str) -> Response:
    around = frame(at, key, "route")
    launch, plan = around["launch"], around["known"].plan
    if plan is None:
        missing()
    state = job_state(at, launch, "predict")
    prediction = state["result"].content["prediction"] if state["result"] and state["current"] else None
    found = rigs(plan, prediction, judged(launch), at.measures)
    return at.render("tests.html", rigs=found, predicted=prediction is not None, **around)
