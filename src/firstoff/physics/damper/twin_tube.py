"""Quasi-static force curve of a twin-tube damper, for one build or many.

The oil of each chamber is in steady mass balance with its valves; the reserve stays at the gas pressure. Rod speed
v > 0 is rebound, force F > 0 tension, pressures are absolute.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.damper.mixture import OIL_FIELDS
from firstoff.physics.damper.twin_tube_kernel import BUILD_FIELDS, curve_kernel
from firstoff.physics.damper.valve import VALVE_FIELDS

FloatArray = npt.NDArray[np.float64]
VALVES: Final = ("piston_rebound", "piston_compression", "base_compression", "base_intake")
CAVITATION_PRESSURE: Final = 20e3  # Pa absolute, assumed: foam is heard and felt well before vapour
VAPOUR_PRESSURE: Final = 100.0  # Pa absolute, assumed: mineral oil near room temperature holds less


@dataclass(frozen=True)
class Curve:
    """Forces [N] and absolute pressures [Pa] (n, m), and status bits (n,) of n builds at m speeds."""

    force: FloatArray
    p_rebound: FloatArray
    p_compression: FloatArray
    status: npt.NDArray[np.uint8]


def circle_area(diameter: FloatArray | float) -> FloatArray:
    """Area pi d^2/4 [m2] of a diameter [m]."""
    return np.asarray(0.25 * math.pi * np.square(diameter), dtype=np.float64)


def build_rows(
    bore: FloatArray | float,
    rod: FloatArray | float,
    gas_pressure: FloatArray | float,
    discharge: FloatArray | float,
    leak_area: FloatArray | float = 0.0,
    friction: FloatArray | float = 0.0,
    ambient_pressure: FloatArray | float = 101325.0,
    vapour_pressure: FloatArray | float = VAPOUR_PRESSURE,
    cavitation_pressure: FloatArray | float = CAVITATION_PRESSURE,
) -> FloatArray:
    """Rows (n, 9) in the order of BUILD_FIELDS; each argument a number or (n,).

    bore, rod [m] diameters; pressures [Pa] absolute; leak_area [m2] past the piston; friction [N].
    """
    columns = (
        circle_area(bore), circle_area(rod), leak_area, discharge, gas_pressure,
        ambient_pressure, vapour_pressure, cavitation_pressure, friction,
    )  # fmt: skip
    return _rows(columns)


def oil_rows(
    density: FloatArray | float,
    viscosity: FloatArray | float = 0.0,
    compressibility: FloatArray | float = 0.0,
    gas_fraction: FloatArray | float = 0.0,
    gas_exponent: FloatArray | float = 1.0,
) -> FloatArray:
    """Rows (n, 5) in the order of OIL_FIELDS; each argument a number or (n,). SI; see `mixture`."""
    return _rows((density, viscosity, compressibility, gas_fraction, gas_exponent))


def _rows(columns: Sequence[FloatArray | float]) -> FloatArray:
    return np.stack(np.broadcast_arrays(*(np.atleast_1d(np.asarray(c, dtype=np.float64)) for c in columns)), axis=-1)


def curve(speeds: FloatArray, builds: FloatArray, valves: FloatArray, oils: FloatArray) -> Curve:
    """Quasi-static force and pressures of n builds at m speeds, serially and without the interpreter lock.

    F = p_r (Ap - Ar) - p_c Ap + p_atm Ar + friction sign(v); equations of the pressures in `twin_tube_kernel`.

    speeds (m,) [m/s]; builds (n, 9) of `build_rows`; valves (n, 4, 15): rows of `valve.valve_row` in the order of
    VALVES; oils (n, 5) of `oil_rows`. A first dimension of 1 is repeated. Never raises for a value: a build out of
    range has nan and its status says so. ValueError when the shapes do not fit or a speed is not finite.
    Valid for slow changes: no wave, no inertia of oil, gas pressure independent of stroke.
    """
    speed = np.ascontiguousarray(speeds, dtype=np.float64)
    if speed.ndim != 1 or not np.isfinite(speed).all():
        raise ValueError("speeds must be one list of finite numbers")
    parts = [np.asarray(part, dtype=np.float64) for part in (builds, valves, oils)]
    tails = ((len(BUILD_FIELDS),), (len(VALVES), len(VALVE_FIELDS)), (len(OIL_FIELDS),))
    for name, part, tail in zip(("builds", "valves", "oils"), parts, tails, strict=True):
        if part.shape[1:] != tail or part.ndim != len(tail) + 1:
            raise ValueError(f"{name} must have the shape (n, {', '.join(map(str, tail))}), not {part.shape}")
    n = max(len(part) for part in parts)
    if any(len(part) not in (1, n) for part in parts):
        raise ValueError(f"builds, valves and oils differ in number: {[len(part) for part in parts]}")
    full = [np.array(np.broadcast_to(p, (n, *t)), order="C") for p, t in zip(parts, tails, strict=True)]
    force, p_rebound, p_compression = (np.empty((n, speed.size)) for _ in range(3))
    status = np.zeros(n, dtype=np.uint8)
    curve_kernel(speed, full[0], full[1], full[2], np.empty(tails[1]), force, p_rebound, p_compression, status)
    return Curve(force, p_rebound, p_compression, status)
