"""From columns and drawing to the rows that the impact kernel reads, and from its hits to columns."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from firstoff.chain.station import FloatArray
from firstoff.physics.impact import beam, dent
from firstoff.physics.impact.bar_material import FORMED_STEEL, material
from firstoff.physics.impact.beam_parts import CAR_SPEED, SPEED
from firstoff.physics.impact.moment_curve import RATE_D, RATE_Q, bar_rows
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.mounting.impact_sheet import Blow, ImpactDrawing

DENSITY: Final = 7850.0  # kg/m3, of the formed steel
BINS: Final = 8  # depths of fibres in each part of the section
NOT_THERE: Final = 1e-3  # of a whole bracket: what a missing one is taken for
DENT_SOLID: Final = 0.05  # m
SOLID_FOAM, SOLID_SPRINGS = 0.7, 0.8  # of its depth at which an absorber is solid (assumed)
Good = npt.NDArray[np.bool_]


def bars(plan: Mapping[str, Any], columns: Mapping[str, FloatArray], at: Mapping[str, FloatArray]) -> tuple[
    FloatArray, FloatArray, Good
]:  # fmt: skip
    """Rows of the bars, the face's distance from the middle of the section [m], and which of the bars can be."""
    place, length, part = plan["fibres"]
    drawn: ImpactDrawing = plan["drawn"]
    if drawn.material == FORMED_STEEL:
        rows, areas, good = _formed(place, length, part, columns, at)
    else:
        rows, areas, good = _moulded(drawn.material, place, length, columns, at)
    middle = areas @ place / areas.sum(axis=1)
    return rows, np.abs(middle - float(np.mean(place[part == 0]))), good


def _formed(
    place: FloatArray, length: FloatArray, part: npt.NDArray[np.intp], columns: Mapping[str, FloatArray],
    at: Mapping[str, FloatArray],
) -> tuple[FloatArray, FloatArray, Good]:  # fmt: skip
    """Of the formed section: walls thinned and hardened by the draw."""
    t, law = columns["sheet_thickness"], columns["bar_law"]
    strain = np.stack([columns[key] for key in ("face_strain", "wall_strain_upper", "wall_strain_lower")], axis=1)
    good = np.isfinite(strain).all(axis=1) & np.isfinite(law).all(axis=1) & (t > 0.0)
    strain = np.where(good[:, None], np.clip(strain, 0.0, 1.0), 0.0)[:, part]
    areas = length * np.where(good, t, 1e-3)[:, None] * np.exp(-strain)
    usual = np.array([2.06e11, 6e8, 0.17, 0.01])
    laws = np.where(good[:, None], law[:, :4], usual)
    factor = np.where(good, columns["strip_law"][:, 4], 1.15)[:, None]
    rows = bar_rows(place, areas, laws[:, 3:4] + factor * strain, np.ascontiguousarray(laws[:, :3]), DENSITY,
                    np.maximum(at["flattening"], 0.0))  # fmt: skip
    rows[:, RATE_D], rows[:, RATE_Q] = at["rate_reference"], at["rate_exponent"]
    return rows, areas, good


def _moulded(
    name: str, place: FloatArray, length: FloatArray, columns: Mapping[str, FloatArray], at: Mapping[str, FloatArray]
) -> tuple[FloatArray, FloatArray, Good]:
    """Of the drawn section in another material, one thickness all over."""
    law, strong = material(name), np.maximum(at["bar_strength"], 0.05)
    n = len(columns["sheet_thickness"])
    areas = length * np.maximum(at["bar_thickness"], 1e-4)[:, None]
    laws = np.stack([np.full(n, law.modulus), law.strength * strong, np.full(n, law.exponent)], axis=1)
    rows = bar_rows(place, areas, np.full(areas.shape, law.first_strain), laws, law.density,
                    np.maximum(at["flattening"], 0.0))  # fmt: skip
    rows[:, RATE_D], rows[:, RATE_Q] = law.rate
    return rows, areas, np.ones(n, np.bool_)


def brackets(at: Mapping[str, FloatArray], columns: Mapping[str, FloatArray], many: int = 2) -> FloatArray:
    """Rows of two or four brackets from the left to the right; the inner ones are always whole."""
    share = np.ones((len(at["bracket_left"]), many))
    share[:, 0], share[:, -1] = at["bracket_left"], at["bracket_right"]
    share = np.clip(share, NOT_THERE, 2.0)
    stiff = np.maximum(at["bracket_stiffness"], 1e3)[:, None] * share
    soft = np.minimum(np.maximum(at["bracket_hardening"], 0.0)[:, None] * share, 0.9 * stiff)
    yields = np.maximum(at["bracket_yield"], 1.0)[:, None] * share
    lateral = np.maximum(at["bracket_lateral"], 0.0)[:, None] * share
    slips = np.maximum(columns["slip_load"], 1.0)[:, None]
    return beam.bracket_rows(stiff, yields, soft, lateral, slips, columns["slip_gap"][:, None])


def movers(
    blow: Blow,
    aim: tuple[float, float],
    pitch: float,
    at: Mapping[str, FloatArray],
    drawn: ImpactDrawing,
    length: float,
    plate: dent.Dent,
) -> tuple[FloatArray, FloatArray]:
    """Rows of the cars and of the strikers, build by build; length [m] of the bar; plate: its face as a strip."""
    fixed = "barrier" in blow.kind
    asked = blow.speed * np.clip(at["speed_error"], 0.1, 3.0)
    n = len(asked)
    cars = np.zeros((n, 7))
    cars[:, 0], cars[:, 1] = at["car_mass"], at["car_mass"] * at["yaw_radius"] ** 2
    cars[:, 2], cars[:, 4], cars[:, 5] = at["behind"], at["pitch_stiffness"], at["pitch_yield"]
    cars[:, 6] = 8.0 * 0.06**2  # kg m2: a bar's own inertia in pitch
    row = beam.striker_row(beam.WALL if fixed else 1.0, 0.0, aim, blow.radius, float(-np.sign(aim[0]) * blow.angle),
                           blow.half_width, blow.height, pitch=pitch)  # fmt: skip
    strikers = np.repeat(row, n, axis=0)
    if fixed:
        cars[:, CAR_SPEED] = -asked
    else:
        strikers[:, 0], strikers[:, SPEED] = at["car_mass"], asked
    absorbs = _springs(at, length) if drawn.absorber == "springs" else _foam(at)
    for there, law in ((at["dent_share"] > 0.0, _dents(at, plate)), (at["absorber_depth"] > 1e-4, absorbs)):
        own = law * np.array([pitch, pitch, pitch, 1.0, pitch, 1.0])  # a way and a ratio do not go by the length
        strikers[:, 8:] = np.where(there[:, None], own, strikers[:, 8:])
    return cars, strikers


def plate_of(plan: Mapping[str, Any], columns: Mapping[str, FloatArray], at: Mapping[str, FloatArray]) -> dent.Dent:
    """The face between its bends as a clamped strip."""
    _, length, part = plan["fibres"]
    high = float(length[part == 0].sum())
    if plan["drawn"].material == FORMED_STEEL:
        law = np.where(np.isfinite(columns["bar_law"]), columns["bar_law"], 0.1)
        modulus, first = np.maximum(law[:, 0], 1e9), np.maximum(law[:, 1] * law[:, 3] ** law[:, 2], 1e6)
        return dent.clamped_strip(modulus, first, np.maximum(columns["sheet_thickness"], 1e-4), high)
    own = material(plan["drawn"].material)
    first = own.strength * own.first_strain**own.exponent * np.maximum(at["bar_strength"], 0.05)
    return dent.clamped_strip(own.modulus, first, np.maximum(at["bar_thickness"], 1e-4), high)


def _dents(at: Mapping[str, FloatArray], plate: dent.Dent) -> FloatArray:
    """Contact per length of bar: elastic, then the strip's collapse load with a fiftieth of its stiffness; backed by
    the walls after `DENT_SOLID` (assumed)."""
    n, share = len(at["dent_share"]), np.maximum(at["dent_share"], 1e-3)
    return np.stack([share * plate.stiffness, share * plate.collapse, 0.02 * share * plate.stiffness,
                     np.full(n, DENT_SOLID), np.full(n, 0.04 * beam.BARE), np.ones(n)], axis=1)  # fmt: skip


def _foam(at: Mapping[str, FloatArray]) -> FloatArray:
    """Contact per length of bar: a plateau that rises by a fifth, solid at 70 % of the depth, three times as steep on
    the way back (assumed)."""
    depth, load = np.maximum(at["absorber_depth"], 1e-4), np.maximum(at["absorber_plateau"], 1.0)
    n = len(depth)
    return np.stack([10.0 * load / depth, load, 0.2 * load / depth, SOLID_FOAM * depth, np.full(n, 0.04 * beam.BARE),
                     np.full(n, 3.0)], axis=1)  # fmt: skip


def _springs(at: Mapping[str, FloatArray], length: float) -> FloatArray:
    """Contact per length of bar: a line to where the springs are solid; they keep a share of the work, 1 - 1/u, by
    being u times as steep on the way back."""
    depth, rate = np.maximum(at["absorber_depth"], 1e-4), np.maximum(at["absorber_rate"], 1e3) / length
    n = len(depth)
    back = 1.0 / (1.0 - np.clip(at["absorber_loss"], 0.0, 0.9))
    return np.stack([rate, np.full(n, beam.FREE), np.zeros(n), SOLID_SPRINGS * depth, np.full(n, 0.04 * beam.BARE),
                     back], axis=1)  # fmt: skip


def results(
    blow: Blow, drawn: ImpactDrawing, found: beam.Hit, sides: FloatArray, face: FloatArray, at: Mapping[str, FloatArray]
) -> dict[str, FloatArray]:
    """Columns of one hit; sides (n, 2): how far each bracket stands off; face (n,): its distance from the axis."""
    n = blow.name
    half = len(drawn.places) // 2
    stretched, squeezed = found.arched * face, found.hollow * face
    cracked = (stretched > at["chrome_stretch"]) | (squeezed > at["chrome_squeeze"])
    given = {
        f"peak_force_{n}": found.peak, f"deceleration_{n}": found.peak / at["car_mass"],
        f"striker_travel_{n}": found.stroke, f"loop_energy_{n}": found.before - found.kinetic,
        f"intrusion_{n}": found.intrusion[:, -1], f"permanent_set_{n}": found.permanent_set[:, -1],
        f"chrome_strain_{n}": np.maximum(stretched, squeezed),
        f"chrome_cracked_{n}": np.where(np.isfinite(found.peak), cracked, np.nan),
        f"rail_load_left_{n}": found.pushed[:, :half].sum(axis=1),
        f"rail_load_right_{n}": found.pushed[:, half:].sum(axis=1),
        f"bracket_push_{n}": found.pushed.max(axis=1), f"bracket_pull_{n}": found.pulled.max(axis=1),
        f"joint_slip_{n}": np.abs(found.slipped).max(axis=1), f"bar_work_{n}": found.bar,
        f"dent_{n}": found.dent, f"bar_strain_{n}": found.strain, f"restitution_{n}": found.restitution,
    }  # fmt: skip
    for i, g in enumerate(drawn.guarded):
        right = 0.5 * (1.0 + g.along / drawn.bracket)
        off = sides[:, 0] * (1.0 - right) + sides[:, 1] * right
        given[f"room_{g.name}_{n}"] = g.clearance + off - found.intrusion[:, i]
    return given


def fibres(bumper: Bumper) -> tuple[FloatArray, FloatArray, np.ndarray]:
    """Fibres in depths of each part of the section: place across the bar [m], length of sheet [m], part (0 the face,
    1 the upper wall, 2 the lower)."""
    line = bumper.centreline(1e-6)
    middle, lengths = 0.5 * (line.ends[1:] + line.ends[:-1]), line.lengths
    first, last = bumper.drawn
    top, bottom = bumper.xy[first + 1], bumper.xy[last + 1]
    up = int(np.argmin(np.hypot(*(middle - top).T)))
    down = int(np.argmin(np.hypot(*(middle - bottom).T)))
    index = np.arange(len(middle))
    part = np.where(index < up, 1, np.where(index > down, 2, 0))
    places, sizes, parts = [], [], []
    for p in range(3):
        x, own = middle[part == p, 0], lengths[part == p]
        if not own.size:
            continue
        depth = x.max() - x.min()
        count = 1 if depth < 1e-6 else BINS
        bins = np.minimum((count * (x - x.min()) / (depth + 1e-12)).astype(int), count - 1)
        for b in np.unique(bins):
            inside = bins == b
            places.append(float(own[inside] @ x[inside] / own[inside].sum()))
            sizes.append(float(own[inside].sum()))
            parts.append(p)
    return np.array(places), np.array(sizes), np.array(parts)
