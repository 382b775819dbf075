"""What `firstoff line PLANT` says: for people as text, for programs as a dictionary."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from firstoff.launch.line.moves import MoveRow, as_dict, exact, rows_of
from firstoff.launch.line.plan import LinePlan
from firstoff.launch.line.takt import takt_dict, takt_text
from firstoff.line.cautions import cautions
from firstoff.line.plant_table import PlanAnswer
from firstoff.report.tables import number, table

CAUTION = "It plans, it never drives a crane: interlocks decide."


def plan_dict(plan: LinePlan) -> dict[str, Any]:
    """The `result` of `firstoff line PLANT --json`. Times in seconds."""
    answer, base = plan.answer, plan.without_slack
    return {
        "name": plan.line.name,
        "status": answer.status,
        "period": exact(answer.period),
        "period_per_load": exact(answer.table.per_load) if answer.table else None,
        "bound": exact(answer.bound),
        "gap": answer.gap,
        "loads": loads(plan),
        "cranes": len(plan.line.cranes),
        "proof_over": answer.over,
        "time_unit": "s",
        "found_by": answer.found_by,
        "seconds": answer.seconds,
        "out_of_service": list(plan.out_of_service),
        "slack": exact(plan.slack),
        "period_without_slack": exact(base.period) if base else None,
        "status_without_slack": base.status if base else None,
        "loads_per_hour": per_hour(plan),
        "parts_per_hour": parts_per_hour(plan),
        "moves": [as_dict(row) for row in rows_of(plan)],
        "obstacle": takt_dict(plan.obstacle) if plan.obstacle else None,
        "caution": CAUTION,
        "cautions": cautions(plan.line),
    }


def loads(plan: LinePlan) -> int:
    return sum(p.loads for p in plan.line.products)


def per_hour(plan: LinePlan) -> float | None:
    return float(3600 / plan.answer.table.per_load) if plan.answer.table else None


def parts_per_hour(plan: LinePlan) -> float | None:
    """None when the sheet does not say how many parts hang on every load."""
    if plan.answer.table is None or any(p.parts is None for p in plan.line.products):
        return None
    parts = sum(p.loads * (p.parts or 0) for p in plan.line.products)
    return float(3600 * parts / plan.answer.table.period)


def plan_text(plan: LinePlan) -> str:
    """The same for people."""
    answer = plan.answer
    rows = [f"{plan.line.name}, {plan.works}: {answer.status} ({answer.seconds:.1f} s, {answer.found_by})"]
    if plan.out_of_service:
        rows.append(f"Out of service: {', '.join(plan.out_of_service)}.")
    rows += [m.as_text() for m in plan.remarks]
    if plan.obstacle is not None:
        rows += takt_text(plan.obstacle)
    if answer.table is None:
        if answer.bound is not None:
            return "\n".join([*rows, f"No timetable found yet; none is shorter than {sec(answer.bound)}."])
        kept = f" with {sec(plan.slack)} of slack" if plan.slack else ""
        return "\n".join([*rows, f"No timetable keeps every window{kept}: proven over {answer.over}."])
    rows += [period_text(plan), *slack_text(plan), "", moves_table(rows_of(plan)), ""]
    rows.append(
        "Soak: from set down to the start of the lift. May be late: how much this move may be late with all others on "
        "time; in brackets, when what comes after is put off as well. Nothing is spoilt then."
    )
    rows.append("Replayed load by load, apart from the solver: windows, tanks, cranes, track, air, bars, current.")
    return "\n".join([*rows, CAUTION])


def period_text(plan: LinePlan) -> str:
    """Period, output and proof in a few lines."""
    answer, count = plan.answer, loads(plan)
    assert answer.table is not None
    each = f", {sec(answer.table.per_load)} a load" if count > 1 else ""
    text = f"Period {sec(answer.period)} for {count} load{'s' if count > 1 else ''}{each}: {per_hour(plan):.1f} loads/h"
    parts = parts_per_hour(plan)
    text += f", {parts:.0f} parts/h." if parts is not None else "."
    return text + "\n" + proof_text(answer)


def proof_text(answer: PlanAnswer) -> str:
    if answer.status == "optimal":
        return f"Proven: no timetable has a shorter period, over {answer.over}."
    return f"Not proven shortest: bound {sec(answer.bound)}, gap {answer.gap or 0:.1%}, over {answer.over}."


def slack_text(plan: LinePlan) -> list[str]:
    """What the slack costs."""
    base, period = plan.without_slack, plan.answer.period
    if base is None:
        return []
    text = f"Every soak keeps {sec(plan.slack)} free at both ends of its window."
    if base.period is None or period is None:
        return [text]
    if base.period == period:
        return [text + f" It costs nothing: without slack the period is {sec(base.period)} as well."]
    more = float(period / base.period - 1)
    return [text + f" Without slack the period is {sec(base.period)}: the slack costs {sec(period - base.period)} "
            f"({more:.1%})."]  # fmt: skip


def moves_table(rows: list[MoveRow]) -> str:
    """One line a move."""
    single = len({row.load for row in rows}) == 1
    heads = [
        "load",
        "from",
        "to",
        "operation",
        "crane",
        "lift in cycle",
        "set down after",
        "soak",
        "window",
        "may be late",
    ]
    cells = [
        [f"{r.load}", r.source, r.target, r.operation, r.crane, clock(r.in_cycle), clock(r.down - r.lift),
         clock(r.soak), window(r), late(r)]
        for r in rows
    ]  # fmt: skip
    if single:
        heads, cells = heads[1:], [row[1:] for row in cells]
    return table(heads, cells, width=118)


def window(row: MoveRow) -> str:
    if row.least is None:
        return ""
    return f"{clock(row.least)} to {clock(row.most)}" if row.most is not None else f"min {clock(row.least)}"


def late(row: MoveRow) -> str:
    """`4 (12)`; a dash for more than a period."""
    return f"{clock(row.alone) or 'any'} ({clock(row.together) or 'any'})"


def clock(time: Fraction | None) -> str:
    return "" if time is None else number(float(time), 6)


def sec(time: Fraction | None) -> str:
    return "–" if time is None else f"{number(float(time), 6)} s"
