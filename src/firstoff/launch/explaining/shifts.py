"""What a fault does to every characteristic, by running the chain: at nominal, and at dampers a little unlike it.

The drawing is not the damper: passages, plates and coefficients differ from it by some per cent, and the shift of a
fault with them. How far shifts vary over such dampers is how far the shape of a fault may be trusted.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase

import numpy as np

from firstoff.chain.budget import slow
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.fault import Fault, moved
from firstoff.chain.order import after, order
from firstoff.chain.sample import dimensions, place
from firstoff.chain.station import Columns, FloatArray, Plan, StatusArray, Value
from firstoff.families import PlannedStation
from firstoff.launch.plan import LaunchPlan
from firstoff.methods import sobol
from firstoff.sheets.spread import Spread
from firstoff.stations.settle import Settings

SIZES = 24  # of a fault
UNLIKE = 9  # dampers a little unlike the drawing's
DRAWN = Spread(0.03, "assumed: a drawing's passage or plate against what it does in the damper")  # relative
WIDER = 1.5  # times the stated scatter, of those dampers
FEW_UNLIKE, FEW_SIZES = 3, 6  # where a station takes its time: bars unlike the drawing's, and sizes between which
# shifts are taken as straight lines
SEED = 5


@dataclass(frozen=True)
class Bases:
    """The builds that a fault is put into: the first at nominal, the others unlike it; and what they give without."""

    columns: Columns
    status: Mapping[str, StatusArray]
    at_rest: FloatArray  # (bases, k)

    def of(self, which: Sequence[int]) -> Bases:
        """The same, with some of its characteristics only."""
        return Bases(self.columns, self.status, self.at_rest[:, list(which)])


def middle(values: Sequence[Value]) -> Columns:
    """One build with every value at the middle of its scatter."""
    return place(values, np.full((1, dimensions(values)), 0.5))


def counted(value: Value) -> bool:
    """Whether it is a number of things: notches, discs, ports."""
    return value.unit == "1" and float(value.nominal).is_integer()


def bases(plan: LaunchPlan, values: Sequence[Value], names: Sequence[str]) -> Bases:
    """The build at nominal, and `UNLIKE` others within the scatter and the doubt about what the drawing says."""
    wide = [_doubtful(v) for v in values]
    count = UNLIKE if not slow(plan.stations) else FEW_UNLIKE
    u = sobol.points(dimensions(wide), 0, count, SEED, 0)
    first, others = middle(values), place(wide, u)
    columns = {name: np.concatenate([first[name], others[name]]) for name in first}
    built = run(plan.stations, plan.plans, Ensemble(columns, {}))
    good = built.has_value.copy()
    good[0] = True
    columns = {name: column[good] for name, column in built.columns.items()}
    return Bases(columns, {n: flags[good] for n, flags in built.status.items()}, matrix(columns, names))


def unlike(values: Sequence[Value], doubt: float) -> list[Value]:
    """The values without their scatter, and what the drawing gives in doubt by a share of its size."""

    def one(v: Value) -> Value:
        free = v.kind == "given" and v.nominal != 0.0 and not counted(v) and v.unit != "degC"
        return replace(v, lot=replace(DRAWN, sd=doubt * abs(v.nominal)) if free else None, part=None, follows="")

    return [one(v) for v in values]


def _doubtful(value: Value) -> Value:
    if counted(value) or value.unit == "degC":
        return value
    own = [replace(s, sd=WIDER * s.sd, offset=0.0) if s else None for s in (value.lot, value.part)]
    if value.kind == "given" and own[0] is None:
        own[0] = replace(DRAWN, sd=DRAWN.sd * abs(value.nominal))
    return replace(value, lot=own[0], part=own[1])


def matrix(columns: Mapping[str, FloatArray], names: Sequence[str]) -> FloatArray:
    """Columns (n,) side by side, (n, k)."""
    return np.stack([columns[name] for name in names], axis=1)


def shifts_of(
    plan: LaunchPlan, fault: Fault, at: Bases, names: Sequence[str], sizes: FloatArray | None = None,
    needed: Sequence[int] | None = None,
) -> tuple[FloatArray, FloatArray, FloatArray]:  # fmt: skip
    """Sizes with a value (m,), the shift of every characteristic at each (m, k), and its covariances (m, k, k).

    needed: the characteristics without which a size has no value; all when None. What else cannot be computed counts
    as not moved: of a reading not taken it says nothing.

    The covariance of a shift is its mean square difference from the nominal one, over the dampers unlike the drawing.
    """
    sizes = fault.sizes.grid(SIZES) if sizes is None else sizes
    few = _few(plan, fault, sizes)
    found = _shifts(plan, fault, at, names, few, needed)
    if len(few) == len(sizes) or len(found[0]) < len(few):
        return found
    return (sizes, *(_between(sizes, few, rows) for rows in found[1:]))  # type: ignore[return-value]


def _few(plan: LaunchPlan, fault: Fault, sizes: FloatArray) -> FloatArray:
    """The sizes that are computed: all, or some from the least to the most where a station takes its time."""
    if fault.acts == "readings":
        return sizes
    since = [x.name for x in fault.moves] if fault.acts == "parameters" else [s.name for s in plan.stations]
    if not slow(after(plan.stations, since)):
        return sizes
    sides = [side for side in (sizes[sizes < 0.0], sizes[sizes >= 0.0]) if len(side)]
    picked = [side[np.unique(np.linspace(0, len(side) - 1, FEW_SIZES).round().astype(int))] for side in sides]
    return np.concatenate(picked)


def _between(sizes: FloatArray, few: FloatArray, rows: FloatArray) -> FloatArray:
    """Rows (m, ...) at all sizes from those at a few in order, by straight lines."""
    right = np.clip(np.searchsorted(few, sizes), 1, len(few) - 1)
    share = (sizes - few[right - 1]) / (few[right] - few[right - 1])
    share = share.reshape(-1, *([1] * (rows.ndim - 1)))
    return np.asarray((1.0 - share) * rows[right - 1] + share * rows[right])


def _shifts(
    plan: LaunchPlan, fault: Fault, at: Bases, names: Sequence[str], sizes: FloatArray, needed: Sequence[int] | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    count, m = len(at.at_rest), len(sizes)
    if fault.acts == "speed":
        found = np.stack([_at_speeds(plan, at, float(s), names) for s in sizes], axis=1).reshape(count * m, -1)
    elif fault.acts == "readings":
        readings = {name: at.columns[name] for name in names}
        moves = tuple(x for x in fault.moves if any(fnmatchcase(name, x.name) for name in names))
        found = matrix(moved(readings, replace(fault, moves=moves), sizes), names)
    else:
        columns = moved(at.columns, fault, sizes)
        status = {name: np.repeat(flags, m) for name, flags in at.status.items()}
        since = [x.name for x in fault.moves]
        found = matrix(run(plan.stations, plan.plans, Ensemble(columns, status), since).columns, names)
    shift = found.reshape(count, m, -1) - at.at_rest[:, None, :]
    asked = slice(None) if needed is None else list(needed)
    there = np.asarray(np.isfinite(shift[:, :, asked]).all(axis=2))
    good = there[0]
    shift, there = np.nan_to_num(shift[:, good], posinf=0.0, neginf=0.0), there[1:, good]
    off = np.where(there[:, :, None], shift[1:] - shift[0], 0.0)
    total = np.einsum("bmi,bmj->mij", off, off)
    return sizes[good], shift[0], total / np.maximum(there.sum(axis=0), 1)[:, None, None]


def touches(fault: Fault) -> tuple[str, ...]:
    """What the fault moves. Zero and gain of a cell may both be wrong, so a rig's error is told by how it acts, too."""
    return tuple(m.name if fault.acts == "parameters" else f"{m.how} {m.name}" for m in fault.moves)


def _at_speeds(plan: LaunchPlan, at: Bases, factor: float, names: Sequence[str]) -> FloatArray:
    """What a rig reads that runs at `factor` times the speeds it says: forces of the true under names of the stated."""
    job = plan.job
    family = job.family

    def chain(settings: Settings) -> tuple[PlannedStation, ...]:
        return (*family.make(settings), *(s for s in family.make_checks(settings) if s.name in plan.plans))

    other = replace(job.settings, speeds=tuple(v * factor for v in job.settings.speeds))
    stations, stated = chain(other), chain(job.settings)
    plans: dict[str, Plan] = {s.name: s.plan(other) for s in stations}
    inputs = {v.name: at.columns[v.name] for p in plan.plans.values() for v in p.values}
    found = run(order(stations), plans, Ensemble(inputs, {})).columns
    named = dict(zip((g for s in stated for g in s.gives), (g for s in stations for g in s.gives), strict=True))
    rows = [found[named.get(name, name)] for name in names]
    return np.stack([row if row.ndim == 1 else np.full(len(row), math.nan) for row in rows], axis=1)
