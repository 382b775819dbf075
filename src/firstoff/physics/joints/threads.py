"""Metric threads: diameters, stress area, proof load, stripping."""

from __future__ import annotations

import json
import math
from functools import cache
from importlib.resources import files
from typing import Any, Final, NamedTuple

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, positive

PITCH_DEPTH: Final = 0.649519  # d - d2 over the pitch: 3 sqrt(3)/8
ROOT_DEPTH: Final = 1.226869  # d - d3 over the pitch: 17 sqrt(3)/24


class Diameters(NamedTuple):
    """Pitch diameter d2, root diameter d3, diameter d0 = (d2 + d3)/2 of the stress area [m]."""

    pitch: FloatArray
    root: FloatArray
    stress: FloatArray


def diameters(nominal: Numbers, pitch: Numbers) -> Diameters:
    """Diameters of an ISO metric external thread, basic profile: d2 = d - 0.649519 P, d3 = d - 1.226869 P.

    nominal d [m], pitch P [m], both > 0, P < d/2; any one shape. Source: ISO 68-1 and ISO 724. ValueError out of range.
    """
    d, p = positive("thread diameter", nominal), positive("pitch", pitch)
    if not np.all(p < d / 2.0):
        raise ValueError("the pitch must be below half the thread diameter")
    d2, d3 = d - PITCH_DEPTH * p, d - ROOT_DEPTH * p
    return Diameters(d2, d3, (d2 + d3) / 2.0)


def stress_area(nominal: Numbers, pitch: Numbers) -> FloatArray:
    """Tensile stress area A_s = pi/4 ((d2 + d3)/2)^2 [m2]; arguments as in `diameters`. Source: ISO 898-1."""
    return math.pi / 4.0 * diameters(nominal, pitch).stress ** 2


@cache
def _table() -> dict[str, Any]:
    text = files("firstoff.physics.joints").joinpath("data/bolts.json").read_text("utf-8")
    table: dict[str, Any] = json.loads(text)
    return table


def coarse_pitch(nominal: float) -> float:
    """Pitch [m] of the coarse series for a nominal diameter [m], M3 to M39. Source: ISO 261. ValueError for others."""
    known: dict[str, float] = _table()["coarse_pitch_mm"]
    name = f"{nominal * 1e3:.10g}"
    if name not in known:
        raise ValueError(f"M{name} is no coarse thread of the table; known: {', '.join('M' + size for size in known)}")
    return known[name] * 1e-3


def property_classes() -> tuple[str, ...]:
    """Property classes whose proof stress is tabled."""
    return tuple(_table()["proof_stress_MPa"])


def proof_load(nominal: float, pitch: float, property_class: str) -> float | None:
    """Proof load F_p = A_s S_p [N] of a bolt; None where the standard gives none for this size.

    nominal [m], M3 to M39, pitch [m]; property_class 4.6 to 12.9. The standard prints loads of rounded areas: within
    0.7 % of this. Source: ISO 898-1, see data/bolts.json. ValueError for an unknown class or size.
    """
    rows = _table()["proof_stress_MPa"].get(property_class)
    if rows is None:
        raise ValueError(f"property class {property_class!r} is unknown; known: {', '.join(property_classes())}")
    size = nominal * 1e3
    if not 3.0 <= size <= 39.0 + 1e-9:
        raise ValueError(f"proof loads are tabled from M3 to M39, not for M{size:g}")
    area = float(stress_area(nominal, pitch))
    return next((area * stress * 1e6 for largest, stress in rows if size <= largest + 1e-9), None)


class Stripping(NamedTuple):
    """Shear areas [m2] and stripping forces [N] of the external and the internal thread."""

    external_area: FloatArray
    internal_area: FloatArray
    external_force: FloatArray
    internal_force: FloatArray


def stripping(
    engagement: Numbers,
    pitch: Numbers,
    internal_minor_max: Numbers,
    external_pitch_min: Numbers,
    external_major_min: Numbers,
    internal_pitch_max: Numbers,
    external_shear: Numbers,
    internal_shear: Numbers,
) -> Stripping:
    """Areas and forces at which the threads of bolt and nut strip, at the worst limits of size.

    A_ext = pi (L/P) D1max (P/2 + (d2min - D1max)/sqrt 3); A_int = pi (L/P) dmin (P/2 + (dmin - D2max)/sqrt 3);
    F = A tau.

    engagement L, pitch P, internal_minor_max D1max, external_pitch_min d2min, external_major_min dmin,
    internal_pitch_max D2max [m]; external_shear, internal_shear tau [Pa] (about 0.6 of the tensile strength, common
    practice); all > 0, any one shape; L at least one pitch. No bell-mouthing, no bending of the nut (Alexander's C1 to
    C3). Source: FED-STD-H28 (from memory). ValueError out of range, and where the threads would not engage.
    """
    length, p = positive("engagement", engagement), positive("pitch", pitch)
    if not np.all(length >= p):
        raise ValueError("the engagement must be at least one pitch")
    d1, d2 = positive("D1max", internal_minor_max), positive("d2min", external_pitch_min)
    major, pitch_internal = positive("dmin", external_major_min), positive("D2max", internal_pitch_max)
    if not np.all((d1 < major) & (pitch_internal < major) & (d2 < major)):
        raise ValueError("D1max, d2min and D2max must be below the major diameter dmin: the threads do not engage")
    widths = p / 2.0 + (d2 - d1) / math.sqrt(3.0), p / 2.0 + (major - pitch_internal) / math.sqrt(3.0)
    if not all(np.all((width > 0.0) & (width <= p)) for width in widths):
        raise ValueError("these diameters do not belong to a thread of this pitch")
    external = math.pi * length / p * d1 * widths[0]
    internal = math.pi * length / p * major * widths[1]
    return Stripping(
        external,
        internal,
        external * positive("shear strength of the bolt", external_shear),
        internal * positive("shear strength of the nut", internal_shear),
    )
