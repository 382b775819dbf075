"""The force-velocity figure of a launch: spread band, limits, and the readings when there are some."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from firstoff.launch.predict import LaunchPrediction
from firstoff.report.curve_figure import Quantiles, force_velocity
from firstoff.stations.damper.damping_rig import force_name

Readings = Mapping[str, Mapping[str, float]]  # part -> characteristic -> SI value


def write_curve(prediction: LaunchPrediction, folder: Path, readings: Readings | None = None) -> list[Path]:
    """Write `force-velocity.svg`; nothing when the launch has no damping table."""
    job = prediction.plan.job
    speeds = [-s for s in reversed(job.settings.speeds)] + list(job.settings.speeds)
    names = [force_name(s) for s in speeds]
    found = {c.characteristic.name: c for c in prediction.builds.characteristics}
    if not names:
        return []

    def quantile(index: int) -> list[float]:
        scatters = [found[n].scatter for n in names]
        return [s.quantiles[index] if s else math.nan for s in scatters]

    def limit(side: str) -> list[float]:
        values = [getattr(found[n].characteristic, side) for n in names]
        return [math.nan if v is None else v for v in values]

    nominal = [found[n].nominal for n in names]
    path = force_velocity(
        folder / "force-velocity.svg",
        speeds=np.array(speeds),
        nominal=np.array([math.nan if v is None else v for v in nominal]),
        quantiles=Quantiles(quantile(0), quantile(2), quantile(4), "99.7 % of trial builds"),
        limits=(np.array(limit("low")), np.array(limit("high"))),
        readings={
            part: np.array([of_part.get(n, math.nan) for n in names])
            for part, of_part in (readings or {}).items()
            if any(n in of_part for n in names)
        },
        title=f"{job.name}: damping force",
    )
    return [path]
