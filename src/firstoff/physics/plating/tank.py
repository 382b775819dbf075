"""Green's function of a rectangular tank with insulating walls, floor and surface: images, all of them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import erf, erfc

from firstoff.physics.ranges import FloatArray, positive

STEPS = 20  # of the table over the shortest side


@dataclass(frozen=True)
class Tank:
    """A tank from 0 to its sides, and the smooth part of its Green's function on a grid.

    sides (3,) [m]; table (n0 + 1, n1 + 1, n2 + 1) [1/m] of R(u), u from 0 to the sides.
    """

    sides: FloatArray
    table: FloatArray


def periodic_remainder(axes: list[FloatArray], sides: FloatArray) -> FloatArray:
    """What all images but the nearest add: R(u) = P(u) - 1/(4 pi |u|) [1/m].

    P: periodic Green's function of the cell of twice the sides, -lap P = delta - 1/volume, mean 0, by Ewald's sum:
    P = sum_n erfc(a r_n)/(4 pi r_n) + 1/V sum_k exp(-k^2/(4 a^2))/k^2 cos(k.u) - 1/(4 a^2 V).
    The tank's own is the sum of P(x - S y) over the eight reflections S.

    axes: the coordinates of u along each side, (n_0,), (n_1,), (n_2,) [m], within the sides (3,) [m]; result (n_0, n_1,
    n_2). Source: Ewald 1921 (textbook).
    """
    cell = 2.0 * sides
    volume = float(np.prod(cell))
    a = math.sqrt(math.pi) / float(np.min(cell)) ** 0.5 / float(np.max(cell)) ** 0.5
    # waves, even in every direction: cosines only
    numbers = [np.arange(int(math.ceil(11.0 * a * c / (2.0 * math.pi))) + 1) for c in cell]
    waves = [2.0 * math.pi * n / c for n, c in zip(numbers, cell, strict=True)]
    square = waves[0][:, None, None] ** 2 + waves[1][None, :, None] ** 2 + waves[2][None, None, :] ** 2
    twice = [np.where(n > 0, 2.0, 1.0) for n in numbers]
    weight = twice[0][:, None, None] * twice[1][None, :, None] * twice[2][None, None, :]
    weight = weight * np.exp(-square / (4.0 * a * a)) / np.where(square > 0.0, square, 1.0) / volume
    weight[0, 0, 0] = 0.0
    cosines = [np.cos(np.outer(u, k)) for u, k in zip(axes, waves, strict=True)]
    found: FloatArray = np.einsum("abc,xa,yb,zc->xyz", weight, *cosines, optimize=True) - 1.0 / (4.0 * a * a * volume)
    reach = [int(math.ceil(5.5 / (a * c) + 0.5)) for c in cell]
    for i in range(-reach[0], reach[0] + 1):
        for j in range(-reach[1], reach[1] + 1):
            for k in range(-reach[2], reach[2] + 1):
                parts = [(u + n * c) ** 2 for u, n, c in zip(axes, (i, j, k), cell, strict=True)]
                r = np.sqrt(parts[0][:, None, None] + parts[1][None, :, None] + parts[2][None, None, :])
                if i == j == k == 0:
                    near = np.where(r > 0.0, -erf(a * r) / np.where(r > 0.0, r, 1.0), -2.0 * a / math.sqrt(math.pi))
                    found += near / (4.0 * math.pi)
                elif a * r.min() < 6.0:
                    found += erfc(a * r) / (4.0 * math.pi * r)
    return found


def tank(length: float, width: float, depth: float) -> Tank:
    """A tank with its table; length, width, depth of liquid [m], all > 0. ValueError out of range."""
    sides = np.array([float(positive("tank side", s)) for s in (length, width, depth)])
    if sides.max() > 12.0 * sides.min():
        raise ValueError("the tank's longest side must be at most twelve times its shortest")
    steps = [max(4, int(round(STEPS * s / sides.min()))) for s in sides]
    axes = [np.linspace(0.0, s, n + 1) for s, n in zip(sides, steps, strict=True)]
    return Tank(sides, np.ascontiguousarray(periodic_remainder(axes, sides)))
