"""Surfaces of plated and painted parts: polishing, paint film, charge of a part, corrosion rating."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
# upper end of each class [share of the significant surface], ratings 9 to 1; above the last the rating is 0
CLASSES = np.array([0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.10, 0.25, 0.50])


def corrosion_rating(area: npt.ArrayLike) -> npt.NDArray[np.int64]:
    """Rating of corrosion by the class of the defect area, 10 for none.

    A = 0: 10; up to 0.1 %: 9; 0.25 %: 8; 0.5 %: 7; 1 %: 6; 2.5 %: 5; 5 %: 4; 10 %: 3; 25 %: 2; 50 %: 1; above: 0.
    area A: share of the significant surface [1], any shape, 0 to 1. ValueError out of range.
    Source: ISO 10289; ASTM B537 (class table, from memory).
    """
    a = _shares(area)
    # a class holds its upper end, in spite of rounding
    return np.where(a == 0.0, 10, 9 - np.searchsorted(CLASSES * (1.0 + 1e-12), a)).astype(np.int64)


def corrosion_rating_formula(area: npt.ArrayLike) -> FloatArray:
    """Rating of corrosion by the logarithm of the defect area, R = 3 (2 - log10 A[%]); not rounded, not cut at 10.

    area A: share of the significant surface [1], any shape, above 0 to 1. ValueError out of range. It equals the class
    only at the ends of classes: :func:`corrosion_rating` decides. Source: ISO 10289 (from memory).
    """
    a = _shares(area)
    if np.any(a == 0.0):
        raise ValueError("the formula has no value without a defect: the rating is 10")
    return np.asarray(3.0 * (2.0 - np.log10(100.0 * a)))


def _shares(area: npt.ArrayLike) -> FloatArray:
    a = np.asarray(area, dtype=float)
    if not np.all((a >= 0.0) & (a <= 1.0)):
        raise ValueError("the defect area must be a share from 0 to 1")
    return a


def polishing_removal(coefficient: float, pressure: float, speed: float, time: float) -> float:
    """Depth removed by polishing, d = k p v t.

    coefficient k [1/Pa], fitted to trials; pressure p [Pa], speed v [m/s], time t [s]; all 0 or more. Returns [m].
    Source: Preston 1927.
    """
    return _not_negative(coefficient, pressure, speed, time)


def roughness_steps(start: float, end: npt.ArrayLike, passes: npt.ArrayLike, scale: npt.ArrayLike) -> FloatArray:
    """Roughness after each of several wheels, Ra_i = Ra_inf_i + (Ra_{i-1} - Ra_inf_i) exp(-passes_i/n_i).

    start Ra_0 [m]; end Ra_inf [m], passes [1], scale n [1], (wheels,): 0 or more, n above 0. Returns [m] (wheels,).
    ValueError out of range. Source: saturating exponential, a model whose constants need a trial (no source).
    """
    wheels = [np.atleast_1d(np.asarray(x, dtype=float)) for x in (end, passes, scale)]
    if len({len(w) for w in wheels}) != 1:
        raise ValueError("every wheel needs an end roughness, passes and a scale")
    if start < 0.0 or any(np.any(w < 0.0) for w in wheels) or np.any(wheels[2] == 0.0):
        raise ValueError("roughness and passes must not be negative, and the scale above 0")
    found, ra = [], float(start)
    for least, count, of in zip(*wheels, strict=True):
        ra = float(least + (ra - least) * np.exp(-count / of))
        found.append(ra)
    return np.array(found)


def paint_film(flow: float, solids: float, efficiency: float, speed: float, width: float) -> tuple[float, float]:
    """Dry and wet film on a part, h_dry = q s e/(v b), h_wet = q e/(v b).

    flow q of wet paint [m3/s]; solids s by volume [1]; efficiency e of transfer [1]; speed v of the line [m/s]; width b
    painted [m]. Returns [m], [m]. ValueError out of range. Source: balance of volume.
    """
    if not (0.0 <= solids <= 1.0 and 0.0 <= efficiency <= 1.0 and flow >= 0.0 and speed > 0.0 and width > 0.0):
        raise ValueError("solids and transfer efficiency lie from 0 to 1, flow is 0 or more, speed and width above 0")
    wet = flow * efficiency / (speed * width)
    return wet * solids, wet


def transfer_efficiency(gain: float, sprayed: float, solids: float) -> float:
    """Share of the sprayed solids that stays on the part, e = m_gain/(m_sprayed s).

    gain [kg] of dry coating; sprayed [kg] of wet paint; solids s by mass [1]. ValueError out of range, also above 1.
    Source: definition (practice of ASTM D5009, D5286).
    """
    if not (gain >= 0.0 and sprayed > 0.0 and 0.0 < solids <= 1.0):
        raise ValueError("the gain is 0 or more, what is sprayed above 0, and solids lie above 0 to 1")
    found = gain / (sprayed * solids)
    if found > 1.0 + 1e-9:
        raise ValueError(f"more stays on the part than solids were sprayed: {found:.3g}")
    return min(found, 1.0)


def part_voltage(current: float, resistance: npt.ArrayLike) -> FloatArray:
    """Voltage of a part that is earthed through a resistance, V = I R.

    current I [A] that charges it; resistance R [ohm] to earth, any shape; 0 or more. Returns [V]. The usual limit of
    1 Mohm is from trade texts citing NFPA 33. ValueError out of range. Source: Ohm.
    """
    r = np.asarray(resistance, dtype=float)
    if current < 0.0 or np.any(r < 0.0):
        raise ValueError("current and resistance must not be negative")
    return np.asarray(current * r)


def _not_negative(*factors: float) -> float:
    if any(not x >= 0.0 for x in factors):
        raise ValueError("none of the factors may be negative")
    product = 1.0
    for x in factors:
        product *= x
    return product
