"""What moving a setting takes at this plant: what its station declares, and what the plant sheet puts first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from firstoff.chain.fault import Cure
from firstoff.chain.station import Parameter
from firstoff.errors import nearest
from firstoff.families import Family
from firstoff.sheets.quantity import Quantity, parse
from firstoff.sheets.units import format_value, size_from_si

if TYPE_CHECKING:
    from firstoff.launch.job import _Sheet

MOST_STEPS = 10  # of a setting whose station declares no change: assumed
WHOLE = 1e-9  # relative: a step of a count may miss a whole number by this


@dataclass(frozen=True)
class Movement:
    """A setting that can be moved, SI: in whole steps from where it stands, between two ends."""

    parameter: str  # `station.parameter`
    unit: str
    step: float
    low: float | None
    high: float | None
    most_steps: int  # each way
    minutes: float
    cost: float
    customer_approval: bool
    how: str
    source: str
    fixed: bool = False  # the plant sheet forbids it
    pressure: bool = False  # absolute, in print

    @property
    def station(self) -> str:
        return self.parameter.split(".")[0]

    @property
    def title(self) -> str:
        return self.parameter.split(".", 1)[1].replace("_", " ")


def difference(unit: str) -> str:
    """The unit of a difference of two values: a temperature scale has an offset, its differences have none."""
    return "delta_degC" if unit in ("degC", "°C", "degF", "°F") else unit


def movements(plant: _Sheet | None, family: Family | None, given: Mapping[str, Quantity]) -> dict[str, Movement]:
    """Every setting that can be moved, the plant sheet's `[[change]]` put first; faults are noted on the sheet."""
    if family is None:
        return {}
    parameters = {f"{s.name}.{p.name}": p for s in family.stations for p in s.parameters}
    found = {name: _declared(name, p) for name, p in parameters.items() if p.change is not None}
    settings = [name for name, p in parameters.items() if p.kind == "setting"]
    seen: set[str] = set()
    for index, row in enumerate(plant.settled.get("change", []) if plant else []):
        name = row.get("parameter")
        if plant is None or name is None:
            continue
        where = f"change/{index}"
        if name not in settings:
            what = "is no parameter of a station" if name not in parameters else "is no setting: nobody chooses it"
            plant.fault(where, "parameter", what, found=name, nearest=nearest(name, settings))
        elif name in seen:
            plant.fault(where, "parameter", "has its change stated twice", found=name)
        else:
            seen.add(name)
            stated = _stated(plant, where, row, parameters[name], found.get(name))
            if stated is not None and _in_range(plant, where, stated, given.get(name)):
                found[name] = stated
    return found


def _declared(name: str, parameter: Parameter) -> Movement:
    change = parameter.change
    assert change is not None
    ends = [_end(parameter, text) for text in (parameter.low, parameter.high)]
    step = parse(change.step, difference(parameter.unit)).nominal
    return Movement(
        name, parameter.unit, step, ends[0], ends[1], change.most_steps, change.minutes, change.cost,
        change.customer_approval, change.how, change.source, pressure=parameter.pressure,
    )  # fmt: skip


def _end(parameter: Parameter, text: str | None) -> float | None:
    return None if text is None else parse(text, parameter.unit, pressure=parameter.pressure).nominal


def _stated(
    plant: _Sheet, where: str, row: Mapping[str, Any], parameter: Parameter, declared: Movement | None
) -> Movement | None:
    """One `[[change]]` over the station's declaration; None with its faults noted."""
    name = row["parameter"]
    if declared is None:
        if "step" not in row and not row.get("fixed", False):
            what = "has no step: its station declares none, so the plant sheet must"
            plant.fault(where, "parameter", what, found=name, allowed=f'step = "... {difference(parameter.unit)}"')
            return None
        ends = [_end(parameter, text) for text in (parameter.low, parameter.high)]
        declared = Movement(
            name,
            parameter.unit,
            1.0,
            ends[0],
            ends[1],
            MOST_STEPS,
            0.0,
            0.0,
            False,
            "",
            "",
            pressure=parameter.pressure,
        )
    stated: dict[str, Any] = {
        key: row[key] for key in ("most_steps", "minutes", "cost", "customer_approval", "how", "fixed") if key in row
    }
    before = len(plant.faults)
    if "step" in row:
        stated["step"] = _step(plant, where, row["step"], parameter)
    for key in ("low", "high"):
        if key in row:
            stated[key] = plant.attempt(where, key, partial(_end, parameter, row[key]))
    if len(plant.faults) > before:
        return None
    for key, outer, sign in (("low", declared.low, 1.0), ("high", declared.high, -1.0)):
        if key in stated and outer is not None and sign * (stated[key] - outer) < 0.0:
            allowed = f"{'at least' if key == 'low' else 'at most'} {format_value(outer, parameter.unit)}"
            plant.fault(where, key, "lies outside what the station can be set to", found=row[key], allowed=allowed)
            return None
    return replace(declared, **stated, source="plant sheet")


def _step(plant: _Sheet, where: str, text: str, parameter: Parameter) -> float | None:
    step: float | None = plant.attempt(where, "step", lambda: parse(text, difference(parameter.unit)).nominal)
    if step is None:
        return None
    if step <= 0.0:
        plant.fault(where, "step", "must be above zero", found=text)
        return None
    whole = parameter.change is not None and parameter.unit == "1" and _is_whole(float(parameter.change.step))
    if whole and not _is_whole(step):
        plant.fault(where, "step", "is no whole number, and this is a count", found=text)
        return None
    return step


def _is_whole(number: float) -> bool:
    return abs(number - round(number)) <= WHOLE * max(abs(number), 1.0)


def _in_range(plant: _Sheet, where: str, movement: Movement, given: Quantity | None) -> bool:
    if movement.low is not None and movement.high is not None and movement.low > movement.high:
        plant.fault(where, "low", "is above the upper end", found=format_value(movement.low, movement.unit))
        return False
    if given is None:
        return True
    for key, end, sign in (("low", movement.low, 1.0), ("high", movement.high, -1.0)):
        if end is not None and sign * (given.nominal - end) < -WHOLE * abs(end):
            what = f"leaves out where {movement.parameter} stands today"
            found = f"{key} {format_value(end, movement.unit)}"
            plant.fault(where, key, what, found=found, allowed=format_value(given.nominal, movement.unit))
            return False
    return True


def cures(plant: _Sheet | None, family: Family | None) -> dict[str, Cure]:
    """What the cure of every declared fault takes, the plant sheet's `[[cure]]` put first."""
    if family is None:
        return {}
    found = {f.name: f.effort for f in family.every_fault}
    seen: set[str] = set()
    for index, row in enumerate(plant.settled.get("cure", []) if plant else []):
        name = row.get("fault")
        if plant is None or name is None:
            continue
        where = f"cure/{index}"
        if name not in found:
            plant.fault(where, "fault", "is no declared fault", found=name, nearest=nearest(name, found))
        elif name in seen:
            plant.fault(where, "fault", "has its cure stated twice", found=name)
        else:
            seen.add(name)
            stated = {key: row[key] for key in ("minutes", "cost", "customer_approval", "parts", "note") if key in row}
            found[name] = replace(found[name], **stated, source="plant sheet")
    return found


def step_text(movement: Movement) -> str:
    """`0.02 mm`, `1`."""
    size = size_from_si(movement.step, movement.unit)
    unit = "K" if movement.unit == "degC" else movement.unit
    return f"{size:.4g}" + (f" {unit}" if unit != "1" else "")
