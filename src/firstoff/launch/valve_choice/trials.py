"""Trial builds of several valves from the same draws: what differs between two of them is the valves, not the luck."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.order import upstream
from firstoff.chain.predict import Rate, values_of
from firstoff.chain.sample import check, dimensions, place, scatters
from firstoff.chain.station import Columns, FloatArray, Plan, Value
from firstoff.launch.plan import LaunchPlan
from firstoff.methods.rates import rate_interval
from firstoff.methods.sobol import points
from firstoff.sheets.spread import Spread
from firstoff.stations.damper.damping_rig import DampingRig

VALVES = ("piston_valve", "base_valve")
REPLICATES = 8  # scrambles, as `predict` takes them
NEXT_TO_NOTHING = 1e-200  # SI: a level at which another valve scatters keeps its place in the draws

Plans = Mapping[str, Plan]


@dataclass(frozen=True)
class TrialBuilds:
    """What one valve's trial builds say about the forces of the customer's table, SI."""

    outside: Rate  # any force of the table
    rejects: Mapping[str, int]  # force -> builds outside its limits
    mean: Mapping[str, float]
    sd: Mapping[str, float]
    room: float  # least distance of a mean to its limit, in standard deviations
    nearest: str  # the force it belongs to, and its side
    rejected: npt.NDArray[np.bool_]  # (n,) build by build


class CommonDraws:
    """The draws that all valves share, and the chain up to where a valve first matters."""

    def __init__(self, plan: LaunchPlan, every: Sequence[Plans], seed: int) -> None:
        self.plan, self.seed = plan, seed
        self.names = [
            n for n, c in plan.characteristics.items()
            if n in _forces(plan) and (c.low is not None or c.high is not None)
        ]  # fmt: skip
        limits = [(plan.characteristics[n].low, plan.characteristics[n].high) for n in self.names]
        self.low, self.high = (
            np.array([math.nan if v is None else v for v in side]) for side in zip(*limits, strict=True)
        )
        scattering: dict[str, set[str]] = {"lot": set(), "part": set()}
        for plans in every:
            for v in values_of(plan.stations, plans):
                for level, names in scattering.items():
                    if scatters(getattr(v, level)):
                        names.add(v.name)
        self.scattering = scattering
        self.sizes: list[int] = []
        self.draws = np.empty((0, 0))
        self.built = Ensemble({}, {})

    def prepare(self, builds: int) -> None:
        """Draw so many builds and send them through the stations before the valves, once for all valves."""
        values = self._values(self.plan.plans)
        self.sizes = self._sizes(builds)
        dims = dimensions(values)
        self.draws = np.concatenate([points(dims, 0, size, self.seed, r) for r, size in enumerate(self.sizes)])
        self.built = run(self.plan.stations, self.plan.plans, Ensemble(place(values, self.draws), {}))

    def of(self, plans: Plans) -> TrialBuilds:
        """The prepared builds with the valve that these plans hold."""
        values = self._values(plans)
        faults = check(values)
        assert not faults, faults  # the sheet's checker has been over every quantity
        own = [v for v in values if v.name.split(".", 1)[0] in VALVES]
        levels = [(level, v.name) for level in ("lot", "part") for v in values if scatters(getattr(v, level))]
        mine = [i for i, (_, name) in enumerate(levels) if name.split(".", 1)[0] in VALVES]
        columns: Columns = {**self.built.columns, **place(own, np.ascontiguousarray(self.draws[:, mine]))}
        found = run(self.plan.stations, plans, Ensemble(columns, dict(self.built.status)), VALVES)
        forces = np.stack([found.columns[n] for n in self.names], axis=1)
        return self._reduced(forces, found.has_value_in(upstream(self.plan.stations)[DampingRig.name]))

    def _reduced(self, forces: FloatArray, good: npt.NDArray[np.bool_]) -> TrialBuilds:
        with np.errstate(invalid="ignore"):
            outside = ((forces < self.low) | (forces > self.high)) & good[:, np.newaxis]
        rejected = outside.any(axis=1) | ~good
        ends = np.cumsum([0, *self.sizes])
        counts = [int(rejected[a:b].sum()) for a, b in zip(ends[:-1], ends[1:], strict=True)]
        low, high = rate_interval(counts, self.sizes)
        n = len(rejected)
        rate = Rate(sum(counts) / n, low, high, sum(counts), int((~good).sum()), n)
        mean = sd = np.full(len(self.names), math.nan)
        room, nearest = -math.inf, ""
        if good.sum() > 1:
            mean, sd = forces[good].mean(axis=0), np.maximum(forces[good].std(axis=0, ddof=1), 1e-12)
            room, nearest = self._room(mean, sd)
        by_force = dict(zip(self.names, outside.sum(axis=0).tolist(), strict=True))
        means, sds = (dict(zip(self.names, x.tolist(), strict=True)) for x in (mean, sd))
        return TrialBuilds(rate, by_force, means, sds, room, nearest, rejected)

    def _room(self, mean: FloatArray, sd: FloatArray) -> tuple[float, str]:
        sides = np.stack([(mean - self.low) / sd, (self.high - mean) / sd])
        k = int(np.nanargmin(sides))
        side, i = divmod(k, len(self.names))
        return float(sides[side, i]), f"{self.names[i]}, {'upper' if side else 'lower'} limit"

    def _sizes(self, builds: int) -> list[int]:
        count = min(REPLICATES, builds)
        return [builds // count + (r < builds % count) for r in range(count)]

    def _values(self, plans: Plans) -> tuple[Value, ...]:
        """The values of the chain, each with a place in the draws for every level at which any valve scatters."""
        found = []
        for v in values_of(self.plan.stations, plans):
            for level, names in self.scattering.items():
                own: Spread | None = getattr(v, level)
                if v.name in names and not scatters(own):
                    held = replace(own, sd=NEXT_TO_NOTHING) if own else Spread(NEXT_TO_NOTHING, "none stated")
                    v = replace(v, lot=held) if level == "lot" else replace(v, part=held)
            found.append(v)
        return tuple(found)


def _forces(plan: LaunchPlan) -> set[str]:
    return {c.name for c in plan.plans[DampingRig.name].gives if c.name.startswith(("rebound_", "compression_"))}
