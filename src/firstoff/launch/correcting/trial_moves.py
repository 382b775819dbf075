"""Settings moved and faults put in, through the chain: what comes out on average, and over many trial builds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.chain.budget import affordable
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.fault import applied
from firstoff.chain.predict import values_of
from firstoff.chain.sample import dimensions, place, sample
from firstoff.chain.station import Characteristic, Columns, FloatArray, Value
from firstoff.launch.correcting.changes import Movement
from firstoff.launch.correcting.ways import Faults
from firstoff.launch.plan import LaunchPlan, without_unasked

CURE = "cure "  # before the name of a fault: a move that undoes it
SEED = 1
BUILDS = 1024  # of the ensembles that settle a scatter
FEWEST = 256  # of them where a station takes its time

Moves = tuple[tuple[str, int], ...]


def standing(faults: Faults, moves: Moves) -> Faults:
    """The faults that the moves do not cure."""
    cured = {name.removeprefix(CURE) for name, steps in moves if steps and name.startswith(CURE)}
    return tuple((fault, size) for fault, size in faults if fault.name not in cured)


@dataclass(frozen=True)
class TrialMoves:
    """The chain at the middle of its scatter, ready to be run with settings moved and faults in it."""

    plan: LaunchPlan
    names: tuple[str, ...]  # the characteristics (c,) that are looked at
    changes: Mapping[str, Movement]
    middle: Ensemble  # one build

    @classmethod
    def of(cls, plan: LaunchPlan, names: Sequence[str]) -> TrialMoves:
        plan = without_unasked(plan, names)
        values = _values(plan)
        columns = place(values, np.full((1, dimensions(values)), 0.5))
        middle = run(plan.stations, plan.plans, Ensemble(columns, {}))
        # settings of a check that nobody asked for move nothing
        changes = {name: m for name, m in plan.job.changes.items() if name in middle.columns}
        return cls(plan, tuple(names), changes, middle)

    def means(self, cases: Sequence[tuple[Moves, Faults]]) -> FloatArray:
        """The part in the middle of its scatter for each case, (cases, c); NaN where the chain has no value."""
        n = len(cases)
        columns = {name: np.repeat(column, n, axis=0) for name, column in self.middle.columns.items()}
        status = {name: np.repeat(flags, n) for name, flags in self.middle.status.items()}
        since: set[str] = set()
        for i, (moves, faults) in enumerate(cases):
            changed = self._changed(self.middle.columns, moves, faults)
            for name in changed:
                columns[name][i] = changed[name][0]
            since |= set(changed)
        known = {s.name for s in self.plan.stations}
        since = {name for name in since if name.partition(".")[0] in known}
        if not since:
            return self._matrix(Ensemble(columns, status))
        return self._matrix(run(self.plan.stations, self.plan.plans, Ensemble(columns, status), since))

    def builds(self, moves: Moves, faults: Faults, n: int, names: Sequence[str]) -> tuple[FloatArray, float]:
        """Trial builds with the moves and the faults in each, every one from a lot of its own: (n, names), NaN where
        the chain has no value; and the share of them that leave the range in which some station's model holds."""
        values = _values(self.plan)
        columns = sample(values, 0, n, SEED)
        columns |= self._changed(columns, moves, faults)
        found = run(self.plan.stations, self.plan.plans, Ensemble(columns, {}))
        odd = np.any([flags != 0 for flags in found.status.values()], axis=0)
        values_out = np.stack([found.columns[name] for name in names], axis=1)
        return np.where(found.has_value[:, None], values_out, np.nan), float(odd.mean())

    def scatter(self) -> FloatArray:
        """Standard deviation of each characteristic over parts of many lots, (c,)."""
        values = _values(self.plan)
        if not dimensions(values):
            return np.zeros(len(self.names))
        count = affordable(self.plan.stations, BUILDS, FEWEST)
        found = run(self.plan.stations, self.plan.plans, Ensemble(sample(values, 0, count, SEED), {}))
        return np.asarray(np.nanstd(self._matrix(found), axis=0, ddof=1))

    def _changed(self, columns: Mapping[str, FloatArray], moves: Moves, faults: Faults) -> Columns:
        """The columns that moves and faults change: a fault acts on the setting as it has been moved."""
        changed: Columns = {}
        for name, steps in moves:
            if steps and not name.startswith(CURE):
                changed[name] = columns[name] + steps * self.changes[name].step
        for fault, size in standing(faults, moves):
            names = {m.name for m in fault.moves}
            own = {name: changed.get(name, columns[name]) for name in names}
            changed |= applied(own, fault, size)
        return changed

    def _matrix(self, ensemble: Ensemble) -> FloatArray:
        rows = np.stack([ensemble.columns[name] for name in self.names], axis=1)
        return np.where(ensemble.has_value[:, None], rows, np.nan)


def _values(plan: LaunchPlan) -> tuple[Value, ...]:
    """The parameters of the chain, and of checks that a fault may move but nobody looks at."""
    left = [p for name, p in plan.plans.items() if name not in {s.name for s in plan.stations}]
    return (*values_of(plan.stations, plan.plans), *(v for p in left for v in p.values))


def limits(characteristics: Sequence[Characteristic]) -> tuple[FloatArray, FloatArray]:
    """Lower and upper limits (c,), infinite where there is none."""
    low = np.array([-np.inf if c.low is None else c.low for c in characteristics])
    high = np.array([np.inf if c.high is None else c.high for c in characteristics])
    return low, high
