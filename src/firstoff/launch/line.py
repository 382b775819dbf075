"""`firstoff line`: the crane's timetable of one line."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

from firstoff.line.case import Line
from firstoff.line.read_case import read_case
from firstoff.line.solve import Answer, solve, solve_two_cranes

CAUTION = "It plans, it never drives a crane: interlocks decide."


def line_from_case(
    path: Path, loads: int, time_limit: float, cranes: int = 1, separation: float = 0.0
) -> tuple[Line, Answer]:
    """Read a case file and find its shortest timetable; `separation` in the file's units of track, of two cranes."""
    line = read_case(path)
    if cranes == 2:
        return line, solve_two_cranes(line, loads, Fraction(str(separation)), time_limit)
    return line, solve(line, loads, time_limit)


def number(value: Fraction | None) -> int | str | None:
    """A whole number, or a fraction as text; exact either way."""
    if value is None:
        return None
    return value.numerator if value.denominator == 1 else f"{value.numerator}/{value.denominator}"


def as_dict(line: Line, answer: Answer) -> dict[str, Any]:
    """The `result` of `firstoff line --json`."""
    table = answer.table
    return {
        "name": line.name,
        "status": answer.status,
        "period": number(answer.period),
        "period_per_load": None if table is None else number(table.period / answer.loads),
        "bound": number(answer.bound),
        "gap": answer.gap,
        "removal_times": None if table is None else [number(t) for row in table.removal for t in row],
        "crane_of_move": None if table is None or table.cranes is None else [c + 1 for r in table.cranes for c in r],
        "loads": answer.loads,
        "cranes": answer.cranes,
        "proof_over": answer.over,
        "time_unit": line.time_unit,
        "found_by": answer.found_by,
        "seconds": answer.seconds,
    }


def line_text(line: Line, answer: Answer) -> str:
    """The same for people."""
    unit = line.time_unit
    rows = [f"{line.name or 'line'}: {answer.status} ({answer.seconds:.2f} s, {answer.nodes} nodes)"]
    if answer.table is None:
        if answer.bound is not None:
            rows.append(f"No timetable found; none is shorter than {number(answer.bound)} {unit}.")
        else:
            rows.append("No timetable keeps every window.")
        return "\n".join(rows)
    rows.append(f"Period {number(answer.period)} {unit} for {answer.loads} load{'s' if answer.loads > 1 else ''}.")
    if answer.status == "feasible":
        rows.append(f"Not proven shortest: bound {number(answer.bound)} {unit}, gap {answer.gap:.2%}.")
    if answer.over != "all periods":
        rows.append(f"The proof covers {answer.over} only.")
    for x, times in enumerate(answer.table.removal):
        rows.append(f"Load {x + 1}, lifted at places 0 to {line.n}: " + " ".join(str(number(t)) for t in times))
    for x, cranes in enumerate(answer.table.cranes or ()):
        rows.append(f"Load {x + 1}, cranes of its moves 0 to {line.n}: " + " ".join(str(c + 1) for c in cranes))
    return "\n".join([*rows, "Replayed over six cycles and more against windows, tanks and crane.", CAUTION])
