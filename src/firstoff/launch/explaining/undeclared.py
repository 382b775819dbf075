"""Ways of being wrong that no station declares: any parameter of the chain far out, any gauge with a gain or a zero.

They make up a part of `something else`: an undeclared cause then meets a hypothesis of its own shape, and need not be
blamed on the declared fault that lies nearest.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from fnmatch import fnmatchcase

import numpy as np

from firstoff.chain.budget import slow
from firstoff.chain.fault import Fault, Move, Sizes
from firstoff.chain.station import FloatArray, Value
from firstoff.launch.explaining.shifts import Bases, counted, shifts_of, touches
from firstoff.launch.plan import LaunchPlan
from firstoff.trials.scene import Suspect

WORKERS = 2
UNLIKE, FEW_UNLIKE = 4, 2  # builds that they are put into; few where a station takes its time
CLASSES = 10  # of sizes, each way
LEAST, MOST = 4.0, 30.0  # times the stated scatter
SMALL, LARGE = 0.03, 0.5  # of the nominal, where no scatter is stated; LARGE also bounds the others, downwards
GAINS = (0.03, 0.30)
FACTORS = (0.03, 0.40)  # of what several places have in common
PLAIN = 20.0  # standard deviations of a reading, where next to nothing is expected
ZEROS = (0.02, 0.20)  # of the largest expected reading of the gauge
SEEN = 0.5  # of its own noise: what moves no reading by as much need not be compared


def undeclared(
    plan: LaunchPlan, values: Sequence[Value], faults: Sequence[Fault], at: Bases, names: Sequence[str],
    noise: FloatArray,
) -> list[Suspect]:  # fmt: skip
    """Suspects that no fault of the list covers. noise: variance of a reading of each characteristic, (k,)."""
    k = UNLIKE if not slow(plan.stations) else FEW_UNLIKE
    few = Bases({n: c[:k] for n, c in at.columns.items()}, {n: s[:k] for n, s in at.status.items()}, at.at_rest[:k])
    jobs = [*_parameters(values, faults), *_materials(values), *_gauges(plan, faults, at, names, noise)]
    with ThreadPoolExecutor(WORKERS) as pool:  # the chain's kernels work without the interpreter lock
        moved = list(pool.map(lambda job: shifts_of(plan, job[0], few, names, job[1]), jobs))
    found = []
    for (fault, _), (sizes, shifts, spreads) in zip(jobs, moved, strict=True):
        if len(sizes) and (np.abs(shifts) > SEEN * np.sqrt(noise)).any():
            found.append(
                Suspect(fault.name, fault.station, fault.title, fault.who, 1.0, sizes, shifts, touches(fault),
                        spreads, False)
            )  # fmt: skip
    return found


def _parameters(values: Sequence[Value], faults: Sequence[Fault]) -> list[tuple[Fault, FloatArray]]:
    covered = {m.name for f in faults for m in f.moves if f.acts == "parameters" and len(f.moves) == 1}
    found = []
    for v in values:
        if v.name in covered or v.nominal == 0.0:
            continue
        sizes = _one_more_or_less(v) if counted(v) else _sizes(v)
        title = v.name.split(".", 1)[1].replace("_", " ")
        found.append((_fault(v.name, v.name.split(".")[0], title, (Move(v.name, "add"),)), sizes))
    return found


def _materials(values: Sequence[Value]) -> list[tuple[Fault, FloatArray]]:
    """What several places have in common, off by one factor: the strip of all discs, the tool of all ports."""
    alike: dict[str, list[Value]] = {}
    for v in values:
        words = v.name.split(".", 1)[1].split("_")
        if not counted(v) and v.nominal and v.unit != "degC" and len(words) > 1:
            alike.setdefault("_".join(words[-2:]), []).append(v)
    found = []
    for key, members in alike.items():
        if len(members) > 1:
            title = f"{key.replace('_', ' ')} of all"
            moves = tuple(Move(v.name, "scale") for v in members)
            stations = " and ".join(dict.fromkeys(v.name.split(".")[0] for v in members))
            found.append((_fault(title, stations, title, moves), 1.0 + _mirrored(*FACTORS)))
    return found


def _one_more_or_less(v: Value) -> FloatArray:
    return np.array([-1.0, 1.0] if v.nominal > 1.0 else [1.0])


def _sizes(v: Value) -> FloatArray:
    """Both ways, equal steps of the logarithm; a value does not change its sign."""
    if v.unit == "degC":
        return _mirrored(4.0, 30.0)
    sd = float(np.sqrt(sum(s.sd**2 for s in (v.lot, v.part) if s)))
    size = abs(v.nominal)
    low = max(LEAST * sd, 1e-3 * size) if sd else SMALL * size
    high = max(1.5 * low, min(max(MOST * sd, 0.2 * size), 2.0 * LARGE * size))
    found = _mirrored(low, high)
    return found[found > -LARGE * size]


def _mirrored(low: float, high: float) -> FloatArray:
    grid = Sizes(low, high, "log-uniform").grid(CLASSES)
    return np.concatenate([-grid[::-1], grid])


def _gauges(
    plan: LaunchPlan, faults: Sequence[Fault], at: Bases, names: Sequence[str], noise: FloatArray
) -> list[tuple[Fault, FloatArray]]:
    """A gain or a zero of what one gauge entry reads, and of each family of names within it (`rebound_*`)."""
    sets: dict[tuple[str, ...], str] = {}
    for gauge in plan.job.gauges.values():
        reads = tuple(n for n in names if any(fnmatchcase(n, c) for c in gauge.characteristics))
        stems = dict.fromkeys(n.rsplit("_", 1)[0] for n in reads)
        for title, members in [
            (gauge.name, reads),
            *((f"{gauge.name}, {stem}", tuple(n for n in reads if n.startswith(f"{stem}_"))) for stem in stems),
        ]:
            if members:
                sets.setdefault(members, title)
    declared = {
        (move.how, frozenset(n for f_move in f.moves for n in names if fnmatchcase(n, f_move.name)))
        for f in faults
        if f.acts == "readings"
        for move in f.moves
    }
    found = []
    for members, title in sets.items():
        # a place or an offset is expected at nothing: there the gauge's own noise sets the scale
        sizes_of = [(abs(float(at.at_rest[0, i])), PLAIN * float(noise[i]) ** 0.5) for i in map(names.index, members)]
        largest = max(max(of) for of in sizes_of)
        for how, what, sizes in (
            ("scale", "gain", 1.0 + _mirrored(*GAINS)),
            ("add", "zero", _mirrored(*(z * largest for z in ZEROS))),
        ):
            if (how, frozenset(members)) not in declared:
                moves = tuple(Move(n, how) for n in members)  # type: ignore[arg-type]
                fault = _fault(f"{what} of {title}", "gauge", f"{what} of {title}", moves, "readings")
                found.append((fault, sizes))
    return found


def _fault(name: str, station: str, title: str, moves: tuple[Move, ...], acts: str = "parameters") -> Fault:
    return Fault(name, station, title, moves, Sizes(1.0, 1.0), ("all", "one", "group"), 0.0, "", "", "", acts)  # type: ignore[arg-type]
