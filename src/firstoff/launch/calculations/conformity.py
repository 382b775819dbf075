"""Pocket calculations: conformity, guard bands, uncertainty, tolerance factors."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from firstoff.launch.calculations.base import Calculation
from firstoff.methods.conformity import RULES, Limits, Zones, decide, probability_of_one, zones
from firstoff.methods.ranges import ordered, real, sequence
from firstoff.methods.tolerance_intervals import one_sided_exact, one_sided_natrella, two_sided_exact, two_sided_howe
from firstoff.methods.uncertainty import combined_uncertainty

UNIT_NOTE = "unit of the readings, a text for print only"


def limits(given: Mapping[str, Any], low_name: str, high_name: str) -> Limits:
    """The limits by their input names. Raises ValueError when none is given or they are in the wrong order."""
    low, high = (None if given.get(name) is None else real(name, given[name]) for name in (low_name, high_name))
    ordered(low_name, low, high_name, high)
    return Limits(low, high)


def _conformance_probability(given: Mapping[str, Any]) -> dict[str, Any]:
    found = limits(given, "lower_limit", "upper_limit")
    return {"p_C": probability_of_one(real("y", given["y"]), real("u", given["u"], above=0.0), found)}


def _guard_band(given: Mapping[str, Any]) -> dict[str, Any]:
    found, y, u = limits(given, "LSL", "USL"), real("y", given["y"]), real("u", given["u"], above=0.0)

    def accept(of: Zones) -> list[float | None]:
        return [of.accept_low, of.accept_high]

    edition_2013, edition_2017 = (zones(found, u, rule) for rule in RULES)
    words = ["accepted" if decide(y, of) == "conforms" else "not accepted" for of in (edition_2013, edition_2017)]
    return {
        "accept_2013": accept(edition_2013),
        "accept_2017": accept(edition_2017),
        "decision_2013": words[0],
        "decision_2017": words[1],
        "p_C_at_y": probability_of_one(y, u, found),
    }


def _combined_uncertainty(given: Mapping[str, Any]) -> dict[str, Any]:
    found = combined_uncertainty(sequence("u", given["u"]), sequence("nu", given["nu"]), given["p"])
    return {
        "u_c": found.u_c,
        "nu_eff": found.nu_eff,
        "nu_eff_truncated": found.nu_truncated,
        "k": found.k,
        "U": found.expanded,
    }


def _tolerance_factor(given: Mapping[str, Any]) -> dict[str, Any]:
    n, coverage, confidence = given["n"], given["coverage"], given["confidence"]
    results = {
        "k2_howe": two_sided_howe(n, coverage, confidence),
        "k2_exact": two_sided_exact(n, coverage, confidence),
        "k1_exact": one_sided_exact(n, coverage, confidence),
    }
    try:
        results["k1_natrella"] = one_sided_natrella(n, coverage, confidence)
    except ValueError:
        # the approximation has no value for very small samples; the exact factor stands
        results.pop("k1_natrella", None)
    if given.get("mean") is None and given.get("s") is None:
        return results
    if given.get("mean") is None or given.get("s") is None:
        raise ValueError("mean and s must be given together")
    mean, s = real("mean", given["mean"]), real("s", given["s"], above=0.0)
    results["two_sided_low_howe"] = mean - results["k2_howe"] * s
    results["two_sided_high_howe"] = mean + results["k2_howe"] * s
    if "k1_natrella" in results:
        results["one_sided_high_natrella"] = mean + results["k1_natrella"] * s
    return results


CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        kind="conformance-probability",
        title="Probability that a measured value conforms, one or two limits",
        source="JCGM 106:2012 clause 7, normal distribution, flat prior",
        inputs={"y": "measured value", "u": "its standard uncertainty, unit of y"},
        optional={
            "lower_limit": "lower tolerance limit, unit of y",
            "upper_limit": "upper tolerance limit, unit of y",
            "measurement_unit": UNIT_NOTE,
        },
        gives={"p_C": "1"},
        run=_conformance_probability,
    ),
    Calculation(
        kind="guard-band",
        title="Acceptance limits and decisions with a guard band, two editions of the rule",
        source="ISO 14253-1:2013 (g = 2u) and ISO 14253-1:2017 (95 % conformance probability), from memory",
        inputs={"y": "measured value", "u": "its standard uncertainty, unit of y"},
        optional={
            "LSL": "lower tolerance limit, unit of y",
            "USL": "upper tolerance limit, unit of y",
            "measurement_unit": UNIT_NOTE,
        },
        gives={
            "accept_2013": "unit of y",
            "accept_2017": "unit of y",
            "decision_2013": "",
            "decision_2017": "",
            "p_C_at_y": "1",
        },
        run=_guard_band,
    ),
    Calculation(
        kind="combined-uncertainty",
        title="Combined and expanded uncertainty with effective degrees of freedom",
        source="JCGM 100:2008 eq. (10), G.2b, G.6.4",
        inputs={
            "u": "list of standard uncertainties, sensitivity included",
            "nu": "list of their degrees of freedom",
            "p": "coverage probability of U",
        },
        optional={"measurement_unit": UNIT_NOTE},
        gives={"u_c": "unit of u", "nu_eff": "1", "nu_eff_truncated": "1", "k": "1", "U": "unit of u"},
        run=_combined_uncertainty,
    ),
    Calculation(
        kind="tolerance-factor",
        title="Normal tolerance factors, one- and two-sided, approximate and exact",
        source="ISO 16269-6 (exact); Howe 1969 and Natrella, NIST/SEMATECH e-Handbook 7.2.6.3 (approximate)",
        inputs={
            "n": "sample size, parts",
            "coverage": "share of the population to be covered",
            "confidence": "confidence of the statement",
        },
        optional={"mean": "sample mean", "s": "sample standard deviation, unit of the mean"},
        gives={
            "k2_howe": "1",
            "k2_exact": "1",
            "k1_natrella": "1",
            "k1_exact": "1",
            "two_sided_low_howe": "unit of the mean",
            "two_sided_high_howe": "unit of the mean",
            "one_sided_high_natrella": "unit of the mean",
        },
        run=_tolerance_factor,
    ),
)
