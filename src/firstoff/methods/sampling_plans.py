"""How many parts to inspect or test, and what passing proves."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

from firstoff.methods.ranges import not_negative, real, share, whole

MOST_PARTS = 10_000_000


@dataclass(frozen=True)
class AttributePlan:
    """Accept the lot when at most `accept` of `n` inspected parts are nonconforming."""

    letter: str  # code letter of the lot
    n: int
    accept: int

    @property
    def reject(self) -> int:
        return self.accept + 1


@lru_cache(maxsize=1)
def _tables() -> dict[str, Any]:
    text = files("firstoff.methods").joinpath("data/attribute_plans.json").read_text(encoding="utf-8")
    tables: dict[str, Any] = json.loads(text)
    return tables


def attribute_plan(lot: int, level: str, aql_pct: float) -> AttributePlan:
    """Single normal plan by lot size, inspection level and acceptance quality limit.

    Code letter by lot size and level, then the plan in the row of the letter and the column of the AQL; an arrow
    leads to the first plan below or above it, sample size included. A sample as large as the lot means every part.

    lot: N [parts], 2 or more. level: S-1 to S-4, I, II or III. aql_pct: [% nonconforming], one of the printed
    steps up to 10. Raises ValueError naming the input.
    Source: ISO 2859-1:1999 tables 1 and 2-A; see data/attribute_plans.json for what is from memory.
    """
    tables = _tables()
    lot = whole("lot", lot, 2, 10**12)
    if level not in tables["levels"]:
        raise ValueError(f"level must be one of {', '.join(tables['levels'])}, not {level!r}")
    aql = real("aql_pct", aql_pct, above=0.0)
    steps = [step for step in tables["aql"] if step <= 10]
    column = next((i for i, step in enumerate(steps) if math.isclose(step, aql, rel_tol=1e-9)), None)
    if column is None:
        raise ValueError(f"aql_pct must be one of {', '.join(f'{s:g}' for s in steps)}, not {aql:g}")
    row = next(r for r in tables["code_letters"] if r["to"] is None or lot <= r["to"])
    letter = row["letters"][tables["levels"].index(level)]
    n, accept = _follow(tables["plans"], letter, column)
    return AttributePlan(letter, min(n, lot), accept)


def _follow(plans: dict[str, Any], letter: str, column: int) -> tuple[int, int]:
    """Sample size and acceptance number at a cell of the master table, arrows followed."""
    letters = list(plans)
    at = letters.index(letter)
    step = {"up": -1, "down": 1}.get(plans[letter]["Ac"][column], 0)
    for index in range(at, len(letters) if step >= 0 else -1, step or 1):
        cell = plans[letters[index]]["Ac"][column]
        if isinstance(cell, int):
            return plans[letters[index]]["n"], cell
    raise ValueError(f"aql_pct has no plan for code letter {letter}")


def pass_probability(n: int, accept: int, p: float) -> float:
    """Probability that a lot passes: Pa = sum_{i<=Ac} C(n,i) p^i (1-p)^(n-i).

    n: sample [parts], 1 or more. accept: Ac [parts], 0 to n-1. p: share nonconforming [1], 0 < p < 1.
    Raises ValueError. Source: ISO 2859-1, binomial form for percent nonconforming.
    """
    from scipy.stats import binom

    n = whole("n", n, 1, MOST_PARTS)
    return float(binom.cdf(whole("Ac", accept, 0, n - 1), n, share("p", p)))


def share_at_pass_probability(n: int, accept: int, probability: float) -> float:
    """Share nonconforming p at which a lot passes with `probability`: solves Pa(p) = Pa.

    The binomial sum is a beta tail, so p is the upper quantile at Pa of beta(Ac+1, n-Ac). n, accept as in
    :func:`pass_probability`; probability Pa [1], 0 < Pa < 1. Raises ValueError. Source: Clopper and Pearson 1934.
    """
    from scipy.stats import beta

    n = whole("n", n, 1, MOST_PARTS)
    accept = whole("Ac", accept, 0, n - 1)
    return float(beta.isf(share("Pa", probability), accept + 1, n - accept))


def demonstration_size(reliability: float, confidence: float, failures: int = 0) -> int:
    """Smallest n that proves a reliability with at most f failures.

    sum_{i<=f} C(n,i) (1-R)^i R^(n-i) <= 1-C. reliability R, confidence C [1], between 0 and 1; failures f
    [parts]. For f = 0 this is the success run n = ceil(ln(1-C)/ln R). Raises ValueError, also beyond 10 million
    parts. Source: binomial reliability demonstration, e.g. NIST/SEMATECH e-Handbook 8.3.1.
    """
    from scipy.stats import binom

    reliability, confidence = share("reliability", reliability), share("confidence", confidence)
    failures = whole("failures", failures, 0, 100_000)
    risk = (1.0 - confidence) * (1.0 + 1e-12)  # n is meant to hold at equality in spite of rounding
    low, high = failures, failures + 1
    while binom.cdf(failures, high, 1.0 - reliability) > risk:
        low, high = high, 2 * high
        if high > MOST_PARTS:
            raise ValueError("reliability is so near 1 that more than 10 million parts would be needed")
    while high - low > 1:
        middle = (low + high) // 2
        if binom.cdf(failures, middle, 1.0 - reliability) > risk:
            low = middle
        else:
            high = middle
    return high


def weibull_zero_failure_size(
    reliability: float, confidence: float, life: float, test_time: float, shape: float
) -> float:
    """Parts to run without failure when each runs longer than the life to be proven, unrounded.

    n = [ln(1-C)/ln R] / (T/t0)^beta. reliability R at t0, confidence C [1]; life t0 and test_time T in the same
    unit; shape beta [1] known beforehand. Raises ValueError. Source: Weibull zero-failure demonstration, closed form
    from R(t) = exp(-(t/eta)^beta).
    """
    reliability, confidence = share("reliability", reliability), share("confidence", confidence)
    ratio = real("T_h", test_time, above=0.0) / real("t0_h", life, above=0.0)
    shape = real("beta", shape, above=0.0, below=100.0)
    return math.log1p(-confidence) / math.log(reliability) / math.pow(ratio, shape)


def exponential_test_factor(failures: int, confidence: float) -> float:
    """Total test time in multiples of the MTBF to be proven: T/MTBF = chi2_{C, 2r+2} / 2.

    failures r [1]; confidence C [1]. Exponential life, time-terminated test. Raises ValueError.
    Source: NIST/SEMATECH e-Handbook 8.3.1.
    """
    from scipy.stats import chi2

    failures = whole("failures", failures, 0, 1_000_000)
    return float(chi2.ppf(share("confidence", confidence), 2 * failures + 2) / 2.0)


def size_rounded_up(n: float) -> int:
    """Whole parts for an unrounded size: 20.0000000001 from rounding stays 20; never less than 1."""
    n = not_negative("n", n)
    if n > MOST_PARTS:
        raise ValueError("more than 10 million parts would be needed")
    return max(1, math.ceil(n * (1.0 - 1e-12)))
