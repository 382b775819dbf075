"""A damper that heats itself: one lump of oil and tubes that turns work into heat and gives it to the air."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.float64] | float


class Warming(NamedTuple):
    """Temperatures (n, m) [K] at the times asked, and (n,) where heat and loss are equal; nan beyond the nodes."""

    temperature: FloatArray
    steady: FloatArray


def heat_capacity(oil_volume: Numbers, density: Numbers, steel: Numbers, oil_heat: Numbers = 1900.0) -> FloatArray:
    """Heat capacity of oil and metal, C = rho V c_oil + m c_steel [J/K].

    oil_volume [m3], density [kg/m3], steel [kg], oil_heat [J/(kg K)]; steel 480 J/(kg K). Both handbook, from memory.
    """
    return np.asarray(np.asarray(oil_volume) * density * oil_heat + np.asarray(steel) * 480.0)


def warm_up(
    times: FloatArray, nodes: FloatArray, power: FloatArray, capacity: Numbers, loss: Numbers, ambient: Numbers,
    start: Numbers,
) -> Warming:  # fmt: skip
    """Temperature of a damper that takes up the power P(T): C dT/dt = P(T) - G (T - T_air).

    P is linear between the nodes, so that each piece has a closed solution, T = T_p + (T_0 - T_p) exp(-(G - P') t/C):
    it is solved piece by piece, without a step.

    times (m,) [s] from 0, ascending; nodes (k,) [K] ascending, k >= 2; power (n, k) [W] at the nodes, a cycle's energy
    times its rate; capacity C [J/K], loss G [W/K], ambient T_air, start T_0 [K]: numbers or (n,). Oil, gas, tubes are
    one lump: minutes, not strokes. Source: first-order heat balance (textbook). ValueError for what does not fit.
    """
    t, at, p = (np.asarray(a, dtype=np.float64) for a in (times, nodes, power))
    if at.ndim != 1 or at.size < 2 or p.ndim != 2 or p.shape[1] != at.size or not np.all(np.diff(at) > 0.0):
        raise ValueError("power needs one column for each of at least two ascending node temperatures")
    if t.ndim != 1 or t.size == 0 or t[0] < 0.0 or not np.all(np.diff(t) >= 0.0):
        raise ValueError("times must ascend from 0 or later")
    c, g, air, begin = (
        np.broadcast_to(np.asarray(a, dtype=np.float64), len(p)) for a in (capacity, loss, ambient, start)
    )
    if not (np.all(c > 0.0) and np.all(g >= 0.0)):
        raise ValueError("heat capacity must be above 0 and the loss 0 or more")
    found = np.stack([_one(t, at, p[i], c[i], g[i], air[i], begin[i]) for i in range(len(p))])
    return Warming(found, np.array([_steady(at, p[i] - g[i] * (at - air[i])) for i in range(len(p))]))


def over_time(nodes: FloatArray, values: FloatArray, temperature: FloatArray) -> FloatArray:
    """What a quantity that depends on temperature does while the damper warms up, (n, m): its fade.

    nodes (k,) [K] ascending, values (n, k) there, temperature (n, m) [K] of `Warming`; linear between the nodes, nan
    where the temperature is not known. ValueError when the shapes do not fit.
    """
    at, y, t = (np.asarray(a, dtype=np.float64) for a in (nodes, values, temperature))
    if y.ndim != 2 or t.ndim != 2 or len(y) != len(t) or y.shape[1:] != at.shape or not np.all(np.diff(at) > 0.0):
        raise ValueError("values need one row a damper and one column a node temperature, ascending")
    rows = [np.interp(t[i], at, y[i], left=np.nan, right=np.nan) for i in range(len(y))]
    return np.stack(rows)


def _steady(nodes: FloatArray, net: FloatArray) -> float:
    """First temperature at which the net heat falls to zero."""
    for i in range(nodes.size - 1):
        if net[i] >= 0.0 > net[i + 1] or net[i] == 0.0:
            return float(nodes[i] + net[i] / (net[i] - net[i + 1]) * (nodes[i + 1] - nodes[i]))
    return float("nan")


def _one(
    t: FloatArray, nodes: FloatArray, power: FloatArray, c: float, g: float, air: float, begin: float
) -> FloatArray:
    found = np.full(t.size, np.nan)
    now, at = 0.0, begin
    if not nodes[0] <= begin <= nodes[-1]:
        return found
    net = power - g * (nodes - air)
    i = 0
    for _ in range(2 * nodes.size + 2):  # one piece after the other; a lump without inertia never turns back
        heat = float(np.interp(at, nodes, net))
        up = heat >= 0.0
        piece = int(np.clip(np.searchsorted(nodes, at, side="right" if up else "left") - 1, 0, nodes.size - 2))
        slope = (net[piece + 1] - net[piece]) / (nodes[piece + 1] - nodes[piece])
        end = nodes[piece + 1] if up else nodes[piece]
        until = _reach(heat, slope, end - at, c)
        while i < t.size and t[i] <= now + until:
            found[i] = at + _moved(heat, slope, t[i] - now, c)
            i += 1
        if i == t.size or not np.isfinite(until):
            break
        now, at = now + until, float(end)
        if at in (nodes[0], nodes[-1]):
            break  # beyond the nodes the power is not known
    return found


def _moved(heat: float, slope: float, t: float, c: float) -> float:
    """Rise of a temperature whose rate is (heat + slope rise)/c."""
    x = slope * t / c
    return heat * t / c if abs(x) < 1e-12 else heat / slope * float(np.expm1(x))


def _reach(heat: float, slope: float, rise: float, c: float) -> float:
    """Time until the temperature has risen by `rise`; infinity when it never does."""
    if heat == 0.0:
        return float("inf")
    if abs(slope * rise) < 1e-12 * abs(heat):
        return rise * c / heat
    grown = slope * rise / heat
    return c / slope * float(np.log1p(grown)) if grown > -1.0 else float("inf")
