"""Launches whose readings include force loops: what the loops tell of the faults that hardly any peak force shows.

Every launch is explained twice, from its peak forces alone and with the raw traces of its parts beside them.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from firstoff import launch as api
from firstoff.chain.fault import Fault
from firstoff.launch.explaining.explain import LaunchExplanation
from firstoff.report.tables import table
from tests.blind.loops import ZERO, drawn_hidden, write_traces
from tests.blind.lots import BlindLaunch, World
from tests.blind.schedule import SCATTERS, Order, make
from tests.blind.score import ACCUSED, rate

FAULTS = ("intake_sticks", "guide_crooked", "oil_aerated", "oil_low")
HEALTHY = 0.3  # share
FIRST = 5000  # number of the first launch with loops, so that none is drawn as another
WAYS = ("without", "with")


def orders(w: World, count: int, seed: int) -> list[Order]:
    """Healthy lots, and faults in motion in every way they may strike, in turn."""
    known: dict[str, Fault] = {f.name: f for f in w.plan.job.family.every_fault}
    choices = [(known[name], who) for name in FAULTS for who in known[name].who]
    rng = np.random.default_rng([seed, 3])
    healthy = round(HEALTHY * count)
    turn = [choices[i] for _ in range(count // len(choices) + 1) for i in rng.permutation(len(choices))]
    found = [Order(0, "healthy", (), SCATTERS[i % 2]) for i in range(healthy)]
    found += [Order(0, "declared", (turn[i],), SCATTERS[i % 4]) for i in range(count - healthy)]
    return [
        Order(FIRST + i, o.kind, o.faults, o.scatter) for i, o in enumerate(found[j] for j in rng.permutation(count))
    ]


def row_of(w: World, order: Order, seed: int) -> dict[str, Any]:
    """One launch, explained without and with its loops."""
    b = make(w, order, seed)
    planted = b.planted[0] if b.planted else None
    row: dict[str, Any] = {
        "number": b.number, "kind": b.kind, "fault": planted.name if planted else "", "damper": b.law,
        "who": planted.who if planted else "", "size": planted.size if planted else None, "parts": b.parts,
        "good_lot": b.good is not None, "inside": bool(planted and planted.inside),
    }  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        readings, good = b.write(Path(folder))
        traces = _traces(b, Path(folder) / "traces")
        for way, given in zip(WAYS, ((), (traces,)), strict=True):
            start, used = time.perf_counter(), time.process_time()
            trial, of_good = api.read_trials(w.plan, readings, good, None, given)
            found = api.explain(w.plan, trial, of_good)
            spent = {"seconds": time.perf_counter() - start, "cpu": time.process_time() - used}
            row[way] = {**_answer(b, found), **spent}
    return row


def _traces(b: BlindLaunch, folder: Path) -> Path:
    """Raw traces of the lot and of the known-good lot, on one rig."""
    rng = np.random.default_rng([b.seed, 4, b.number])
    law, hidden = b.world.laws[b.law], drawn_hidden(np.random.default_rng([b.seed, 5, b.law]))
    zero = ZERO * rng.standard_normal()
    for label, lot in (("L2", b.lot), ("L1", b.good)):
        if lot is not None:
            parts = [f"{label}-{i + 1:02d}" for i in range(len(lot.shell))]
            write_traces(folder, lot.columns, law, hidden, parts, lot.shell, zero, rng)
    return folder


def _answer(b: BlindLaunch, found: LaunchExplanation) -> dict[str, Any]:
    e = found.found
    first = e.causes[0] if e.causes else None
    named = first is not None and first.probability > max(e.none, e.other)
    right = bool(b.planted) and named and first is not None and b.planted[0].name in first.name.split(" + ")
    inside = None
    if right and first is not None and first.name == b.planted[0].name and first.low is not None:
        inside = bool(first.low <= b.planted[0].size <= first.high) if first.high is not None else None
    return {
        "first": first.name if named and first else ("none" if e.none >= e.other else "something else"),
        "p": float(first.probability) if named and first else float(max(e.none, e.other)),
        "right": right if b.planted else e.none > 0.5,
        "station": bool(right or (named and first is not None and b.planted and
                                  set(first.stations) & {x.station for x in b.planted})),
        "size_inside": inside if b.planted and b.planted[0].inside else None,
        "accused": max(e.stations.values(), default=0.0) >= ACCUSED,
        "accused_wrongly": max((p for s, p in e.stations.items() if s not in {x.station for x in b.planted}),
                               default=0.0) >= ACCUSED,
    }  # fmt: skip


def report(rows: Sequence[dict[str, Any]]) -> str:
    """The comparison, by fault: right first, size held, accused."""
    cells = []
    for name in (*FAULTS, "all four", "healthy"):
        some = [r for r in rows if r["fault"] == name or (name == "all four" and r["fault"]) or
                (name == "healthy" and not r["fault"])]  # fmt: skip
        if not some:
            continue
        cell = [name, len(some)]
        cell += [_of([r[way]["right"] for r in some]) for way in WAYS]
        cell.append(_of([r["with"]["station"] for r in some if r["fault"]]))
        cell.append(_of([r["with"]["size_inside"] for r in some if r["with"]["size_inside"] is not None]))
        cell += [_of([r[way]["accused_wrongly"] for r in some]) for way in WAYS]
        cells.append(cell)
    heads = ("fault", "n", "right first, forces", "right first, loops", "station, loops", "size held, loops",
             "accused wrongly, forces", "accused wrongly, loops")  # fmt: skip
    cpu = {way: float(np.median([r[way]["cpu"] for r in rows])) for way in WAYS}
    return (
        "Faults that a force loop shows (healthy: right is `none`):\n" + table(heads, cells, width=170)
        + f"\n\nseconds of the processor for an explanation, median: {cpu['without']:.2f} from the forces, "
        f"{cpu['with']:.2f} with loops, reading them included"
    )  # fmt: skip


def _of(hits: Sequence[bool]) -> str:
    if not hits:
        return "–"
    found = rate(list(hits))
    return f"{found['hits']} of {found['of']} ({100 * found['low']:.0f} to {100 * found['high']:.0f} %)"
