"""`firstoff line PLANT --state FILE`, `--after PRODUCT`: from any state or another product to the timetable."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from firstoff.errors import InputFault, Message
from firstoff.launch.job import sha256
from firstoff.launch.line.account import CAUTION, clock, sec
from firstoff.launch.line.moves import exact, names
from firstoff.launch.line.plan import LinePlan, plan_plant
from firstoff.launch.line.plant import chosen_products, out_of_service, read_plant
from firstoff.line.plan import plan_line
from firstoff.line.plant_line import PlantLine
from firstoff.line.recovery import Recovery, RecoveryMove, recover
from firstoff.line.state import LineState, state_in_cycle
from firstoff.line.state_sheet import SECTIONS, read_state
from firstoff.report.tables import table
from firstoff.sheets.checker import load

SHARE = 0.4  # of the time at most, for the timetable that is joined


@dataclass(frozen=True)
class LineRecovery:
    """A line's way back into its timetable. `after`: the product that is run out of, if a product is changed."""

    plan: LinePlan
    line: PlantLine  # with the recipe of every product that is in it
    state: LineState
    recovery: Recovery
    after: str
    sha256: dict[str, str]


def recover_plant(
    file: Path,
    state_file: Path | None,
    *,
    after: str = "",
    product: str = "",
    loads: int = 0,
    without: Sequence[str] = (),
    slack: float | None = None,
    time_limit: float = 60.0,
) -> LineRecovery:
    """From the state in a file, or from the full cycle of product `after`, into the timetable of the sheet."""
    sheet = read_plant(file)
    line = out_of_service(sheet.line, tuple(without))
    digests = dict(sheet.sha256)
    state = None
    if state_file is not None:
        state = read_state(load(state_file, SECTIONS), line)
        digests[state_file.name] = sha256(state_file)
    if after:
        chosen_products(line, after, 0)  # an unknown name is a fault
    plan = plan_plant(
        file, product=product, loads=loads, without=without, slack=slack, time_limit=SHARE * time_limit, late=False
    )
    if state is None:
        state = _full(line, after, SHARE * time_limit)
    if plan.answer.table is None:
        raise InputFault([Message("has no timetable to join", str(file))])
    found = recover(replace(line, slack=Fraction(0)), state, plan.answer.table, time_limit)
    return LineRecovery(plan, line, state, found, after, digests)


def _full(line: PlantLine, product: str, time_limit: float) -> LineState:
    """The line full of one product, at a moment when no crane carries a load."""
    answer = plan_line(chosen_products(line, product, 0), time_limit)
    state = None if answer.table is None else state_in_cycle(line, answer.table)
    if state is None:
        what = "cannot be changed from: in its timetable some crane always carries a load; state one with --state"
        raise InputFault([Message(what, key="after", found=product)])
    return state


def recovery_dict(found: LineRecovery) -> dict[str, Any]:
    """The `result` of `firstoff line PLANT --state FILE --json`. Times in seconds from the state on."""
    r = found.recovery
    return {
        "name": found.line.name,
        "status": r.status,
        "period": exact(found.plan.answer.period),
        "joined": exact(r.joined),
        "bound": exact(r.bound),
        "spoilt": list(r.spoilt),
        "least_spoilt_is_proven": r.least,
        "clear": exact(r.clear),
        "after": found.after or None,
        "time_unit": "s",
        "seconds": r.seconds,
        "loads": [
            {"name": x.name, "product": x.product, "tank": x.tank, "since": exact(x.since)} for x in found.state.loads
        ],
        "moves": [
            {"load": m.load, "product": m.product, "from": names(m.source), "to": names(m.target),
             "crane": found.line.cranes[m.crane].name, "lift": exact(m.start), "down": exact(m.end)}
            for m in r.moves
        ],
        "caution": CAUTION,
    }  # fmt: skip


def recovery_text(found: LineRecovery) -> str:
    """The same for people."""
    r, plan = found.recovery, found.plan
    count = len(found.state.loads)
    what = f"change from {found.after}" if found.after else "recovery"
    rows = [f"{found.line.name}: {what}, {count} load{'s' if count != 1 else ''} in the line ({r.seconds:.1f} s)"]
    rows.append(f"Timetable to join: period {sec(plan.answer.period)} ({plan.answer.status}).")
    if r.joined is None:
        if r.status == "infeasible":
            rows.append("There is none: loads block each other's way. Take one out by hand and state what is left.")
            return "\n".join([*rows, CAUTION])
        rows.append("No recovery was found in the time; give it more with --time-limit, or empty the line by hand.")
        return "\n".join([*rows, CAUTION])
    rows += [_spoilt(found), f"From {sec(r.joined)} on new loads follow the timetable. {_proof(r)}"]
    if r.clear:
        rows.append(f"The last load of the beginning is off after {sec(r.clear)}.")
    if r.moves:
        rows += ["", moves_table(found), ""]
    rows.append("Times count from the state. Replayed move by move with the timetable, apart from the solver.")
    return "\n".join([*rows, CAUTION])


def _spoilt(found: LineRecovery) -> str:
    r = found.recovery
    if not r.spoilt:
        return "Every load can be saved." if found.state.loads else "The line is empty."
    where = {x.name: x for x in found.state.loads}
    listed = ", ".join(f"{n} ({_where(found, where[n].tank)})" for n in r.spoilt)
    proof = "No recovery spoils less." if r.least else "Not proven to be the least."
    return f"Cannot be saved: {listed}. {proof} They go their way to the end, outside their windows; mark them."


def _where(found: LineRecovery, tank: str) -> str:
    return f"in {tank}, {found.line.tank(tank).operation}" if tank else "on a crane"


def _proof(r: Recovery) -> str:
    if r.bound is None:
        return ""
    if r.bound == r.joined:
        return "Proven: with these loads saved, not sooner." if r.spoilt else "Proven: not sooner."
    return f"Not proven soonest: bound {sec(r.bound)}."


def moves_table(found: LineRecovery) -> str:
    """Every move of the loads that are in the line already."""
    down: dict[str, Fraction] = {}
    rows = []
    for x in found.state.loads:
        if x.crane is None:
            down[x.name] = -x.since
    for m in found.recovery.moves:
        steps = found.line.product(m.product).steps
        soak = window = ""
        if m.load in down and 0 < m.move <= len(steps):
            step = steps[m.move - 1]
            soak = clock(m.start - down[m.load])
            window = (
                f"{clock(step.least)} to {clock(step.most)}" if step.most is not None else f"min {clock(step.least)}"
            )
        rows.append(_row(found, m, soak, window))
        down[m.load] = m.end
    heads = ["lift at", "load", "from", "after a soak of", "window", "to", "set down at", "crane"]
    return table(heads, rows, width=118)


def _row(found: LineRecovery, m: RecoveryMove, soak: str, window: str) -> list[str]:
    lost = " (spoilt)" if m.load in found.recovery.spoilt else ""
    crane = found.line.cranes[m.crane].name
    return [
        clock(m.start),
        m.load + lost,
        names(m.source) or "the crane",
        soak,
        window,
        names(m.target),
        clock(m.end),
        crane,
    ]
