"""Moment over curvature of a pressed section from its fibres, and the three sliders that stand for it."""

from __future__ import annotations

from typing import Final

import numpy as np

from firstoff.physics.jit import njit, part
from firstoff.physics.ranges import FloatArray, Numbers, positive, within

SLIDERS: Final = 3
# columns of a bar's row
STIFFNESS, CAP, LINEAR, AXIAL, SQUASH, DEPTH, MASS, RATE_D, RATE_Q, BAR = 0, 3, 6, 7, 8, 9, 10, 11, 12, 13
KNOTS: Final = (1.6, 3.5, 12.0, 60.0)  # curvatures over that of first yield at which the fibres are summed
HALVINGS: Final = 30


@part
def stress_of(strain: float, modulus: float, strength: float, exponent: float, pre: float) -> float:
    """Stress of one fibre: elastic, then Swift's curve over the plastic strain."""
    size = abs(strain)
    first: float = strength * pre**exponent
    if modulus * size <= first:
        return modulus * strain
    stress: float = first
    for _ in range(3):
        stress = strength * (pre + max(size - stress / modulus, 0.0)) ** exponent
    return stress if strain > 0.0 else -stress


@part
def moment_at(curvature: float, place: FloatArray, area: FloatArray, pre: FloatArray, law: FloatArray) -> float:
    """Moment of the fibres at a curvature without axial force: the axis is found by halving."""
    low, high = place.min(), place.max()
    axis = 0.0
    for _ in range(HALVINGS):
        axis = 0.5 * (low + high)
        force = 0.0
        for j in range(place.size):
            force += area[j] * stress_of(curvature * (place[j] - axis), law[0], law[1], law[2], pre[j])
        if force > 0.0:
            low = axis
        else:
            high = axis
    moment = 0.0
    for j in range(place.size):
        bent = curvature * (place[j] - axis)
        moment += area[j] * stress_of(bent, law[0], law[1], law[2], pre[j]) * (place[j] - axis)
    return moment


@njit("void(f8[:], f8[:,:], f8[:,:], f8[:,:], f8[:], f8[:,:])")
def _curves(
    place: FloatArray, area: FloatArray, pre: FloatArray, law: FloatArray, flattening: FloatArray, out: FloatArray
) -> None:
    knots = np.array(KNOTS)
    for b in range(area.shape[0]):
        total, middle = 0.0, 0.0
        for j in range(place.size):
            total += area[b, j]
            middle += area[b, j] * place[j]
        middle /= total
        inertia, far, squash = 0.0, 0.0, 0.0
        first = law[b, 1] * pre[b].min() ** law[b, 2] / law[b, 0]
        for j in range(place.size):
            inertia += area[b, j] * (place[j] - middle) ** 2
            far = max(far, abs(place[j] - middle))
            squash += area[b, j] * law[b, 1] * pre[b, j] ** law[b, 2]
        rigid = law[b, 0] * inertia
        bends, moments = np.empty(4), np.empty(4)
        for i in range(4):
            bends[i] = knots[i] * first / far
            flat = 1.0 / (1.0 + flattening[b] * bends[i])
            moments[i] = moment_at(bends[i], place * flat, area[b], pre[b], law[b])
        slopes = np.empty(4)
        slopes[0] = rigid
        for i in range(3):  # a falling branch is held: it would gather in one node, whatever the node's length
            slopes[i + 1] = min(max((moments[i + 1] - moments[i]) / (bends[i + 1] - bends[i]), 0.0), slopes[i])
        corners = np.empty(3)
        corners[0] = min((moments[0] - slopes[1] * bends[0]) / max(rigid - slopes[1], 1e-9 * rigid), bends[0])
        corners[1], corners[2] = bends[1], bends[2]
        for i in range(3):
            out[b, STIFFNESS + i] = slopes[i] - slopes[i + 1]
            out[b, CAP + i] = (slopes[i] - slopes[i + 1]) * corners[i]
        out[b, LINEAR] = slopes[3]
        out[b, AXIAL] = law[b, 0] * total
        out[b, SQUASH] = squash


def bar_rows(
    place: FloatArray, area: FloatArray, pre_strain: FloatArray, law: FloatArray, density: Numbers = 7850.0,
    flattening: Numbers = 0.0, rate: tuple[float, float] = (0.0, 5.0),
) -> FloatArray:  # fmt: skip
    """Rows (n, 13) of a bar for `beam.hit`, from the fibres of its section.

    M(kappa) = sum A sigma(kappa (z - z0)) (z - z0) with sum A sigma = 0; sigma elastic, then K (eps0 + eps_p)^n; z
    shrinks by 1/(1 + c kappa) as an open section flattens; a branch that falls for it is held level. The curve at 1.6,
    3.5, 12 and 60 times the curvature of first yield becomes three sliders and a spring side by side, E I at the start.

    place z (m,) [m]; area A (n, m) [m2] > 0; pre_strain eps0 (n, m) > 0, with what forming added; law (n, 3): E [Pa], K
    [Pa], n; density [kg/m3]; flattening c [m] >= 0; rate (D [1/s], q) of Cowper and Symonds, D = 0 for none. Plane
    sections, alike in tension and compression, no buckling. Source: section integration and overlay of sliders
    (Iwan 1966; textbook). ValueError out of range.
    """
    positive("area of the fibres", area)
    positive("strain before the curve", pre_strain)
    positive("law of the steel", law)
    rows = np.zeros((len(area), BAR))
    soft = np.broadcast_to(within("flattening", flattening, least=0.0), (len(area),)).astype(np.float64)
    _curves(np.ascontiguousarray(place), np.ascontiguousarray(area), np.ascontiguousarray(pre_strain),
            np.ascontiguousarray(law), soft, rows)  # fmt: skip
    total = area.sum(axis=1)
    middle = area @ place / total
    rows[:, DEPTH] = np.abs(place[None, :] - middle[:, None]).max(axis=1)
    rows[:, MASS] = positive("density", density) * total
    rows[:, RATE_D], rows[:, RATE_Q] = rate
    return rows


def ideal_row(rigidity: float, plastic_moment: float, axial: float, squash: float, mass: float) -> FloatArray:
    """Row (1, 13) of an elastic, perfectly plastic bar: E I [N m2], M_p [N m], E A [N], N_p [N], mass [kg/m]."""
    row = np.zeros((1, BAR))
    row[0, STIFFNESS], row[0, CAP] = positive("rigidity", rigidity), positive("plastic moment", plastic_moment)
    row[0, AXIAL], row[0, SQUASH] = positive("axial stiffness", axial), positive("squash load", squash)
    row[0, MASS], row[0, DEPTH], row[0, RATE_Q] = positive("mass", mass), 0.05, 5.0
    return row
