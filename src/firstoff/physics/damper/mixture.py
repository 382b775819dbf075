"""Oil with entrained gas, as the kernels use it."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from firstoff.physics.jit import njit

OIL_FIELDS: Final = (
    "density",  # kg/m3, of the oil without gas at P_REF
    "viscosity",  # Pa s
    "compressibility",  # 1/Pa, of the oil without gas; 0 for an incompressible oil
    "gas_fraction",  # volume of free gas in the volume of mixture at P_REF, 0 to below 1
    "gas_exponent",  # polytropic exponent of the bubbles, 1 isothermal
)
DENSITY, VISCOSITY, COMPRESSIBILITY, GAS, EXPONENT = 0, 1, 2, 3, 4
P_REF: Final = 101325.0  # Pa, absolute


@njit("UniTuple(f8, 2)(f8, f8[::1])")
def density_and_compressibility(p: float, oil: npt.NDArray[np.float64]) -> tuple[float, float]:
    """Density of oil with free gas, and d(ln rho)/dp.

    rho = rho_l (1 + beta (p - p_ref))/(1 + g), g = x/(1 - x) (p_ref/p)^(1/n); the mass of the gas is left out, so
    rho falls to 0 with p: pressure cannot become negative while x > 0.

    p [Pa] absolute, > 0 when x > 0; oil (5,) in the order of OIL_FIELDS. Returns [kg/m3] and [1/Pa].
    Gas that dissolves is not in it. Source: Merritt, Hydraulic Control Systems, ch. 2 (effective bulk modulus).
    """
    liquid = 1.0 + oil[COMPRESSIBILITY] * (p - P_REF)
    rho, kappa = oil[DENSITY] * liquid, oil[COMPRESSIBILITY] / liquid
    if oil[GAS] > 0.0:
        packed = P_REF / p if oil[EXPONENT] == 1.0 else (P_REF / p) ** (1.0 / oil[EXPONENT])
        gas = oil[GAS] / (1.0 - oil[GAS]) * packed
        rho /= 1.0 + gas
        kappa += gas / ((1.0 + gas) * oil[EXPONENT] * p)
    return rho, kappa
