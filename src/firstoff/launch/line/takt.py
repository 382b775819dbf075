"""When a line is slower than takt: which windows together rule it out, and the least widening that brings it back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from firstoff.line.jobs import jobs_of
from firstoff.line.mixed import solve_mixed
from firstoff.line.plant_conflict import Bound, Conflict, Widening, conflict, widening
from firstoff.line.plant_line import PlantLine, Step
from firstoff.line.plant_table import PlanAnswer
from firstoff.line.replay_plant import replay_plant
from firstoff.line.solve import ReplayFault

SHARE = 3  # of the time limit, for each of: conflict, widening, and the timetable of the widened line


@dataclass(frozen=True)
class Obstacle:
    """Takt of a load [s], and what stands in its way. `after`: the timetable of the widened line, replayed."""

    takt: Fraction
    line: PlantLine
    conflict: Conflict | None
    widening: Widening | None
    after: PlanAnswer | None


def obstacle(line: PlantLine, takt: Fraction, time_limit: float) -> Obstacle:
    """What keeps a line from a cycle within `takt` for each of its loads."""
    jobs = jobs_of(line)
    period = int(takt * len(jobs.jobs) / line.time_step)
    found = conflict(jobs, period, time_limit / SHARE)
    wider = widening(jobs, period, time_limit / SHARE)
    after = None
    if wider is not None:
        loose = widened(line, wider)
        after = solve_mixed(jobs_of(loose), time_limit / SHARE)
        faults = replay_plant(loose, after.table) if after.table else []
        if faults:
            raise ReplayFault("; ".join(faults))
    return Obstacle(takt, line, found, wider, after)


def widened(line: PlantLine, by: Widening) -> PlantLine:
    """The line with its windows as wide."""
    products = []
    for product in line.products:
        steps = list(product.steps)
        for i, step in enumerate(product.steps):
            down, up = (by.by.get(Bound(product.name, i, side), 0) * line.time_step for side in ("least", "most"))
            steps[i] = replace(step, least=step.least - down, most=None if step.most is None else step.most + up)
        products.append(replace(product, steps=tuple(steps)))
    return replace(line, products=tuple(products))


def step_of(line: PlantLine, bound: Bound) -> Step:
    return next(p for p in line.products if p.name == bound.product).steps[bound.step]


def takt_text(found: Obstacle) -> list[str]:
    """For people, one line a thing."""
    rows = [f"SLOWER than the takt of {_s(found.takt)} a load."]
    if found.conflict is None:
        rows.append("Which windows rule it out was not decided in the time given, or no window does.")
    else:
        rest = "" if found.conflict.smallest else "; a smaller set may"
        named = ", ".join(_bound_text(found.line, b) for b in found.conflict.bounds)
        rows.append(
            f"These together rule it out, whatever the other windows ({len(found.conflict.bounds)}{rest}): {named}."
        )
    if found.widening is None:
        rows.append(
            "No widening of windows was found that would do it: cranes, tanks or the way between them must change."
        )
        return rows
    proof = "no less will do" if found.widening.proven else "perhaps less would do"
    named = ", ".join(_way_text(found.line, b, n) for b, n in found.widening.by.items())
    rows.append(f"Least widening, counted in seconds ({proof}): {named}.")
    if found.after is not None and found.after.period is not None:
        rows.append(
            f"With it the cycle takes {_s(found.after.period)}, replayed. Only plating shows if parts stand it."
        )
    return rows


def takt_dict(found: Obstacle) -> dict[str, Any]:
    """For programs; seconds."""
    step = found.line.time_step
    wider = found.widening
    return {
        "takt": float(found.takt),
        "conflict": None if found.conflict is None else [_bound_dict(found.line, b) for b in found.conflict.bounds],
        "smallest": None if found.conflict is None else found.conflict.smallest,
        "widening": None if wider is None else [
            {**_bound_dict(found.line, b), "by": float(n * step)} for b, n in wider.by.items()
        ],
        "least": None if wider is None else wider.proven,
        "period_after": _after(found),
    }  # fmt: skip


def _after(found: Obstacle) -> float | None:
    return None if found.after is None or found.after.period is None else float(found.after.period)


def _bound_dict(line: PlantLine, b: Bound) -> dict[str, Any]:
    step = step_of(line, b)
    return {"product": b.product, "operation": step.operation, "bound": b.side, "seconds": float(_now(step, b))}


def _now(step: Step, b: Bound) -> Fraction:
    return step.least if b.side == "least" or step.most is None else step.most


def _bound_text(line: PlantLine, b: Bound) -> str:
    step = step_of(line, b)
    who = f" of {b.product}" if len(line.products) > 1 else ""
    return f"{step.operation}{who} at {b.side} {_s(_now(step, b))}"


def _way_text(line: PlantLine, b: Bound, steps: int) -> str:
    step = step_of(line, b)
    now, by = _now(step, b), steps * line.time_step
    return f"{step.operation} at {b.side} {_s(now + (by if b.side == 'most' else -by))} in place of {_s(now)}"


def _s(value: Fraction) -> str:
    return f"{float(value):g} s"
