"""What the inputs of the longer damper calculations are, for people."""

from __future__ import annotations

from typing import Final

VALVES: Final = ("piston_rebound", "piston_compression", "base_compression", "base_intake")

DISC_OPTIONAL: Final = {
    "r0_over_a": "inner radius of the pressure over outer radius",
    "r_over_a": "radius of the ring load over outer radius",
    "a_m": "outer radius; with t_m, n_discs, E_Pa and the load also lift and stress are given",
    "t_m": "thickness of one disc",
    "n_discs": "number of equal discs",
    "E_Pa": "Young's modulus",
    "q_Pa": "pressure",
    "w_N_per_m": "ring load per length",
}
CURVE_INPUTS: Final = {
    "bore_m": "bore of the working tube",
    "rod_m": "rod diameter",
    "p_gas_abs_Pa": "gas pressure, absolute",
    "p_atm_Pa": "ambient pressure, absolute",
    "v_m_per_s": "rod speed or list of them, rebound positive",
} | {name: f"the valve {name.replace('_', ' ')}, an object as in valve-flow" for name in VALVES}
CURVE_OPTIONAL: Final = {
    "friction_N": "friction; 0 when left out",
    "leak": "area past the piston, m2; 0 when left out",
    "viscosity_Pa_s": "dynamic viscosity, for valves with laminar coefficients; 0 when left out",
    "bulk_modulus_Pa": "bulk modulus of the oil without gas; incompressible when left out",
    "gas_fraction": "volume share of free gas in the oil at 101325 Pa; 0 when left out",
    "gas_exponent": "polytropic exponent of the bubbles; 1 when left out",
    "p_vapour_abs_Pa": "vapour pressure, absolute; 100 when left out (assumed)",
    "p_cavitation_abs_Pa": "pressure below which a chamber is reported as cavitating; 20000 when left out (assumed)",
}
