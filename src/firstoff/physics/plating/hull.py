"""Primary current distribution of a Hull cell: the true field of a trapezium, by conformal map."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import beta, ellipk, ellipkm1, hyp2f1

from firstoff.physics.ranges import FloatArray, Numbers, positive, within

EDGE = 1e-9  # nearest to the ends that the current density is asked for, over the cathode's length


class HullCell(NamedTuple):
    """A trapezium mapped to the upper half plane: anode's short-side corner to -`corner`, cathode to 0..1."""

    corner: float  # A
    share: float  # p = angle at the far end over pi
    cathode: float  # length of the cathode in units of the map, K = 1
    resistance: float  # R kappa depth
    current: float  # integral of the current over the cathode in units of the map


def _cathode_length(corner: float, p: float) -> float:
    return float(beta(1.0 - p, p) * hyp2f1(0.5, 1.0 - p, 1.0, -1.0 / corner) / math.sqrt(corner))


def _short_side(corner: float, p: float) -> float:
    return float(corner ** (0.5 - p) * beta(1.0 - p, 0.5) * hyp2f1(1.0 - p, 1.0 - p, 1.5 - p, -corner))


def _root(off: Callable[[float], float]) -> float:
    """The root of a rising function, looked for in steps outwards from 0."""
    low = high = 0.0
    while off(low) > 0.0 and low > -20.0:
        high, low = low, low - 1.0
    while off(high) < 0.0 and high < 60.0:
        low, high = high, high + 1.0
    return float(brentq(off, low, high, xtol=1e-14, rtol=1e-14))


def hull_cell(short: float, long: float, width: float) -> HullCell:
    """Map of a Hull cell: anode square across two parallel insulating sides, cathode slanted from one to the other.

    dz/dt = (t + A)^(-1/2) t^(-p) (1 - t)^(p - 1), p = alpha/pi, tan alpha = width/(long - short);
    potential: dW/dt = ((t + A) t (1 - t))^(-1/2), so that R kappa depth = K(A/(1 + A))/K(1/(1 + A)) (elliptic, of the
    parameter). A follows from short side over cathode.

    short <= long insulating sides, width of the anode [m], all > 0, short a hundredth to ten times the width, the
    far angle at least 5 degrees. Both electrodes equipotential, bottom and surface insulating. Source:
    Schwarz-Christoffel map (textbook). ValueError out of range.
    """
    near, far, w = (float(positive(*pair)) for pair in (("short side", short), ("long side", long), ("width", width)))
    if near > far:
        raise ValueError("the short side must not be above the long side")
    if not 0.01 * w <= near <= 10.0 * w:
        raise ValueError("the short side must be a hundredth to ten times the anode's width")
    angle = math.atan2(w, far - near)
    if angle < math.radians(5.0):
        raise ValueError("the cathode must meet the long side at 5 degrees or more")
    p, ratio = angle / math.pi, near / math.hypot(w, far - near)

    def off(log_corner: float) -> float:
        a = math.exp(log_corner)
        return math.log(_short_side(a, p) / _cathode_length(a, p) / ratio)

    corner = math.exp(_root(off))
    scale = 2.0 / math.sqrt(1.0 + corner)
    # K(1/(1 + A)) and K(A/(1 + A)), each by the form that keeps its digits
    across, along = ellipkm1(corner / (1.0 + corner)), ellipk(corner / (1.0 + corner))
    if corner > 1.0:
        across, along = ellipk(1.0 / (1.0 + corner)), ellipkm1(1.0 / (1.0 + corner))
    return HullCell(corner, p, _cathode_length(corner, p), float(along / across), scale * float(across))


def _place(cell: HullCell, x: float) -> tuple[float, float]:
    """t and 1 - t of a place on the cathode, x = distance from the near end over its length."""
    a, p = cell.corner, cell.share

    def from_near(t: float) -> float:
        return float(quad(lambda s: (s + a) ** -0.5 * (1.0 - s) ** (p - 1.0), 0.0, t, weight="alg", wvar=(-p, 0.0))[0])

    def from_far(u: float) -> float:
        return float(
            quad(lambda s: (1.0 - s + a) ** -0.5 * (1.0 - s) ** -p, 0.0, u, weight="alg", wvar=(p - 1.0, 0.0))[0]
        )

    half = from_near(0.5)
    wanted = x * cell.cathode
    if wanted <= half:
        t = math.exp(brentq(lambda s: from_near(math.exp(s)) - wanted, -200.0, math.log(0.5), xtol=1e-13))
        return t, 1.0 - t
    rest = cell.cathode - wanted
    u = math.exp(brentq(lambda s: from_far(math.exp(s)) - rest, -600.0, math.log(0.5 + 1e-9), xtol=1e-13))
    return 1.0 - u, u


def density(cell: HullCell, x: Numbers) -> FloatArray:
    """Primary current density along the cathode over its mean, i/i_avg.

    i = kappa |dW/dz| = kappa t^(p - 1/2) (1 - t)^(1/2 - p) in units of the map.

    cell of `hull_cell`; x: distance from the near end over the cathode's length, above 0 (endless there, unless the
    cell is a rectangle) to 1; any shape. Source: as `hull_cell`. ValueError out of range.
    """
    places = within("x", x, above=0.0, most=1.0)
    power, found = cell.share - 0.5, []
    for value in places.ravel():
        if abs(power) < 1e-12:
            found.append(1.0)
            continue
        if value > 1.0 - EDGE:
            found.append(0.0)  # the far corner is sharper than a right angle
            continue
        if value < EDGE:
            raise ValueError(f"x must be at least {EDGE:g}: the primary current density is endless at the near end")
        t, u = _place(cell, float(value))
        found.append(t**power * u**-power * cell.cathode / cell.current)
    return np.reshape(np.array(found), places.shape)
