"""`firstoff line PLANT`: the timetable of a plant sheet's plating line, what it tolerates and what slack costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from firstoff.errors import InputFault, Message
from firstoff.launch.line.plant import chosen_products, out_of_service, read_plant
from firstoff.launch.line.takt import Obstacle, obstacle
from firstoff.line.jobs import jobs_of
from firstoff.line.plan import plan_line
from firstoff.line.plant_line import PlantLine
from firstoff.line.plant_table import PlanAnswer
from firstoff.line.tolerance import Tolerance, tolerances


@dataclass(frozen=True)
class LinePlan:
    """A plant's line and its timetable. `without_slack`: the answer to the windows as they stand, if slack is kept."""

    file: Path
    works: str
    line: PlantLine  # as planned: without the tanks that are out of service, windows as the sheet states them
    answer: PlanAnswer
    slack: Fraction
    without_slack: PlanAnswer | None
    tolerances: tuple[Tolerance, ...]
    sha256: Mapping[str, str]
    remarks: tuple[Message, ...]
    out_of_service: tuple[str, ...] = ()
    obstacle: Obstacle | None = None  # when a takt was asked for and is not kept


def plan_plant(
    file: Path,
    *,
    product: str = "",
    loads: int = 0,
    without: Sequence[str] = (),
    slack: float | None = None,
    time_limit: float = 60.0,
    late: bool = True,
    takt: float | None = None,
) -> LinePlan:
    """The shortest timetable of a plant sheet. `loads`: in one cycle, 0 as the sheet says; `slack` [s] likewise.

    `late`: whether to work out how late each move may be; `takt` [s] of a load: what stands in its way is looked for,
    within the time limit once more.
    """
    sheet = read_plant(file)
    line = chosen_products(out_of_service(sheet.line, tuple(without)), product, loads)
    keep = line.slack if slack is None else Fraction(str(slack))
    if keep % line.time_step:
        step = f"multiples of {float(line.time_step):g} s"
        raise InputFault(
            [Message("is no whole number of time steps", str(file), 0, "slack", f"{float(keep):g} s", step)]
        )
    base = plan_line(line, time_limit / 2) if keep else None
    narrow = line.with_windows(keep) if keep else line
    answer = plan_line(narrow, time_limit / 2 if keep else time_limit, roomy=late)
    found = tolerances(jobs_of(line), answer.table) if answer.table and late else []
    slow = None
    if takt is not None and (answer.table is None or answer.table.per_load > Fraction(str(takt))):
        slow = obstacle(narrow, Fraction(str(takt)), time_limit)
    return LinePlan(
        file, sheet.name, line, answer, keep, base, tuple(found), sheet.sha256, sheet.remarks, tuple(without), slow
    )
