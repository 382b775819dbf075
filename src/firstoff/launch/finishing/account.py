"""What a bar's way through the plating line says: for people as text, for programs as a dictionary."""

from __future__ import annotations

from dataclasses import asdict
from math import ceil
from typing import Any, Final

from firstoff.errors import counted
from firstoff.launch.finishing.narrowing import Held, span_text
from firstoff.launch.finishing.plan import FinishPlan, Soak
from firstoff.launch.finishing.uses import BathUse, RinseUse, Uses
from firstoff.launch.line.takt import takt_dict, takt_text
from firstoff.line.cautions import cautions
from firstoff.report.tables import number, table, wrap

UM: Final = 1e6
HEXAVALENT: Final = (
    "Chromate in rinses and waste water is reduced from hexavalent to trivalent by the licensed supplier's or the "
    "authorised plant's procedure; its chemicals and doses are theirs to give, and none are given here.",
    "Trivalent chromium is the alternative without a hexavalent bath: another colour, other currents and windows. "
    "State them as its own [[window]] and plan again.",
)
SUPPLIER: Final = (
    "Cleaning, activation, baths and their make-up are the chemical supplier's; only windows and amounts stand here."
)
IN_LINE: Final = "The timetable plans, it never drives a crane: interlocks decide."


def finish_dict(plan: FinishPlan) -> dict[str, Any]:
    """The `finish` of `firstoff plan --json`; SI."""
    return {
        "line": plan.line.name,
        "product": plan.product.name,
        "bars_per_load": plan.bars,
        "windows": [_held_dict(h) for h in plan.held],
        "status": plan.answer.status,
        "period_per_load": _seconds(plan.answer.table.per_load) if plan.answer.table else None,
        "period_as_stated": _seconds(plan.as_stated.table.per_load)
        if plan.as_stated and plan.as_stated.table
        else None,
        "per_bar": plan.per_bar,
        "takt": plan.takt,
        "takt_holds": plan.holds,
        "soaks": [_soak_dict(s) for s in plan.soaks],
        "bars_waiting": plan.waiting,
        "plated": [asdict(p) for p in plan.plated],
        "differs": list(plan.planned.differs),
        "look_time": plan.look_time,
        "uses": _uses_dict(plan.uses) if plan.uses else None,
        "obstacle": takt_dict(plan.obstacle) if plan.obstacle else None,
    }


def _seconds(value: Any) -> float | None:
    return None if value is None else float(value)


def _held_dict(h: Held) -> dict[str, Any]:
    spans = {name: [_seconds(x) for x in span] for name, span in
             (("plant", h.plant), ("product", h.product), ("both", h.both))}  # fmt: skip
    return {"operation": h.operation, **spans, "narrower": h.narrower, "why": h.why, "origin": h.origin}


def _soak_dict(s: Soak) -> dict[str, Any]:
    return {**asdict(s), "time": float(s.time)}


def _uses_dict(u: Uses) -> dict[str, Any]:
    return {
        **asdict(u),
        "energy": u.energy,
        "waste_water": u.waste_water,
        "cost": u.cost,
    }


def finish_text(plan: FinishPlan) -> str:
    """The same for people."""
    rows = [f"LINE  {plan.product.name} on {plan.line.name}, {counted(plan.bars, 'bar')} a load", ""]
    if plan.held:
        cells = [
            (h.operation, span_text(h.plant), span_text(h.product), span_text(h.both) if h.narrower else "as it is",
             _reason(h))
            for h in plan.held
        ]  # fmt: skip
        heads = ("time in", "the plant's recipe", "this bar needs", "put to the crane", "why")
        rows += [table(heads, cells, width=118), ""]
    rows += [*_pace(plan), ""]
    rows += [_grown(plan), ""] if any(s.worst is not None for s in plan.soaks) else []
    rows += _plated(plan)
    if plan.uses is not None:
        rows += [*uses_text(plan.uses), ""]
    rows += wrap(f"{SUPPLIER} {IN_LINE}", 118)
    return "\n".join(rows)


def _reason(h: Held) -> str:
    window = h.window
    if window is None or window.growth is None:
        return h.why
    low, high = window.thickness
    worst = [] if low is None else [f"{number(UM * low, 3)} µm at the worst point, {_rate(window.growth.worst)}"]
    best = [] if high is None else [f"{number(UM * high, 3)} µm at the best, {_rate(window.growth.best)}"]
    return "; ".join([*worst, *best, *([h.why] if h.why else [])])


def _rate(value: float) -> str:
    return f"{number(UM * 60.0 * value, 3)} µm/min"


def _pace(plan: FinishPlan) -> list[str]:
    answer = plan.answer
    if answer.table is None:
        rows = [f"No timetable keeps these windows ({answer.status})."]
    else:
        per = float(answer.table.per_load)
        rows = [
            f"Timetable: a load every {number(per, 6)} s ({answer.status}), a bar every {number(plan.per_bar, 4)} s."
        ]
        stated = plan.as_stated.table if plan.as_stated is not None else None
        if stated is not None:
            same = "as without them" if stated.per_load == answer.table.per_load else (
                f"the plant's own windows allow {number(float(stated.per_load), 6)} s")  # fmt: skip
            rows[0] = rows[0][:-1] + f"; {same}."
    if plan.takt is not None:
        verdict = {True: "holds", False: "does NOT hold", None: "cannot be told"}[plan.holds]
        rows.append(f"Takt of the yearly volume: a bar every {number(plan.takt, 4)} s. The line {verdict} it.")
    if plan.obstacle is not None:
        rows += takt_text(plan.obstacle)
    if plan.waiting is not None:
        planned, most = plan.waiting
        rows.append(
            f"The planned wait from buffing to cleaning is {counted(int(planned), 'bar')} between the two; "
            f"with more than {int(most)} the oldest waits too long."
        )
    if plan.look_time is not None and plan.per_bar is not None:
        people = ceil(plan.look_time / plan.per_bar - 1e-9)
        who = counted(people, "person", "people")
        rows.append(f"Looking at a bar takes {number(plan.look_time, 3)} s: {who} at this pace, breaks not counted.")
    return [line for row in rows for line in wrap(row, 118)]


def _grown(plan: FinishPlan) -> str:
    cells = [
        (s.operation, number(float(s.time), 6), number(UM * s.worst, 3), number(UM * (s.best or 0.0), 3), _limits(s))
        for s in plan.soaks
        if s.worst is not None
    ]
    heads = ("in this timetable", "dwell [s]", "worst point [µm]", "best point [µm]", "limits [µm]")
    return table(heads, cells, width=118)


def _plated(plan: FinishPlan) -> list[str]:
    """The layers with the timetable's dwells, and where recipe and plan differ."""
    rows = [f"In this timetable {p.layer} is {number(UM * p.worst, 3)} µm at {p.worst_at} to {number(UM * p.best, 3)} "
            f"µm at {p.best_at}, at nominal settings." for p in plan.plated]  # fmt: skip
    rows += [f"WARNING  {text}" for text in plan.planned.differs]
    return [*(line for row in rows for line in wrap(row, 118)), ""] if rows else []


def _limits(s: Soak) -> str:
    low, high = (None if x is None else number(UM * x, 3) for x in s.limits)
    if low is not None and high is not None:
        return f"{low} to {high}"
    return f"≥ {low}" if low is not None else "" if high is None else f"≤ {high}"


def uses_text(u: Uses) -> list[str]:
    """What a bar uses up, as tables."""
    money = f" [{u.currency}]" if u.currency else ""
    rows = [f"A bar of {number(u.area, 3)} m² (both sides) uses:", ""]
    heads: tuple[str, ...]
    heads = ("tank", "dwell [s]", "charge [Ah/m²]", "mean [µm]", "deposit [g/m²]", "dragged out [ml/m²]", "lost [g/m²]",
             "anodes [g/m²]", "salts [g/m²]")  # fmt: skip
    rows += [table(heads, [_metal_row(b, u.area) for b in u.baths], width=118), ""]
    heads = ("tank", "salts [g/Ah]", "additive [ml/Ah]", "additive [ml/bar]", "power [kWh/bar]", f"cost a bar{money}")
    rows += [table(heads, [_money_row(b) for b in u.baths], width=118)]
    if u.rinses:
        heads = ("rinse after", "stages", "dragged out [l/h]", "water [l/h]", "left of the bath", "by the power rule",
                 "water [l/bar]", f"cost{money}")  # fmt: skip
        rows += ["", table(heads, [_rinse_row(r) for r in u.rinses], width=118)]
    rows += ["", f"Waste water {number(1e3 * u.waste_water, 3)} l a bar, power {number(u.energy / 3.6e6, 3)} kWh, "
             f"cost {number(u.cost, 3)}{' ' + u.currency if u.currency else ''} a bar."]  # fmt: skip
    if u.unpriced:
        rows += wrap(f"Not in the cost, since no price is stated: {', '.join(u.unpriced)}.", 118)
    if any("chrom" in b.operation.lower() for b in u.baths):
        rows += [line for text in HEXAVALENT for line in wrap(text, 118)]
    return rows


def _metal_row(b: BathUse, area: float) -> tuple[str, ...]:
    def per(value: float, size: float = 1.0) -> str:
        return number(value / area / size, 3) if value else ""

    return (
        b.operation, number(b.dwell, 5), per(b.charge, 3600.0), number(UM * b.thickness, 3) if b.thickness else "",
        per(b.deposit, 1e-3), per(b.drag_out, 1e-6), per(b.lost, 1e-3), per(b.dissolved, 1e-3), per(b.added, 1e-3),
    )  # fmt: skip


def _money_row(b: BathUse) -> tuple[str, ...]:
    hours = b.charge / 3600.0
    shown = (
        1e3 * b.added / hours if hours else 0.0, 1e6 * b.additive / hours if hours else 0.0, 1e6 * b.additive,
        b.energy / 3.6e6, b.cost,
    )  # fmt: skip
    return (b.operation, *(number(x, 3) if x else "" for x in shown))


def _rinse_row(r: RinseUse) -> tuple[str, ...]:
    hour = 3600.0 * 1e3
    return (
        r.after, str(r.stages), number(r.drag_out * hour, 3), number(r.flow * hour, 3), _part(r.dilution),
        _part(r.textbook), number(1e3 * r.water, 3), number(r.cost, 3) if r.cost else "",
    )  # fmt: skip


def _part(share: float) -> str:
    return f"1 : {number(1.0 / share, 4)}" if share > 0.0 else ""


def finish_page(plan: FinishPlan, title: str) -> str:
    """The page that hangs at the line."""
    said = [*cautions(plan.line)]
    return "\n".join([
        f"# {title}: windows of the plating line", "", "**Cautions**", "", *(f"- {text}" for text in said), "", "```",
        finish_text(plan), "```", "",
    ])  # fmt: skip
