"""What makes a trace unusable by itself: times that do not rise, gaps, a force cell at its end."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
GAP = 5.0  # usual steps from which on points are missing
MOST_GAP = 0.04  # of a cycle: what a straight line may bridge (assumed)
RUN = 12  # equal samples that may be a full force cell
FLAT = 8.0  # times the longest run elsewhere: a rounded peak has up to 4.8 times that of the next step (geometry)


def not_rising(time: FloatArray) -> int | None:
    """The first point whose time does not lie after the one before."""
    wrong = np.flatnonzero(~(np.diff(time) > 0.0))
    return int(wrong[0]) + 1 if len(wrong) else None


def gaps(time: FloatArray, period: float) -> tuple[int | None, int]:
    """The first point after a gap that is too long to be bridged, and how many gaps can be."""
    step = np.diff(time)
    usual = float(np.median(step))
    long = np.flatnonzero(step > MOST_GAP * period + usual)
    short = int(np.sum((step > GAP * usual) & (step <= MOST_GAP * period + usual)))
    return (int(long[0]) + 1 if len(long) else None), short


def clipped(force: FloatArray) -> int | None:
    """The first point of a force that stands at one and the same extreme, several times, as nowhere else.

    A run of equal samples at the top (or bottom) counts when it has `RUN` samples, is `FLAT` times the longest run at
    any other level, and comes back in at least one other place. A rounded peak that the display's step makes flat stays
    below: its top step lasts sqrt(r), each flank of the next (sqrt 2 - 1) sqrt(r) / 2 of the same scale.
    """
    edge = np.flatnonzero(np.diff(force) != 0.0) + 1
    begin = np.concatenate([[0], edge])
    length = np.diff(np.concatenate([begin, [force.size]]))
    level = force[begin]
    ends = (level == force.max()) | (level == force.min())
    elsewhere = int(length[~ends].max(initial=1))
    for extreme in (force.max(), force.min()):
        long = np.flatnonzero((level == extreme) & (length >= max(RUN, FLAT * elsewhere)))
        if len(long) >= 2:
            return int(begin[long[0]])
    return None
