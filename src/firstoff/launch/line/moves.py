"""The moves of a line's timetable as plain rows, for text, CSV, JSON and setup sheets."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import Any

from firstoff.launch.line.plan import LinePlan
from firstoff.line.plant_line import PlantLine
from firstoff.line.plant_table import LoadPlan, PlantTimetable
from firstoff.line.tolerance import Tolerance


@dataclass(frozen=True)
class MoveRow:
    """One loaded move and the soak it leads to. Times in seconds; None where there is none."""

    load: int  # from 1
    product: str
    move: int  # from 1
    source: str
    target: str
    operation: str  # of the target
    crane: str
    lift: Fraction  # from the first lift of the cycle
    in_cycle: Fraction  # the same, within the period
    down: Fraction
    air: Fraction
    soak: Fraction | None
    least: Fraction | None
    most: Fraction | None
    current: Fraction | None  # A
    full_current: Fraction | None  # time at it
    charge: Fraction | None  # A s
    alone: Fraction | None  # delay of this move by itself that does no harm
    together: Fraction | None  # the same when what comes after is put off as well


def move_rows(line: PlantLine, table: PlantTimetable, found: Sequence[Tolerance] = ()) -> list[MoveRow]:
    """Load after load, move after move."""
    by = {(t.load, t.move): t for t in found}
    return [
        _row(line, table, number, load, move, by.get((number, move)))
        for number, load in enumerate(table.loads)
        for move in range(len(load.lifts))
    ]


def _row(
    line: PlantLine, table: PlantTimetable, number: int, load: LoadPlan, move: int, found: Tolerance | None
) -> MoveRow:
    steps = line.product(load.product).steps
    step = steps[move] if move < len(steps) else None
    soak = None if step is None else load.lifts[move + 1] - load.downs[move]
    live = step is not None and step.current > 0
    return MoveRow(
        load=number + 1,
        product=load.product,
        move=move + 1,
        source=names(load.stops[move]),
        target=names(load.stops[move + 1]),
        operation=line.tank(load.stops[move + 1][0]).operation,
        crane=line.cranes[load.cranes[move]].name,
        lift=load.lifts[move],
        in_cycle=load.lifts[move] % table.period,
        down=load.downs[move],
        air=load.downs[move] - load.lifts[move],
        soak=soak,
        least=None if step is None else step.least,
        most=None if step is None else step.most,
        current=step.current if step and live else None,
        full_current=step.full_current(soak) if step and live and soak is not None else None,
        charge=step.charge(soak) if step and live and soak is not None else None,
        alone=found.alone if found else None,
        together=found.together if found else None,
    )


def names(stop: Sequence[str]) -> str:
    """`7`, or `7 | 8 | 9` for duplicates that are used in turn."""
    return " | ".join(stop)


def exact(value: Fraction | None) -> int | float | str | None:
    """A whole number, a decimal where it is exact, else a fraction as text."""
    if value is None:
        return None
    if value.denominator == 1:
        return value.numerator
    rest = value.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    return float(value) if rest == 1 else f"{value.numerator}/{value.denominator}"


def as_dict(row: MoveRow) -> dict[str, Any]:
    """A row for JSON."""
    return {key: exact(value) if isinstance(value, Fraction) else value for key, value in asdict(row).items()}


HEADS = {
    "load": "load", "product": "product", "move": "move", "source": "from", "target": "to", "operation": "operation",
    "crane": "crane", "lift": "lift [s]", "in_cycle": "lift in cycle [s]", "down": "set down [s]", "air": "in air [s]",
    "soak": "soak [s]", "least": "soak min [s]", "most": "soak max [s]", "current": "current [A]",
    "full_current": "at full current [s]", "charge": "charge [A*s]", "alone": "may be late alone [s]",
    "together": "may be late with the rest [s]",
}  # fmt: skip


def moves_csv(rows: Sequence[MoveRow]) -> str:
    """The rows as CSV; texts that a spreadsheet would run as a formula are kept as text."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADS.values())
    for row in rows:
        writer.writerow([_cell(value) for value in as_dict(row).values()])
    return out.getvalue()


def _cell(value: object) -> object:
    if value is None:
        return ""
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return "'" + value
    return value


def rows_of(plan: LinePlan) -> list[MoveRow]:
    """The rows of a plan with its tolerances; none without a timetable."""
    return move_rows(plan.line, plan.answer.table, plan.tolerances) if plan.answer.table else []
