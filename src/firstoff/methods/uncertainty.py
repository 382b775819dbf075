"""Uncertainty of a measurement from its parts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from firstoff.methods.ranges import not_negative, real, share


@dataclass(frozen=True)
class CombinedUncertainty:
    """In the unit of the parts, except the degrees of freedom and k."""

    u_c: float
    nu_eff: float
    k: float

    @property
    def nu_truncated(self) -> int:
        return int(self.nu_eff)

    @property
    def expanded(self) -> float:
        return self.k * self.u_c


def combined_uncertainty(u: Sequence[float], nu: Sequence[float], p: float) -> CombinedUncertainty:
    """Combined and expanded uncertainty of independent parts.

    u_c = sqrt(sum u_i^2); nu_eff = u_c^4 / sum(u_i^4/nu_i), truncated; U = t_{(1+p)/2, nu_eff} u_c.
    u: standard uncertainties, sensitivity included, 0 or more, not all 0; nu: degrees of freedom of each, above 0;
    p: coverage probability [1]. Raises ValueError. Source: JCGM 100:2008 eq. (10), G.2b, G.6.4.
    """
    from scipy.stats import t

    parts = [not_negative("u", value) for value in u]
    freedom = [real("nu", value, above=0.0) for value in nu]
    if len(parts) != len(freedom):
        raise ValueError(f"nu must have as many entries as u: {len(freedom)} instead of {len(parts)}")
    p = share("p", p)
    u_c = math.hypot(*parts)
    if u_c == 0.0:
        raise ValueError("u must hold at least one value above 0")
    nu_eff = 1.0 / sum((part / u_c) ** 4 / f for part, f in zip(parts, freedom, strict=True))
    nu_eff = nu_eff if abs(nu_eff - round(nu_eff)) > 1e-9 * nu_eff else float(round(nu_eff))
    if nu_eff < 1.0:
        raise ValueError(f"nu gives fewer than one effective degree of freedom ({nu_eff:.2g}): no interval follows")
    return CombinedUncertainty(u_c, nu_eff, float(t.ppf((1.0 + p) / 2.0, int(nu_eff))))


def resolution_uncertainty(step: float) -> float:
    """Standard uncertainty of a reading shown in steps: u = d / sqrt(12).

    step d [unit of the reading], 0 or more. Raises ValueError. Source: JCGM 100:2008 F.2.2.1.
    """
    return not_negative("resolution", step) / math.sqrt(12.0)
