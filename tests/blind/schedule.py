"""Which launches are made: every declared fault in every way it may strike, healthy lots, pairs, undeclared faults."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from firstoff.chain.fault import Fault
from tests.blind.lots import (
    BEYOND,
    STANDING,
    BlindLaunch,
    Planted,
    Recorded,
    Who,
    World,
    draw,
    gauge_parts,
    plant,
    read_lot,
)
from tests.blind.undeclared import Undeclared, undeclared

MIX = {"declared": 0.56, "healthy": 0.22, "undeclared": 0.13, "double": 0.09}
SCATTERS = (1.0, 1.5, 1.0, 0.7)  # true over stated; healthy lots take 1.0 and 1.5 in turn


@dataclass(frozen=True)
class Order:
    """What is to be made."""

    number: int
    kind: str
    faults: tuple[tuple[Fault | Undeclared, Who], ...] = ()
    scatter: float = 1.0


def orders(w: World, count: int, seed: int) -> list[Order]:
    """`count` launches in the shares of MIX; faults go round, so that none is drawn twice before all were."""
    rng = np.random.default_rng([seed, 1])
    declared = _round([(f, who) for f in w.plan.job.family.faults for who in f.who], rng)
    hidden = _round([(u, "all") for u in undeclared(w.plan.job.family.faults)], rng)
    shares = {kind: int(round(share * count)) for kind, share in MIX.items()}
    shares["declared"] += count - sum(shares.values())
    found: list[Order] = []
    for kind, of_kind in shares.items():
        for i in range(of_kind):
            scatter = SCATTERS[i % (2 if kind == "healthy" else len(SCATTERS))]
            if kind == "healthy":
                chosen: tuple[tuple[Fault | Undeclared, Who], ...] = ()
            elif kind == "double":
                chosen = _two(w.plan.job.family.faults, rng)
            else:
                chosen = (next(declared if kind == "declared" else hidden),)
            found.append(Order(0, kind, chosen, scatter))
    return [replace(o, number=i) for i, o in enumerate(found[j] for j in rng.permutation(len(found)))]


def _round(choices: Sequence, rng: np.random.Generator):  # type: ignore[no-untyped-def,type-arg]
    while True:
        for i in rng.permutation(len(choices)):
            yield choices[i]


def _two(faults: Sequence[Fault], rng: np.random.Generator) -> tuple[tuple[Fault, Who], ...]:
    """Two faults of different stations in all parts, that do not move the same thing."""
    able = [f for f in faults if "all" in f.who]
    while True:
        a, b = (able[i] for i in rng.choice(len(able), 2, replace=False))
        if a.station != b.station and not {m.name for m in a.moves} & {m.name for m in b.moves}:
            return ((a, "all"), (b, "all"))


def size_of(fault: Fault | Undeclared, rng: np.random.Generator) -> float:
    """A size over the declared range and a little beyond it, in the declared shape."""
    if isinstance(fault, Undeclared):
        return float(rng.uniform(fault.low, fault.high))
    s = fault.sizes
    if s.low == s.high:
        return s.low
    u = rng.uniform(-BEYOND, 1.0 + BEYOND)
    size = s.low * (s.high / s.low) ** u if s.shape == "log-uniform" else s.low + u * (s.high - s.low)
    return float(size * (rng.choice([-1.0, 1.0]) if s.both_signs else 1.0))


def make(w: World, order: Order, seed: int) -> BlindLaunch:
    """The launch of an order. The same seed makes the same launch, whatever else is made."""
    rng = np.random.default_rng([seed, 2, order.number])
    n = int(rng.integers(4, 9))
    hot = any(m.name == w.plan.job.family.temperature for f, _ in order.faults if isinstance(f, Fault) for m in f.moves)
    noted = Recorded(
        good_lot=rng.uniform() < 0.75,
        temperature=not hot and rng.uniform() < 0.7,
        gas_and_friction=rng.uniform() < 0.75,
        groups=rng.uniform() < 0.8 or any(who == "group" for _, who in order.faults),
        diameters=rng.uniform() < 0.25,
        repeats=2 if rng.uniform() < 0.2 else 1,
    )
    groups = tuple("AB"[i % 2] if noted.groups else "" for i in range(n))
    planted = tuple(_planted(f, who, groups, rng) for f, who in order.faults)
    law = int(rng.integers(len(w.laws)))
    names = w.names(noted)
    standing = {}
    for name in names:
        _, common = gauge_parts(w.gauges[name])
        standing[name] = math.sqrt(STANDING) * common * rng.standard_normal()
    columns = plant(draw(w.values, n, rng, order.scatter), planted)
    lot = read_lot(w, w.laws[law], names, columns, planted, standing, noted.repeats, rng)
    if hot:
        noted = replace(noted, temperature=False)
    good = None
    if noted.good_lot:
        healthy = draw(w.values, int(rng.integers(5, 9)), rng, order.scatter)
        good = read_lot(w, w.laws[law], names, healthy, (), standing, noted.repeats, rng)
    return BlindLaunch(order.number, seed, order.kind, order.scatter, law, noted, planted, lot, good, names, groups, w)


def _planted(fault: Fault | Undeclared, who: Who, groups: Sequence[str], rng: np.random.Generator) -> Planted:
    n = len(groups)
    affected = np.ones(n, dtype=np.bool_)
    if who == "one":
        affected = np.arange(n) == rng.integers(n)
    elif who == "group":
        affected = np.array(groups) == rng.choice(["A", "B"])
    return Planted(fault.name, fault.station, who, size_of(fault, rng), affected, fault)
