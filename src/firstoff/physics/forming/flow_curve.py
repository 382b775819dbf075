"""The flow curve of a coil from its certificate, plane strain across a wide strip, and the forming limit."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

OFFSET: Final = 0.002  # plastic strain at which a proof stress is read
LEAST_PRE_STRAIN: Final = 1e-5
ITERATIONS: Final = 60
FLC_CONSTANT, FLC_PER_MM, FLC_N = 23.3, 14.13, 0.21  # per cent, per cent per mm, exponent of the reference steel
FLC_THICKEST: Final = 3.175e-3  # m, above which thickness no longer helps


def plane_strain_factor(r: npt.ArrayLike) -> FloatArray:
    """Stress along a wide strip over the uniaxial flow stress, and effective over strip strain.

    f = (1 + r) / sqrt(1 + 2 r); 2/sqrt(3) for r = 1

    r [1] >= 0: ratio of width to thickness strain. Source: Hill 1948 with normal anisotropy; textbook.
    """
    r = np.asarray(r, dtype=np.float64)
    return np.asarray((1.0 + r) / np.sqrt(1.0 + 2.0 * r))


def plane_strain_modulus(modulus: npt.ArrayLike, poisson: npt.ArrayLike) -> FloatArray:
    """E' = E / (1 - nu2) [Pa]: modulus of a strip that cannot narrow. Source: plate theory; textbook."""
    return np.asarray(np.asarray(modulus, dtype=np.float64) / (1.0 - np.asarray(poisson) ** 2))


def swift(
    proof: npt.ArrayLike, tensile: npt.ArrayLike, exponent: npt.ArrayLike
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Swift's curve sigma = K (eps0 + eps)^n of a coil from its certificate: K [Pa], eps0.

    K (eps0 + 0.002)^n = Rp0.2, and at uniform strain n - eps0 the engineering stress is the tensile strength:
    K n^n exp(-(n - eps0)) = Rm.

    proof Rp0.2, tensile Rm [Pa] (n,), Rm above Rp0.2; exponent n (n,) in 0.02..0.5. eps0 is no less than 1e-5: a coil
    whose Rm/Rp0.2 is too large for its n yields a little higher than stated. Fixed point: the slope of its map is
    below one for eps0 < n. Source: Swift 1952 and Considere's condition; textbook.
    """
    proof, tensile, n = (np.asarray(a, dtype=np.float64) for a in (proof, tensile, exponent))
    pre = np.full(np.broadcast_shapes(proof.shape, tensile.shape, n.shape), 0.002)
    strength = tensile + 0.0 * pre
    for _ in range(ITERATIONS):
        strength = tensile * np.exp(n - pre) / n**n
        pre = np.clip((proof / strength) ** (1.0 / n) - OFFSET, LEAST_PRE_STRAIN, 0.9 * n)
    return np.asarray(strength), np.asarray(pre)


def strip_rows(
    modulus: npt.ArrayLike, poisson: npt.ArrayLike, strength: FloatArray, exponent: FloatArray, pre_strain: FloatArray,
    r: FloatArray, kinematic: npt.ArrayLike,
) -> FloatArray:  # fmt: skip
    """Rows (n, 6) of a wide strip for `strip.walk`: E', f K, n, eps0, f, share of kinematic hardening."""
    f = plane_strain_factor(r)
    columns = (plane_strain_modulus(modulus, poisson), f * strength, exponent, pre_strain, f, kinematic)
    return np.stack(np.broadcast_arrays(*(np.asarray(c, dtype=np.float64) for c in columns)), axis=-1)


def bar_rows(
    modulus: npt.ArrayLike, strength: FloatArray, exponent: FloatArray, pre_strain: FloatArray, kinematic: npt.ArrayLike
) -> FloatArray:
    """Rows (n, 6) of a narrow fibre for `strip.walk`: E, K, n, eps0, 1, share of kinematic hardening."""
    columns = (modulus, strength, exponent, pre_strain, 1.0, kinematic)
    return np.stack(np.broadcast_arrays(*(np.asarray(c, dtype=np.float64) for c in columns)), axis=-1)


def plane_strain_limit(thickness: npt.ArrayLike, exponent: npt.ArrayLike) -> FloatArray:
    """Plane-strain forming limit FLC0 of steel sheet, engineering strain (0.4 is 40 %).

    FLC0 % = (23.3 + 14.13 t_mm) n / 0.21, n no more than 0.21, t no more than 3.175 mm

    thickness t [m] > 0; exponent n > 0. Range: cold-rolled and plain hot-rolled steel. Source: Keeler and Brazier 1977;
    coefficients read in secondary texts, the cap of the thickness from memory.
    """
    t = np.minimum(np.asarray(thickness, dtype=np.float64), FLC_THICKEST) * 1e3
    return np.asarray((FLC_CONSTANT + FLC_PER_MM * t) * np.minimum(exponent, FLC_N) / FLC_N / 100.0)


def forming_limit(minor: npt.ArrayLike, thickness: npt.ArrayLike, exponent: npt.ArrayLike) -> FloatArray:
    """Major true strain of the forming limit at a minor true strain of zero or less.

    eps1 = ln(1 + FLC0) - eps2 on the left branch: constant thinning

    Raises ValueError for a minor strain above zero: the right branch is another curve. Source: guideline texts on
    the curve of Keeler and Brazier; the left branch was read in one of them.
    """
    minor = np.asarray(minor, dtype=np.float64)
    if np.any(minor > 0.0):
        raise ValueError("the minor strain must be zero or below: only the left branch is known here")
    return np.asarray(np.log1p(plane_strain_limit(thickness, exponent)) - minor)
