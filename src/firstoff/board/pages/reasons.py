"""Explain, correct, timetable: what the worker found, in the words of the verbs."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board.here import Here, Looking
from firstoff.board.keeping import kept
from firstoff.board.launches import known
from firstoff.board.pages.overview import frame, job_state, titles_of
from firstoff.launch.correcting.account import END
from firstoff.launch.correcting.write import FIGURE, HEADS

router = APIRouter(prefix="/launch/{key}")


def _page(at: Here, key: str, kind: str, **more: Any) -> Response:
    around = frame(at, key, kind)
    state = job_state(at, around["launch"], kind)
    found = state["result"].content if state["result"] else None
    return at.render(
        f"{kind}.html", job=state, found=found, said=at.heard(), kept=kept(around["launch"], kind, state["result"]),
        **more, **around,
    )  # fmt: skip


@router.get("/explain")
def explain(at: Looking, key: str) -> Response:
    return _page(at, key, "explain", titles=titles_of(known(at.launch(key))))


@router.get("/correct")
def correct(at: Looking, key: str) -> Response:
    return _page(at, key, "correct", heads=HEADS, figure=FIGURE, end=END)


@router.get("/timetable")
def timetable(at: Looking, key: str) -> Response:
    around = frame(at, key, "timetable")
    state = job_state(at, around["launch"], "line")
    found = state["result"].content if state["result"] else None
    return at.render("timetable.html", job=state, found=found, **around)
