"""Pocket calculations: capability, control charts, gauge studies."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.conformity import limits
from firstoff.methods.capability import capability, cp_interval, cpk_interval, cpk_low
from firstoff.methods.control_charts import ChartConstants, chart_constants, individuals_limits
from firstoff.methods.gauge_study import anova, average_range, components, measurements
from firstoff.methods.ranges import real, sequence, share

LAYOUT = "measurements[appraiser][trial][part]"
MSA = "AIAG Measurement Systems Analysis reference manual"


def _capability_index(given: Mapping[str, Any]) -> dict[str, Any]:
    found = capability(limits(given, "LSL", "USL"), given["mean"], given["s"])
    results = {
        "Cp": found.cp,
        "Cpl": found.lower,
        "Cpu": found.upper,
        "Cpk": found.cpk,
        "k": found.k,
        "ppm_out": 1e6 * found.share_out,
    }
    return {name: value for name, value in results.items() if value is not None}


def _capability_interval(given: Mapping[str, Any]) -> dict[str, Any]:
    n, confidence = given["n"], given["confidence"]
    low, high = cp_interval(given["Cp"], n, confidence)
    k_low, k_high = cpk_interval(given["Cpk"], n, confidence)
    return {
        "Cp_low": low,
        "Cp_high": high,
        "Cpk_low": k_low,
        "Cpk_high": k_high,
        "Cpk_one_sided_low_95": cpk_low(given["Cpk"], n, 0.95),
    }


def _chart_constants(given: Mapping[str, Any]) -> dict[str, Any]:
    sizes = given["n"]
    if isinstance(sizes, list | tuple):
        rows = [asdict(chart_constants(size)) for size in sequence("n", sizes, 100)]
        return {name: [row[name] for row in rows] for name in ChartConstants.__dataclass_fields__}
    return asdict(chart_constants(sizes))


def _individuals_chart(given: Mapping[str, Any]) -> dict[str, Any]:
    low, high, moving = individuals_limits(given["mean"], given["MRbar"])
    return {"LCL": low, "UCL": high, "UCL_MR": moving}


def _table(given: Mapping[str, Any]) -> Any:
    if given.get("layout", LAYOUT) != LAYOUT:
        raise ValueError(f"layout must be {LAYOUT}, not {given['layout']!r}")
    return measurements(given["measurements"])


def _anova(given: Mapping[str, Any]) -> dict[str, Any]:
    found = anova(_table(given))
    return {
        **{f"SS_{name}": value for name, value in found.ss.items()},
        **{f"df_{name}": value for name, value in found.df.items()},
        "F_interaction": found.f_interaction,
        "p_interaction": found.p_interaction,
    }


def _variance_components(given: Mapping[str, Any]) -> dict[str, Any]:
    table, treatment = _table(given), given["interaction"]
    if treatment not in ("pooled", "kept"):
        raise ValueError(f"interaction must be pooled or kept, not {treatment!r}")
    pooled = treatment == "pooled"
    if pooled and given.get("pool_if_p_above") is not None:
        bound, p = share("pool_if_p_above", given["pool_if_p_above"]), anova(table).p_interaction
        if p <= bound:
            raise ValueError(f"interaction must be kept: its p = {p:.3g} is not above pool_if_p_above = {bound:g}")
    found = components(table, pooled)
    grr2 = found.repeatability + found.appraiser + found.interaction
    total2 = grr2 + found.part
    categories = math.sqrt(found.part / grr2)
    results: dict[str, Any] = {
        "var_repeatability": found.repeatability,
        "var_appraiser": found.appraiser,
        "var_part": found.part,
        "EV": math.sqrt(found.repeatability),
        "AV": math.sqrt(found.appraiser + found.interaction),
        "GRR": math.sqrt(grr2),
        "PV": math.sqrt(found.part),
        "TV": math.sqrt(total2),
        "pct_study_variation": 100.0 * math.sqrt(grr2 / total2),
        "pct_contribution": 100.0 * grr2 / total2,
        "ndc_unrounded_sqrt2": math.sqrt(2.0) * categories,
        "ndc_unrounded_1.41": 1.41 * categories,
        "ndc_truncated": int(1.41 * categories),
    }
    if found.interaction_raw is not None:
        results["var_interaction_raw"] = found.interaction_raw
        results["var_interaction_used"] = found.interaction
    return results


def _average_range(given: Mapping[str, Any]) -> dict[str, Any]:
    factors = (None if given.get(name) is None else real(name, given[name], above=0.0) for name in ("K1", "K2", "K3"))
    found = average_range(_table(given), *factors)
    if found.grr == 0.0:
        raise ValueError("measurements: repeated trials are all equal, so the gauge's share cannot be told")
    return {
        "Rbar": found.rbar,
        "Xdiff": found.xdiff,
        "Rp": found.rp,
        "EV": found.ev,
        "AV": found.av,
        "GRR": found.grr,
        "PV": found.pv,
        "TV": found.tv,
        "pct_GRR": 100.0 * found.grr / found.tv,
        "ndc_unrounded": 1.41 * found.pv / found.grr,
    }


UNIT = "unit of the measurements"
STUDY = {"measurements": f"table {LAYOUT}"}

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        kind="capability-index",
        title="Capability indices from limits, mean and standard deviation",
        source="NIST/SEMATECH e-Handbook 6.1.6; ISO 22514-2",
        inputs={"mean": "sample mean", "s": "standard deviation, unit of the mean"},
        optional={"LSL": "lower limit, unit of the mean", "USL": "upper limit, unit of the mean"},
        gives={"Cp": "1", "Cpl": "1", "Cpu": "1", "Cpk": "1", "k": "1", "ppm_out": "ppm"},
        run=_capability_index,
    ),
    Calculation(
        kind="capability-interval",
        title="Confidence intervals of capability indices",
        source="NIST/SEMATECH e-Handbook 6.1.6 (Cp); Bissell 1990 (Cpk)",
        inputs={
            "Cp": "index",
            "Cpk": "index",
            "n": "sample size, parts",
            "confidence": "confidence of the two-sided intervals",
        },
        gives={"Cp_low": "1", "Cp_high": "1", "Cpk_low": "1", "Cpk_high": "1", "Cpk_one_sided_low_95": "1"},
        run=_capability_interval,
    ),
    Calculation(
        kind="control-chart-constants",
        title="Control chart constants by subgroup size",
        source="ASTM E2587, computed by quadrature",
        inputs={"n": "subgroup size, or a list of them"},
        gives=dict.fromkeys(ChartConstants.__dataclass_fields__, "1"),
        run=_chart_constants,
    ),
    Calculation(
        kind="individuals-chart",
        title="Limits of an individuals and moving-range chart",
        source="ISO 7870-2; ASTM E2587",
        inputs={"mean": "mean of the readings", "MRbar": "mean moving range, unit of the mean"},
        gives={"LCL": "unit of the mean", "UCL": "unit of the mean", "UCL_MR": "unit of the mean"},
        run=_individuals_chart,
    ),
    Calculation(
        kind="gauge-anova-table",
        title="Crossed gauge study: analysis of variance",
        source=MSA,
        inputs=STUDY,
        optional={"layout": LAYOUT},
        gives={
            **{
                f"SS_{name}": UNIT + ", squared"
                for name in ("appraiser", "part", "appraiser_x_part", "repeatability", "total")
            },
            **{f"df_{name}": "1" for name in ("appraiser", "part", "appraiser_x_part", "repeatability", "total")},
            "F_interaction": "1",
            "p_interaction": "1",
        },
        run=_anova,
    ),
    Calculation(
        kind="gauge-average-range",
        title="Crossed gauge study: average and range method",
        source=MSA + "; constants not given are computed from d2*",
        inputs=STUDY,
        optional={"layout": LAYOUT, "K1": "1/d2 of the trials", "K2": "1/d2* of the appraisers", "K3": "of the parts"},
        gives={
            **dict.fromkeys(("Rbar", "Xdiff", "Rp", "EV", "AV", "GRR", "PV", "TV"), UNIT),
            "pct_GRR": "%",
            "ndc_unrounded": "1",
        },
        run=_average_range,
    ),
    Calculation(
        kind="gauge-variance-components",
        title="Crossed gauge study: variance components with the interaction pooled or kept",
        source=MSA,
        inputs={**STUDY, "interaction": "pooled or kept; kept counts it in AV"},
        optional={"layout": LAYOUT, "pool_if_p_above": "p above which pooling is allowed"},
        gives={
            **dict.fromkeys(
                ("var_repeatability", "var_appraiser", "var_part", "var_interaction_raw", "var_interaction_used"),
                UNIT + ", squared",
            ),
            **dict.fromkeys(("EV", "AV", "GRR", "PV", "TV"), UNIT),
            "pct_study_variation": "%",
            "pct_contribution": "%",
            "ndc_unrounded_sqrt2": "1",
            "ndc_unrounded_1.41": "1",
            "ndc_truncated": "1",
        },
        run=_variance_components,
    ),
)
