"""Try: what every characteristic downstream does when a setting is moved, before anybody moves it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.chain.sample import sample
from firstoff.chain.station import Characteristic, FloatArray, Parameter
from firstoff.errors import InputFault, Message
from firstoff.launch.plan import LaunchPlan, place_of, plan
from firstoff.sheets.quantity import Quantity, QuantityError, parse

BUILDS = 512  # of the small ensemble: its shares outside are rough, and the page says so
SEED = 1
EDGE = 1e-9  # relative: an end of a range belongs to it, whatever its unit rounds to
_NUMBER = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]{1,3})?")


@dataclass(frozen=True)
class Moved:
    """One characteristic before and after, SI. None where the chain has no value, or without limits."""

    characteristic: Characteristic
    before: float | None  # at nominal settings
    after: float | None
    sd_before: float | None
    sd_after: float | None
    outside_before: float | None  # share of the small ensemble
    outside_after: float | None

    @property
    def moves(self) -> bool:
        """Whether the setting has a say in it."""
        if self.before is None or self.after is None:
            return self.before is not self.after
        return abs(self.after - self.before) > 1e-9 * max(abs(self.before), abs(self.after))


@dataclass(frozen=True)
class Tried:
    """A launch as planned, with some settings stated otherwise."""

    plan: LaunchPlan  # with the new settings
    stated: Mapping[str, str]  # `station.parameter` -> as it would stand in the sheet
    lines: tuple[Moved, ...]  # of every characteristic, in process order
    warnings: tuple[Message, ...]  # of stations whose model does not hold there

    @property
    def moved(self) -> tuple[Moved, ...]:
        return tuple(line for line in self.lines if line.moves)


def try_settings(settled: LaunchPlan, wished: Mapping[str, str], builds: int = BUILDS) -> Tried:
    """The plan with settings stated otherwise, at nominal and over a small ensemble of the same builds.

    wished: `station.parameter` -> a quantity, or a bare number that takes the place of the one in the sheet, whose
    unit and tolerance stay. Nothing is written. Raises InputFault for what cannot be.
    """
    job, faults = settled.job, []
    parameters = {f"{s.name}.{p.name}": p for s in job.family.stations for p in s.parameters}
    given, stated = dict(job.settings.given), {}
    for name, text in wished.items():
        parameter = parameters.get(name)
        if parameter is None or parameter.kind != "setting":
            faults.append(Message("is no setting of a station", key=name))
            continue
        try:
            stated[name] = restated(given.get(name), parameter, text)
            given[name] = parse(stated[name], parameter.unit, pressure=parameter.pressure)
            _within(parameter, given[name])
        except QuantityError as error:
            file, line, _ = place_of(job, name)
            faults.append(Message(error.what, file, line, name, error.found or text, error.allowed, error.nearest))
    if faults:
        raise InputFault(faults)
    after = plan(replace(job, settings=replace(job.settings, given=given)))
    lines = _lines(settled, after, builds)
    return Tried(after, stated, lines, tuple(m for m in after.warnings if m not in settled.warnings))


def restated(given: Quantity | None, parameter: Parameter, text: str) -> str:
    """`86` for `84 ±6 N` is `86 ±6 N`; with a unit it stands as it is."""
    typed = text.strip().replace("\u2212", "-")
    if not _NUMBER.fullmatch(typed):
        return typed
    typed = typed.replace(",", ".")
    if given is not None:
        return _NUMBER.sub(typed, given.text, count=1)
    unit = "" if parameter.unit == "1" else f" {parameter.unit}"
    return f"{typed}{unit}{' abs' if parameter.pressure else ''}"


def _within(parameter: Parameter, quantity: Quantity) -> None:
    """Whether a nominal lies in the parameter's range; QuantityError, as for a sheet, when it does not."""
    low, high = (
        parse(text, parameter.unit, pressure=parameter.pressure).nominal if text else None
        for text in (parameter.low, parameter.high)
    )
    if (low is not None and quantity.nominal < low - EDGE * abs(low)) or (
        high is not None and quantity.nominal > high + EDGE * abs(high)
    ):
        allowed = " and ".join(
            f"{side} {text}" for side, text in (("at least", parameter.low), ("at most", parameter.high)) if text
        )
        raise QuantityError("is out of range", quantity.text, allowed)


def _lines(before: LaunchPlan, after: LaunchPlan, builds: int) -> tuple[Moved, ...]:
    known = after.characteristics
    names = list(known)
    columns = [_ensemble(plan, names, builds) for plan in (before, after)]
    lines = []
    for i, (name, c) in enumerate(known.items()):
        one, two = (_finite(p.nominal.get(name)) for p in (before, after))
        sds = [_sd(column[:, i]) for column in columns]
        shares = [_outside(column[:, i], c) for column in columns]
        lines.append(Moved(c, one, two, sds[0], sds[1], shares[0], shares[1]))
    return tuple(lines)


def _ensemble(settled: LaunchPlan, names: list[str], builds: int) -> FloatArray:
    """The characteristics of the first builds (builds, names), NaN where there is no value."""
    columns = sample(values_of(settled.stations, settled.plans), 0, builds, SEED)
    found = run(settled.stations, settled.plans, Ensemble(columns, {}))
    values = np.stack([found.columns[name] for name in names], axis=1)
    return np.where(found.has_value[:, None], values, np.nan)


def _finite(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else float(value)


def _sd(values: FloatArray) -> float | None:
    known = values[np.isfinite(values)]
    return float(np.std(known, ddof=1)) if known.size > 1 else None


def _outside(values: FloatArray, c: Characteristic) -> float | None:
    """Share outside the limits; a build without a value counts."""
    if c.low is None and c.high is None:
        return None
    low, high = (-np.inf if c.low is None else c.low), (np.inf if c.high is None else c.high)
    return float(1.0 - np.mean((values >= low) & (values <= high)))
