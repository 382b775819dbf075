"""Where rack, front anodes and shields had better hang: searched on the reduced field, held against a full solution."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt
from scipy.optimize import differential_evolution

from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.finish import plating_common as common
from firstoff.stations.bumper.finish import tank_field
from firstoff.stations.bumper.finish.plating_drawing import PlatingDrawing
from firstoff.stations.bumper.finish.surface import surface_of
from firstoff.stations.bumper.finish.tank_field import FARTHEST, MOVES, Field

FloatArray = npt.NDArray[np.float64]
Goal = Literal["charge", "evenness"]
CLEAR: Final = 0.03  # m that stays free between bars, shields, anodes and walls
ROUNDS, SEED = 60, 1


@dataclass(frozen=True)
class Spread:
    """Current density where the significant surface has least and most, over the rack's mean of both sides; the utmost
    2 % are left out."""

    worst: float
    best: float

    @property
    def ratio(self) -> float:
        return self.best / self.worst


@dataclass(frozen=True)
class Places:
    """Moves [m], in the order of MOVES; what the reduced field says of them, and what the full solutions say."""

    goal: Goal
    moves: dict[str, float]
    bounds: dict[str, tuple[float, float]]
    before: Spread
    after: Spread
    solved_before: Spread
    solved_after: Spread
    tried: int  # layouts on the reduced field

    @property
    def charge(self) -> float:
        """Current times time for the same least thickness, over that of the layout as drawn; of the full solutions."""
        return self.solved_before.worst / self.solved_after.worst


def bounds_of(drawn: PlatingDrawing, length: float) -> dict[str, tuple[float, float]]:
    """How far each may be moved: as far as the reduced field is believed, and as bars, walls and sheets leave room.

    length: of the whole bar along the tank [m].
    """
    assert drawn.tank is not None
    rack, half_long, half_wide = drawn.rack, 0.5 * drawn.tank.length, 0.5 * drawn.tank.width

    def kept(low: float, high: float) -> tuple[float, float]:
        return min(max(low, -FARTHEST), 0.0), max(min(high, FARTHEST), 0.0)

    front = [h for h in drawn.hung if h.away > rack.away]
    anodes = [h.away for h in front if h.role == "anode"]
    nearest = min((h.away for h in front), default=half_wide)
    behind_anodes = max((h.away for h in front if h.role != "anode"), default=rack.away)
    side = half_long - 0.5 * length - CLEAR
    found = {
        "rack_along": kept(-side - rack.along, side - rack.along),
        "rack_towards": kept(-FARTHEST, nearest - rack.away - CLEAR),
        "anode_shift": kept(behind_anodes + CLEAR - min(anodes, default=half_wide),
                            half_wide - CLEAR - max(anodes, default=half_wide)),
    }  # fmt: skip
    shields = [abs(h.along) + 0.5 * h.width for h in drawn.hung if h.role == "shield"]
    if shields:
        found["shield_shift"] = kept(-FARTHEST, half_long - CLEAR - max(shields))
    return found


def spread_of(field: Field, drawn: PlatingDrawing, rows: FloatArray, mean: float) -> Spread:
    """The spread of one layout; rows (bars, rows): current densities of every row of each bar; mean of the rack."""
    own = common.significant(field, drawn)
    cells, start = len(field.areas), field.first_point
    front = [start + k for k, p in enumerate(drawn.points) if not p.back]
    face = rows[:, :cells][:, own]
    low, high = common.lowest(face, field.areas[own], common.LEAST, 1.0 - common.LEAST)
    points = rows[:, front] if front else np.stack([low, high], axis=1)
    worst, best = min(float(low.min()), float(points.min())), max(float(high.max()), float(points.max()))
    return Spread(max(worst, 1e-9) / mean, best / mean)


def reduced_rows(field: Field, moves: Mapping[str, float], current: float, conductance: float) -> FloatArray:
    """(bars, rows): current densities of a moved layout by the reduced field; current of the rack [A]."""
    at = np.array([[moves.get(name, 0.0) for name in MOVES]])
    whole = np.ones((1, len(tank_field.BASKETS)))
    rows = []
    for bar in range(field.bars):
        density = field.of_bar("nickel", bar).run(current, conductance).density[0]
        rows.append(np.maximum(density, 0.0) * common.pattern_of(field, np.array([float(bar)]), at, whole)[0])
    return np.stack(rows)


def solved_rows(
    bumper: Bumper, moves: Mapping[str, float], thickness: float, current: float, conductance: float, fine: bool
) -> FloatArray:
    """The same from a full solution of the moved layout, on the fine mesh or the plainer one."""
    drawn: PlatingDrawing = bumper.plating
    whole = tank_field.layout_surface(bumper, thickness)
    one = fine or drawn.mesh is not None  # the real part's mesh has no plainer one
    surface = whole if one else surface_of(bumper, thickness, tank_field.PLAIN_FINENESS, plain=True)
    cell = tank_field.cell_of(bumper, drawn, surface, dict(moves))
    rows = tank_field.point_rows(drawn, surface, whole)
    found = tank_field.densities(cell, rows, drawn.nickel_law, drawn.rack.bars, current, conductance)
    return found[:-1].reshape(drawn.rack.bars, -1)


def placed(
    bumper: Bumper, field: Field, thickness: float, density: float, conductance: float, goal: Goal, fine: bool = True
) -> Places:
    """The layout with the least current times time for the least thickness ("charge"), or with the least ratio of most
    to least ("evenness"), within the bounds.

    density: mean of the rack's both sides [A/m2]; conductance: conductivity of the bath [S/m]. Thickness goes with
    current density; efficiency falls off only at low ones. Differential evolution on the reduced field (scipy), seeded;
    then two full solutions, of the drawn and of the moved layout. ValueError when they have none.
    """
    drawn: PlatingDrawing = bumper.plating
    whole = tank_field.layout_surface(bumper, thickness)
    along = whole.mesh.points[:, 0]
    bounds, current = bounds_of(drawn, float(along.max() - along.min())), density * field.area
    free = [name for name, (low, high) in bounds.items() if high - low > 1e-6]
    tried = 0

    def spread(x: FloatArray) -> Spread:
        return spread_of(
            field, drawn, reduced_rows(field, dict(zip(free, x, strict=True)), current, conductance), density
        )

    def badness(x: FloatArray) -> float:
        nonlocal tried
        tried += 1
        found = spread(x)
        return found.ratio if goal == "evenness" else 1.0 / found.worst

    start = np.zeros(len(free))
    result = differential_evolution(badness, [bounds[name] for name in free], x0=start, seed=SEED, maxiter=ROUNDS,
                                    popsize=10, tol=1e-4, polish=False)  # fmt: skip
    best = np.round(result.x / 1e-3) * 1e-3  # nobody hangs a rack to less than a millimetre
    best = best if badness(best) < badness(start) else start
    moves = dict(zip(free, (float(v) for v in best), strict=True))
    full = [
        spread_of(field, drawn, solved_rows(bumper, m, thickness, current, conductance, fine), density)
        for m in ({}, moves)
    ]
    return Places(goal, moves, bounds, spread(start), spread(best), full[0], full[1], tried)
