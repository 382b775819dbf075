"""What a gauge adds to a reading: its standard uncertainty and where that comes from."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from firstoff.methods.ranges import not_negative, real
from firstoff.methods.uncertainty import resolution_uncertainty


@dataclass(frozen=True)
class Gauge:
    """One gauge or rig, SI. `u` is the combined standard uncertainty of one reading; None: nobody knows it.

    `repeatability` is the part of u that differs from reading to reading and averages out over repeats; what is left
    is common to all readings. When it is not stated, all of u counts as common: conservative.
    An empty `characteristics` means all of them. `source` starts with `assumed` when nobody measured u.
    """

    name: str
    characteristics: tuple[str, ...] = ()
    u: float | None = None
    source: str = ""
    resolution: float = 0.0
    repeatability: float = 0.0
    trace: Mapping[str, str] = field(default_factory=dict)  # how its traces are written, as the sheet says

    def __post_init__(self) -> None:
        not_negative("resolution", self.resolution)
        not_negative("repeatability", self.repeatability)
        if self.u is not None:
            real("u", self.u, above=0.0)
            if self.repeatability > self.u * (1.0 + 1e-9):
                raise ValueError(f"repeatability ({self.repeatability:g}) cannot exceed the combined u ({self.u:g})")

    @classmethod
    def combined(
        cls,
        name: str,
        characteristics: Iterable[str],
        calibration: float,
        repeatability: float,
        resolution: float,
        source: str,
    ) -> Gauge:
        """A gauge from its parts: u = sqrt(u_cal^2 + u_rep^2 + (d/sqrt(12))^2).

        calibration u_cal, repeatability u_rep: standard uncertainties; resolution d: step of the display; all SI, 0 or
        more, not all 0. Raises ValueError. Source: JCGM 100:2008 eq. (10) and F.2.2.1.
        """
        parts = (not_negative("calibration", calibration), not_negative("repeatability", repeatability))
        u = math.hypot(*parts, resolution_uncertainty(resolution))
        return cls(name, tuple(characteristics), u, source, resolution, repeatability)

    @property
    def assumed(self) -> bool:
        return self.source.strip().lower().startswith("assumed")

    def covers(self, characteristic: str) -> bool:
        return not self.characteristics or characteristic in self.characteristics

    def common(self) -> float | None:
        """Standard uncertainty that all readings share."""
        return None if self.u is None else math.sqrt(max(0.0, self.u**2 - self.repeatability**2))

    def of_mean(self, readings: int) -> float | None:
        """Standard uncertainty of the mean of several readings of one part: only the repeatability averages out."""
        common = self.common()
        return None if common is None else math.hypot(common, self.repeatability / math.sqrt(readings))


def find(gauges: Mapping[str, Gauge], characteristic: str, named: str) -> tuple[Gauge | None, str]:
    """The gauge of a reading, by the name it carries or else by its characteristic, and a reason when none is usable.

    Where several fit, the one with the largest uncertainty counts; one of unknown uncertainty is larger than any.
    """
    if named:
        fitting = [g for key, g in gauges.items() if named in (key, g.name) and g.covers(characteristic)]
        if not fitting:
            return None, f"gauge uncertainty unknown (gauge {named} is not declared for {characteristic})"
    else:
        fitting = [g for g in gauges.values() if g.covers(characteristic)]
        if not fitting:
            return None, "gauge uncertainty unknown (no gauge is declared)"
    worst = max(fitting, key=lambda g: math.inf if g.u is None else g.u)
    return worst, "gauge uncertainty unknown" if worst.u is None else ""
