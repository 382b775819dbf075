"""Do a lot's mean and scatter agree with what was predicted of them?"""

from __future__ import annotations

import math
from typing import NamedTuple

from firstoff.methods.ranges import not_negative, real


class MeanAgreement(NamedTuple):
    """Standard deviation of the difference, the difference in units of it, and its two-sided probability."""

    sd: float
    z: float
    p: float


def mean_agreement(
    difference: float, n: int, lot: float, part: float, common: float, repeatability: float
) -> MeanAgreement | None:
    """Whether the mean of one lot differs from its prediction by more than lot, parts and gauge explain.

    z = d/u, u^2 = s_lot^2 + (s_part^2 + u_rep^2)/n + u_common^2, p = 2 Phi(-|z|).

    difference d: mean read minus mean predicted; n >= 1 parts, one reading each; lot s_lot, part s_part: predicted
    standard deviations; common u_common, repeatability u_rep: of the gauge; all of one unit, 0 or more. None when all
    of them are 0: then no difference is explained. The prediction's own error is not in it. ValueError out of range.
    Source: sum of independent normal deviations (textbook).
    """
    sizes = [not_negative(name, x) for name, x in (("lot", lot), ("part", part), ("common", common),
                                                   ("repeatability", repeatability))]  # fmt: skip
    if n < 1:
        raise ValueError(f"n must be 1 or more, not {n}")
    sd = math.sqrt(sizes[0] ** 2 + (sizes[1] ** 2 + sizes[3] ** 2) / n + sizes[2] ** 2)
    if sd == 0.0:
        return None
    z = real("difference", difference) / sd
    return MeanAgreement(sd, z, math.erfc(abs(z) / math.sqrt(2.0)))


def spread_agreement(sd: float, n: int, least: float, most: float) -> float | None:
    """Probability, two-sided, of a scatter as far from the predicted one as that of n parts.

    p = 2 min(P(chi2 <= (n-1) s^2/least^2), P(chi2 >= (n-1) s^2/most^2)), chi2 with n - 1 degrees of freedom, at most 1.

    sd s: of the readings; least, most: bounds of the predicted standard deviation of one reading within the lot, equal
    when it is known; all of one unit. None for n < 2 or a prediction without scatter. ValueError out of range.
    Source: chi-squared test of a normal variance (textbook).
    """
    from scipy.special import chdtr, chdtrc

    s, least, most = not_negative("sd", sd), not_negative("least", least), not_negative("most", most)
    if least > most:
        raise ValueError(f"least ({least:g}) must not exceed most ({most:g})")
    if n < 2 or most == 0.0:
        return None
    narrow = float(chdtr(n - 1, (n - 1) * (s / least) ** 2)) if least > 0.0 else 1.0
    wide = float(chdtrc(n - 1, (n - 1) * (s / most) ** 2))
    return min(1.0, 2.0 * min(narrow, wide))
