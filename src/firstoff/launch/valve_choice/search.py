"""The bin's valves for a planned launch: every pair of them weighed at nominal, and the promising ones picked."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.predict import in_order, nominal, values_of
from firstoff.chain.sample import at_nominal
from firstoff.chain.station import FloatArray, Plan
from firstoff.errors import InputFault, Message
from firstoff.launch.plan import LaunchPlan
from firstoff.launch.valve_choice.trials import VALVES, CommonDraws, TrialBuilds
from firstoff.sheets.quantity import Quantity
from firstoff.stations.damper.bin_parts import SIDES, Bin, Part
from firstoff.stations.damper.damping_rig import DampingRig, Hydraulics, force_name
from firstoff.stations.damper.valve_search import STATIONS, Field, Table, best, compute, paths
from firstoff.stations.damper.valve_sets import FIELDS, STEP, IntArray, ValveSet, put_together

PRESENT = "as the sheet has it"
UNKNOWN_SD = 1.0  # N, where no trial build of a valve has a value
PILOT = 256  # trial builds of each valve by itself, which say how much room its scatter leaves
MOST_PATHS = 2000  # different paths of each side that get them
ALIKE = 64  # settings of the same parts that are looked through, on average
ENOUGH = 5.0  # standard deviations of room to the nearest limit, beyond which more is worth nothing: assumed
BAND = 0.5  # standard deviations of room that count as alike: assumed


@dataclass(frozen=True)
class Choice:
    """One piston valve with one base valve, from the bin or as the sheet has them."""

    title: str
    parts: tuple[tuple[Part, int, str], ...]  # part, pieces in a damper, where
    set_up: tuple[str, str]  # how the preloads are set
    use: tuple[float, float]  # of half the tolerance at nominal, rebound and compression; 1 is a limit
    nominal: Mapping[str, float]  # force -> N
    plans: Mapping[str, Plan]
    stated: Mapping[str, tuple[Quantity, str]] = field(default_factory=dict)  # parameter -> what the parts state, where
    cost: float = math.nan  # of a damper's valve parts
    new: tuple[str, ...] = ()  # part numbers that no model uses yet
    short: tuple[tuple[str, int], ...] = ()  # part number, pieces missing for the quantity asked
    one_off: float = 0.0  # of bringing the new part numbers in
    quantity: int = 1  # of dampers, over which that is spread
    trial: TrialBuilds | None = None

    @property
    def name(self) -> str:
        """`valve 1`, or that it is the present one."""
        return self.title if self.title == PRESENT else f"valve {self.title}"

    @property
    def money(self) -> float:
        """Cost of a damper's valve parts, with its share of bringing new part numbers in."""
        return self.cost + self.one_off / self.quantity

    @property
    def most_use(self) -> float:
        return max(self.use)

    @property
    def key(self) -> tuple[float, ...]:
        """What valves are ranked by: rejects, room in bands, whether pieces are missing, money, use at nominal."""
        assert self.trial is not None
        return (
            self.trial.outside.rejects,
            -banded(self.trial.room),
            bool(self.short),
            round(self.money, 6),
            self.most_use,
        )


def banded(room: float) -> float:
    """Room to the nearest limit in bands; beyond ENOUGH, and below nothing, it is all one."""
    return math.floor(min(max(room, 0.0), ENOUGH) / BAND) * BAND


def least_use(a: FloatArray, b: FloatArray, p: IntArray, q: IntArray) -> FloatArray:
    """The worse direction's use of the tolerance, and a millionth of the better one's, so that this decides ties."""
    better = np.minimum(np.minimum(a, b), 1e3)
    return np.asarray(np.maximum(a, b) + 1e-6 * better)


def tables_of(plan: LaunchPlan) -> tuple[Table, Table]:
    """The customer's limits in rebound and in compression. InputFault when the sheet has none."""
    made = []
    for sign in (1.0, -1.0):
        speeds = [sign * v for v in plan.job.settings.speeds]
        limited = [(v, plan.characteristics[force_name(v)]) for v in speeds]
        limited = [(v, c) for v, c in limited if c.low is not None or c.high is not None]
        low, high = (
            np.array([math.nan if x is None else x for x in side])
            for side in ([c.low for _, c in limited], [c.high for _, c in limited])
        )
        made.append(Table(np.array([v for v, _ in limited]), low, high))
    if not any(len(t.speeds) for t in made):
        what, allowed = (
            "has no limits: there is nothing to choose a valve by",
            "[[damping]] with rebound or compression",
        )
        raise InputFault([Message(what, plan.job.settings.file, key="damping", allowed=allowed)])
    return made[0], made[1]


class Search:
    """The bin's valves for a planned launch, and the forces of every pair of them."""

    def __init__(self, plan: LaunchPlan, parts: Bin, quantity: int = 1000, workers: int = 1) -> None:
        self.plan, self.bin, self.quantity, self.tables = plan, parts, quantity, tables_of(plan)
        at = {v.name: v.nominal for p in plan.plans.values() for v in p.values}
        self.sets: tuple[ValveSet, ValveSet] = (put_together(SIDES[0], parts, at), put_together(SIDES[1], parts, at))
        piston, base = (paths(s, plan.plans[s.side.station]) for s in self.sets)
        missing = [s.side.station for s, p in zip(self.sets, (piston, base), strict=True) if not len(p.kept)]
        if missing:
            why = "; ".join(f"{what}: {n}" for s in self.sets for what, n in s.dropped.items())
            raise InputFault(
                [Message(f"makes no {name.replace('_', ' ')}: its parts do not fit together", parts.file, found=why)
                 for name in missing]
            )  # fmt: skip
        self.inner = self._inner()
        self.field: Field = compute(piston, base, self.inner, self.tables, workers)
        self.short = tuple(s.short(quantity)[p.kept] for s, p in zip(self.sets, (piston, base), strict=True))
        each = parts.new_part_cost / quantity
        self.money = tuple(s.cost(each)[p.kept] for s, p in zip(self.sets, (piston, base), strict=True))

    def _inner(self) -> Hydraulics:
        built = run(
            self.plan.stations,
            self.plan.plans,
            Ensemble(at_nominal(values_of(self.plan.stations, self.plan.plans)), {}),
        )
        rig = next(s for s in self.plan.stations if isinstance(s, DampingRig))
        return rig.hydraulics(built.columns)

    def nearest(self, count: int) -> list[tuple[int, int]]:
        """The pairs that use least of the tolerance at nominal, alike ones by their better direction; parts once."""
        used = self.tables[0].use(self.field.rebound), self.tables[1].use(self.field.compression)
        found = best(self.field, used, least_use, count * ALIKE)
        return self._different(list(zip(found.piston.tolist(), found.base.tolist(), strict=True)), count)

    def _different(self, pairs: Sequence[tuple[int, int]], count: int) -> list[tuple[int, int]]:
        """The first of the pairs that have the same parts, differing in how the preloads are set."""
        chosen: dict[tuple[int, ...], tuple[int, int]] = {}
        for p, b in pairs:
            both = np.concatenate([self.sets[0].rows[p], self.sets[1].rows[b]])
            chosen.setdefault(tuple(np.delete(both, [STEP, STEP + len(FIELDS)]).tolist()), (p, b))
        return list(chosen.values())[:count]

    def spreads(self, present: Choice, seed: int, workers: int, pilot: int = PILOT) -> tuple[FloatArray, FloatArray]:
        """Standard deviation (main paths, m) of each direction's forces, the other valve being as the sheet has it.

        From a few trial builds of every main path that can keep the limits; that of the present valve for all others.
        """
        sides = (self.field.piston, self.field.base)
        used = (
            self.tables[0].use(self.field.rebound).min(axis=1),
            self.tables[1].use(self.field.compression).min(axis=0),
        )
        jobs: list[tuple[int, int, dict[str, Plan]]] = []
        for k, (side, use) in enumerate(zip(sides, used, strict=True)):
            inside = np.argsort(use, kind="stable")[:MOST_PATHS]
            for path in inside[use[inside] <= 1.0].tolist():
                row = int(side.kept[int(np.argmax(side.of_main == path))])
                jobs.append((k, path, self.plans_with(self.sets[k].stated(row))))
        draws = CommonDraws(self.plan, [present.plans, *(plans for _, _, plans in jobs)], seed)
        draws.prepare(pilot)
        usual = draws.of(present.plans).sd
        names = [[force_name(v) for v in t.speeds] for t in self.tables]
        found = [np.tile([usual[n] for n in names[k]], (len(use), 1)) for k, use in enumerate(used)]
        for (k, path, _), trial in zip(jobs, in_order(draws.of, [plans for _, _, plans in jobs], workers), strict=True):
            found[k][path] = [trial.sd[n] for n in names[k]]
        rebound, compression = (np.where(np.isfinite(sd), sd, UNKNOWN_SD) for sd in found)
        return rebound, compression

    def promising(self, count: int, sd: tuple[FloatArray, FloatArray]) -> list[tuple[int, int]]:
        """The pairs inside all limits with most room in standard deviations, in bands, alike ones by stock and money.

        Valves of the same parts count once, with the preloads set where they leave most room.
        """
        field, (piston, base) = self.field, self.sets
        rooms = (self.tables[0].room(field.rebound, sd[0][:, np.newaxis]),
                 self.tables[1].room(field.compression, sd[1][np.newaxis]))  # fmt: skip
        dearest = float(self.money[0].max() + self.money[1].max()) or 1.0
        most = ENOUGH / BAND

        def score(a: FloatArray, b: FloatArray, p: IntArray, q: IntArray) -> FloatArray:
            room = np.minimum(a, b)
            cost = (self.money[0][p][:, np.newaxis] + self.money[1][q][np.newaxis, :]) / dearest
            missing = self.short[0][p][:, np.newaxis] | self.short[1][q][np.newaxis, :]
            inside = 2.0 * (most - np.floor(np.clip(room, 0.0, ENOUGH) / BAND)) + missing + 0.999 * cost
            return np.asarray(np.where(room >= 0.0, inside, np.inf))

        found = best(field, rooms, score, count * ALIKE)
        place = np.zeros(len(piston.rows), np.int64), np.zeros(len(base.rows), np.int64)
        for at, paths_ in zip(place, (field.piston, field.base), strict=True):
            at[paths_.kept] = np.arange(len(paths_.kept))
        p, b = place[0][found.piston], place[1][found.base]
        room = np.minimum(
            rooms[0][field.piston.of_main[p], field.back[b]], rooms[1][field.piston.of_check[p], field.base.of_main[b]]
        )
        order = np.lexsort((found.base, found.piston, -room, found.score))
        inside = order[np.isfinite(found.score[order])]
        return self._different(
            list(zip(found.piston[inside].tolist(), found.base[inside].tolist(), strict=True)), count
        )

    def choice(self, p: int, b: int) -> Choice:
        """One pair as it would stand in the sheet, computed by the whole chain."""
        stated = {**self.sets[0].stated(p), **self.sets[1].stated(b)}
        plans = self.plans_with(stated)
        parts = (*self.sets[0].parts_of(p), *self.sets[1].parts_of(b))
        set_up = self.sets[0].set_up(p), self.sets[1].set_up(b)
        made = self._computed("", plans, parts, set_up)
        pieces: dict[str, int] = {}
        for part, count, _ in parts:
            pieces[part.number] = pieces.get(part.number, 0) + count
        known = {part.number: part for part, _, _ in parts}
        short = {n: count * self.quantity - known[n].stock for n, count in pieces.items()}
        new = tuple(n for n in pieces if known[n].used_by == 0)
        return replace(
            made,
            stated=stated,
            cost=sum(known[n].cost * count for n, count in pieces.items()),
            new=new,
            one_off=len(new) * self.bin.new_part_cost,
            quantity=self.quantity,
            short=tuple((n, missing) for n, missing in short.items() if missing > 0),
        )

    def present(self) -> Choice:
        """The valve as the sheet has it; with its part numbers where the bin has parts of these nominals."""
        now = self._computed(PRESENT, self.plan.plans, (), ("", ""))
        nominal = {v.name: v.nominal for name in VALVES for v in self.plan.plans[name].values}
        rows = [s.row_of(nominal) for s in self.sets]
        if rows[0] is None or rows[1] is None:
            return now
        made = self.choice(rows[0], rows[1])
        return replace(now, parts=made.parts, set_up=made.set_up, cost=made.cost, new=made.new, one_off=made.one_off,
                       short=made.short, quantity=made.quantity)  # fmt: skip

    def plans_with(self, stated: Mapping[str, tuple[Quantity, str]]) -> dict[str, Plan]:
        """The plans of the chain with what the parts state in the place of the sheet's settings."""
        job = self.plan.job
        given = {**job.settings.given, **{name: q for name, (q, _) in stated.items()}}
        origin = {**job.settings.origin, **{name: where for name, (_, where) in stated.items()}}
        settings = replace(job.settings, given=given, origin=origin)
        return {**self.plan.plans, **{name: STATIONS[name].plan(settings) for name in VALVES}}

    def _computed(
        self, title: str, plans: Mapping[str, Plan], parts: Sequence[tuple[Part, int, str]], set_up: tuple[str, str]
    ) -> Choice:
        found = nominal(self.plan.stations, plans)
        forces = {force_name(v): found.get(force_name(v), math.nan) for t in self.tables for v in t.speeds}
        use = [float(t.use(np.array([forces[force_name(v)] for v in t.speeds]))) for t in self.tables]
        return Choice(title, tuple(parts), set_up, (use[0], use[1]), forces, plans)


def difference(search: Search, choice: Choice, pair: tuple[int, int]) -> float:
    """Largest relative difference of a force between the search's tables and the whole chain."""
    field = search.field
    place = [
        np.flatnonzero(paths.kept == row) for paths, row in zip((field.piston, field.base), pair, strict=True)
    ]  # fmt: skip
    found = field.forces(place[0], place[1])
    worst = 0.0
    for table, forces in zip(search.tables, found, strict=True):
        for v, force in zip(table.speeds, forces[0], strict=True):
            whole = choice.nominal[force_name(v)]
            if math.isfinite(whole) or math.isfinite(force):
                worst = max(worst, abs(force - whole) / max(abs(whole), 1.0))
    return worst
