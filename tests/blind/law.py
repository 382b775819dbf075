"""What the damper that makes the readings does differently from the textbook, and the numbers of its parts.

Nothing here comes from `firstoff.physics`: the formulas are written afresh, with other and equally plausible choices
where the trade has more than one. Nobody who launches a damper knows them, so each blind launch draws its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Columns = Mapping[str, FloatArray]
AMBIENT = 101_325.0  # Pa


@dataclass(frozen=True)
class Law:
    """The physics of one damper type, where opinions differ. The defaults are the textbook's simplest."""

    rim: float = 0.0  # m, of the discs beyond the seat: stiffens them
    stiffening: float = 0.0  # of a disc that lifts by more than its thickness
    under_port: float = 0.0  # share of the port's loss that is missing under the lifted disc
    reynolds: float = 0.0  # sqrt(Re) at which a gap under a disc has half of its discharge coefficient
    port_loss: float = 1.0  # of a port, times 1/Cd^2
    notch_walls: float = 0.0  # 1: the side walls of a notch count (rectangular duct), 0: parallel plates
    notch_loss: float = 1.0  # entrance and exit of a notch, times 1/Cd^2
    jet_force: float = 0.0  # share of the jet's full reaction that closes a relief
    seat_throttle: float = 0.0  # 1: the bore of a relief's seat is fully in series with its lift
    gas_exponent: float = 1.0  # of the gas within a stroke
    bubble_exponent: float = 1.0
    running_friction: float = 1.0  # friction at speed over friction at crawling speed
    steel: float = 1.0  # stiffness of the discs over the sheet's modulus
    base_edge: float = 1.0  # discharge coefficient of the base valve over that of the piston
    edge: float = 1.0  # on every discharge coefficient of the sheet
    hoop: float = 1.0  # elastic recovery of the sized tube, times s_y/E: 2/sqrt(3) in plane strain


def drawn_law(rng: np.random.Generator) -> Law:
    """One damper type. Ranges: assumed, common practice, no source; together they move forces by a few per cent."""
    return Law(
        rim=rng.uniform(0.2e-3, 1.2e-3),
        stiffening=rng.uniform(0.0, 0.15),
        under_port=rng.uniform(0.0, 0.15),
        reynolds=rng.uniform(0.3, 2.5),
        port_loss=rng.uniform(0.8, 1.15),
        notch_walls=1.0,
        notch_loss=rng.uniform(0.92, 1.08),
        jet_force=rng.uniform(0.0, 0.3),
        seat_throttle=rng.uniform(0.0, 1.0),
        gas_exponent=rng.uniform(1.05, 1.3),
        bubble_exponent=rng.uniform(1.0, 1.3),
        running_friction=rng.uniform(0.8, 1.0),
        steel=rng.uniform(0.94, 1.06),
        base_edge=rng.uniform(0.97, 1.03),
        hoop=rng.uniform(1.0, 1.155),
    )


@cache
def edge_deflection(clamp: float, inner: float, rim: float, poisson: float) -> float:
    """y E t^3/(q a^4) of an annular plate at the seat a = 1: clamped at `clamp`, free at 1 + rim, q from inner to 1.

    Rayleigh-Ritz: least elastic energy over polynomials (r - b)^k, k = 2..9, axisymmetric, thin plate.
    Source: plate energy (Timoshenko and Woinowsky-Krieger, ch. 10; from memory).
    """
    powers = np.arange(2, 10)
    r, w = _gauss(clamp, 1.0 + rim)
    z = (r - clamp)[:, None]
    first, second = powers * z ** (powers - 1), powers * (powers - 1) * z ** (powers - 2)
    over = first / r[:, None]
    cross = second.T @ ((w * r)[:, None] * over)
    stiff = second.T @ ((w * r)[:, None] * second) + over.T @ ((w * r)[:, None] * over) + poisson * (cross + cross.T)
    r, w = _gauss(inner, 1.0)
    push = ((r - clamp)[:, None] ** powers).T @ (w * r)
    shape = np.linalg.solve(stiff, push)
    return float(12.0 * (1.0 - poisson**2) * (1.0 - clamp) ** powers @ shape)


def _gauss(low: float, high: float) -> tuple[FloatArray, FloatArray]:
    x, w = np.polynomial.legendre.leggauss(24)
    return low + (x + 1.0) * 0.5 * (high - low), w * 0.5 * (high - low)


def viscosity(t: FloatArray, nu_40: FloatArray, nu_100: FloatArray) -> FloatArray:
    """Kinematic viscosity at t [K] from those at 40 and 100 degrees: Vogel's ln nu = A + B/(T_C + 95).

    Source: Vogel's equation with the constant of mineral oil, 95 K (from memory).
    """
    warm, cold, hot = (1.0 / (x + 95.0) for x in (t - 273.15, 40.0, 100.0))
    b = np.log(nu_40 / nu_100) / (cold - hot)
    return np.asarray(nu_40 * np.exp(b * (warm - cold)))


def duct_factor(flatness: FloatArray) -> FloatArray:
    """Laminar loss of a rectangular duct over that of parallel plates of the same height; flatness = height/width.

    1/(1 - 0.630 h/w), good to 1 % up to h/w = 0.5. Source: the series of the rectangular duct (White, Viscous Fluid
    Flow, ch. 3; from memory).
    """
    return np.asarray(1.0 / (1.0 - 0.630 * np.minimum(flatness, 1.0)))
