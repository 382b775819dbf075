"""Raw traces of this package's damper on its rig, a sine at the middle speed and crawling, as Parquet files."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from tests.blind import damper, motion_kernel
from tests.blind.kernel import GAMMA
from tests.blind.law import FloatArray, Law

LAG, ANGLE = "dynamic_rig.intake_lag", "dynamic_rig.guide_angle"
STEPS, CYCLES = 240, 9  # a cycle; the last one is read
CRAWL_STEPS, CRAWL_CYCLES = 160, 3
RATE, CRAWL_RATE = 1000.0, 15.0  # Hz
SPEED, CRAWL = 0.52, 0.002  # m/s
MODULUS = 206e9  # Pa, of the rod
# the rig of the traces, standard deviations (assumed): a sample of force at speed and crawling, of displacement, the
# cell's zero of the day and of a mounting, its gain
SAMPLE, CRAWL_SAMPLE, WIRE, ZERO, MOUNT, GAIN = 6.0, 1.5, 2e-5, 1.0, 1.0, 0.002


@dataclass(frozen=True)
class Hidden:
    """What nobody knows of a damper type in motion. Ranges: assumed, common practice, no source."""

    rubbing: float  # coefficient of friction at guide and piston
    feed: float  # m3 of oil in the reserve below which the base valve draws gas
    span: float  # m3


def drawn_hidden(rng: np.random.Generator) -> Hidden:
    return Hidden(rng.uniform(0.06, 0.11), rng.uniform(28e-6, 48e-6), rng.uniform(15e-6, 30e-6))


def more_rows(x: Mapping[str, FloatArray], law: Law, hidden: Hidden) -> FloatArray:
    """(n, fields) of motion_kernel.MORE."""
    rod, travel = x["piston_rod.diameter"], x["damping_rig.rod_travel"]
    n, piston = len(rod), 0.25 * math.pi * damper.bore(x, law) ** 2
    above = damper.DEAD_LENGTH + travel
    chambers = (piston - 0.25 * math.pi * rod**2) * above + piston * (damper.TUBE_LENGTH - above)
    oil = x["oil_fill.volume"] * np.exp(x["oil_fill.expansion"] * (x["damping_rig.oil_temperature"] - 288.15))
    bent = 6.0 * hidden.rubbing * MODULUS * math.pi / 64.0 * rod**4 * np.abs(x.get(ANGLE, np.zeros(n)))
    columns = (x.get(LAG, np.zeros(n)), bent, above, oil - chambers, hidden.feed, hidden.span)
    return np.ascontiguousarray(np.stack(np.broadcast_arrays(*columns), axis=1))


def cycles(
    x: Mapping[str, FloatArray], law: Law, hidden: Hidden, crawling: bool
) -> tuple[FloatArray, FloatArray, float]:
    """Travel (k,) and force (n, k) of the settled cycle, from the first step after fully in; and its period."""
    half = float(x["damping_rig.stroke"][0]) / 2.0
    steps, turns = (CRAWL_STEPS, CRAWL_CYCLES) if crawling else (STEPS, CYCLES)
    ends = (np.arange(steps) + 1.0) / steps
    inner = (np.arange(steps) + GAMMA) / steps
    if crawling:
        period = 4.0 * half / CRAWL
        at = [half * np.where(u < 0.5, 4.0 * u - 1.0, 3.0 - 4.0 * u) for u in (inner, ends)]
        speed = np.where((ends <= 0.5), CRAWL, -CRAWL)
        speed[[steps // 2 - 1, -1]] = 0.0
        speed *= 1e3  # far above the seal's turning speed, as it slides
    else:
        period = 2.0 * math.pi * half / SPEED
        at = [-half * np.cos(2.0 * math.pi * u) for u in (inner, ends)]
        speed = SPEED * np.sin(2.0 * math.pi * ends)
    n = len(x["piston_rod.diameter"])
    force, good = np.empty((n, steps)), np.zeros(n, dtype=np.bool_)
    motion_kernel.through_all(
        damper.build_rows({k: v for k, v in x.items() if k != "twin.friction_excess"}, law),
        np.ascontiguousarray(damper.valve_rows(x, law)), damper.law_row(law), more_rows(x, law, hidden), at[0], at[1],
        speed, period / steps, turns, force, good,
    )  # fmt: skip
    if not good.all():
        raise RuntimeError("a damper in motion was not computed well")
    return at[1], force, period


def write_traces(
    folder: Path, x: Mapping[str, FloatArray], law: Law, hidden: Hidden, parts: Sequence[str], shell: FloatArray,
    zero: float, rng: np.random.Generator,
) -> None:  # fmt: skip
    """One file a part, with both runs in it; they begin anywhere in a cycle, drift and are noisy."""
    folder.mkdir(parents=True, exist_ok=True)
    runs = [(cycles(x, law, hidden, crawling), crawling) for crawling in (False, True)]
    for i, part in enumerate(parts):
        mount, gain = zero + MOUNT * rng.standard_normal(), 1.0 + GAIN * rng.standard_normal()
        tables = []
        for (travel, force, period), crawling in runs:
            count = 2.3 if crawling else 8.0 + 4.0 * rng.uniform()
            t = np.arange(0.0, count * period, 1.0 / (CRAWL_RATE if crawling else RATE))
            turn = t / period * (1.0 + 0.002 * t / t[-1]) + rng.uniform()
            grid = np.arange(len(travel) + 1.0) / len(travel)
            moved, read = (np.interp(turn % 1.0, grid, np.append(a[-1], a)) for a in (travel, force[i]))
            moved = moved + 0.004 + WIRE * rng.standard_normal(t.size)
            read = gain * read + mount - 1.5 * t / t[-1]
            read = np.round(read + (CRAWL_SAMPLE if crawling else SAMPLE) * rng.standard_normal(t.size), 1)
            warm = np.full(t.size, shell[i] - 273.15)
            said = np.full(t.size, CRAWL if crawling else SPEED)
            tables.append(pa.table({
                "time [s]": t, "displacement [mm]": 1e3 * moved, "force [N]": read, "temperature [degC]": warm,
                "speed [m/s]": said,
            }))  # fmt: skip
        pq.write_table(pa.concat_tables(tables), folder / f"{part}.parquet")
