"""A large trial proven: 200 parts of one lot with 150 characteristics, from the readings file to the verdicts.

    python -m bench.prove

The alternative reads the same file with the csv module and judges one characteristic after the other with SciPy's own
distributions: p_C of every part, the exact tolerance factor (noncentral t, or a quadrature for two limits), share
outside and Ppk with their exact bounds, normality. Factors are kept from one characteristic to the next. It writes no
reasons and knows no gauges; error: the largest relative difference of a factor or a bound of Ppk.
"""

from __future__ import annotations

import csv
import math
import statistics
import tempfile
import time
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from scipy import integrate, optimize, stats

from bench.memory import watched
from firstoff import launch

PARTS, CHARACTERISTICS, U = 200, 150, 0.002
CODE = "import sys; from pathlib import Path; from firstoff import launch; p = Path(sys.argv[1]); " \
       "launch.prove(launch.read_job(p / 'model.toml'), p / 'r.csv')"  # fmt: skip


def write(folder: Path) -> None:
    """A sheet of limits, every third with one limit, a gauge, and the readings of one lot."""
    rng = np.random.default_rng(1)
    names = [f"length_{j:03d}" for j in range(CHARACTERISTICS)]
    limits = ["<= 10.2 mm" if j % 3 == 0 else "10 ±0.2 mm" for j in range(CHARACTERISTICS)]
    model = '[model]\nname = "bracket"\nfamily = "damper"\nplant = "plant.toml"\n'
    model += "".join(
        f'[characteristics.{n}]\nunit = "mm"\nlimits = "{t}"\n' for n, t in zip(names, limits, strict=True)
    )
    (folder / "model.toml").write_text(model, "utf-8")
    plant = '[plant]\nname = "works"\n[[gauge]]\nname = "calliper"\nmeasures = "length_*"\nsource = "study"\n'
    (folder / "plant.toml").write_text(f'{plant}u = "{U} mm"\nrepeatability = "{U} mm"\n', "utf-8")
    values = 10.0 + rng.normal(0.0, 0.04, (PARTS, CHARACTERISTICS))
    with (folder / "r.csv").open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["part", "lot", *(f"{n} [mm]" for n in names)])
        writer.writerows([f"P{i}", "L", *(f"{x:.4f}" for x in row)] for i, row in enumerate(values))


def plain(folder: Path) -> dict[str, tuple[float, float, float]]:
    """Characteristic -> tolerance factor and the bounds of Ppk, by a loop over SciPy."""
    with (folder / "r.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    found = {}
    for j, name in enumerate(name for name in rows[0] if name.startswith("length")):
        low, high = (-math.inf if j % 3 == 0 else 9.8), 10.2
        x = np.array([float(row[name]) for row in rows])
        n, mean, s = len(x), x.mean(), x.std(ddof=1)
        p = stats.norm.cdf(high, x, U) - stats.norm.cdf(low, x, U)
        words = ["conforms" if one >= 0.95 else "not proven" if one >= 0.05 else "does not conform" for one in p]
        stats.shapiro(x)
        k = one_sided(n) if j % 3 == 0 else two_sided(n)
        fits = mean + k * s <= high and (j % 3 == 0 or mean - k * s >= low)
        sides = [(high - mean) / s] + ([] if j % 3 == 0 else [(mean - low) / s])
        ends = [[bound(d, n, q) for d in sides] for q in risks(len(sides))]
        assert len(words) == n and fits in (True, False)
        found[name.split()[0]] = (k, min(ends[0]) / 3.0, min(ends[1]) / 3.0)
    return found


def risks(sides: int) -> tuple[float, float]:
    return 1.0 - 0.025 / sides, 0.025 / sides


@lru_cache
def one_sided(n: int) -> float:
    return float(stats.nct.ppf(0.95, n - 1, stats.norm.ppf(0.95) * math.sqrt(n)) / math.sqrt(n))


@lru_cache
def two_sided(n: int) -> float:
    """The exact two-sided factor by adaptive quadrature."""
    nu = n - 1

    def half(z: float) -> float:
        return float(optimize.brentq(lambda r: stats.norm.cdf(z + r) - stats.norm.cdf(z - r) - 0.95, 0.0, 12.0))

    def held(k: float) -> float:
        of = integrate.quad(lambda z: stats.norm.pdf(z, 0.0, n**-0.5) * stats.chi2.sf(nu * (half(z) / k) ** 2, nu),
                            0.0, 8.0 / math.sqrt(n))  # fmt: skip
        return 2.0 * float(of[0])

    return float(optimize.brentq(lambda k: held(k) - 0.95, 1.9, 3.0, xtol=1e-6))


def bound(distance: float, n: int, p: float) -> float:
    t = distance * math.sqrt(n)
    guess = distance - stats.norm.ppf(p) * math.sqrt(1.0 / n + distance**2 / (2.0 * n))
    return float(optimize.brentq(lambda d: stats.nct.cdf(t, n - 1, d * math.sqrt(n)) - p, guess - 0.5, guess + 0.5))


def rows() -> list[dict[str, Any]]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write(folder)
        job, path = launch.read_job(folder / "model.toml"), folder / "r.csv"
        launch.prove(job, path)
        seconds = []
        for _ in range(5):
            start = time.perf_counter()
            proof = launch.prove(job, path)
            seconds.append(time.perf_counter() - start)
        start = time.perf_counter()
        other = plain(folder)
        theirs = time.perf_counter() - start
        error = 0.0
        for v in proof.judgement.lots:
            if v.model == "normal" and v.factor and v.ppk_low and v.ppk_high:
                ours = (v.factor, v.ppk_low, v.ppk_high)
                error = max(error, *(abs(a / b - 1.0) for a, b in zip(ours, other[v.characteristic], strict=True)))
        _, peak = watched(CODE, str(folder))
    return [{
        "id": "prove-200x150", "load": f"{PARTS} parts x {CHARACTERISTICS} characteristics, file to verdicts",
        "seconds": statistics.median(seconds), "alternative": "a loop over characteristics with scipy.stats",
        "alternative_seconds": theirs, "ratio": theirs / statistics.median(seconds), "error": error,
        "peak_pss_mb": peak,
    }]  # fmt: skip


if __name__ == "__main__":
    for row in rows():
        print({key: float(f"{value:.3g}") if isinstance(value, float) else value for key, value in row.items()})
