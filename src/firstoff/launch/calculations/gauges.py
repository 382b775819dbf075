"""Pocket calculations: bias and linearity, agreement of those who sort, uncertainty from a study, first-off sizes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.conformity import limits
from firstoff.methods.first_off_size import interval_chance, interval_size, share_proven, size_for_chance
from firstoff.methods.gauge_line import linearity
from firstoff.methods.gauge_uncertainty import gauge_uncertainty
from firstoff.methods.kappa import cohen, fleiss, proportion
from firstoff.methods.performance import performance, stability
from firstoff.methods.ranges import real, sequence, share

CONFIDENCE = {"confidence": "of the interval, 0.95 unless given"}
UNIT = "unit of the readings"


def _linearity(given: Mapping[str, Any]) -> dict[str, Any]:
    found = linearity(given["reference"], given["value"])
    results = {
        "bias": found.bias, "bias_error": found.bias_error, "bias_p": found.bias_p, "s": found.s, "slope": found.slope,
        "slope_error": found.slope_error, "slope_p": found.slope_p, "intercept": found.intercept,
        "intercept_error": found.intercept_error, "largest": found.largest,
    }  # fmt: skip
    return {name: value for name, value in results.items() if value is not None}


def _agreement(given: Mapping[str, Any]) -> dict[str, Any]:
    kind = given.get("raters", "two")
    if kind not in ("two", "many"):
        raise ValueError(f"raters must be two or many, not {kind!r}")
    found = (cohen if kind == "two" else fleiss)(given["table"], given.get("confidence", 0.95))
    results = {"kappa": found.kappa, "low": found.low, "high": found.high}
    return {name: value for name, value in results.items() if value is not None}


def _proportion(given: Mapping[str, Any]) -> dict[str, Any]:
    found = proportion(given["count"], given["n"], given.get("confidence", 0.95))
    return dict(zip(("share", "low", "high"), found, strict=True))


def _gauge_u(given: Mapping[str, Any]) -> dict[str, Any]:
    found = gauge_uncertainty(
        given.get("EV"), given.get("AV"), given.get("bias"), given.get("bias_error"), given.get("resolution", 0.0),
        given.get("u_ref", 0.0),
    )  # fmt: skip
    results = {"u_repeatability": found.repeatability, "u_reproducibility": found.reproducibility,
               "u_bias": found.bias, "u": found.u}  # fmt: skip
    return {name: value for name, value in results.items() if value is not None}


def _first_offs(given: Mapping[str, Any]) -> dict[str, Any]:
    of = limits(given, "LSL", "USL")
    mean, sd, guard = given["mean"], real("s", given["s"], above=0.0), given.get("guard", 0.0)
    coverage, confidence = share("coverage", given["coverage"]), share("confidence", given["confidence"])
    spread = (of, mean, sd, given.get("s_lot", 0.0), guard, coverage, confidence)
    n = interval_size(of, mean, sd, guard, coverage, confidence)
    results: dict[str, Any] = {"n": n}
    if n:
        results["chance"] = interval_chance(n, *spread)
        results["n_for_chance"] = size_for_chance(given.get("chance", 0.8), *spread)
        results["share_proven"] = share_proven(n, of, mean, sd, guard, confidence)
    return results


def _performance(given: Mapping[str, Any]) -> dict[str, Any]:
    confidence = share("confidence", given.get("confidence", 0.95))
    found = performance(sequence("values", given["values"], 100_000), limits(given, "LSL", "USL"), confidence)
    results: dict[str, Any] = {"distribution": found.fit.model, "p_normal": found.fit.p_normal}
    for name, index in (("Pp", found.whole), ("Ppk", found.nearest)):
        if index is not None:
            results |= {name: index.value, f"{name}_low": index.low, f"{name}_high": index.high}
    results |= {"X0.135": found.x_low, "X50": found.x_mid, "X99.865": found.x_high}
    results |= dict(zip(("share_out", "share_out_low", "share_out_high"), found.share_out, strict=True))
    return {name: value for name, value in results.items() if value is not None}


def _stability(given: Mapping[str, Any]) -> dict[str, Any]:
    found = stability([sequence("lots", lot, 100_000) for lot in sequence("lots", given["lots"])])
    if found is None:
        raise ValueError("lots must be two or more, with a scatter within them")
    return {"s_within": found.within, "df": found.freedom, "p": found.p}


CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        kind="gauge-bias-linearity",
        title="Bias of a gauge over its range, by regression on reference values",
        source="AIAG Measurement Systems Analysis reference manual; ordinary least squares",
        inputs={"reference": "values of the references", "value": "readings of them, in the same order"},
        gives={**dict.fromkeys(("bias", "bias_error", "s", "intercept", "intercept_error", "largest"), UNIT),
               **dict.fromkeys(("bias_p", "slope", "slope_error", "slope_p"), "1")},
        run=_linearity,
    ),
    Calculation(
        kind="gauge-kappa",
        title="Kappa of two raters (Cohen) or of many (Fleiss)",
        source="Cohen 1960; Fleiss, Cohen and Everitt 1969; Fleiss 1971; jackknife over parts for many",
        inputs={"table": "two: parts by both raters' category; many: ratings of each part by category"},
        optional={"raters": "two or many; two unless given", **CONFIDENCE},
        gives=dict.fromkeys(("kappa", "low", "high"), "1"),
        run=_agreement,
    ),
    Calculation(
        kind="share-interval",
        title="Share of a count with its exact interval: effectiveness, misses, false alarms",
        source="Clopper and Pearson 1934",
        inputs={"count": "how many", "n": "of how many"},
        optional=CONFIDENCE,
        gives=dict.fromkeys(("share", "low", "high"), "1"),
        run=_proportion,
    ),
    Calculation(
        kind="gauge-uncertainty",
        title="Standard uncertainty of one reading from what a gauge study found",
        source="ISO 22514-7 (from memory); JCGM 100:2008 eq. (10)",
        inputs={},
        optional={"EV": f"repeatability, {UNIT}", "AV": f"reproducibility, {UNIT}", "bias": f"largest, {UNIT}",
                  "bias_error": f"its standard error, {UNIT}", "resolution": f"step of the display, {UNIT}",
                  "u_ref": f"standard uncertainty of the references, {UNIT}"},
        gives=dict.fromkeys(("u_repeatability", "u_reproducibility", "u_bias", "u"), UNIT),
        run=_gauge_u,
    ),
    Calculation(
        kind="first-off-size",
        title="Parts whose tolerance interval keeps the limits, at a foreseen mean and scatter",
        source="ISO 16269-6:2014 (exact factors); chance by quadrature",
        inputs={"mean": "foreseen", "s": "foreseen standard deviation of readings within a lot, unit of the mean",
                "coverage": "share inside to be proven", "confidence": "confidence asked"},
        optional={"LSL": "lower limit, unit of the mean", "USL": "upper limit, unit of the mean",
                  "s_lot": "standard deviation of the means of lots, unit of the mean",
                  "guard": "guard band of the gauge's common error, unit of the mean",
                  "chance": "that such a lot is proven, 0.8 unless given"},
        gives={"n": "parts; 0 when none", "chance": "1", "n_for_chance": "parts; 0 when none", "share_proven": "1"},
        run=_first_offs,
    ),
    Calculation(
        kind="performance",
        title="Pp and Ppk of a sample by the quantile method, distribution chosen by test, with intervals",
        source="ISO 22514-2; NIST/SEMATECH e-Handbook 6.1.6; Shapiro and Wilk 1965; Owen 1963",
        inputs={"values": "readings, one a part"},
        optional={"LSL": "lower limit, unit of the values", "USL": "upper limit, unit of the values", **CONFIDENCE},
        gives={"distribution": "name", "p_normal": "1",
               **dict.fromkeys(("Pp", "Pp_low", "Pp_high", "Ppk", "Ppk_low", "Ppk_high"), "1"),
               **dict.fromkeys(("X0.135", "X50", "X99.865"), "unit of the values"),
               **dict.fromkeys(("share_out", "share_out_low", "share_out_high"), "1")},
        run=_performance,
    ),
    Calculation(
        kind="lot-stability",
        title="Scatter within lots, and whether their means differ by more than it explains",
        source="one-way analysis of variance; NIST/SEMATECH e-Handbook 7.4.3",
        inputs={"lots": "list of lots, each a list of readings"},
        gives={"s_within": "unit of the readings", "df": "1", "p": "1"},
        run=_stability,
    ),
)  # fmt: skip
