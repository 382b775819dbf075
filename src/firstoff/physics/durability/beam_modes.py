"""Transverse modes of a slender bar on springs, with masses that ride on it, and what a shaken base makes of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive, within


class Modes(NamedTuple):
    """Modes of n builds, lowest first: d degrees of freedom, deflection and slope of each node and then each rider."""

    frequency: FloatArray  # (n, r) Hz
    shape: FloatArray  # (n, d, r), of unit modal mass
    part: FloatArray  # (n, r) sqrt(kg), participation of a base that moves as a whole


def unit_matrices(nodes: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Stiffness and mass matrices (2 m, 2 m) of a beam of unit E I and unit mass per length, cubic elements.

    k = 1/l^3 [[12, 6 l, -12, 6 l], ...]; m = l/420 [[156, 22 l, 54, -13 l], ...]; nodes (m,) rising [m]. Source: beam
    element of Euler and Bernoulli (any finite element textbook). ValueError for nodes that do not rise.
    """
    lengths = np.diff(np.asarray(nodes, np.float64))
    if len(lengths) < 1 or not np.all(lengths > 0.0):
        raise ValueError("the nodes of a beam must rise, two or more")
    k, m = np.zeros((2, 2 * len(nodes), 2 * len(nodes)))
    for i, s in enumerate(lengths):
        own = slice(2 * i, 2 * i + 4)
        to, back, side = 6.0 * s, 4.0 * s * s, 2.0 * s * s
        k[own, own] += np.array([[12.0, to, -12.0, to], [to, back, -to, side],
                                 [-12.0, -to, 12.0, -to], [to, side, -to, back]]) / s**3  # fmt: skip
        near, far, bend, turn = 22.0 * s, 13.0 * s, 4.0 * s * s, 3.0 * s * s
        m[own, own] += np.array([[156.0, near, 54.0, -far], [near, bend, far, -turn],
                                 [54.0, far, 156.0, -near], [-far, -turn, -near, bend]]) * s / 420.0  # fmt: skip
    return k, m


def modes(
    nodes: FloatArray, rigidity: Numbers, mass: Numbers, springs: Sequence[tuple[int, Numbers]] = (),
    turning: Sequence[tuple[int, Numbers]] = (), riders: Sequence[tuple[int, Numbers, Numbers]] = (), many: int = 8,
) -> Modes:  # fmt: skip
    """The lowest `many` modes of beams on springs to a base: K v = (2 pi f)^2 M v.

    nodes (m,) [m]; rigidity E I [N m2] and mass per length [kg/m], (n,); springs (node, k [N/m] >= 0) against
    deflection, turning (node, k [N m/rad] >= 0) against slope; riders (node, mass [kg], stiffness of its spring to the
    node [N/m]); any of these (n,) or one number. No shear, no rotary inertia, no axial load, no damping. Source:
    Euler-Bernoulli beam, generalised eigenvalue problem (textbook). ValueError out of range.
    """
    k1, m1 = unit_matrices(nodes)
    ei, mu = np.broadcast_arrays(np.atleast_1d(positive("rigidity", rigidity)), np.atleast_1d(positive("mass", mass)))
    size = k1.shape[0] + len(riders)
    k, m = np.zeros((2, len(ei), size, size))
    k[:, : k1.shape[0], : k1.shape[0]] = ei[:, None, None] * k1
    m[:, : k1.shape[0], : k1.shape[0]] = mu[:, None, None] * m1
    for node, stiff in springs:
        k[:, 2 * node, 2 * node] += not_negative("stiffness of a spring", stiff)
    for node, stiff in turning:
        k[:, 2 * node + 1, 2 * node + 1] += not_negative("stiffness of a spring", stiff)
    for i, (node, heavy, stiff) in enumerate(riders, k1.shape[0]):
        own = positive("stiffness of a rider's spring", stiff)
        m[:, i, i] = positive("mass of a rider", heavy)
        for a, b, sign in ((i, i, 1.0), (2 * node, 2 * node, 1.0), (i, 2 * node, -1.0), (2 * node, i, -1.0)):
            k[:, a, b] += sign * own
    lower = np.linalg.cholesky(m)
    half = np.linalg.solve(lower, k)
    square, turned = np.linalg.eigh(np.linalg.solve(lower, half.transpose(0, 2, 1)))
    kept = min(many, size)
    shape = np.linalg.solve(lower.transpose(0, 2, 1), turned[:, :, :kept])
    whole = np.zeros(size)
    whole[0 : k1.shape[0] : 2], whole[k1.shape[0] :] = 1.0, 1.0
    part = np.einsum("ndr,nd->nr", shape, m @ whole)
    return Modes(np.sqrt(np.maximum(square[:, :kept], 0.0)) / (2.0 * np.pi), shape, part)


def deflection_response(found: Modes, place: int, damping: Numbers, frequency: FloatArray) -> FloatArray:
    """Square of the deflection [m] seen from the base at a degree of freedom, per acceleration [m/s2] of the base.

    |H|^2 = |sum_r phi_r p_r/(w_r^2 - w^2 + 2 i zeta w_r w)|^2, result (n, f) [s4].

    place: degree of freedom (2 node for a deflection; riders after the nodes); damping zeta of every mode, 0 to 1;
    frequency (f,) [Hz] > 0. Modal damping, the modes kept only. Source: modal superposition (textbook). ValueError out
    of range.
    """
    zeta = within("damping", damping, above=0.0, below=1.0)
    w = 2.0 * np.pi * positive("frequency", frequency)
    own = 2.0 * np.pi * found.frequency[:, :, None]
    under = own**2 - w**2 + 2.0j * np.atleast_1d(zeta)[:, None, None] * own * w
    weight = (found.shape[:, place] * found.part)[:, :, None]
    total: npt.NDArray[np.complex128] = (weight / under).sum(axis=1)
    found_square: FloatArray = np.abs(total) ** 2
    return found_square
