"""Which planted faults the readings can show at all, judged in the generator's own model and without its noise.

A planted fault is *visible* when its true shift s has s.C^-1 s above the 99 % quantile of chi-square with as many
degrees of freedom as there are readings, C the covariance of what is compared: the lot's mean against what was expected
of it (lot offset + part deviation / n + gauge, and the same of the known-good lot; without one, how far the drawing's
forces lie from those of other damper types), or the affected parts against the others of the lot.

It is *identifiable* when no declared fault of another station comes nearer than d = 3.92 in the same distance, at any
size of its range and a little beyond. Two known shifts at that distance are taken for each other in 2.5 % of lots
(normal distribution, d/2 = 1.96). Its fault is identifiable when that holds for every other fault.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from firstoff.chain.fault import Fault
from tests.blind.law import FloatArray
from tests.blind.lots import (
    BEYOND,
    DIAMETERS,
    RIG,
    SHELL,
    STANDING,
    BlindLaunch,
    Planted,
    World,
    gauge_parts,
    plant,
    shown,
)

APART = 3.92  # distance of two shifts that are told apart in 97.5 % of lots
SIZES = 7  # of each declared fault; between two of them the straight line counts
VISIBLE = 0.99
TEMPERATURE = "damping_rig.oil_temperature"


@dataclass(frozen=True)
class Knowledge:
    """What a damper type does, without noise. Columns in the order of `names`."""

    names: tuple[str, ...]
    nominal: FloatArray  # (k,)
    slopes: dict[str, tuple[FloatArray, float, float]]  # parameter -> shift per unit (k,), lot sd, part sd
    shifts: dict[str, list[FloatArray]]  # declared fault -> branches of shifts (sizes, k): one, or one for each sign


@dataclass(frozen=True)
class Visible:
    """How well the planted shift can be seen."""

    distance: float  # of the shift, squared
    needed: float
    nearest: str  # declared fault of another station
    to_nearest: float  # distance, squared
    nearest_fault: str  # any other declared fault
    to_nearest_fault: float

    @property
    def visible(self) -> bool:
        return self.distance > self.needed

    @property
    def identifiable(self) -> bool:
        return self.visible and self.to_nearest > APART**2

    @property
    def fault_identifiable(self) -> bool:
        return self.visible and self.to_nearest_fault > APART**2


def know(w: World, law: int) -> Knowledge:
    """Slopes over every scattering parameter (central differences of one sd) and shifts of every declared fault."""
    names = (*w.forces, *RIG, *DIAMETERS)
    scattering = [v for v in w.values if v.lot or v.part]
    sds = [(v.lot.sd if v.lot else 0.0, v.part.sd if v.part else 0.0) for v in scattering]
    steps = [math.hypot(*sd) or 1.0 for sd in sds]
    columns = {name: np.repeat(c, 2 * len(scattering) + 1) for name, c in w.nominal.items()}
    for i, (v, step) in enumerate(zip(scattering, steps, strict=True)):
        columns[v.name][2 * i] += step
        columns[v.name][2 * i + 1] -= step
    found = _matrix(shown(columns, w.laws[law], w.speeds, (), quick=True)[0], names)
    slopes = {
        v.name: ((found[2 * i] - found[2 * i + 1]) / (2.0 * step), *sd)
        for i, (v, step, sd) in enumerate(zip(scattering, steps, sds, strict=True))
    }
    shifts = {f.name: _branches(w, law, f, found[-1], names) for f in w.plan.job.family.faults}
    return Knowledge(names, found[-1], slopes, shifts)


def _matrix(true: dict[str, FloatArray], names: Sequence[str]) -> FloatArray:
    return np.stack([true[name] for name in names], axis=1)


def _branches(w: World, law: int, fault: Fault, nominal: FloatArray, names: Sequence[str]) -> list[FloatArray]:
    s = fault.sizes
    sizes = np.array([s.low])
    if s.low != s.high:
        u = np.linspace(-BEYOND, 1.0 + BEYOND, SIZES)
        sizes = s.low * (s.high / s.low) ** u if s.shape == "log-uniform" else s.low + u * (s.high - s.low)
    return [_shifts(w, law, fault, sign * sizes, nominal, names) for sign in ((1.0, -1.0) if s.both_signs else (1.0,))]


def _shifts(
    w: World, law: int, fault: Fault, sizes: FloatArray, nominal: FloatArray, names: Sequence[str]
) -> FloatArray:
    everyone = np.ones(1, dtype=np.bool_)
    rows = []
    for size in sizes:
        planted = (Planted(fault.name, fault.station, "all", float(size), everyone, fault),)
        true, _ = shown(plant(w.nominal, planted), w.laws[law], w.speeds, planted, quick=True)
        rows.append(_matrix(true, names)[0] - nominal)
    return np.array(rows)


def model_spread(known: Sequence[Knowledge], w: World) -> FloatArray:
    """How far the drawing's own figures lie from those of a damper type: second moment over types, half of it each
    reading's own, since a few types cannot show every direction."""
    stated = np.array([w.plan.nominal[name] for name in known[0].names])
    off = np.array([k.nominal - stated for k in known])
    moment = off.T @ off / len(off)
    return 0.5 * moment + 0.5 * np.diag(np.diag(moment)) + 1e-18 * np.eye(len(stated))


def look(b: BlindLaunch, k: Knowledge, spread: FloatArray) -> Visible:
    """Whether what was planted can be seen, and told from its neighbours."""
    at = [k.names.index(name) for name in b.names]
    s = true_shift(b, k)[at]
    who = b.planted[0].who
    root = np.linalg.inv(np.linalg.cholesky(covariance(b, k, spread, who)))
    mine = {p.name for p in b.planted}
    stations = {p.station for p in b.planted}
    found = []
    for f in b.world.plan.job.family.faults:
        if f.name in mine or who not in f.who or (b.noted.temperature and any(m.name == TEMPERATURE for m in f.moves)):
            continue
        gap = min(_to_line(root @ s, branch[:, at] @ root.T) for branch in k.shifts[f.name])
        found.append((gap, f.name, f.station in stations))
    nothing = (math.inf, "", False)
    nearest = min((g for g in found if not g[2]), default=nothing)
    any_nearest = min(found, default=nothing)
    needed = float(chi2.ppf(VISIBLE, len(at)))
    return Visible(float(np.sum((root @ s) ** 2)), needed, nearest[1], nearest[0], any_nearest[1], any_nearest[0])


def true_shift(b: BlindLaunch, k: Knowledge) -> FloatArray:
    """What the planted faults do to a nominal damper of this type, without noise."""
    w = b.world
    alone = [Planted(p.name, p.station, "all", p.size, np.ones(1, dtype=np.bool_), p.fault) for p in b.planted]
    true, _ = shown(plant(w.nominal, alone), w.laws[b.law], w.speeds, alone, quick=True)
    return _matrix(true, k.names)[0] - k.nominal


def covariance(b: BlindLaunch, k: Knowledge, spread: FloatArray, who: str) -> FloatArray:
    """Of what is compared when a fault strikes `who`; see the module."""
    size = len(k.names)
    lot, part = np.zeros((size, size)), np.zeros((size, size))
    for name, (slope, lot_sd, part_sd) in k.slopes.items():
        shape = np.outer(slope, slope)
        if name == TEMPERATURE and b.noted.temperature:
            part += SHELL**2 * shape
        else:
            lot += (b.scatter * lot_sd) ** 2 * shape
            part += (b.scatter * part_sd) ** 2 * shape
    gauges = [b.world.gauges[name] for name in k.names]
    repeat = [gauge_parts(g)[0] ** 2 / b.noted.repeats + g.resolution**2 / 12.0 for g in gauges]
    part += np.diag(repeat)
    at = np.ix_(*[[k.names.index(name) for name in b.names]] * 2)
    n, affected = b.parts, int(b.planted[0].affected.sum()) if b.planted else b.parts
    if who != "all":
        return part[at] * (1.0 / affected + 1.0 / (n - affected))
    common = np.diag([gauge_parts(g)[1] ** 2 for g in gauges])
    if b.good is None:
        return (lot + part / n + common + spread)[at]
    return (2.0 * lot + part / n + part / len(b.good.shell) + 2.0 * (1.0 - STANDING) * common)[at]


def _to_line(point: FloatArray, line: FloatArray) -> float:
    """Squared distance of a point from a broken line (m, k)."""
    if len(line) == 1:
        return float(np.sum((point - line[0]) ** 2))
    start, way = line[:-1], np.diff(line, axis=0)
    length = np.maximum(np.sum(way**2, axis=1), 1e-300)
    t = np.clip(np.sum((point - start) * way, axis=1) / length, 0.0, 1.0)
    return float(np.min(np.sum((start + t[:, None] * way - point) ** 2, axis=1)))
