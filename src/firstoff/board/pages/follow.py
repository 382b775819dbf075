"""Follow: the running lots on control charts, where something slips, and which parts carry it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from firstoff.board.charts import drawn
from firstoff.board.here import Looking
from firstoff.board.launches import Launch, followed
from firstoff.board.measures import Measures
from firstoff.board.pages.overview import frame
from firstoff.board.texts import text
from firstoff.errors import InputFault, Message
from firstoff.launch.account import in_unit, named
from firstoff.launch.following.affected import Affected, affected_by, lot_affected
from firstoff.launch.following.follow import WORDS, Chart, Follow, Slipping
from firstoff.launch.recorded.authority import are_there, records_place
from firstoff.methods.performance import Index
from firstoff.records import Records, find_item, open_records
from firstoff.report.tables import number

router = APIRouter(prefix="/launch/{key}/follow")
MOST = 400  # names in a list; the rest is counted


@router.get("")
def follow(at: Looking, key: str, item: str = "") -> Response:
    """The charts, the slipping lots, and what an item (`coil heat:H-4711`, or a lot's name) went into."""
    around = frame(at, key, "follow")
    launch: Launch = around["launch"]
    found = followed(launch)
    words = " ".join(item.split())[:200]
    slips, traced, messages = _by_records(launch, found, words)
    charts = [_shown(chart, at.measures) for chart in found.charts] if found else []
    return at.render(
        "follow.html", follow=found, charts=charts, slips=slips, item=words, traced=traced, messages=messages,
        words=WORDS, **around,
    )  # fmt: skip


def _by_records(
    launch: Launch, found: Follow | None, item: str
) -> tuple[list[dict[str, Any]], dict[str, Any] | None, list[Message]]:
    """The slipping lots and the item asked for, with what the records say they went into."""
    slipping = found.slipping if found else ()
    if not are_there(None, launch.folder):
        return [_slip(s, None) for s in slipping], None, [Message(text("follow.no_records"))] if item else []
    try:
        with open_records(records_place(None, launch.folder), create=False) as records:
            slips = [_slip(s, lot_affected(records, s.lot) if s.lot else None) for s in slipping]
            try:
                return slips, _traced(records, item) if item else None, []
            except InputFault as fault:
                return slips, None, [replace(m, key="") for m in fault.messages]
    except (InputFault, OSError):
        return [_slip(s, None) for s in slipping], None, [Message(text("follow.no_records"))] if item else []


def _traced(records: Records, words: str) -> dict[str, Any]:
    return _carried(affected_by(records, find_item(records, words)))


def _slip(s: Slipping, found: Affected | None) -> dict[str, Any]:
    signals = [(name, "; ".join(WORDS[k] for k in kinds)) for name, kinds in s.signals]
    return {"lot": s.lot, "grave": s.grave, "signals": signals, "outside": s.outside, "read": s.parts,
            "carried": _carried(found) if found and found.known else None}  # fmt: skip


def _carried(found: Affected) -> dict[str, Any]:
    """Names without their kind where the list says what they are."""
    return {
        "item": found.item, "parts": _names(found.parts), "count": len(found.parts), "others": found.others[:MOST],
        "origins": [(o.item, len(o.parts), _names(o.parts), _names(o.lots)) for o in found.origins],
    }  # fmt: skip


def _names(items: tuple[str, ...]) -> str:
    more = f", … (+{len(items) - MOST})" if len(items) > MOST else ""
    return ", ".join(i.split(":", 1)[1] for i in items[:MOST]) + more


def _shown(chart: Chart, m: Measures) -> dict[str, Any]:
    """One chart as texts; `value` in SI for programs."""
    c, control = chart.characteristic, chart.control
    unit = m.unit(c.unit)
    across = chart.across
    return {
        "name": c.name, "label": named(c), "unit": unit, "n": len(chart.points), "limits": m.limits(c),
        "centre": in_unit(control.centre, unit, 5) if control else "",
        "control": f"{in_unit(control.low, unit, 5)} … {in_unit(control.high, unit, 5)}" if control else "",
        "control_si": (control.low, control.centre, control.high) if control else (),
        "base": chart.base, "provisional": chart.provisional,
        "ppk": _index(across.ppk if across else None), "cpk": _index(across.cpk if across else None),
        "capability": across.words if across else "", "signals": [WORDS[s] for s in chart.signals],
        "drawing": drawn(chart, unit),
        "points": [(p.part, p.lot, p.time, in_unit(p.value, unit, 5), p.value, "; ".join(WORDS[s] for s in p.signals))
                   for p in chart.points],
    }  # fmt: skip


def _index(found: Index | None) -> str:
    if found is None:
        return ""
    if found.low is None or found.high is None:
        return number(found.value, 3)
    return f"{number(found.value, 3)} ({number(found.low, 2)} … {number(found.high, 2)})"
