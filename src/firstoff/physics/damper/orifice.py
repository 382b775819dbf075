"""One passage: a laminar and a turbulent pressure loss in series."""

from __future__ import annotations

import math

from firstoff.physics.jit import njit


@njit("UniTuple(f8, 2)(f8, f8, f8, f8, f8)")
def speed_and_slope(dp: float, laminar: float, rho: float, mu: float, cd: float) -> tuple[float, float]:
    """Mean speed u through a passage, and du/d(dp).

    dp = rho/(2 Cd^2) u^2 + a mu u, solved for u without cancellation:
    u = 2 dp/(a mu + r), r = sqrt((a mu)^2 + 2 rho dp/Cd^2), du/d(dp) = 1/r.

    dp [Pa] pressure difference, 0 and below give no flow; laminar a [1/m], 0 for a sharp edge; rho [kg/m3] > 0;
    mu [Pa s] >= 0; cd discharge coefficient, 0 < Cd <= 1. Returns [m/s] and [m/(s Pa)].
    Source: orifice equation and Hagen-Poiseuille loss, e.g. Merritt, Hydraulic Control Systems, ch. 3.
    """
    if not dp > 0.0:
        return 0.0, 0.0
    linear = laminar * mu
    root = math.sqrt(linear * linear + 2.0 * rho * dp / (cd * cd))
    return 2.0 * dp / (linear + root), 1.0 / root


@njit("f8(f8, f8, f8, f8, f8)")
def loss(speed: float, laminar: float, rho: float, mu: float, cd: float) -> float:
    """Pressure difference dp = rho/(2 Cd^2) u^2 + a mu u [Pa]; arguments as in `speed_and_slope`."""
    return (rho / (2.0 * cd * cd) * speed + laminar * mu) * speed


def laminar_coefficient(length: float, hydraulic_diameter: float) -> float:
    """Coefficient of the laminar loss of a passage, a = 32 L/dh^2 [1/m].

    length L [m] >= 0, hydraulic_diameter dh [m] > 0. Developed laminar flow in a round passage; for a narrow
    gap of height h take dh = 2 h and 1.5 times the length. Source: Hagen-Poiseuille. ValueError out of range.
    """
    if not (length >= 0.0 and hydraulic_diameter > 0.0 and math.isfinite(length + hydraulic_diameter)):
        raise ValueError("the passage needs a length of 0 or more and a hydraulic diameter above 0")
    return 32.0 * length / hydraulic_diameter**2
