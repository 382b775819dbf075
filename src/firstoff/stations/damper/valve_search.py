"""Which piston valve with which base valve meets the customer's table: every pair, without computing every pair.

The force in rebound follows from the piston's rebound path and the base valve's intake, that in compression from the
piston's check and the base valve's compression path. Many valves share a path, so each pair of paths is computed once
by the kernel, and a pair of valves is looked up in two tables. This is exact while the compression chamber stays at or
below the reserve's pressure in rebound; where it does not, the base valve's compression path counts as well and the
table of rebound is made again with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from firstoff.chain.predict import in_order
from firstoff.chain.station import FloatArray, Plan
from firstoff.physics.damper.twin_tube import curve
from firstoff.stations.damper.base_valve import BaseValve
from firstoff.stations.damper.damping_rig import Hydraulics
from firstoff.stations.damper.piston_valve import PistonValve
from firstoff.stations.damper.valve_sets import IntArray, ValveSet

STATIONS: Mapping[str, PistonValve | BaseValve] = {"piston_valve": PistonValve(), "base_valve": BaseValve()}
PAIRS = 4096  # of paths, in one chunk
ROWS = 4096  # valves, in one chunk
BLOCK = 1_000_000  # pairs of valves weighed at once
LIFTED = 1e-9  # relative, by which a pressure counts as above the reserve's
ONE_SIDED = 0.1  # of a single limit, which stands for half a tolerance: assumed


@dataclass(frozen=True)
class Table:
    """The customer's table in one direction: speeds [m/s] signed, limits [N] (m,), NaN where there is none."""

    speeds: FloatArray
    low: FloatArray
    high: FloatArray

    def use(self, force: FloatArray) -> FloatArray:
        """Share of half the tolerance that forces (..., m) use at the worst speed: 1 at a limit, infinity for no value.

        u = |F - (L + U)/2| / ((U - L)/2); with one limit alone u = 1 + (distance beyond it)/(a tenth of it), 0 or more.
        """
        half = (self.high - self.low) / 2.0
        both = np.abs(force - (self.high + self.low) / 2.0) / half
        upper = 1.0 + (force - self.high) / (ONE_SIDED * np.abs(self.high))
        lower = 1.0 + (self.low - force) / (ONE_SIDED * np.abs(self.low))
        used = np.where(np.isfinite(both), both, np.maximum(np.fmax(upper, lower), 0.0))
        used = np.where(np.isfinite(force), used, np.inf)
        return np.asarray(used.max(axis=-1, initial=0.0))

    def room(self, force: FloatArray, sd: FloatArray) -> FloatArray:
        """Least distance to a limit over the force's sd (m,), below 0 outside; minus infinity without a value."""
        left = np.fmin(force - self.low, self.high - force) / sd
        left = np.where(np.isfinite(force), left, -np.inf)
        return np.asarray(left.min(axis=-1, initial=np.inf))


@dataclass(frozen=True)
class Paths:
    """Two different kinds of rows of the valve law that valves of one side have, and which valve has which."""

    main: FloatArray  # (k, fields): rows that differ
    check: FloatArray
    of_main: IntArray  # (n,) index into `main` of each valve
    of_check: IntArray
    kept: IntArray  # (n,) rows of the ValveSet that have a value


@dataclass(frozen=True)
class Field:
    """Everything the search has computed: forces of all pairs of paths, and which pair of paths each valve makes.

    Rebound: forces (main paths of the piston, back paths of the base, m); compression: (check paths, main paths, m).
    """

    piston: Paths
    base: Paths
    back: IntArray  # (n_base,) index into the second axis of `rebound`
    rebound: FloatArray
    compression: FloatArray
    tables: tuple[Table, Table]
    computed: int  # damper curves by the kernel
    lifted: bool  # whether the base valve's compression path had to count in rebound

    @property
    def pairs(self) -> int:
        return len(self.piston.kept) * len(self.base.kept)

    def forces(self, p: IntArray, b: IntArray) -> tuple[FloatArray, FloatArray]:
        """Forces in rebound and compression of pairs of valves, by their place in `kept`."""
        rebound = self.rebound[self.piston.of_main[p], self.back[b]]
        return rebound, self.compression[self.piston.of_check[p], self.base.of_main[b]]


def paths(valves: ValveSet, plan: Plan) -> Paths:
    """The rows of every valve of a side, each different one once. `plan`: of its station, for what no part sets."""
    side, n = valves.side, len(valves.rows)
    stated = valves.columns() if n else {}
    station = STATIONS[side.station]
    names = [f"{side.body}_{key}_row" for key in (("rebound", "check") if side.body == "piston" else
                                                 ("compression", "intake"))]  # fmt: skip
    found: list[list[FloatArray]] = [[], []]
    for start in range(0, n, ROWS):
        cut = slice(start, min(start + ROWS, n))
        columns = {v.name: np.full(cut.stop - start, v.nominal) for v in plan.values}
        for name, column in stated.items():
            columns[name] = np.where(np.isfinite(column[cut]), column[cut], columns[name])
        given = station.run(plan, columns)[0]
        for rows, name in zip(found, names, strict=True):
            rows.append(given[name])
    main, check = (np.concatenate(rows) if rows else np.empty((0, 15)) for rows in found)
    kept = np.flatnonzero(np.isfinite(main).all(axis=1) & np.isfinite(check).all(axis=1))
    (main_rows, of_main), (check_rows, of_check) = (_different(rows[kept]) for rows in (main, check))
    return Paths(main_rows, check_rows, of_main, of_check, kept)


def _different(rows: FloatArray) -> tuple[FloatArray, IntArray]:
    found, index = np.unique(rows, axis=0, return_inverse=True)
    return np.ascontiguousarray(found), index.reshape(-1).astype(np.int64)


def compute(piston: Paths, base: Paths, inner: Hydraulics, tables: tuple[Table, Table], workers: int = 1) -> Field:
    """The two tables of forces, by the quasi-static kernel. `inner`: one damper at its nominal."""
    gas = float(inner.gas_pressure[0])
    rebound, compression = tables
    back_rows, back = base.check, base.of_check
    of_back = _first(back, len(back_rows))
    valves = (piston.main, piston.check[:1], base.main[base.of_main[of_back]] if len(of_back) else base.main, back_rows)
    found, most = _curves(rebound.speeds, inner, valves, (0, 3), workers)
    lifted = bool(most > gas * (1.0 + LIFTED))
    count = len(piston.main) * len(back_rows)
    if lifted:
        both = np.concatenate([base.check[base.of_check], base.main[base.of_main]], axis=1)
        rows, back = _different(both)
        width = base.check.shape[1]
        valves = (piston.main, piston.check[:1], np.ascontiguousarray(rows[:, width:]),
                  np.ascontiguousarray(rows[:, :width]))  # fmt: skip
        found, _ = _curves(rebound.speeds, inner, valves, (0, 3), workers)
        count += len(piston.main) * len(rows)
    pushed, _ = _curves(compression.speeds, inner, (piston.main[:1], piston.check, base.main, base.check[:1]), (1, 2),
                        workers)  # fmt: skip
    count += len(piston.check) * len(base.main)
    return Field(piston, base, back, found, pushed, tables, count, lifted)


def _first(index: IntArray, count: int) -> IntArray:
    """The first place at which each of 0 .. count - 1 stands."""
    first = np.zeros(count, dtype=np.int64)
    first[index[::-1]] = np.arange(len(index))[::-1]
    return first


def _curves(
    speeds: FloatArray, inner: Hydraulics, valves: Sequence[FloatArray], varied: tuple[int, int], workers: int
) -> tuple[FloatArray, float]:
    """Forces (a, b, m) of every pair of rows of the two `varied` valves, and the highest pressure in the compression
    chamber. A valve that is not varied has one row, or as many as the second of the two and goes with it."""
    first, second = (len(valves[k]) for k in varied)
    count = first * second
    force = np.full((count, len(speeds)), np.nan)
    if not count or not len(speeds):
        return force.reshape(first, second, len(speeds)), 0.0

    def work(start: int) -> float:
        cut = np.arange(start, min(start + PAIRS, count))
        i, j = cut // second, cut % second
        rows = np.empty((len(cut), 4, valves[0].shape[1]))
        for k, of in enumerate(valves):
            rows[:, k] = of[i] if k == varied[0] else of[j] if len(of) == second and k != varied[0] else of[:1]
        made = curve(speeds, inner.builds, rows, inner.oils)
        force[cut] = made.force
        pressures = made.p_compression[np.isfinite(made.p_compression)]
        return float(pressures.max(initial=0.0))

    most = max(in_order(work, range(0, count, PAIRS), workers))
    return force.reshape(first, second, len(speeds)), most


Score = Callable[[Any, Any, IntArray, IntArray], FloatArray]


@dataclass(frozen=True)
class Found:
    """The best pairs of valves by a score, best first; indices into the ValveSets."""

    piston: IntArray
    base: IntArray
    score: FloatArray


def groups(field: Field) -> Iterator[tuple[IntArray, IntArray, int, int]]:
    """Valves (places in `kept`) that share the path which ties one side to the other, and the numbers of the paths."""
    by_check = _members(field.piston.of_check)
    by_back = _members(field.back)
    for c, of_piston in by_check.items():
        for i, of_base in by_back.items():
            yield of_piston, of_base, c, i


def _members(index: IntArray) -> Mapping[int, IntArray]:
    order = np.argsort(index, kind="stable")
    cuts = np.flatnonzero(np.diff(index[order])) + 1
    return {int(index[part[0]]): part for part in np.split(order, cuts) if len(part)}


def meeting(field: Field) -> int:
    """How many pairs of valves keep every limit of the table at nominal: a sum over groups, exact."""
    use = [table.use(forces) for table, forces in zip(field.tables, (field.rebound, field.compression), strict=True)]
    return sum(
        int((use[0][field.piston.of_main[p], i] <= 1.0).sum()) * int((use[1][c, field.base.of_main[b]] <= 1.0).sum())
        for p, b, c, i in groups(field)
    )


def best(field: Field, measures: tuple[FloatArray, FloatArray], score: Score, count: int) -> Found:
    """The `count` pairs of valves with the least score, exactly: every pair is weighed, group by group.

    measures: one number for each pair of paths in rebound and in compression, of the shape of the tables. score(a, b,
    piston, base) gives a matrix from a column of the one and a row of the other. Equal scores go by place.
    """
    pool: list[tuple[FloatArray, IntArray, IntArray]] = []
    bar = np.inf
    for p, b, c, i in groups(field):
        down, up = measures[0][field.piston.of_main[p], i], measures[1][c, field.base.of_main[b]]
        rows = max(1, BLOCK // len(b))
        for start in range(0, len(p), rows):
            some = p[start : start + rows]
            scores = score(down[start : start + rows, np.newaxis], up[np.newaxis, :], some, b)
            x, y = np.nonzero(scores <= bar)
            if len(x):
                pool.append((scores[x, y], some[x], b[y]))
            if sum(len(s) for s, _, _ in pool) > 4 * count:
                pool = [_least(pool, count)]
                bar = float(pool[0][0][-1])
    if not pool:
        return Found(np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0))
    scores, of_piston, of_base = _least(pool, count)
    return Found(field.piston.kept[of_piston], field.base.kept[of_base], scores)


def _least(
    pool: Sequence[tuple[FloatArray, IntArray, IntArray]], count: int
) -> tuple[FloatArray, IntArray, npt.NDArray[np.int64]]:
    scores, p, b = (np.concatenate([part[k] for part in pool]) for k in range(3))
    order = np.lexsort((b, p, scores))[:count]
    return scores[order], p[order], b[order]
