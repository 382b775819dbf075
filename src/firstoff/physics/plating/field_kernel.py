"""Loops over pairs of triangles: layers of sources and dipoles on them, with the images of a tank."""

from __future__ import annotations

import math

import numpy as np

from firstoff.physics.jit import njit
from firstoff.physics.plating.panel import triangle_potentials
from firstoff.physics.ranges import FloatArray

# distances over the larger size: within NEAR a fine rule outside the closed form, within APART a coarse one; within FAR
# a coarse rule on both triangles, beyond it their middles
NEAR, APART, FAR = 1.6, 2.5, 8.0


@njit("void(f8[:, :, ::1], f8[::1], f8[::1], f8[::1])")
def remainder(table: FloatArray, steps: FloatArray, u: FloatArray, out: FloatArray) -> None:
    """R and its gradient at u by cubic interpolation of the tank's table, even in each direction.

    table (n0, n1, n2) [1/m], steps (3,) [m], u (3,) [m] within the sides; out (4,): R [1/m], gradient [1/m2].
    """
    first = np.empty(3, dtype=np.int64)
    weight, slope = np.empty((3, 4)), np.empty((3, 4))
    for d in range(3):
        n = table.shape[d] - 1
        place = abs(u[d]) / steps[d]
        start = min(max(int(place) - 1, 0), n - 3)
        first[d] = start
        t = place - start
        side = 1.0 if u[d] >= 0.0 else -1.0
        for k in range(4):
            w, s = 1.0, 0.0
            for m in range(4):
                if m != k:
                    s = (s * (t - m) + w) / (k - m)
                    w = w * (t - m) / (k - m)
            weight[d, k], slope[d, k] = w, s * side / steps[d]
    out[:] = 0.0
    for i in range(4):
        for j in range(4):
            along = steep = 0.0
            for k in range(4):
                value = table[first[0] + i, first[1] + j, first[2] + k]
                along += value * weight[2, k]
                steep += value * slope[2, k]
            out[0] += weight[0, i] * weight[1, j] * along
            out[1] += slope[0, i] * weight[1, j] * along
            out[2] += weight[0, i] * slope[1, j] * along
            out[3] += weight[0, i] * weight[1, j] * steep


@njit("void(f8[:, :, ::1], f8[:, ::1], f8[::1], f8[::1], i8, i8, f8[:, ::1], f8[::1], f8[::1], f8[::1])")
def pair(
    corners: FloatArray, normals: FloatArray, areas: FloatArray, shift: FloatArray,
    target: int, source: int, rule: FloatArray, weights: FloatArray, flip: FloatArray, out: FloatArray,
) -> None:  # fmt: skip
    """Mean over a target triangle of a source triangle's four potentials, the target mirrored by flip and shifted."""
    out[:] = 0.0
    x, part = np.empty(3), np.empty(4)
    for q in range(weights.size):
        for d in range(3):
            at = 0.0
            for k in range(3):
                at += rule[q, k] * corners[target, k, d]
            x[d] = flip[d] * at + shift[d]
        triangle_potentials(x, corners[source], normals[source], areas[source], part)
        for k in range(4):
            out[k] += weights[q] * part[k]


@njit("void(f8[:, :, ::1], f8[:, ::1], f8[::1], f8[::1], i8, i8, f8[:, ::1], f8[::1], f8[::1])")
def apart(
    corners: FloatArray, normals: FloatArray, areas: FloatArray, shift: FloatArray, target: int, source: int,
    rule: FloatArray, flip: FloatArray, out: FloatArray,
) -> None:  # fmt: skip
    """As `pair`, for triangles some sizes apart: one rule of equal weights (n_q, 3) on both."""
    out[:] = 0.0
    count = rule.shape[0]
    share = areas[source] / (4.0 * math.pi * count * count)
    x, y = np.empty(3), np.empty((count, 3))
    for p in range(count):
        for d in range(3):
            y[p, d] = 0.0
            for k in range(3):
                y[p, d] += rule[p, k] * corners[source, k, d]
    for q in range(count):
        for d in range(3):
            at = 0.0
            for k in range(3):
                at += rule[q, k] * corners[target, k, d]
            x[d] = flip[d] * at + shift[d]
        for p in range(count):
            a, b, c = x[0] - y[p, 0], x[1] - y[p, 1], x[2] - y[p, 2]
            square = a * a + b * b + c * c
            single = share / math.sqrt(square)
            double = single * (a * normals[source, 0] + b * normals[source, 1] + c * normals[source, 2]) / square
            out[0] += single
            for k in range(3):
                out[1 + k] += rule[p, k] * double


_MATRICES = (
    "void(i8, i8, f8[:, :, ::1], f8[:, ::1], f8[::1], f8[:, ::1], f8[::1], f8[:, ::1], f8[:, :, ::1], f8[::1], "
    "f8[:, ::1], f8[::1], f8[:, ::1], f8[::1], f8[:, :, ::1], f8[:, :, ::1])"
)


@njit(_MATRICES)
def matrices(
    first: int, last: int,
    corners: FloatArray, normals: FloatArray, areas: FloatArray, centres: FloatArray, sizes: FloatArray,
    flips: FloatArray, table: FloatArray, sides: FloatArray, fine: FloatArray, fine_weights: FloatArray,
    coarse: FloatArray, coarse_weights: FloatArray, single: FloatArray, double: FloatArray,
) -> None:  # fmt: skip
    """Galerkin matrices of targets first to before last with all sources, summed over reflections `flips` (n_flips, 3).

    single (4, n, n) [m3]: integral over target and source of G, and the same with det(S) S_kk for k = 0, 1, 2 (what
    reflected surface curls need); double (3, n, n) [m2]: integral of the potentials of the three dipole hats.
    sides (3,): of the tank, 0 for none: then flips holds the identity alone. fine, coarse (n_q, 3): barycentric rules.
    """
    n = areas.size
    shift, u, far, got = np.zeros(3), np.empty(3), np.empty(4), np.empty(4)
    boxed = sides[0] > 0.0
    steps = np.ones(3)
    if boxed:
        for d in range(3):
            steps[d] = sides[d] / (table.shape[d] - 1)
    quarter = 1.0 / (4.0 * math.pi)
    for f in range(flips.shape[0]):
        flip = flips[f]
        det = flip[0] * flip[1] * flip[2]
        for i in range(first, last):
            for j in range(n):
                square = 0.0
                for d in range(3):
                    shift[d] = 0.0
                    u[d] = flip[d] * centres[i, d] - centres[j, d]
                    if boxed:
                        shift[d] = -2.0 * sides[d] * np.rint(u[d] / (2.0 * sides[d]))
                        u[d] += shift[d]
                    square += u[d] * u[d]
                distance, size = math.sqrt(square), max(sizes[i], sizes[j])
                if distance > FAR * size:
                    got[0] = areas[j] * quarter / distance
                    along = u[0] * normals[j, 0] + u[1] * normals[j, 1] + u[2] * normals[j, 2]
                    got[1] = areas[j] / 3.0 * along * quarter / (square * distance)
                    got[2] = got[1]
                    got[3] = got[1]
                elif distance > APART * size:
                    apart(corners, normals, areas, shift, i, j, coarse, flip, got)
                elif distance > NEAR * size:
                    pair(corners, normals, areas, shift, i, j, coarse, coarse_weights, flip, got)
                else:
                    pair(corners, normals, areas, shift, i, j, fine, fine_weights, flip, got)
                if boxed:
                    remainder(table, steps, u, far)
                    got[0] += areas[j] * far[0]
                    along = far[1] * normals[j, 0] + far[2] * normals[j, 1] + far[3] * normals[j, 2]
                    for k in range(3):
                        got[1 + k] -= areas[j] / 3.0 * along
                value = areas[i] * got[0]
                single[0, i, j] += value
                for k in range(3):
                    single[1 + k, i, j] += det * flip[k] * value
                    double[k, i, j] += areas[i] * got[1 + k]


_POTENTIALS = (
    "void(f8[:, ::1], f8[:, :, ::1], f8[:, ::1], f8[::1], f8[:, ::1], f8[::1], "
    "f8[:, ::1], f8[:, ::1], f8[:, :, ::1], f8[::1], f8[::1])"
)


@njit(_POTENTIALS)
def potentials(
    points: FloatArray, corners: FloatArray, normals: FloatArray, areas: FloatArray, centres: FloatArray,
    sources: FloatArray, jumps: FloatArray, flips: FloatArray, table: FloatArray, sides: FloatArray, out: FloatArray,
) -> None:  # fmt: skip
    """Potential at points (n_x, 3) of sources (n,) and of jumps at corners (n, 3); other arguments as `matrices`."""
    boxed = sides[0] > 0.0
    steps = np.ones(3)
    if boxed:
        for d in range(3):
            steps[d] = sides[d] / (table.shape[d] - 1)
    x, u, far, got = np.empty(3), np.empty(3), np.empty(4), np.empty(4)
    for p in range(points.shape[0]):
        total = 0.0
        for f in range(flips.shape[0]):
            for j in range(areas.size):
                for d in range(3):
                    u[d] = flips[f, d] * points[p, d] - centres[j, d]
                    if boxed:
                        u[d] -= 2.0 * sides[d] * np.rint(u[d] / (2.0 * sides[d]))
                    x[d] = u[d] + centres[j, d]
                triangle_potentials(x, corners[j], normals[j], areas[j], got)
                if boxed:
                    remainder(table, steps, u, far)
                    got[0] += areas[j] * far[0]
                    along = far[1] * normals[j, 0] + far[2] * normals[j, 1] + far[3] * normals[j, 2]
                    for k in range(3):
                        got[1 + k] -= areas[j] / 3.0 * along
                total += sources[j] * got[0]
                for k in range(3):
                    total += jumps[j, k] * got[1 + k]
        out[p] = total
