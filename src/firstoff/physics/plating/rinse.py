"""Rinses and what a bath uses up: drag-out, counterflow, metal, anodes, charge and power."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from scipy.optimize import brentq

from firstoff.physics.plating import faraday
from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive, within

MOST_STAGES: Final = 8


def _stages(stages: int) -> int:
    if not 1 <= stages <= MOST_STAGES or stages != int(stages):
        raise ValueError(f"a rinse has 1 to {MOST_STAGES} stages, not {stages}")
    return int(stages)


def counterflow(ratio: Numbers, stages: int) -> FloatArray:
    """What is left in the last of n counterflow rinses, c_n/c_0 = 1/(1 + r + r^2 + ... + r^n).

    ratio r = Q/D >= 0 of the water's flow to the drag-out, any shape; stages n, 1 to 8, the water going against the
    parts; every stage well mixed, clean water, steady. Source: balance of each stage (textbook). ValueError out of
    range.
    """
    r = not_negative("ratio of flow to drag-out", ratio)
    found: FloatArray = 1.0 / np.sum([r**k for k in range(_stages(stages) + 1)], axis=0)
    return found


def counterflow_textbook(ratio: Numbers, stages: int) -> FloatArray:
    """The handbooks' c_n/c_0 = r^-n; nearly the sum of `counterflow` where r is large, too dirty by 1/r of it else.

    Arguments as there, r > 0. Source: electroplating handbooks (from memory).
    """
    found: FloatArray = positive("ratio of flow to drag-out", ratio) ** -float(_stages(stages))
    return found


def separate(ratio: Numbers, stages: int) -> FloatArray:
    """What is left after n rinses that each have a flow of their own, c_n/c_0 = (1 + r)^-n; arguments as above."""
    found: FloatArray = (1.0 + not_negative("ratio of flow to drag-out", ratio)) ** -float(_stages(stages))
    return found


def flow_for(dilution: float, stages: int, drag_out: float) -> float:
    """Flow of clean water to counterflow rinses for a dilution c_n/c_0, Q = r D [m3/s], r from `counterflow`.

    dilution: above 0 to below 1; stages n; drag_out D [m3/s] >= 0. Source: as `counterflow`. ValueError out of range.
    """
    wanted = float(within("dilution", dilution, above=0.0, below=1.0))
    n, d = _stages(stages), float(not_negative("drag-out", drag_out))
    high = wanted ** (-1.0 / n)  # the sum is above its last term, so the root lies below
    return d * float(brentq(lambda r: 1.0 / float(counterflow(r, n)) - 1.0 / wanted, 0.0, high, xtol=1e-12, rtol=1e-13))


def still_rinse(drag_out: float, volume: float, loads: int) -> float:
    """Concentration of a still rinse over the bath's after n loads, 1 - (V/(V + v))^n; water lost is made up.

    drag_out v [m3] that each load brings in and takes out, volume V [m3] > 0, loads n >= 0. Source: balance of each
    load, well mixed (textbook). ValueError out of range.
    """
    v, whole = float(not_negative("drag-out", drag_out)), float(positive("volume", volume))
    if loads < 0:
        raise ValueError("loads must not be negative")
    return float(-np.expm1(-loads * np.log1p(v / whole)))


class MetalBalance(NamedTuple):
    """Of a bath, each a square metre plated [kg/m2]: deposit, dragged out and lost, dissolved by anodes; charge [C/m2].

    added: metal that salts must bring in; negative where anodes bring more than goes, and the bath grows richer.
    """

    deposit: float
    lost: float
    dissolved: float
    charge: float
    added: float


def metal_balance(
    thickness: float, metal: faraday.Metal, efficiency: float, anode_efficiency: float, drag_out: float,
    concentration: float, returned: float = 0.0,
) -> MetalBalance:  # fmt: skip
    """Metal of a bath a square metre plated: added = rho d + v c (1 - b) - eta_a rho d/eta_c.

    thickness d [m] >= 0, mean over all that is plated; metal; cathode efficiency eta_c, above 0 to 1; anode efficiency
    eta_a, 0 (insoluble) to 1.1; drag_out v [m3/m2] >= 0; concentration c of metal [kg/m3] >= 0; share b of the drag-out
    that goes back to the bath. Source: balance of metal; Faraday's law. ValueError out of range.
    """
    d = float(not_negative("thickness", thickness))
    eta = float(within("cathode efficiency", efficiency, above=0.0, most=1.0))
    anode = float(within("anode efficiency", anode_efficiency, least=0.0, most=1.1))
    back = float(within("share returned", returned, least=0.0, most=1.0))
    charge = float(faraday.charge_per_area(d, eta, metal))
    deposit = d * float(positive("density", metal.density))
    dragged = float(not_negative("drag-out", drag_out)) * float(not_negative("concentration", concentration))
    lost = dragged * (1.0 - back)
    dissolved = anode * charge * float(faraday.equivalent(metal))
    return MetalBalance(deposit, lost, dissolved, charge, deposit + lost - dissolved)


def energy(current: Numbers, voltage: Numbers, time: Numbers, rectifier: Numbers = 1.0) -> FloatArray:
    """Energy from the mains, I U t/eta [J].

    current I [A], voltage U [V], time t [s], all >= 0; efficiency eta of the rectifier, above 0 to 1. Source:
    definition.
    """
    work = not_negative("current", current) * not_negative("voltage", voltage) * not_negative("time", time)
    found: FloatArray = work / within("rectifier's efficiency", rectifier, above=0.0, most=1.0)
    return found
