"""A Hull-cell panel as it would come out: current density, thickness and looks along it, by the true field."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from firstoff.physics.plating import cells, deposit
from firstoff.physics.plating.hull import HullCell, density, hull_cell
from firstoff.physics.ranges import FloatArray, positive

SHORT, LONG, WIDTH, DEPTH = 47.625e-3, 127.0e-3, 63.5e-3, 48.2e-3  # m, of the 267 ml cell (from memory)
SCALE: Final = (6.4e-3, 82.5e-3)  # m from the near end in which Hull's scale was made (from memory)
ENDS: Final = (2e-3, 0.999)  # where the panel is looked at: m from the near end; share of the length at the far end


class Panel(NamedTuple):
    """Along the panel (n,): place [m] from the near end, current density [A/m2] of the true field and of Hull's scale
    (not a number where that is negative), thickness [m], state (BARE, COVERED, BURNT); burnt up to, bare from [m]."""

    place: FloatArray
    density: FloatArray
    handbook: FloatArray
    thickness: FloatArray
    state: npt.NDArray[np.int64]
    length: float
    burnt_to: float  # 0 where nothing burns
    bare_from: float  # the length where nothing stays bare


def panel(current: float, time: float, bath: deposit.Bath, places: int = 61) -> Panel:
    """The panel of a 267 ml cell after a time [s] > 0 at a current [A] > 0, plated by a bath; places along it, 11 to
    501.

    The primary field: no polarisation, which a panel of a working bath is evened out by, so the ends come out milder
    than this. Source: `hull`, `deposit`; the scale: Hull 1939 (from memory). ValueError out of range.
    """
    amps, seconds = float(positive("current", current)), float(positive("time", time))
    if not 11 <= places <= 501:
        raise ValueError(f"places must be 11 to 501, not {places}")
    cell = hull_cell(SHORT, LONG, WIDTH)
    length = float(np.hypot(WIDTH, LONG - SHORT))
    at = np.linspace(ENDS[0], ENDS[1] * length, places)
    mean = amps / (length * DEPTH)
    i = mean * density(cell, at / length)
    scale = amps * cells.hull_scale(at)
    handbook = np.where(scale > 0.0, scale, np.nan)
    state = deposit.state(i, bath)
    return Panel(
        at, i, handbook, deposit.thickness(i, seconds, bath), state, length,
        _edge(cell, length, mean, float(np.asarray(bath.burning)), at, 0.0),
        _edge(cell, length, mean, float(np.asarray(bath.threshold)), at, length),
    )  # fmt: skip


def _edge(cell: HullCell, length: float, mean: float, level: float, at: FloatArray, none: float) -> float:
    """Where the current density falls through a level: it falls all the way along the panel."""

    def over(x: float) -> float:
        return mean * float(density(cell, x / length)) - level

    low, high = float(at[0]), float(at[-1])
    if over(low) <= 0.0 or over(high) >= 0.0:
        return none if (none == 0.0) == (over(low) <= 0.0) else length - none
    return float(brentq(over, low, high, xtol=1e-7))
