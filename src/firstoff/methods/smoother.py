"""Ensemble smoother with multiple data assimilation: calibrates many parameters at once, also without a known cause."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def esmda(
    forward: Callable[[FloatArray], FloatArray],
    members: FloatArray,
    observed: FloatArray,
    noise: FloatArray,
    rng: np.random.Generator,
    inflation: Sequence[float] = (4.0, 4.0, 4.0, 4.0),
) -> FloatArray:
    """Members of the posterior, (n, parameters).

    For each a of the inflation: m += C_md (C_dd + a R)^-1 (y + sqrt(a) R^(1/2) z - f(m)), with C_md and C_dd the
    ensemble's covariances of parameters with outputs and of outputs, z ~ N(0, I); sum of 1/a = 1.

    forward: f, (n, p) -> (n, k); members: draws of the prior (n, p), n >= 3; observed y (k,); noise R (k, k), positive
    definite. Exact for a linear f and Gaussian prior as n grows. ValueError when shapes do not fit, the inflation does
    not add up or a member has no value. Source: Emerick & Reynolds (2013), Computers & Geosciences 55, 3-15.
    """
    m = np.array(members, dtype=np.float64)
    n, k = len(m), len(observed)
    if n < 3 or m.ndim != 2 or noise.shape != (k, k):
        raise ValueError(f"members {m.shape} and noise {noise.shape} do not fit {k} observations, or are too few")
    if min(inflation) <= 0.0 or abs(sum(1.0 / a for a in inflation) - 1.0) > 1e-9:
        raise ValueError("the reciprocals of the inflation must be positive and add up to 1")
    root = np.linalg.cholesky(noise)
    for a in inflation:
        found = np.asarray(forward(m), dtype=np.float64)
        if found.shape != (n, k) or not np.isfinite(found).all():
            raise ValueError("a member of the ensemble has no value")
        dm, dd = m - m.mean(axis=0), found - found.mean(axis=0)
        cross, inner = dm.T @ dd / (n - 1), dd.T @ dd / (n - 1)
        z = rng.standard_normal((n, k))
        z -= z.mean(axis=0)  # the perturbed observations keep the observed mean
        wanted = observed + np.sqrt(a) * z @ root.T - found
        m = m + np.linalg.solve(inner + a * noise, wanted.T).T @ cross.T
    return m
