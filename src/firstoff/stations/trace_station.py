"""What a station that reads traces hands over, and how it says that a trace cannot be used."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


class Unfit(ValueError):
    """A trace cannot be used; says why in the engineer's words."""

    def __init__(self, what: str, found: str = "", allowed: str = "") -> None:
        super().__init__(what)
        self.what, self.found, self.allowed = what, found, allowed


@dataclass(frozen=True)
class TraceNumbers:
    """What one trace gives, SI."""

    title: str  # which run it is: `0.52 m/s`, `crawling at 2 mm/s`
    crawling: bool
    speed: float  # the sheet's, of this run
    names: tuple[str, ...]  # characteristics
    values: FloatArray
    covariance: FloatArray  # of their noise, from the scatter between cycles
    cycles: int
    period: float
    noise: float  # standard deviation of one sample of force
    drift: float  # of the mean force, first cycle to last
    starts: FloatArray  # moments fully in, from before the first cycle to after the last
    travel: FloatArray  # of the mean cycle, closed
    velocity: FloatArray
    force: FloatArray
