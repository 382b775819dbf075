"""Predict: what ordinary scatter does to the part, before the first one is made."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from firstoff.chain import predict as trial_builds
from firstoff.chain.sensitivity import Shares
from firstoff.chain.sensitivity import shares as scatter_shares
from firstoff.launch.plan import LaunchPlan

BUILDS = 16_384
SEED = 1
SHARE_BUILDS = 1024  # pairs of builds for the shares of scatter
SHARE_BUILDS_COSTLY = 128  # where a station in the chain takes milliseconds a build

FEWEST_SHARES = 16

Progress = Callable[[int, int, str], None]


@dataclass(frozen=True)
class LaunchPrediction:
    """Trial builds of a planned launch, and which station carries their scatter."""

    plan: LaunchPlan
    builds: trial_builds.Prediction
    shares: Shares

    def as_dict(self) -> dict[str, Any]:
        """The result as plain values, SI."""
        from dataclasses import asdict

        found = asdict(self.builds)
        found.pop("builds")  # whole builds are for figures
        found["quantile_levels"] = trial_builds.QUANTILES
        found["shares"] = {
            "characteristics": self.shares.characteristics,
            "stations": self.shares.stations,
            "by_station": self.shares.by_station,
            "station_error": self.shares.station_error,
            "parameters": self.shares.parameters,
            "by_parameter": self.shares.total,
            "parameter_error": self.shares.error,
            "pairs_of_builds": self.shares.n,
        }
        return found


def pairs_for(builds: int) -> int:
    """Pairs of builds for the shares that go with so many trial builds: a power of two, in the usual proportion."""
    wanted = builds * SHARE_BUILDS // BUILDS
    return max(FEWEST_SHARES, min(SHARE_BUILDS, 1 << max(wanted.bit_length() - 1, 0)))


def workers_here() -> int:
    """Processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def predict(
    plan: LaunchPlan,
    builds: int = BUILDS,
    seed: int = SEED,
    workers: int | None = None,
    one_lot: bool = False,
    progress: Progress | None = None,
    share_builds: int | None = None,
) -> LaunchPrediction:
    """Send `builds` trial builds through the planned chain, and share out their scatter.

    `one_lot`: each scramble of the builds is a single lot, as first-offs are; otherwise every build comes from a lot of
    its own, as in the running plant. The same seed gives the same numbers for any number of workers.
    `share_builds`: pairs of builds for the shares, a power of two; 1024, or 128 where a costly check is in the chain.
    """
    count = workers or workers_here()
    if share_builds is None:
        costly = any(getattr(station, "costly", False) for station in plan.stations)
        share_builds = SHARE_BUILDS_COSTLY if costly else SHARE_BUILDS

    def report(done: int, total: int) -> None:
        if progress:
            progress(done, total, "trial builds")

    found = trial_builds.predict(
        plan.stations,
        plan.plans,
        builds,
        seed,
        workers=count,
        parts_per_lot=builds if one_lot else None,
        progress=report,
    )
    if progress:
        progress(0, 1, "shares of scatter")
    return LaunchPrediction(plan, found, scatter_shares(plan.stations, plan.plans, seed, share_builds, count))
