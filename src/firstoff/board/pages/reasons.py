"""Explain, correct, timetable: what the worker found, in the words of the verbs."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board.here import Here, Looking
from firstoff.board.keeping import kept
from firstoff.board.launches import known
from firstoff.board.measures import Measures, sign
from firstoff.board.pages.overview import frame, job_state, titles_of
from firstoff.launch.correcting.account import END
from firstoff.launch.correcting.write import FIGURE, HEADS

router = APIRouter(prefix="/launch/{key}")


def _page(at: Here, key: str, kind: str, **more: Any) -> Response:
    around = frame(at, key, kind)
    state = job_state(at, around["launch"], kind)
    found = _measured(state["result"].content, at.measures) if state["result"] else None
    return at.render(
        f"{kind}.html", job=state, found=found, said=at.heard(), kept=kept(around["launch"], kind, state["result"]),
        **more, **around,
    )  # fmt: skip


def _measured(content: dict[str, Any], m: Measures) -> dict[str, Any]:
    """A result in the account's own units: tables by their column of units, sentences by the units in them."""
    if not m.us:
        return content
    found: dict[str, Any] = m.everywhere(content)
    for lot in found["lots"]:
        for one in lot.get("corrections", []):
            one["rows"] = [_row(row, m) for row in one["rows"]]
    return found


def _row(row: list[str], m: Measures) -> list[str]:
    """Limits, means and standard deviations of `HEADS` in the other unit."""
    unit, moved = row[1], list(row)
    for at in (2, 3, 6):
        moved[at] = m.numbers(row[at], unit)
    for at in (4, 7):  # sizes: no offset of a scale enters them
        moved[at] = m.numbers(f"± {row[at]}", unit).removeprefix("± ")
    moved[1] = sign(m.unit(unit))
    return moved


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
