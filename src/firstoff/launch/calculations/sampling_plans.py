"""Pocket calculations: how many parts to inspect or to test."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from firstoff.launch.calculations.base import Calculation
from firstoff.methods.sampling_plans import (
    attribute_plan,
    demonstration_size,
    exponential_test_factor,
    pass_probability,
    share_at_pass_probability,
    size_rounded_up,
    weibull_zero_failure_size,
)

RELIABILITY = {"reliability": "share of parts that survive, to be proven", "confidence": "confidence of the statement"}


def _attribute_plan(given: Mapping[str, Any]) -> dict[str, Any]:
    plan = attribute_plan(given["lot"], given["level"], given["aql_pct"])
    return {"letter": plan.letter, "n": plan.n, "Ac": plan.accept, "Re": plan.reject}


def _attribute_plan_oc(given: Mapping[str, Any]) -> dict[str, Any]:
    n, accept = given["n"], given["Ac"]
    return {
        "Pa_at_p": pass_probability(n, accept, given["p"]),
        "p_at_Pa": share_at_pass_probability(n, accept, given["Pa"]),
    }


def _binomial_demonstration(given: Mapping[str, Any]) -> dict[str, Any]:
    return {"n": demonstration_size(given["reliability"], given["confidence"], given["failures"])}


def _success_run(given: Mapping[str, Any]) -> dict[str, Any]:
    return {"n": demonstration_size(given["reliability"], given["confidence"])}


def _weibull_zero_failure(given: Mapping[str, Any]) -> dict[str, Any]:
    unrounded = weibull_zero_failure_size(
        given["reliability"], given["confidence"], given["t0_h"], given["T_h"], given["beta"]
    )
    return {"n_unrounded": unrounded, "n": size_rounded_up(unrounded)}


def _exponential_test_factor(given: Mapping[str, Any]) -> dict[str, Any]:
    return {"factor": exponential_test_factor(given["failures"], given["confidence"])}


CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        kind="attribute-sampling-plan",
        title="Single normal attribute sampling plan: code letter, sample size, acceptance number",
        source="ISO 2859-1:1999 tables 1 and 2-A (tables partly from memory)",
        inputs={
            "lot": "lot size, parts",
            "level": "inspection level: S-1 to S-4, I, II or III",
            "aql_pct": "acceptance quality limit, % nonconforming, one of the printed steps",
        },
        gives={"letter": "", "n": "parts", "Ac": "1", "Re": "1"},
        run=_attribute_plan,
    ),
    Calculation(
        kind="attribute-plan-oc",
        title="Operating characteristic of an attribute plan",
        source="binomial distribution, as in ISO 2859-1 for percent nonconforming",
        inputs={
            "n": "sample size, parts",
            "Ac": "acceptance number",
            "p": "share nonconforming in the lots",
            "Pa": "probability of passing for which the share is wanted",
        },
        gives={"Pa_at_p": "1", "p_at_Pa": "1"},
        run=_attribute_plan_oc,
    ),
    Calculation(
        kind="binomial-demonstration",
        title="Sample size with a number of failures allowed",
        source="binomial reliability demonstration, NIST/SEMATECH e-Handbook 8.3.1",
        inputs={**RELIABILITY, "failures": "failures allowed"},
        gives={"n": "parts"},
        run=_binomial_demonstration,
    ),
    Calculation(
        kind="success-run",
        title="Sample size without failure for reliability and confidence",
        source="success-run theorem, n = ceil(ln(1-C)/ln R)",
        inputs=RELIABILITY,
        gives={"n": "parts"},
        run=_success_run,
    ),
    Calculation(
        kind="weibull-zero-failure",
        title="Sample size without failure, Weibull life, longer test",
        source="closed form from R(t) = exp(-(t/eta)^beta)",
        inputs={
            **RELIABILITY,
            "t0_h": "life to be proven, h",
            "T_h": "test time of each part, h",
            "beta": "Weibull shape, known beforehand",
        },
        gives={"n_unrounded": "1", "n": "parts"},
        run=_weibull_zero_failure,
    ),
    Calculation(
        kind="exponential-test-factor",
        title="Test time factor for exponential life and r failures",
        source="NIST/SEMATECH e-Handbook 8.3.1",
        inputs={"failures": "failures seen", "confidence": "confidence of the statement"},
        gives={"factor": "1"},
        run=_exponential_test_factor,
    ),
)
