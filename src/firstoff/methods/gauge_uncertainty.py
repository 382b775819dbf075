"""What a study of a gauge says about one reading: its standard uncertainty, part by part."""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstoff.methods.gauge_study import AnovaTable, Components
from firstoff.methods.ranges import not_negative, share, whole
from firstoff.methods.uncertainty import resolution_uncertainty


@dataclass(frozen=True)
class GaugeUncertainty:
    """Standard uncertainties of one reading, unit of the readings. None: the study says nothing of it."""

    repeatability: float | None  # the larger of repeated readings and the display's step
    reproducibility: float | None  # appraiser and interaction
    bias: float | None
    resolution: float
    u: float  # combined


def gauge_uncertainty(
    repeatability: float | None,
    reproducibility: float | None,
    bias: float | None,
    bias_error: float | None,
    resolution: float = 0.0,
    reference: float = 0.0,
) -> GaugeUncertainty:
    """Standard uncertainty of one reading from what its studies found.

    u^2 = max(EV, d/sqrt(12))^2 + AV^2 + b^2/3 + s_b^2 + u_ref^2. repeatability EV, reproducibility AV: standard
    deviations; bias b: largest found, not corrected in the readings; bias_error s_b: its standard error; resolution d;
    reference u_ref: of the references; one unit, 0 or more but b. None: not studied. Raises ValueError when all are.
    Source: ISO 22514-7 (larger of repeatability and resolution, |bias|/sqrt(3); from memory); JCGM 100:2008 eq. (10).
    """
    step = resolution_uncertainty(resolution)
    ev = None if repeatability is None else max(not_negative("repeatability", repeatability), step)
    av = None if reproducibility is None else not_negative("reproducibility", reproducibility)
    u_ref, of_bias = not_negative("reference", reference), None
    if bias is not None:
        of_bias = math.hypot(bias / math.sqrt(3.0), not_negative("bias_error", bias_error or 0.0), u_ref)
    u = math.hypot(*(x for x in (ev if ev is not None else step, av, of_bias) if x is not None))
    if u == 0.0:
        raise ValueError("the study shows no uncertainty at all")
    return GaugeUncertainty(ev, av, of_bias, step, u)


def deviation_interval(s: float, freedom: float, confidence: float) -> tuple[float, float]:
    """Two-sided interval of a standard deviation: s sqrt(nu/chi2) at (1+c)/2 and (1-c)/2.

    s: 0 or more; freedom nu: degrees of freedom, above 0, need not be whole; confidence c [1]. Raises ValueError.
    Source: chi-squared distribution of a normal variance (textbook).
    """
    from scipy.special import gammaincinv

    s, c = not_negative("s", s), share("confidence", confidence)
    if not freedom > 0.0:
        raise ValueError(f"freedom must be above 0, not {freedom:g}")
    chi2 = [2.0 * float(gammaincinv(freedom / 2.0, q)) for q in ((1.0 + c) / 2.0, (1.0 - c) / 2.0)]
    low, high = (s * math.sqrt(freedom / x) if x > 0.0 else math.inf for x in chi2)
    return low, high


def grr_interval(
    table: AnovaTable, found: Components, appraisers: int, trials: int, parts: int, confidence: float
) -> tuple[float, float]:
    """Two-sided interval of the standard deviation of repeatability and reproducibility together.

    V = sum c_i MS_i; low^2 = V - sqrt(sum (G_i c_i MS_i)^2), high^2 = V + sqrt(sum (H_i c_i MS_i)^2), G = 1 - nu/chi2
    at (1+c)/2, H = nu/chi2 at (1-c)/2 - 1. Kept interaction: c_appr = 1/(parts trials), c_inter = (1 - 1/parts)/trials,
    c_rep = 1 - 1/trials. Pooled: MS_pool in place of both, c_pool = 1 - 1/(parts trials). table, found: of the same
    study; appraisers, trials, parts: 2 or more; confidence c [1]. Raises ValueError.
    Source: modified large sample method, Graybill and Wang 1980; for gauge studies Burdick, Borror and Montgomery 2003
    (from memory).
    """
    from scipy.special import gammaincinv

    appraisers, trials, parts = (whole("size", v, 2, 100_000) for v in (appraisers, trials, parts))
    c = share("confidence", confidence)
    terms = [(table.ms("appraiser") / (parts * trials), table.df["appraiser"])]
    if found.interaction_raw is None:
        df = table.df["appraiser_x_part"] + table.df["repeatability"]
        terms.append((found.repeatability * (1.0 - 1.0 / (parts * trials)), df))
    else:
        terms.append((table.ms("appraiser_x_part") * (1.0 - 1.0 / parts) / trials, table.df["appraiser_x_part"]))
        terms.append((table.ms("repeatability") * (1.0 - 1.0 / trials), table.df["repeatability"]))
    whole_variance = sum(v for v, _ in terms)

    def reach(p: float) -> float:
        ratios = [df / (2.0 * float(gammaincinv(df / 2.0, p))) - 1.0 for _, df in terms]
        return math.sqrt(sum((r * v) ** 2 for r, (v, _) in zip(ratios, terms, strict=True)))

    low, high = whole_variance - reach((1.0 + c) / 2.0), whole_variance + reach((1.0 - c) / 2.0)
    return math.sqrt(max(0.0, low)), math.sqrt(high)
