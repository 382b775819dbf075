"""The readings of a lot against its prediction: do mean and scatter agree with what the chain expects?"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np
import numpy.typing as npt

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.chain.sample import dimensions, place, sample
from firstoff.chain.station import Columns, Value
from firstoff.launch.explaining.suspects import SHELL
from firstoff.launch.plan import LaunchPlan, without_unasked
from firstoff.methods.agreement import mean_agreement, spread_agreement
from firstoff.trials.gauges import Gauge, find
from firstoff.trials.readings import Trial

BUILDS = 1024  # of each ensemble that settles a mean or a scatter; their own error is then a few per cent of an sd
FEWEST = 64  # of them with a value; fewer settle nothing
SEED = 1
RISK = 0.05  # of saying `disagree` although nothing is wrong, over all tests of a trial together

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Against:
    """One characteristic of one lot beside its prediction, SI. None where a figure is not defined."""

    characteristic: str
    lot: str
    n: int
    predicted_mean: float  # at the temperatures of the readings, where they were noted
    predicted_lot_sd: float  # of the means of lots
    predicted_part_sd: float  # between parts of one lot
    gauge_u: float | None  # None: not known, and left out
    mean: float
    sd: float | None
    difference_sd: float | None  # what the mean may differ by: lot, parts and gauge
    z: float | None
    p_mean: float | None
    predicted_sd: float  # of readings within the lot: parts and the gauge's repeatability, at most
    p_sd: float | None
    agrees: bool
    words: str


def against(plan: LaunchPlan, trial: Trial) -> tuple[Against, ...]:
    """Every characteristic that was read and that the stations compute, lot by lot.

    The test is that of `methods.agreement`; its level is the risk shared by all tests (Bonferroni). The error of the
    model itself is not in it: a disagreement says that parts, gauge or sheet are not what the prediction took them for.
    """
    found = [one for lot in dict.fromkeys(r.lot for r in trial.readings) for one in _lot(plan, trial, lot)]
    tests = sum(p is not None for one in found for p in (one.p_mean, one.p_sd))
    return tuple(_judged(one, RISK / max(tests, 1)) for one in found)


def _judged(one: Against, level: float) -> Against:
    said = []
    if one.p_mean is not None and one.p_mean < level:
        said.append(f"mean {'higher' if one.mean > one.predicted_mean else 'lower'}")
    if one.p_sd is not None and one.p_sd < level:
        said.append(f"scatter {'wider' if (one.sd or 0.0) > one.predicted_sd else 'narrower'}")
    known = one.p_mean is not None
    return replace(one, agrees=known and not said, words="disagrees: " + ", ".join(said) if said else
                   "agrees" if known else "no scatter is predicted")  # fmt: skip


def _lot(plan: LaunchPlan, trial: Trial, lot: str) -> list[Against]:
    readings = [r for r in trial.readings if r.lot == lot and r.characteristic in plan.nominal]
    names = tuple(dict.fromkeys(r.characteristic for r in readings))
    if not names:
        return []
    by_name: dict[str, dict[str, list[float]]] = {name: {} for name in names}
    warm: dict[str, list[float]] = {}
    for r in readings:
        by_name[r.characteristic].setdefault(r.part, []).append(r.value)
        warm.setdefault(r.part, []).extend([] if r.temperature is None else [r.temperature])
    temperatures = {part: sum(noted) / len(noted) for part, noted in warm.items() if noted}
    if len(temperatures) < len(warm):
        temperatures = {}
    means, lots, parts = expected_of(without_unasked(plan, names), names, temperatures)
    return [
        _one(plan, name, lot, by_name[name], means[name], lots[name], parts[name],
             next(r.gauge for r in readings if r.characteristic == name))
        for name in names
        if name in means
    ]  # fmt: skip


def _one(
    plan: LaunchPlan,
    name: str,
    lot: str,
    read: Mapping[str, Sequence[float]],
    expected: Mapping[str, float],
    lot_sd: float,
    part_sd: float,
    named: str,
) -> Against:
    values = {part: sum(of) / len(of) for part, of in read.items()}
    n = len(values)
    mean = sum(values.values()) / n
    predicted = sum(expected.get(part, expected[""]) for part in values) / n
    rest = [value - expected.get(part, expected[""]) for part, value in values.items()]
    sd = float(np.std(rest, ddof=1)) if n > 1 else None
    gauge, _ = find(plan.job.gauges, name, named)
    common, least, most = _gauge(gauge, min(len(of) for of in read.values()))
    found = mean_agreement(mean - predicted, n, lot_sd, part_sd, common, most)
    p_sd = None if sd is None else spread_agreement(sd, n, math.hypot(part_sd, least), math.hypot(part_sd, most))
    return Against(
        name, lot, n, predicted, lot_sd, part_sd, gauge.u if gauge else None, mean, sd, found.sd if found else None,
        found.z if found else None, found.p if found else None, math.hypot(part_sd, most), p_sd, False, "",
    )  # fmt: skip


def _gauge(gauge: Gauge | None, repeats: int) -> tuple[float, float, float]:
    """Common uncertainty, and the least and most that differs from part to part; a silent gauge may hold either."""
    if gauge is None or gauge.u is None:
        return 0.0, 0.0, 0.0
    random = (gauge.repeatability or gauge.u) / math.sqrt(repeats)
    return gauge.common() or 0.0, random if gauge.repeatability else 0.0, random


def expected_of(
    plan: LaunchPlan, names: Sequence[str], temperatures: Mapping[str, float]
) -> tuple[dict[str, dict[str, float]], dict[str, float], dict[str, float]]:
    """Mean of each characteristic by part ("" for a part without temperature), its sd between lots and within one."""
    warm = plan.job.family.temperature if temperatures else ""
    mean = sum(temperatures.values()) / len(temperatures) if temperatures else 0.0
    values = [
        replace(v, nominal=mean, lot=None, part=SHELL) if v.name == warm else v
        for v in values_of(plan.stations, plan.plans)
    ]
    middle = place(values, np.full((1, dimensions(values)), 0.5))
    rows: Columns = {name: np.repeat(column, len(temperatures) + 1) for name, column in middle.items()}
    if warm:
        rows[warm] = np.array([mean, *temperatures.values()])
    at = run(plan.stations, plan.plans, Ensemble(rows, {})).columns
    whole, between, within = (_builds(plan, values, names, level) for level in ("", "lot", "part"))
    means, lots, parts = {}, {}, {}
    for name in names:
        if min(len(whole[name]), len(between[name]), len(within[name])) < FEWEST:
            continue
        bend = float(whole[name].mean() - at[name][0])  # mean of the scatter, less the build in its middle
        means[name] = {part: float(x) + bend for part, x in zip(("", *temperatures), at[name], strict=True)}
        lots[name], parts[name] = float(between[name].std()), float(within[name].std())
    return means, lots, parts


def _builds(
    plan: LaunchPlan, values: Sequence[Value], names: Sequence[str], level: Literal["", "lot", "part"]
) -> dict[str, FloatArray]:
    """Each characteristic over trial builds that scatter at one level, or at both; builds without a value left out."""
    if level == "lot":
        values = [replace(v, part=None) for v in values]
    elif level == "part":
        values = [replace(v, lot=None) for v in values]
    builds = _run(_Case(plan, tuple(values)))
    return {name: builds[name][np.isfinite(builds[name])] for name in names}


class _Case:
    """A planned chain at these values. Equal for the same job, stations and values: they fix every build."""

    def __init__(self, plan: LaunchPlan, values: tuple[Value, ...]) -> None:
        self.plan, self.values = plan, values
        self.key = (id(plan.job), tuple(s.name for s in plan.stations), values)  # the plan keeps its job alive

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Case) and self.key == other.key

    def __hash__(self) -> int:
        return hash(self.key)


@lru_cache(maxsize=12)
def _run(case: _Case) -> Columns:
    """The trial builds; once, while readings of the same launch come in one after another."""
    count = BUILDS if dimensions(case.values) else FEWEST
    return run(case.plan.stations, case.plan.plans, Ensemble(sample(case.values, 0, count, SEED), {})).columns
