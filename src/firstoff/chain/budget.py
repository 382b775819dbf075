"""How many builds are worth their time where a station takes milliseconds a build: it declares how many `seconds`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from firstoff.chain.station import Station

SECONDS: Final = 0.6  # of one core that an ensemble may take before it is made smaller


def slow(stations: Sequence[Station]) -> float:
    """Seconds a build that these stations declare; 0 where all are quick."""
    return float(sum(getattr(s, "seconds", 0.0) for s in stations))


def affordable(stations: Sequence[Station], wanted: int, least: int) -> int:
    """Builds of an ensemble: as many as wanted, halved while they would take too long, never below the least.

    By what the stations declare, not by a clock: the same numbers on any machine.
    """
    each = slow(stations)
    while wanted * each > SECONDS and wanted // 2 >= least:
        wanted //= 2
    return wanted
