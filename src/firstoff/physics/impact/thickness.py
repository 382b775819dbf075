"""The reverse question: how thick the sheet must be for a hit to leave room enough."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from firstoff.physics.impact import beam
from firstoff.physics.impact.mesh import Mesh
from firstoff.physics.ranges import FloatArray, positive

ROUNDS: Final = 4
AT_ONCE: Final = 9  # thicknesses a round: each round narrows the range to an eighth


def thickness_for(
    intrusion: float, bars: Callable[[FloatArray], FloatArray], mesh: Mesh, brackets: FloatArray, vehicle: FloatArray,
    striker: FloatArray, least: float, most: float, end_length: float = 0.0,
) -> float | None:  # fmt: skip
    """Least thickness [m] in least to most at which no named point moves further to the car; None where even the
    thickest bar gives way more.

    Search by sections: w(t_i) at nine thicknesses, the first interval in which w falls to the limit, four times: to
    1/4096 of the range.

    intrusion w [m] > 0 allowed at the points of the mesh; bars: rows (n, 13) for thicknesses (n,) [m]; brackets
    (1, k, 6), vehicle (1, 7), striker (1, 14) as of `beam.hit`. Takes a bar that is thicker for one that gives way
    less, which holds for one contact on stiff brackets; where it does not, the first crossing is found. Source: search
    by sections (textbook). ValueError out of range; ArithmeticError where a hit has no value.
    """
    limit, low, high = float(positive("intrusion", intrusion)), float(positive("least thickness", least)), float(most)
    if not low < high:
        raise ValueError("the least thickness must be below the most")
    for turn in range(ROUNDS):
        tried = np.linspace(low, high, AT_ONCE)
        found, _ = beam.hit(mesh, bars(tried), np.repeat(brackets, AT_ONCE, axis=0), vehicle, striker, end_length)
        if (found.status & 128).any():
            raise ArithmeticError("a hit has no value at one of these thicknesses")
        good = found.intrusion.max(axis=1) <= limit
        if not good.any():
            return None
        first = int(np.argmax(good))
        if first == 0:
            return float(tried[0]) if turn == 0 else low
        low, high = float(tried[first - 1]), float(tried[first])
    return high
