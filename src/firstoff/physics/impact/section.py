"""Section of a pressed channel, bent in plan."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from firstoff.physics.ranges import FloatArray, Numbers, positive


class Channel(NamedTuple):
    """Section constants for bending about the axis along the web; x from the web's centreline to the flange tips."""

    area: FloatArray  # m2
    centroid: FloatArray  # m
    inertia: FloatArray  # m4
    modulus_tips: FloatArray  # m3, elastic, at the flange tips
    modulus_web: FloatArray  # m3, elastic, at the web's outside
    plastic_modulus: FloatArray  # m3
    plastic_axis: FloatArray  # m

    @property
    def modulus_min(self) -> FloatArray:
        """The smaller elastic modulus: where the section first yields."""
        return np.minimum(self.modulus_tips, self.modulus_web)


def channel(web_height: Numbers, flange_depth: Numbers, thickness: Numbers) -> Channel:
    """Constants of an open channel of one thickness with sharp corners, as a sum of rectangles.

    Web: height h + t, x from -t/2 to t/2; two flanges: thickness t each, x from t/2 to d. I about the centroid,
    Z = I/distance to the fibre, S = integral of |x - x_p| dA with equal areas on both sides of x_p.

    web_height h, centreline to centreline of the flanges [m]; flange_depth d from the web's centreline [m]; thickness t
    [m]; all > 0, t < 2 d, t < h; any one shape. No corner radii, no buckling of the flanges. An open channel yields at
    its tips long before S R_e. Source: sums over rectangles; agrees with a finite-element section. ValueError out of
    range.
    """
    h, d, t = (
        positive("web height", web_height),
        positive("flange depth", flange_depth),
        positive("thickness", thickness),
    )
    if not np.all((t < 2.0 * d) & (t < h)):
        raise ValueError("the thickness must be below the web height and below twice the flange depth")
    high, long = h + t, d - t / 2.0
    web, flange = high * t, long * t  # areas; two flanges
    area = web + 2.0 * flange
    middle = (d + t / 2.0) / 2.0
    centroid = 2.0 * flange * middle / area
    inertia = (high * t**3 + 2.0 * t * long**3) / 12.0 + web * centroid**2 + 2.0 * flange * (middle - centroid) ** 2
    in_web = web >= area / 2.0
    axis = np.where(in_web, area / (2.0 * high) - t / 2.0, d - area / (4.0 * t))
    part = np.where(in_web, high, 2.0 * t)  # width of the rectangle that the axis cuts
    low, top = np.where(in_web, -t / 2.0, t / 2.0), np.where(in_web, t / 2.0, d)
    cut = part / 2.0 * ((axis - low) ** 2 + (top - axis) ** 2)
    other = np.where(in_web, 2.0 * flange * (middle - axis), web * axis)
    return Channel(area, centroid, inertia, inertia / (d - centroid), inertia / (centroid + t / 2.0), cut + other, axis)
