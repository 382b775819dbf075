"""Lines drawn at random: load places, duplicates in any order, two cranes, reach, bars, buses, recipes."""

from __future__ import annotations

from fractions import Fraction
from random import Random

from firstoff.line.plant_line import LOAD, SHARED, UNLOAD, Crane, PlantLine, Product, Step, Tank

F = Fraction


def drawn(seed: int) -> PlantLine:
    """A line; the same seed draws the same."""
    rng = Random(seed)
    shared, turn = rng.random() < 0.5, F(rng.choice([0, 10, 30]))
    operations = [f"op{i}" for i in range(rng.randint(2, 5))]
    order = operations + [rng.choice(operations) for _ in range(rng.randint(0, 2))]
    if rng.random() < 0.5:
        order.sort()
    kinds = [SHARED if shared else LOAD, *order, *([] if shared else [UNLOAD])]
    tanks, at = [], F(0)
    for k, kind in enumerate(kinds):
        ways = (F(rng.randint(2, 8)), F(rng.randint(0, 5)), F(rng.randint(2, 8)))
        treats = kind in operations
        bus = "b" if treats and rng.random() < 0.4 else ""
        tanks.append(Tank(f"T{k}", kind, at, *ways, F(0) if treats else turn, bus))
        at += F(rng.randint(5, 25), 10)
    products = tuple(_product(rng, f"p{k}", operations) for k in range(rng.choice([1, 1, 2])))
    two = rng.random() < 0.6
    return PlantLine(
        "drawn",
        tuple(tanks),
        _cranes(rng, tanks) if two else (Crane("a"),),
        products,
        F(rng.choice([5, 8, 10]), 10),
        rng.choice([None, F(1, 2), F(3, 10)]),
        F(rng.choice([0, 10, 20]), 10) if two else F(0),
        rng.choice([None, None, 1, 2, 3]),
        buses={"b": F(rng.choice([100, 200, 1000]))},
        time_step=rng.choice([F(1), F(1, 2), F(1, 10)]),
    )


def _cranes(rng: Random, tanks: list[Tank]) -> tuple[Crane, ...]:
    far = rng.choice([None, tanks[-1].position, tanks[len(tanks) * 2 // 3].position])
    return Crane("a", None, far), Crane("b", rng.choice([None, F(0)]), None)


def _product(rng: Random, name: str, operations: list[str]) -> Product:
    steps = []
    for operation in [o for o in operations if rng.random() < 0.85] or operations[:1]:
        least = F(rng.randint(5, 90))
        most = None if rng.random() < 0.15 else least + rng.randint(0, 60)
        contact, ramp = F(rng.choice([0, 0, 2])), F(rng.choice([0, 3]))
        steps.append(Step(operation, least, most, F(rng.choice([0, 100])), contact, ramp, rng.random() < 0.3))
    return Product(name, tuple(steps), rng.choice([1, 1, 2]))
