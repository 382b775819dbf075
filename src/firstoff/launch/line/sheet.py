"""The setup sheet of a line, as plain data out of its plan."""

from __future__ import annotations

from fractions import Fraction

from firstoff.launch.line.account import clock, late, per_hour, proof_text, sec, slack_text, window
from firstoff.launch.line.moves import MoveRow, rows_of
from firstoff.launch.line.plan import LinePlan
from firstoff.line.cautions import cautions
from firstoff.line.plant_line import Step
from firstoff.report.line_sheet import Grid, LineSheet
from firstoff.report.tables import number


def line_sheet(plan: LinePlan) -> LineSheet:
    """Everything the setter needs; the plan must have a timetable."""
    rows = rows_of(plan)
    return LineSheet(
        title=f"{plan.line.name}: setup of the timetable",
        plant=plan.works,
        cautions=tuple(cautions(plan.line)),
        settings=tuple(_settings(plan)),
        soaks=_soaks(plan, rows),
        moves=_moves(rows),
        assumed=tuple(_assumed(plan)),
        origin=tuple(plan.sha256.items()),
    )


def _settings(plan: LinePlan) -> list[tuple[str, str]]:
    line, answer = plan.line, plan.answer
    table = answer.table
    assert table is not None
    mix = ", ".join(f"{p.loads} × {p.name}" for p in line.products)
    stay = max(x.downs[-1] - x.lifts[0] for x in table.loads)
    found = [
        ("loads in one cycle", mix),
        ("period of the cycle", sec(answer.period)),
        ("output", f"{per_hour(plan):.1f} loads/h"),
        ("a load is in the line for", sec(stay)),
        ("proof", proof_text(answer)),
        ("travel speed", f"{number(float(line.speed), 4)} m/s"),
    ]
    if line.acceleration is not None:
        found.append(("acceleration", f"{number(float(line.acceleration), 4)} m/s²"))
    if len(line.cranes) > 1:
        found.append(("least distance of the cranes", f"{number(float(line.separation), 4)} m"))
    if line.bars is not None:
        found.append(("flight bars", str(line.bars)))
    found += [("slack", text) for text in slack_text(plan)]
    if plan.out_of_service:
        found.append(("out of service", ", ".join(plan.out_of_service)))
    return found


def _soaks(plan: LinePlan, rows: list[MoveRow]) -> Grid:
    heads = ("load", "product", "operation", "tank", "soak [s]", "window [s]", "current [A]", "rectifier",
             "at full current [s]", "charge [A·h]")  # fmt: skip
    body = [
        (str(r.load), r.product, r.operation, r.target, clock(r.soak), window(r), clock(r.current),
         _rectifier(plan.line.product(r.product).steps[r.move - 1]), clock(r.full_current), _hours(r.charge))
        for r in rows
        if r.soak is not None
    ]  # fmt: skip
    return Grid(heads, tuple(body))


def _rectifier(step: Step) -> str:
    """How the current comes on."""
    if not step.current:
        return ""
    parts = ["live entry" if step.live else "dead entry"]
    parts += [f"contact after {sec(step.contact)}"] if step.contact else []
    parts += [f"ramp {sec(step.ramp)}"] if step.ramp else []
    return ", ".join(parts)


def _hours(charge: Fraction | None) -> str:
    return "" if charge is None else number(float(charge / 3600), 4)


def _moves(rows: list[MoveRow]) -> Grid:
    """In the order in which the cranes make them within a period."""
    heads = ("lift in cycle [s]", "crane", "load", "from", "to", "in air [s]", "may be late [s]")
    body = [
        (clock(r.in_cycle), r.crane, str(r.load), r.source, r.target, clock(r.air), late(r))
        for r in sorted(rows, key=lambda r: (r.in_cycle, r.crane))
    ]
    return Grid(heads, tuple(body))


def _assumed(plan: LinePlan) -> list[str]:
    step = sec(plan.line.time_step)
    found = [
        f"Crane times are rounded up to {step}, windows inwards.",
        "Duplicates side by side are used in turn; moves to and from them take as long as to the furthest.",
        "A soak counts from set down to the start of the lift; lift, drip, travel and lower count as time in air.",
        "May be late: with all other moves on time; in brackets, with what comes after put off as well.",
    ]
    if plan.line.acceleration is None:
        found.append("The sheet states no acceleration: the cranes are taken to be at speed at once.")
    if len(plan.line.cranes) > 1 and all(c.low is None and c.high is None for c in plan.line.cranes):
        found.append("Beyond both ends of the line there is room for a crane.")
    if any(m.loaded is not None or m.empty is not None for m in plan.line.measured.values()):
        found.append("Measured times outrank speed and acceleration.")
    return found
