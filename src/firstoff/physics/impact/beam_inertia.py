"""Inertia of the bar with a share that only bending fast enough to set the time step feels, and the stable step."""

from __future__ import annotations

import math
from typing import Final

from firstoff.physics.impact import beam_parts as bp
from firstoff.physics.impact.mesh import IntArray
from firstoff.physics.impact.moment_curve import AXIAL, LINEAR, STIFFNESS
from firstoff.physics.jit import part
from firstoff.physics.ranges import FloatArray

INERTIA_STEP: Final = 100e-6  # s: about the step that bending alone then allows
ROUNDS: Final = 30  # of the search for the fastest motion
MARGIN: Final = 0.9  # of the stable step that is taken
STRUCK: Final = 2.5  # times as stiff as it is counts a contact: one that opens and closes needs a finer step


@part
def rigidity(bar: FloatArray) -> float:
    """E I at the start [N m2]."""
    found: float = bar[LINEAR] + bar[STIFFNESS] + bar[STIFFNESS + 1] + bar[STIFFNESS + 2]
    return found


@part
def lay_inertia(node: FloatArray, bar: FloatArray, share: float) -> None:
    """Factors L D L^T of A = diag(m) + share * B, B the bending stiffness across each link, one band of five.

    Alike for both directions; a bar that moves as a whole feels none of it.
    """
    for i in range(node.shape[0]):
        node[i, bp.PER_M], node[i, bp.BELOW], node[i, bp.BELOW2] = node[i, bp.M], 0.0, 0.0
    add_bending(node, share * rigidity(bar), bp.PER_M, bp.BELOW, bp.BELOW2)
    factor(node, bp.PER_M, bp.BELOW, bp.BELOW2)


@part
def add_bending(node: FloatArray, rigid: float, per: int, below: int, below2: int) -> None:
    """Add the stiffness against bending across the links to a band of five."""
    for i in range(1, node.shape[0] - 1):
        a, b = 1.0 / node[i - 1, bp.L0], 1.0 / node[i, bp.L0]
        r = rigid * node[i, bp.PER_REST]
        node[i - 1, per] += r * a * a
        node[i, per] += r * (a + b) * (a + b)
        node[i + 1, per] += r * b * b
        node[i, below] -= r * a * (a + b)
        node[i + 1, below] -= r * b * (a + b)
        node[i + 1, below2] += r * a * b


@part
def factor(node: FloatArray, per: int, below: int, below2: int) -> None:
    """A symmetric band of five in three columns (its diagonal, and left of it) becomes 1/D and the two of L."""
    for i in range(node.shape[0]):
        low2 = node[i, below2] * node[i - 2, per] if i > 1 else 0.0
        low, d = node[i, below], node[i, per]
        if i > 1:
            low -= low2 * node[i - 1, below] / node[i - 2, per]
            d -= low2 * low2 / node[i - 2, per]
        if i > 0:
            low *= node[i - 1, per]
            d -= low * low / node[i - 1, per]
        node[i, below], node[i, below2], node[i, per] = low, low2, 1.0 / d


@part
def solve(node: FloatArray, column: int, per: int, below: int, below2: int) -> None:
    """The column becomes the solution for it, by the factors in the three others."""
    n = node.shape[0]
    for i in range(n):
        if i > 0:
            node[i, column] -= node[i, below] * node[i - 1, column]
        if i > 1:
            node[i, column] -= node[i, below2] * node[i - 2, column]
    for k in range(n):
        i = n - 1 - k
        node[i, column] *= node[i, per]
        if i < n - 1:
            node[i, column] -= node[i + 1, below] * node[i + 1, column]
        if i < n - 2:
            node[i, column] -= node[i + 2, below2] * node[i + 2, column]


@part
def lay_stiffness(node: FloatArray, bar: FloatArray, brackets: FloatArray, on: IntArray) -> None:
    """Factors of a stiffness no softer than the bar's on its brackets, along x and along y: what a load moves at most.

    Links push along themselves, a part of it each way; bending counts whole in both directions.
    """
    n = node.shape[0]
    least = 1e-4 * bar[AXIAL] / node[0, bp.L0]  # holds what no bracket holds sideways
    for i in range(n):
        node[i, bp.PER_M], node[i, bp.BELOW], node[i, bp.BELOW2] = 0.0, 0.0, 0.0
        node[i, bp.PER_X], node[i, bp.BELOW_X], node[i, bp.BELOW2_X] = 0.0, 0.0, 0.0
    for i in range(n - 1):
        tx, ty = node[i + 1, bp.X] - node[i, bp.X], node[i + 1, bp.Y] - node[i, bp.Y]
        each = 2.0 * node[i, bp.SPRING] / (tx * tx + ty * ty)
        x, y = each * tx * tx, each * ty * ty
        node[i, bp.PER_X] += x
        node[i + 1, bp.PER_X] += x
        node[i + 1, bp.BELOW_X] -= x
        node[i, bp.PER_M] += y
        node[i + 1, bp.PER_M] += y
        node[i + 1, bp.BELOW] -= y
    for j in range(on.size):
        node[on[j], bp.PER_X] += max(brackets[j, bp.LATERAL], least)
        node[on[j], bp.PER_M] += brackets[j, bp.K]
    add_bending(node, rigidity(bar), bp.PER_M, bp.BELOW, bp.BELOW2)
    add_bending(node, rigidity(bar), bp.PER_X, bp.BELOW_X, bp.BELOW2_X)
    factor(node, bp.PER_M, bp.BELOW, bp.BELOW2)
    factor(node, bp.PER_X, bp.BELOW_X, bp.BELOW2_X)


@part
def accelerate(node: FloatArray) -> None:
    """Forces on the nodes become accelerations in their place, A a = f."""
    n = node.shape[0]
    x1, y1, x2, y2 = 0.0, 0.0, 0.0, 0.0
    for i in range(n):
        low, low2 = node[i, bp.BELOW], node[i, bp.BELOW2]
        x = (node[i, bp.FX] - low2 * x2) - low * x1  # in this order the last result is waited for least
        y = (node[i, bp.FY] - low2 * y2) - low * y1
        node[i, bp.FX], node[i, bp.FY] = x, y
        x2, y2, x1, y1 = x1, y1, x, y
    x1, y1, x2, y2 = 0.0, 0.0, 0.0, 0.0
    low, low2, above = 0.0, 0.0, 0.0
    for k in range(n):
        i = n - 1 - k
        x = (node[i, bp.FX] * node[i, bp.PER_M] - low2 * x2) - low * x1
        y = (node[i, bp.FY] * node[i, bp.PER_M] - low2 * y2) - low * y1
        node[i, bp.FX], node[i, bp.FY] = x, y
        x2, y2, x1, y1 = x1, y1, x, y
        low, low2, above = node[i, bp.BELOW], above, node[i, bp.BELOW2]


@part
def inertia_energy(node: FloatArray, bar: FloatArray, share: float) -> float:
    """Kinetic energy of the share of the inertia that bending feels."""
    found = 0.0
    for i in range(1, node.shape[0] - 1):
        a, b = 1.0 / node[i - 1, bp.L0], 1.0 / node[i, bp.L0]
        x = a * node[i - 1, bp.VX] - (a + b) * node[i, bp.VX] + b * node[i + 1, bp.VX]
        y = a * node[i - 1, bp.VY] - (a + b) * node[i, bp.VY] + b * node[i + 1, bp.VY]
        found += 0.5 * share * rigidity(bar) * node[i, bp.PER_REST] * (x * x + y * y)
    return found


@part
def _pull_back(
    node: FloatArray, bar: FloatArray, brackets: FloatArray, on: IntArray, stiff: float, link: IntArray,
    along: FloatArray, across: FloatArray,
) -> None:  # fmt: skip
    """FX, FY: stiffness times the displacements VX, VY of the bar at rest, every rider pressed from both directions."""
    n = node.shape[0]
    for i in range(n):
        node[i, bp.FX], node[i, bp.FY] = 0.0, 0.0
    for i in range(n - 1):
        tx, ty = node[i, bp.TX], node[i, bp.TY]
        pull = node[i, bp.SPRING] * (tx * (node[i + 1, bp.VX] - node[i, bp.VX])
                                     + ty * (node[i + 1, bp.VY] - node[i, bp.VY]))  # fmt: skip
        node[i, bp.FX] -= pull * tx
        node[i, bp.FY] -= pull * ty
        node[i + 1, bp.FX] += pull * tx
        node[i + 1, bp.FY] += pull * ty
        if i > 0:
            sx, sy = node[i - 1, bp.TX], node[i - 1, bp.TY]
            before = sx * (node[i, bp.VY] - node[i - 1, bp.VY]) - sy * (node[i, bp.VX] - node[i - 1, bp.VX])
            after = tx * (node[i + 1, bp.VY] - node[i, bp.VY]) - ty * (node[i + 1, bp.VX] - node[i, bp.VX])
            turn = after / node[i, bp.L0] - before / node[i - 1, bp.L0]
            moment = rigidity(bar) * node[i, bp.PER_REST] * turn
            q, p = moment / node[i - 1, bp.L0], moment / node[i, bp.L0]
            node[i - 1, bp.FX] -= q * sy
            node[i - 1, bp.FY] += q * sx
            node[i, bp.FX] += q * sy + p * ty
            node[i, bp.FY] -= q * sx + p * tx
            node[i + 1, bp.FX] -= p * ty
            node[i + 1, bp.FY] += p * tx
    for j in range(on.size):
        node[on[j], bp.FX] += brackets[j, bp.LATERAL] * node[on[j], bp.VX]
        node[on[j], bp.FY] += brackets[j, bp.K] * node[on[j], bp.VY]
    for c in range(link.size):
        i, s, o = link[c], along[c], across[c]
        x = (1.0 - s) * node[i, bp.VX] + o * node[i, bp.VY] + s * node[i + 1, bp.VX] - o * node[i + 1, bp.VY]
        y = (1.0 - s) * node[i, bp.VY] - o * node[i, bp.VX] + s * node[i + 1, bp.VY] + o * node[i + 1, bp.VX]
        fx, fy = stiff * x, stiff * y
        node[i, bp.FX] += (1.0 - s) * fx - o * fy
        node[i, bp.FY] += (1.0 - s) * fy + o * fx
        node[i + 1, bp.FX] += s * fx + o * fy
        node[i + 1, bp.FY] += s * fy - o * fx


@part
def pitch_step(car: FloatArray, striker: FloatArray, stiff: float) -> float:
    """The same for the bar's pitch on its brackets, pressed by the whole contact."""
    square = (car[bp.PITCH] + stiff * striker[bp.HEIGHT] ** 2) / car[bp.PITCH_INERTIA]
    return MARGIN * 2.0 / math.sqrt(square)


@part
def stable_step(
    node: FloatArray, bar: FloatArray, brackets: FloatArray, on: IntArray, stiff: float, link: IntArray,
    along: FloatArray, across: FloatArray,
) -> float:  # fmt: skip
    """Share `MARGIN` of 2/omega of the fastest motion, found by power iteration on A^-1 K; leaves the bar at rest."""
    n = node.shape[0]
    for i in range(n):
        node[i, bp.VX] = node[i, bp.VY] = (1.0 + 0.1 * i) * (-1.0) ** i
    square = 0.0
    for _ in range(ROUNDS):
        _pull_back(node, bar, brackets, on, STRUCK * stiff, link, along, across)
        accelerate(node)
        top, below = 0.0, 0.0
        for i in range(n):
            top += node[i, bp.FX] ** 2 + node[i, bp.FY] ** 2
            below += node[i, bp.VX] ** 2 + node[i, bp.VY] ** 2
        square, scale = math.sqrt(top / below), 1.0 / math.sqrt(top)
        for i in range(n):
            node[i, bp.VX], node[i, bp.VY] = scale * node[i, bp.FX], scale * node[i, bp.FY]
    for i in range(n):
        node[i, bp.VX], node[i, bp.VY], node[i, bp.FX], node[i, bp.FY] = 0.0, 0.0, 0.0, 0.0
    return MARGIN * 2.0 / math.sqrt(square)
