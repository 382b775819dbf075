"""Crossed gauge study: several appraisers measure the same parts several times."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from firstoff.methods.control_charts import d2_star, range_moments
from firstoff.methods.ranges import real, sequence

FloatArray = npt.NDArray[np.float64]


def measurements(value: Any) -> FloatArray:
    """A table measurements[appraiser][trial][part], at least 2 of each, as an array. Raises ValueError."""
    shape: set[tuple[int, int]] = set()
    for trials in sequence("measurements", value, 100):
        rows = sequence("measurements", trials, 100)
        shape |= {(len(rows), len(sequence("measurements", row))) for row in rows}
        for row in rows:
            for cell in row:
                real("measurements", cell)
    if len(shape) != 1:
        raise ValueError("measurements must hold the same number of trials and parts for every appraiser")
    table = np.asarray(value, dtype=float)
    if min(table.shape) < 2:
        raise ValueError("measurements must hold at least 2 appraisers, 2 trials and 2 parts")
    return table


@dataclass(frozen=True)
class AnovaTable:
    """Sums of squares [unit^2], degrees of freedom, and the test of the interaction."""

    ss: dict[str, float]  # appraiser, part, appraiser_x_part, repeatability, total
    df: dict[str, int]
    f_interaction: float
    p_interaction: float

    def ms(self, name: str) -> float:
        return self.ss[name] / self.df[name]


def anova(table: FloatArray) -> AnovaTable:
    """Two-way crossed random-effects analysis of variance.

    SS_inter = SS_cells - SS_appraiser - SS_part; SS_rep = SS_total - SS_cells. table: (appraiser, trial, part),
    complete. Raises ValueError when repeated measurements do not differ at all.
    Source: AIAG Measurement Systems Analysis reference manual; any text on variance analysis.
    """
    from scipy.stats import f

    appraisers, trials, parts = table.shape
    centred = table - table.mean()
    cells = centred.mean(axis=1)
    ss_appraiser = parts * trials * float((cells.mean(axis=1) ** 2).sum())
    ss_part = appraisers * trials * float((cells.mean(axis=0) ** 2).sum())
    residual = cells - cells.mean(axis=0) - cells.mean(axis=1)[:, None]
    ss_inter = trials * float((residual**2).sum())
    ss_rep = float(((centred - cells[:, None, :]) ** 2).sum())
    ss = {"appraiser": ss_appraiser, "part": ss_part, "appraiser_x_part": ss_inter, "repeatability": ss_rep}
    df_inter = (appraisers - 1) * (parts - 1)
    df_rep = appraisers * parts * (trials - 1)
    df = {
        "appraiser": appraisers - 1,
        "part": parts - 1,
        "appraiser_x_part": df_inter,
        "repeatability": df_rep,
        "total": table.size - 1,
    }
    ss["total"] = float((centred**2).sum())
    if ss_rep <= 1e-24 * (ss["total"] + float((table**2).sum())):
        raise ValueError("measurements: repeated trials are all equal, so repeatability cannot be told")
    ratio = (ss_inter / df_inter) / (ss_rep / df_rep)
    return AnovaTable(ss, df, ratio, float(f.sf(ratio, df_inter, df_rep)))


@dataclass(frozen=True)
class Components:
    """Variances [unit^2]; the interaction is 0 when pooled, its raw value is the one before flooring at 0."""

    repeatability: float
    appraiser: float
    interaction: float
    part: float
    interaction_raw: float | None = None


def components(table: FloatArray, pooled: bool) -> Components:
    """Variance components with the interaction pooled into repeatability or kept.

    Pooled: MS_pool = (SS_inter+SS_rep)/(df_inter+df_rep), var_appr = (MS_appr-MS_pool)/(parts trials), var_part =
    (MS_part-MS_pool)/(appraisers trials). Kept: MS_inter in place of MS_pool, var_inter = (MS_inter-MS_rep)/trials.
    Negative components are set to 0. table: (appraiser, trial, part). Raises ValueError.
    Source: AIAG Measurement Systems Analysis reference manual.
    """
    found = anova(table)
    appraisers, trials, parts = table.shape
    if pooled:
        base = (found.ss["appraiser_x_part"] + found.ss["repeatability"]) / (
            found.df["appraiser_x_part"] + found.df["repeatability"]
        )
        repeatability, raw = base, None
    else:
        base, repeatability = found.ms("appraiser_x_part"), found.ms("repeatability")
        raw = (base - repeatability) / trials
    return Components(
        repeatability,
        max(0.0, (found.ms("appraiser") - base) / (parts * trials)),
        max(0.0, raw or 0.0),
        max(0.0, (found.ms("part") - base) / (appraisers * trials)),
        raw,
    )


@dataclass(frozen=True)
class RangeStudy:
    """Mean range, difference of appraisers, range of parts, and what follows; unit of the measurements."""

    rbar: float
    xdiff: float
    rp: float
    ev: float
    av: float
    pv: float

    @property
    def grr(self) -> float:
        return math.hypot(self.ev, self.av)

    @property
    def tv(self) -> float:
        return math.hypot(self.grr, self.pv)


def average_range(
    table: FloatArray, k1: float | None = None, k2: float | None = None, k3: float | None = None
) -> RangeStudy:
    """Average and range method: EV = Rbar K1; AV = sqrt((Xdiff K2)^2 - EV^2/(parts trials)); PV = Rp K3.

    table: (appraiser, trial, part). K1, K2, K3 [1], above 0; when None, computed: K1 = 1/d2*(trials,
    appraisers parts), K2 = 1/d2*(appraisers, 1), K3 = 1/d2*(parts, 1). From 16 ranges on, d2 serves for K1.
    Raises ValueError. Source: AIAG Measurement Systems Analysis reference manual.
    """
    appraisers, trials, parts = table.shape
    ranges = appraisers * parts
    k1 = 1.0 / (range_moments(trials)[0] if ranges > 15 else d2_star(trials, ranges)) if k1 is None else k1
    k2 = 1.0 / d2_star(appraisers, 1) if k2 is None else k2
    k3 = 1.0 / d2_star(parts, 1) if k3 is None else k3
    rbar = float(np.ptp(table, axis=1).mean())
    xdiff = float(np.ptp(table.mean(axis=(1, 2))))
    rp = float(np.ptp(table.mean(axis=(0, 1))))
    ev = rbar * real("K1", k1, above=0.0)
    av = math.sqrt(max(0.0, (xdiff * real("K2", k2, above=0.0)) ** 2 - ev**2 / (parts * trials)))
    return RangeStudy(rbar, xdiff, rp, ev, av, rp * real("K3", k3, above=0.0))
