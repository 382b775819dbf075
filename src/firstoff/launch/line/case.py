"""`firstoff line`: the crane's timetable of one line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

from firstoff.line.case import Line
from firstoff.line.conflict import Limit
from firstoff.line.read_case import read_case
from firstoff.line.solve import Answer, explained, solve_cranes

CAUTION = "It plans, it never drives a crane: interlocks decide."


def line_from_case(
    path: Path, loads: int, time_limit: float, cranes: int = 1, separation: float = 0.0, takt: float | None = None
) -> tuple[Line, Answer]:
    """Read a case file and find its shortest timetable; `separation` in the file's units of track, of several cranes.

    Where there is none, or none with a period per load up to `takt`, the answer says what is in the way.
    """
    line, apart = read_case(path), Fraction(str(separation))
    answer = solve_cranes(line, cranes, loads, apart, time_limit)
    return line, explained(line, answer, None if takt is None else Fraction(str(takt)), apart, time_limit)


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
        "conflict": None
        if answer.conflict is None
        else {
            "status": answer.conflict.status,
            "period_per_load_wanted": number(answer.conflict.takt),
            "limits": [{"stage": k.stage, "end": k.end} for k in answer.conflict.limits],
        },
        "cure": None
        if answer.cure is None
        else {
            "status": answer.cure.status,
            "cost": number(answer.cure.cost),
            "changes": [{"stage": k.stage, "end": k.end, "by": number(v)} for k, v in answer.cure.changes.items()],
        },
    }


def _limits(limits: Iterable[Limit]) -> str:
    """Shortest and longest soaks, each with its stages."""
    parts = []
    for end, word in (("min", "shortest"), ("max", "longest")):
        stages = [str(k.stage) for k in limits if k.end == end]
        if stages:
            parts.append(f"the {word} soak{'s of stages' if len(stages) > 1 else ' of stage'} {', '.join(stages)}")
    return "; ".join(parts)


def _changes(changes: Mapping[Limit, Fraction], unit: str) -> str:
    words = {"min": ("shortest", "down"), "max": ("longest", "up")}
    parts = [
        f"{words[k.end][0]} soak of stage {k.stage} {words[k.end][1]} by {number(v)} {unit}" for k, v in changes.items()
    ]
    return ", ".join(parts)


def conflict_text(line: Line, answer: Answer) -> list[str]:
    """What is in the way of a timetable, and the cheapest way out."""
    rows, unit = [], line.time_unit
    if answer.conflict is not None and answer.conflict.limits:
        wanted = answer.conflict.takt
        which = "" if wanted is None else f" with a period of {number(wanted)} {unit} a load"
        how = {"smallest": "no fewer do", "minimal": "none can be left out; perhaps fewer others do"}
        why = how.get(answer.conflict.status, "perhaps fewer do")
        rows.append(f"These limits together allow no timetable{which} ({why}): {_limits(answer.conflict.limits)}.")
    cure = answer.cure
    if cure is not None and cure.cost is not None:
        best = "The least change" if cure.status == "optimal" else "A change, perhaps not the least,"
        rows.append(f"{best} that allows one, in whole units of {unit}: {_changes(cure.changes, unit)}.")
        rows.append("Whether the bath bears other soaks, only its owner and a trial can say.")
    elif cure is not None:
        rows.append("No change of soaks was found that allows one.")
    return rows


def line_text(line: Line, answer: Answer) -> str:
    """The same for people."""
    unit = line.time_unit
    rows = [f"{line.name or 'line'}: {answer.status} ({answer.seconds:.2f} s, {answer.nodes} nodes)"]
    if answer.table is None:
        if answer.bound is not None:
            rows.append(f"No timetable found; none is shorter than {number(answer.bound)} {unit}.")
        else:
            rows.append("No timetable keeps every window.")
        return "\n".join([*rows, *conflict_text(line, answer)])
    rows.append(f"Period {number(answer.period)} {unit} for {answer.loads} load{'s' if answer.loads > 1 else ''}.")
    if answer.status == "feasible":
        rows.append(f"Not proven shortest: bound {number(answer.bound)} {unit}, gap {answer.gap:.2%}.")
    if answer.over != "all periods":
        rows.append(f"The proof covers {answer.over} only.")
    for x, times in enumerate(answer.table.removal):
        rows.append(f"Load {x + 1}, lifted at places 0 to {line.n}: " + " ".join(str(number(t)) for t in times))
    for x, cranes in enumerate(answer.table.cranes or ()):
        rows.append(f"Load {x + 1}, cranes of its moves 0 to {line.n}: " + " ".join(str(c + 1) for c in cranes))
    rows += conflict_text(line, answer)
    return "\n".join([*rows, "Replayed over six cycles and more against windows, tanks and crane.", CAUTION])
