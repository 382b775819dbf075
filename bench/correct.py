"""How often a proposed correction brings the part back: planted faults of many sizes on the example launch.

    python -m bench.correct [sizes a fault]

For each fault in all parts, sizes of equal weight over its whole range: eight parts of one lot are made by the chain
and read with the rig's error, explained and corrected. Counted are the faults that put the nominal part outside a limit
and for which one or two settings, every combination of steps tried through the chain, bring it back. `settings only`:
the cause's own cure is not offered.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np

from firstoff import launch
from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.fault import applied
from firstoff.chain.predict import values_of
from firstoff.chain.sample import sample
from firstoff.launch.correcting.correct import LaunchCorrection
from firstoff.launch.correcting.search import steps_of
from firstoff.launch.correcting.trial_moves import CURE, Moves, TrialMoves, limits
from firstoff.launch.correcting.ways import Faults, kind_of
from firstoff.launch.demo import copy_example
from firstoff.launch.plan import LaunchPlan
from firstoff.report.tables import number, table
from firstoff.trials.readings import Reading, Trial

PARTS = 8


def read_lot(plan: LaunchPlan, real: Faults, seed: int) -> Trial:
    """One lot with the fault in it, read on the rig."""
    columns = sample(values_of(plan.stations, plan.plans), 0, PARTS, 1000 + seed, parts_per_lot=PARTS)
    for fault, size in real:
        columns = applied(columns, fault, size)
    built = run(plan.stations, plan.plans, Ensemble(columns, {})).columns
    rng = np.random.default_rng(seed)
    readings = []
    for gauge in plan.job.gauges.values():
        for name in gauge.characteristics if gauge.name.startswith("damping rig") else ():
            shown = built[name] + rng.normal(0.0, gauge.u or 0.0, PARTS)
            shell = built["damping_rig.oil_temperature"]
            readings += [
                Reading(name, float(shown[i]), f"P{i}", "L", "", gauge.name, float(shell[i])) for i in range(PARTS)
            ]
    return Trial(tuple(readings), "planted")


class Bench:
    """The example launch and the limits of its nominal part."""

    def __init__(self, plan: LaunchPlan) -> None:
        named = [c for c in plan.characteristics.values() if (c.low, c.high) != (None, None)]
        self.plan = plan
        self.moves = TrialMoves.of(plan, [c.name for c in named])
        self.low, self.high = limits(named)
        nominal = {v.name: v.nominal for p in plan.plans.values() for v in p.values}
        self.choices = {
            n: [(n, int(s)) for s in steps_of(m, nominal[n]) if s] for n, m in plan.job.changes.items() if not m.fixed
        }

    def inside(self, cases: Sequence[Moves], real: Faults) -> bool:
        """Whether any of the cases puts the nominal part inside all limits."""
        means = self.moves.means([(case, real) for case in cases])
        return bool(((means >= self.low) & (means <= self.high)).all(axis=1).any())

    def exists(self, real: Faults) -> bool:
        if self.inside([((move),) for of in self.choices.values() for move in of], real):
            return True
        pairs = combinations(self.choices.values(), 2)
        return any(self.inside([(x, y) for x in a for y in b], real) for a, b in pairs)

    def back(self, found: LaunchCorrection, real: Faults) -> bool:
        if not found.corrections:
            return False
        first = found.corrections[0].moves
        return self.inside([tuple(((CURE if m.cure else "") + m.parameter, m.steps) for m in first)], real)


def main(count: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        plan = launch.plan(launch.read_job(copy_example("light_truck_front", Path(folder))))
    bench = Bench(plan)
    uncured = {n: replace(c, by_setting=True) for n, c in plan.job.cures.items()}
    settings_only = replace(plan, job=replace(plan.job, cures=uncured))
    rows, seconds = [], []
    for k, fault in enumerate(plan.job.family.faults):
        if "all" not in fault.who or kind_of(fault, "all parts", plan.job.family) != "process":
            continue
        tally = np.zeros(5, dtype=int)
        for j, size in enumerate(fault.sizes.grid(count).tolist()):
            real = ((fault, size),)
            out = not bench.inside([()], real)
            there = out and bench.exists(real)
            tally[:2] += (1, out)
            if there:
                explained = launch.explain(plan, read_lot(plan, real, 100 * k + j))
                start = time.perf_counter()
                found = launch.correct(explained)
                seconds.append(time.perf_counter() - start)
                only = launch.correct(replace(explained, plan=settings_only))
                tally[2:] += (1, bench.back(found, real), bench.back(only, real))
        rows.append((fault.name, *map(int, tally)))
    total = np.array([row[1:] for row in rows]).sum(axis=0)
    heads = ("fault", "planted", "out at nominal", "correction exists", "first brings back", "settings only")
    print(table(heads, [*rows, ("all", *map(int, total))], width=110))
    share = total[3:] / max(total[2], 1)
    print(f"first proposal {share[0]:.1%}, settings only {share[1]:.1%}; {number(float(np.median(seconds)), 3)} s each")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 8)
