"""Readings taken away from the test temperature: how far, on which parts, and what that does to what was read."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.chain.sample import at_nominal
from firstoff.errors import Message
from firstoff.launch.job import Job
from firstoff.launch.plan import LaunchPlan
from firstoff.sheets.quantity import parse
from firstoff.sheets.units import format_value, size_from_si
from firstoff.trials.away import Place
from firstoff.trials.readings import Reading, Trial

TRUST = 1.5  # the true shift may be half as much again as the chain's: assumed, nobody compared it with a warm rig yet
MOST_NAMED = 6  # parts or characteristics in one remark
ZERO_CELSIUS = 273.15
SLIP = 6.0  # K, how near the test temperature a reading comes that was noted in another unit: assumed


@dataclass(frozen=True)
class Away:
    """What was tested beyond the window about the test temperature, SI."""

    nominal: float = math.nan  # K
    window: float = 0.0  # K
    parts: Mapping[tuple[str, str], float] = field(default_factory=dict)  # (lot, part) -> K above the test temperature
    shifts: Mapping[Place, float] = field(default_factory=dict)  # what the temperature alone adds to a reading
    lost: frozenset[Place] = frozenset()  # the stations have no value at that temperature
    unknown: tuple[str, ...] = ()  # characteristics of which no station says how they depend on temperature
    units: Mapping[str, str] = field(default_factory=dict)  # characteristic -> the trade's unit
    messages: tuple[Message, ...] = ()

    @property
    def bounds(self) -> dict[Place, float]:
        """The largest shift that is allowed for."""
        return {place: TRUST * shift for place, shift in self.shifts.items()}

    @property
    def reasons(self) -> dict[Place, str]:
        """What is said of a verdict that does not stand without the shift."""
        where = f"the test temperature of {_celsius(self.nominal)}"
        said = {}
        for place, shift in self.shifts.items():
            name, lot, part = place
            said[place] = (
                f"tested {_away(self.parts[lot, part])} than {where}, which alone moves {name} by about "
                f"{_signed(shift, self.units[name])}: the verdict would not stand without it"
            )
        for place in self.lost:
            said[place] = (
                f"tested {_away(self.parts[place[1:]])} than {where}, where no station can say what it should read"
            )
        return said

    @property
    def of_lot(self) -> str:
        """What is said of a lot whose verdict does not stand without the shifts of its parts."""
        return (
            f"parts were tested more than {self.window:g} K away from the test temperature of "
            f"{_celsius(self.nominal)}, and the verdict would not stand without what that alone does"
        )

    def as_dict(self) -> dict[str, Any]:
        """As plain values, SI."""
        return {
            "test_temperature": self.nominal,
            "window": self.window,
            "parts": [{"lot": lot, "part": part, "away": away} for (lot, part), away in self.parts.items()],
            "shifts": [
                {"characteristic": name, "lot": lot, "part": part, "shift": shift}
                for (name, lot, part), shift in self.shifts.items()
            ],
            "no_value": [{"characteristic": name, "lot": lot, "part": part} for name, lot, part in sorted(self.lost)],
            "not_computed": list(self.unknown),
        }


def away(job: Job, plan: LaunchPlan | None, trial: Trial) -> Away:
    """The parts of a trial that were tested beyond the window, and the shifts that the stations expect of it.

    Nothing is corrected. plan: None for a sheet of limits alone; then nobody can say what the temperature does.
    """
    nominal = _test_temperature(job)
    noted = _noted(trial.readings)
    if nominal is None or not noted:
        return Away()
    window = job.family.temperature_window
    far = {place: t - nominal for place, t in noted.items() if abs(t - nominal) > window}
    parts: dict[tuple[str, str], float] = {}
    for (_, lot, part), off in far.items():
        parts[lot, part] = max(parts.get((lot, part), 0.0), off, key=abs)
    shifts, unknown = _shifts(job, plan, far)
    kept = {place: s for place, s in shifts.items() if math.isfinite(s) and s != 0.0}
    lost = frozenset(place for place, s in shifts.items() if not math.isfinite(s))
    units = {c.name: c.unit for c in plan.characteristics.values()} if plan else {}
    found = Away(nominal, window, parts, kept, lost, unknown, units)
    messages = [*_unit_slips(trial, nominal, window), *_without(trial, noted)]
    return Away(nominal, window, parts, kept, lost, unknown, units, (*_remark(trial, found), *messages))


def _test_temperature(job: Job) -> float | None:
    """The nominal of the family's test temperature [K]: the sheet's, else the default of its station."""
    name = job.family.temperature
    if not name:
        return None
    if name in job.settings.given:
        return job.settings.given[name].nominal
    station, key = name.split(".")
    declared = next(p for s in job.family.stations if s.name == station for p in s.parameters if p.name == key)
    return parse(declared.default, declared.unit).nominal if declared.default else None


def _noted(readings: Iterable[Reading]) -> dict[Place, float]:
    """Mean temperature [K] of the readings of each characteristic of each part, where one was noted."""
    found: dict[Place, list[float]] = {}
    for r in readings:
        if r.temperature is not None:
            found.setdefault((r.characteristic, r.lot, r.part), []).append(r.temperature)
    return {place: sum(noted) / len(noted) for place, noted in found.items()}


def _shifts(
    job: Job, plan: LaunchPlan | None, far: Mapping[Place, float]
) -> tuple[dict[Place, float], tuple[str, ...]]:
    """What the temperature alone adds to each reading, NaN where no station has a value, and what nobody computes."""
    computed = plan.nominal if plan else {}
    unknown = tuple(dict.fromkeys(name for name, _, _ in far if name not in computed))
    offs = sorted({off for (name, _, _), off in far.items() if name in computed})
    if plan is None or not offs:
        return {}, unknown
    middle = at_nominal(values_of(plan.stations, plan.plans))
    columns = {name: np.repeat(column, len(offs) + 1) for name, column in middle.items()}
    columns[job.family.temperature] = columns[job.family.temperature] + np.array([0.0, *offs])
    builds = run(plan.stations, plan.plans, Ensemble(columns, {})).columns
    at = {off: i + 1 for i, off in enumerate(offs)}
    return {
        place: float(builds[place[0]][at[off]] - builds[place[0]][0])
        for place, off in far.items()
        if place[0] in computed
    }, unknown


def _remark(trial: Trial, found: Away) -> list[Message]:
    if not found.parts:
        return []
    first = next(r for r in trial.readings if (r.lot, r.part) in found.parts and r.temperature is not None)
    all_parts = {(r.lot, r.part) for r in trial.readings}
    names = _few([f"{part} {_away(off)}" for (_, part), off in found.parts.items()])
    count = len(found.parts)
    what = (
        f"{count} of {len(all_parts)} parts {'was' if count == 1 else 'were'} tested more than {found.window:g} K away "
        f"from the test temperature of {_celsius(found.nominal)}: {names}"
    )
    largest: dict[str, float] = {}
    for (name, _, _), shift in found.shifts.items():
        largest[name] = max(largest.get(name, 0.0), shift, key=abs)
    if largest:
        moved = sorted(largest, key=lambda name: -abs(largest[name]))
        shown = _few([f"{name} {_signed(largest[name], found.units[name])}" for name in moved])
        what += f". That alone moves what was read, at most by about: {shown}. Nothing was corrected"
    if found.lost:
        what += f". No station has a value there for {_few(sorted({name for name, _, _ in found.lost}))}"
    if found.unknown:
        what += f". What it does to {_few(found.unknown)} nobody says"
    return [Message(what, trial.file, first.line, "temperature", level="remark")]


def _unit_slips(trial: Trial, nominal: float, window: float) -> list[Message]:
    """Temperatures that would be the test temperature, had they been noted in degF, K or degC."""
    found: dict[str, list[Reading]] = {}
    for r in trial.readings:
        if r.temperature is None or abs(r.temperature - nominal) <= max(SLIP, window):
            continue
        number = r.temperature - ZERO_CELSIUS
        other = {"degF": (number - 32.0) / 1.8 + ZERO_CELSIUS, "K": number, "degC": r.temperature + ZERO_CELSIUS}
        unit = next((u for u, kelvin in other.items() if abs(kelvin - nominal) <= SLIP), None)
        if unit:
            found.setdefault(unit, []).append(r)
    return [
        Message(
            f"would be near the test temperature if it were in {unit}: line{'s' * (len(lines) > 1)} {_few(lines)}; "
            "used as written",
            trial.file,
            odd[0].line,
            "temperature",
            _celsius(odd[0].temperature or 0.0),
            level="remark",
        )
        for unit, odd in found.items()
        for lines in [list(dict.fromkeys(str(r.line) for r in odd))]
    ]


def _without(trial: Trial, noted: Mapping[Place, float]) -> list[Message]:
    """A remark when the temperature was noted for some parts only."""
    known = {place[1:] for place in noted}
    silent = list(dict.fromkeys(r.part for r in trial.readings if (r.lot, r.part) not in known))
    if not silent:
        return []
    what = f"is not noted for {_few(silent)}: taken to have been tested at the test temperature"
    return [Message(what, trial.file, key="temperature", level="remark")]


def _few(names: Sequence[str]) -> str:
    return ", ".join(names[:MOST_NAMED]) + (f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else "")


def _celsius(kelvin: float) -> str:
    return f"{kelvin - ZERO_CELSIUS:.4g} °C"


def _away(off: float) -> str:
    return f"{abs(off):.1f} K {'warmer' if off > 0 else 'colder'}"


def _signed(shift: float, unit: str) -> str:
    text = format_value(abs(size_from_si(shift, unit)), "1", 2)
    return f"{'+' if shift > 0 else '-'}{text} {unit}"
