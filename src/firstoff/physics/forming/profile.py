"""A section's profile as pieces that each turn by an angle, and a bar's plan as arcs: where points come to lie."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def trace(lengths: FloatArray, turns: FloatArray, heading: float) -> tuple[FloatArray, FloatArray]:
    """Ends of pieces strung together from the origin, and the direction in which each piece ends.

    Each piece is an arc of length L that turns by a: its chord is L sin(a/2)/(a/2), in direction h + a/2.

    lengths (n, p) [m], turns (n, p) [rad], positive to the left; heading [rad] at the start. Returns (n, p + 1, 2) [m]
    and (n, p + 1) [rad]. Source: geometry of the circle.
    """
    directions = heading + np.concatenate([np.zeros((len(turns), 1)), np.cumsum(turns, axis=1)], axis=1)
    middle = directions[:, :-1] + 0.5 * turns
    chord = lengths * np.sinc(0.5 * turns / np.pi)
    steps = np.stack([chord * np.cos(middle), chord * np.sin(middle)], axis=2)
    ends = np.concatenate([np.zeros((len(turns), 1, 2)), np.cumsum(steps, axis=1)], axis=1)
    return ends, directions


def bow_weights(lengths: FloatArray, at: float) -> FloatArray:
    """How far a point at a distance `at` from the middle moves sideways for a change of each arc's curvature (p,) [m2].

    w_j = integral over arc j, as far as the point, of (at - u) du

    lengths (p,) [m] of the arcs from the middle outwards; at >= 0 [m], beyond the last arc the bar goes on straight.
    Small changes of angle. Source: integration of curvature twice.
    """
    ends = np.concatenate([[0.0], np.cumsum(lengths)])
    low, high = np.minimum(ends[:-1], at), np.minimum(ends[1:], at)
    return np.asarray(at * (high - low) - 0.5 * (high**2 - low**2))


def twist_weights(lengths: FloatArray, curvatures: FloatArray, at: float, pieces: int = 64) -> FloatArray:
    """Twist of a bowed bar at a distance `at` for a curvature out of its plane, arc by arc (p,) [m].

    w_j = integral over arc j of sin(phi(at) - phi(u)) du, phi the direction of the bar in plan: the axis of a vertical
    bend turns with the bar, so that a bend near the middle twists the end.

    Source: rotation vectors of a curved beam, small rotations; midpoint rule.
    """
    ends = np.concatenate([[0.0], np.cumsum(lengths)])
    angles = np.concatenate([[0.0], np.cumsum(lengths * curvatures)])
    last = float(np.interp(at, ends, angles))
    found = []
    for low, high in zip(np.minimum(ends[:-1], at), np.minimum(ends[1:], at), strict=True):
        u = low + (np.arange(pieces) + 0.5) / pieces * (high - low)
        found.append(float(np.sin(last - np.interp(u, ends, angles)).mean()) * (high - low))
    return np.array(found)


def unsymmetric_release(
    stress: FloatArray, area: FloatArray, x: FloatArray, y: FloatArray, modulus: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Changes of curvature of a bar whose fibre stresses are let go: about both axes at once [1/m].

    [Ixx' Ixy'; Ixy' Iyy'] (a, b) = -(sum s A x, sum s A y) / E, x and y from the centroid

    stress (n, m) [Pa] of fibres with area (m,) [m2] at x, y (m,) [m]; modulus (n,) [Pa]. Elastic. Source: unsymmetric
    bending; textbook.
    """
    dx, dy = (c - float(area @ c) / float(area.sum()) for c in (x, y))
    xx, xy, yy = float(area @ dx**2), float(area @ (dx * dy)), float(area @ dy**2)
    by_x, by_y = stress @ (area * dx) / modulus, stress @ (area * dy) / modulus
    det = xx * yy - xy**2
    return -(yy * by_x - xy * by_y) / det, -(xx * by_y - xy * by_x) / det
