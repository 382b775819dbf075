"""The operators of boundary elements on open sheets in a tank, as dense matrices."""

from __future__ import annotations

import itertools
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from firstoff.physics.plating import field_kernel
from firstoff.physics.plating.mesh import Mesh
from firstoff.physics.plating.tank import Tank
from firstoff.physics.ranges import FloatArray

# Dunavant's rule of degree 5, and the three middles of the edges (degree 2)
_A, _B = 0.470142064105115, 0.101286507323456
_SEVEN = np.array(
    [[1 / 3, 1 / 3, 1 / 3]]
    + [[1 - 2 * a if k == m else a for k in range(3)] for a in (_A, _B) for m in range(3)]
)  # fmt: skip
_SEVEN_WEIGHTS = np.array([0.225] + [0.132394152788506] * 3 + [0.125939180544827] * 3)
_THREE = np.array([[2 / 3, 1 / 6, 1 / 6], [1 / 6, 2 / 3, 1 / 6], [1 / 6, 1 / 6, 2 / 3]])


def _fine_rule() -> tuple[FloatArray, FloatArray]:
    """The degree-5 rule on each of four quarters: for triangles that touch."""
    half = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.5, 0.5, 0], [0, 0.5, 0.5], [0.5, 0, 0.5]])
    quarters = ((0, 3, 5), (3, 1, 4), (5, 4, 2), (3, 4, 5))
    points = np.concatenate([_SEVEN @ half[list(quarter)] for quarter in quarters])
    return np.ascontiguousarray(points), np.tile(_SEVEN_WEIGHTS, 4) / 4.0


@dataclass(frozen=True)
class Matrices:
    """Operators on sources s (constant on each of n triangles) and jumps mu (linear, at n_p points).

    single (n, n) [m3]: V, means of the potential of s, times area; double (n, n_p) [m2]: D, the same of mu;
    its transpose gives the normal derivative of the potential of s, times the hats; hyper (n_p, n_p) [m]: N, normal
    derivative of the potential of mu, times the hats, for mu that is 0 on free edges.
    """

    mesh: Mesh
    single: FloatArray
    double: FloatArray
    hyper: FloatArray
    hats: FloatArray  # (n_p,) integral of each hat [m2]


def _gather(mesh: Mesh) -> list[csr_matrix]:
    """Corner k of each triangle to its point: three (n, n_p) matrices of ones."""
    n, rows = len(mesh.triangles), np.arange(len(mesh.triangles))
    return [csr_matrix((np.ones(n), (rows, mesh.triangles[:, k])), shape=(n, len(mesh.points))) for k in range(3)]


def _curls(mesh: Mesh) -> list[csr_matrix]:
    """Surface curl of the hats on each triangle, one (n, n_p) matrix a direction [1/m]."""
    c, n = mesh.corners, len(mesh.triangles)
    rows = np.tile(np.arange(n), 3)
    columns = mesh.triangles.T.ravel()
    opposite = np.concatenate([c[:, 2] - c[:, 1], c[:, 0] - c[:, 2], c[:, 1] - c[:, 0]])
    values = -opposite / (2.0 * np.tile(mesh.areas, 3))[:, None]
    return [csr_matrix((values[:, d], (rows, columns)), shape=(n, len(mesh.points))) for d in range(3)]


def box_of(tank: Tank | None) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Reflections, table and sides of a tank as the kernels take them."""
    if tank is None:
        return np.ones((1, 3)), np.zeros((4, 4, 4)), np.zeros(3)
    return np.array(list(itertools.product((1.0, -1.0), repeat=3))), tank.table, tank.sides


def matrices(mesh: Mesh, tank: Tank | None, workers: int = 1) -> Matrices:
    """V, D and N of a mesh in a tank, or in an unbounded bath when tank is None.

    <s, V s>, <s, D mu> and <nu, N mu> with Green's function G of the tank (insulating walls, floor, surface):
    N by its surface curls, <nu, N mu> = -sum_S det(S) integral curl nu . S curl mu G_S (Nedelec 1982, from memory).
    Inner integrals of near pairs in closed form. Sheets may touch walls, not pierce them. workers: threads. ValueError
    when a point lies outside the tank.
    """
    if tank is not None:
        slack = 1e-9 * tank.sides
        if np.any(mesh.points < -slack) or np.any(mesh.points > tank.sides + slack):
            raise ValueError("a part lies outside the tank")
    flips, table, sides = box_of(tank)
    n = len(mesh.triangles)
    single, double = np.zeros((4, n, n)), np.zeros((3, n, n))
    fine, fine_weights = _fine_rule()
    arguments = (
        mesh.corners, mesh.normals, mesh.areas, mesh.centres, mesh.sizes, flips, table, sides, fine, fine_weights,
        _THREE, np.full(3, 1.0 / 3.0), single, double,
    )  # fmt: skip
    cuts = [n * k // (4 * workers) for k in range(4 * workers + 1)]
    with ThreadPoolExecutor(workers) as pool:  # rows of their own: the same numbers on any number of threads
        list(pool.map(lambda k: field_kernel.matrices(cuts[k], cuts[k + 1], *arguments), range(4 * workers)))
    gather, curls = _gather(mesh), _curls(mesh)
    jumps = sum(double[k] @ gather[k] for k in range(3))
    # the closed inner and the numerical outer integral differ by their rule only: made symmetric
    hyper = -sum(c.T @ (0.5 * (single[1 + d] + single[1 + d].T) @ c) for d, c in enumerate(curls))
    hats = sum(g.T @ (mesh.areas / 3.0) for g in gather)
    return Matrices(
        mesh, 0.5 * (single[0] + single[0].T), np.asarray(jumps), np.asarray(0.5 * (hyper + hyper.T)), np.asarray(hats)
    )
