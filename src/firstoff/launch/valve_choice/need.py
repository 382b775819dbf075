"""When nothing in the bin meets the table: which one dimension, made to measure, would."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import values_of
from firstoff.chain.sample import at_nominal
from firstoff.chain.station import FloatArray, Plan
from firstoff.launch.plan import LaunchPlan
from firstoff.sheets.quantity import parse
from firstoff.stations.damper.damping_rig import force_name
from firstoff.stations.damper.valve_search import Table

# what could be ordered for each direction: parameter, in words with a place for the value
CAN_BE_MADE: Mapping[str, tuple[tuple[str, str], ...]] = {
    "rebound": (
        ("piston_valve.rebound_relief_rate", "a rebound relief spring of {}, as far compressed"),
        ("piston_valve.rebound_relief_preload", "a preload of the rebound relief of {}"),
        ("piston_valve.rebound_disc_thickness", "rebound discs {} thick"),
        ("piston_valve.rebound_bleed_width", "rebound bleed notches {} wide"),
        ("piston_valve.rebound_port_diameter", "rebound ports of {}"),
    ),
    "compression": (
        ("base_valve.compression_relief_rate", "a compression relief spring of {}, as far compressed"),
        ("base_valve.crimp_length", "a crimp of {}"),
        ("base_valve.compression_disc_thickness", "compression discs {} thick"),
        ("base_valve.compression_bleed_width", "compression bleed notches {} wide"),
        ("base_valve.compression_port_diameter", "compression ports of {}"),
    ),
}
REACH = 3.0  # times, up and down from what the nearest valve has, within what the station allows
POINTS, ROUNDS = 65, 8  # of the search, which closes in on the best point by a factor of 16 each round
HALVINGS = 40
POINTS_OF_TWO, ROUNDS_OF_TWO = 25, 6  # a side, and how often the square is closed in on by a factor of four
SAME_SPRING = ({"piston_valve.rebound_relief_rate", "piston_valve.rebound_relief_preload"},)  # one moves the other


@dataclass(frozen=True)
class Need:
    """One dimension that would bring a direction inside its limits, or how near it comes, SI."""

    direction: str
    parameter: str
    unit: str
    words: str
    now: float
    value: float
    low: float  # from here on ...
    high: float  # ... to here the direction keeps its limits; NaN when it never does
    use: float  # of the tolerance by this direction at `value`; 1 is a limit
    use_now: float
    second: tuple[str, str, str, float, float] | None = None  # parameter, unit, words, now, value: of a pair

    @property
    def does(self) -> bool:
        return self.use <= 1.0


def needs(
    plan: LaunchPlan, plans: Mapping[str, Plan], tables: tuple[Table, Table], directions: Sequence[str] = ()
) -> list[Need]:
    """For each direction that misses a limit, every dimension that alone would do, the least change first; or, when
    none does, the best pair that would, or the nearest one. A change may not push the other direction out."""
    bench = _Bench(plan, plans, tables)
    found: list[Need] = []
    for k, direction in enumerate(("rebound", "compression")):
        if directions and direction not in directions or bench.use({})[k, 0] <= 1.0:
            continue
        tried = [_need(bench, k, direction, name, words) for name, words in CAN_BE_MADE[direction]]
        made = [need for need in tried if need is not None]
        doing = sorted((n for n in made if n.does), key=lambda n: abs(math.log(n.value / n.now)))
        found += doing or _two(bench, k, direction) or sorted(made, key=lambda n: n.use)[:1]
    return found


class _Bench:
    """The damper at nominal, with single dimensions changed."""

    def __init__(self, plan: LaunchPlan, plans: Mapping[str, Plan], tables: tuple[Table, Table]) -> None:
        self.stations, self.plans, self.tables = plan.stations, plans, tables
        self.values = {v.name: v for v in values_of(plan.stations, plans)}
        self.parameters = {f"{s.name}.{p.name}": p for s in plan.job.family.stations for p in s.parameters}

    def use(self, changed: Mapping[str, FloatArray]) -> FloatArray:
        """Use of the tolerance (2, n) in rebound and compression; by the kernel, through the chain."""
        n = max((len(c) for c in changed.values()), default=1)
        columns = {name: np.repeat(c, n) for name, c in at_nominal(list(self.values.values())).items()}
        columns.update(changed)
        built = run(self.stations, self.plans, Ensemble(columns, {}))
        nothing = np.empty((n, 0))
        forces = [
            np.stack([built.columns[force_name(v)] for v in t.speeds], axis=1) if len(t.speeds) else nothing
            for t in self.tables
        ]
        return np.stack([t.use(f) for t, f in zip(self.tables, forces, strict=True)])

    def reach(self, name: str) -> tuple[float, float]:
        """Between what a dimension is looked for: the reach, what its station allows, and a spring neither way out."""
        p, now = self.parameters[name], self.values[name].nominal
        low, high = (parse(text, p.unit).nominal for text in (p.low or "0", p.high or "1e9"))
        low, high = max(low, now / REACH), min(high, now * REACH)
        if name == "base_valve.crimp_length":
            low = max(low, self.values["base_valve.relief_solid_length"].nominal)
            high = min(high, self.values["base_valve.relief_free_length"].nominal * (1.0 - 1e-6))
        return low, high

    def changed(self, name: str, x: FloatArray) -> dict[str, FloatArray]:
        """The columns when a parameter is x; a spring of another rate is as far compressed as the one before."""
        moved = {name: x}
        preload = "piston_valve.rebound_relief_preload"
        if name == "piston_valve.rebound_relief_rate":
            moved[preload] = self.values[preload].nominal * x / self.values[name].nominal
        return moved


def _two(bench: _Bench, k: int, direction: str) -> list[Need]:
    """The pair of dimensions that together use least of the tolerance, if that keeps the limits; else none."""
    before = bench.use({})[:, 0]
    allowed, best = max(1.0, float(before[1 - k])), None
    for (one, words), (two, other) in combinations(CAN_BE_MADE[direction], 2):
        if {one, two} in SAME_SPRING or min(bench.values[n].nominal for n in (one, two)) <= 0.0:
            continue
        spans = [bench.reach(one), bench.reach(two)]
        for _ in range(ROUNDS_OF_TWO):
            x, y = (g.ravel() for g in np.meshgrid(*(np.geomspace(*span, POINTS_OF_TWO) for span in spans)))
            both = bench.use({**bench.changed(one, x), **bench.changed(two, y)})
            used = np.where(both[1 - k] <= allowed * (1.0 + 1e-12), both[k], np.inf)
            i = int(np.argmin(used))
            if best is None or used[i] < best.use:
                p, q = bench.parameters[one], bench.parameters[two]
                second = (two, q.unit, other, bench.values[two].nominal, float(y[i]))
                best = Need(direction, one, p.unit, words, bench.values[one].nominal, float(x[i]), math.nan, math.nan,
                            float(used[i]), float(before[k]), second)  # fmt: skip
            spans = [_closer(span, float(at[i])) for span, at in zip(spans, (x, y), strict=True)]
    return [best] if best is not None and best.does else []


def _closer(span: tuple[float, float], at: float) -> tuple[float, float]:
    """A quarter of the span about a point, by ratios, inside it."""
    ratio = (span[1] / span[0]) ** 0.125
    return max(span[0], at / ratio), min(span[1], at * ratio)


def _need(bench: _Bench, k: int, direction: str, name: str, words: str) -> Need | None:
    p, now = bench.parameters[name], bench.values[name].nominal
    if now <= 0.0:
        return None
    low, high = bench.reach(name)
    before = bench.use({})[:, 0]
    allowed = max(1.0, float(before[1 - k]))

    def use(x: FloatArray) -> FloatArray:
        both = bench.use(bench.changed(name, x))
        return np.asarray(np.where(both[1 - k] <= allowed * (1.0 + 1e-12), both[k], np.inf))

    left, right = low, high
    best, least = now, float(before[k])
    for _ in range(ROUNDS):
        grid = np.linspace(left, right, POINTS)
        found = use(grid)
        i = int(np.argmin(found))
        if found[i] < least:
            best, least = float(grid[i]), float(found[i])
        left, right = float(grid[max(i - 2, 0)]), float(grid[min(i + 2, POINTS - 1)])
    ends = (_edge(use, best, low), _edge(use, best, high)) if least <= 1.0 else (math.nan, math.nan)
    return Need(direction, name, p.unit, words, now, best, *ends, least, float(before[k]))


def _edge(use: object, inside: float, end: float) -> float:
    """How far from a value that does, towards an end, it still does: by halving."""
    assert callable(use)
    if float(use(np.array([end]))[0]) <= 1.0:
        return end
    good, bad = inside, end
    for _ in range(HALVINGS):
        middle = 0.5 * (good + bad)
        if float(use(np.array([middle]))[0]) <= 1.0:
            good = middle
        else:
            bad = middle
    return good
