"""Gauss-Legendre nodes, found once a number."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


@lru_cache(maxsize=16)
def gauss_legendre(n: int) -> tuple[FloatArray, FloatArray]:
    """Nodes on [-1, 1] and weights of n points; read-only, for they are shared.

    Finding them is an eigenvalue problem: a plan of tests that asks for hundreds of intervals would pay it each time.
    """
    nodes, weights = np.polynomial.legendre.leggauss(n)
    nodes.flags.writeable = weights.flags.writeable = False
    return nodes, weights
