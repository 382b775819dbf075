"""Small stations whose results are known in closed form."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray, Value
from firstoff.sheets.spread import Spread

Function = Callable[[Mapping[str, FloatArray]], Columns]


@dataclass
class Toy:
    name: str
    function: Function = lambda columns: {}
    needs: tuple[str, ...] = ()
    gives: tuple[str, ...] = ()
    parameters: tuple[Parameter, ...] = ()
    title: str = "toy"
    flags: Callable[[Mapping[str, FloatArray]], StatusArray] | None = None
    runs: list[int] = field(default_factory=list)

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        n = len(next(iter(columns.values())))
        self.runs.append(n)
        given = self.function(columns)
        return given, np.zeros(n, np.uint8) if self.flags is None else self.flags(columns)


def toy(name: str, function: Function, parameters: Sequence[str], needs=(), gives=(), flags=None) -> Toy:
    declared = tuple(Parameter(p, "1", "scatter", "toy") for p in parameters)
    return Toy(name, function, tuple(needs), tuple(gives), declared, flags=flags)


def value(name: str, nominal=0.0, lot=None, part=None, shape="normal", offset=0.0, assumed=False) -> Value:
    return Value(
        name,
        nominal,
        "1",
        "scatter",
        lot=None if lot is None else Spread(lot, "test", shape),
        part=None if part is None else Spread(part, "test", shape, offset),
        assumed=assumed,
    )


def plan(station: str, *values: Value, gives: Sequence[Characteristic] = ()) -> Plan:
    return Plan(station, tuple(values), tuple(gives))


def linear(coefficients=(1.0, 2.0, 3.0), low=None, high=None, lot=0.6, part=0.8):
    """y = sum of c_i x_i with x_i normal, mean 0, variance lot^2 + part^2: one station per term, a sum last."""
    stations, plans = [], {}
    for i, c in enumerate(coefficients):
        name = f"s{i}"
        stations.append(toy(name, lambda x, n=name, c=c: {f"{n}_y": c * x[f"{n}.x"]}, ["x"], gives=[f"{name}_y"]))
        plans[name] = plan(name, value(f"{name}.x", lot=lot, part=part))
    needs = [f"s{i}_y" for i in range(len(coefficients))]
    stations.append(toy("rig", lambda x: {"y": sum(x[n] for n in needs)}, [], needs=needs, gives=["y"]))
    plans["rig"] = plan("rig", gives=[Characteristic("y", "1", "sum", low, high)])
    return stations, plans
