"""The hits: what the formed bar, on its brackets, leaves to lamps and cooler when it is met at low speed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.impact.mesh import fine_marks, mesh, plan_curve
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.mounting.impact_setup import CAUTIONS, rig_lines
from firstoff.stations.bumper.mounting.impact_sheet import Blow, Guarded, ImpactDrawing
from firstoff.stations.bumper.pressing.common import drawing_of
from firstoff.stations.settle import Settings, limited, settle

if TYPE_CHECKING:
    from firstoff.physics.impact import beam

# The kernel is imported where hits are computed: compiling it for the first time takes half a minute.
ASSUMED = "assumed: common practice, no source"
ANY = ImpactDrawing(0.5, (Guarded("POINT", 0.0, 0.0),), (Blow("HIT", "pendulum", 1.0, 0.0, 0.2, 0.3, 0.0, 0.0, ""),))
SPACING, WIDE = 0.13, 0.08  # m between nodes, about: of a bar hit at a place; of one that a barrier meets along itself
DENSITY, BINS = 7850.0, 8  # kg/m3; depths of fibres in each part of the section


class Impact:
    """Formed section and thickness in; force, room, set, strain of the face and bracket loads of every hit out."""

    name = "impact"
    title = "Impact rig: low-speed hits"
    costly = True  # milliseconds a build and hit: only where somebody asks for it or limits it
    needs = (
        "sheet_thickness", "bar_law", "strip_law", "wall_strain_upper", "wall_strain_lower", "face_strain", "slip_load",
        "slip_gap", "stand_off_left", "stand_off_right",
    )  # fmt: skip
    parameters = (
        Parameter("car_mass", "kg", "given", "mass of the car; a pendulum is as heavy", "1800 kg", ASSUMED,
                  low="400 kg", high="5000 kg"),
        Parameter("yaw_radius", "mm", "given", "radius of gyration in yaw", "1350 mm", ASSUMED, low="300 mm",
                  high="4000 mm"),
        Parameter("behind", "mm", "given", "centre of gravity behind the bar", "2200 mm", ASSUMED, low="0 mm",
                  high="6000 mm"),
        Parameter("speed_error", "1", "scatter", "speed of the rig over that asked for", "1, part sd 0.005", ASSUMED,
                  low="0.8", high="1.2"),
        Parameter("bracket_stiffness", "kN/mm", "given", "stiffness of one bracket with its frame end", "4 kN/mm",
                  ASSUMED, low="0.05 kN/mm", high="200 kN/mm"),
        Parameter("bracket_yield", "kN", "scatter", "load at which a bracket yields", "28 kN, lot sd 1 kN, part sd "
                  "0.6 kN", ASSUMED, low="0.5 kN", high="1000 kN"),
        Parameter("bracket_hardening", "kN/mm", "given", "slope of a bracket after yield", "0.2 kN/mm", ASSUMED,
                  low="0 kN/mm", high="20 kN/mm"),
        Parameter("bracket_lateral", "kN/mm", "given", "stiffness of one bracket sideways", "3 kN/mm", ASSUMED,
                  low="0 kN/mm", high="200 kN/mm"),
        Parameter("bracket_left", "1", "given", "left bracket over a whole one: 0 where it is missing", "1", ASSUMED,
                  low="0", high="2"),
        Parameter("bracket_right", "1", "given", "right bracket over a whole one: 0 where it is missing", "1", ASSUMED,
                  low="0", high="2"),
        Parameter("pitch_stiffness", "kN*m", "given", "moment a radian of both brackets against pitch of the bar",
                  "250 kN*m", ASSUMED, low="1 kN*m", high="1e5 kN*m"),
        Parameter("pitch_yield", "kN*m", "given", "moment at which both brackets yield in pitch", "3 kN*m", ASSUMED,
                  low="0.05 kN*m", high="1e4 kN*m"),
        Parameter("absorber_depth", "mm", "given", "depth of foam before the bar; 0 for none", "0 mm", ASSUMED,
                  low="0 mm", high="200 mm"),
        Parameter("absorber_plateau", "N/mm", "scatter", "load of the foam per length of bar at which it crushes",
                  "60 N/mm, lot sd 2 N/mm", ASSUMED, low="1 N/mm", high="5000 N/mm"),
        Parameter("rate_reference", "1/s", "given", "reference rate D of Cowper and Symonds; 0 for none", "3200 1/s",
                  "assumed: high-strength steel, from memory", low="0 1/s", high="1e6 1/s"),
        Parameter("rate_exponent", "1", "given", "exponent q of Cowper and Symonds", "5", "assumed: from memory",
                  low="1", high="20"),
        Parameter("flattening", "mm", "given", "how an open section flattens: share of depth lost per curvature, "
                  "c in 1/(1 + c kappa)", "30 mm", ASSUMED, low="0 mm", high="500 mm"),
    )  # fmt: skip

    def __init__(self, settings: Settings | None = None) -> None:
        drawn: Bumper | None = settings.drawing if settings is not None else None
        self.drawn: ImpactDrawing | None = drawn.impact if drawn is not None else ANY
        self.characteristics = tuple(c for b in (self.drawn.blows if self.drawn else ()) for c in self._of(b))
        self.gives = tuple(c.name for c in self.characteristics)

    def _of(self, blow: Blow) -> tuple[Characteristic, ...]:
        n, at = blow.name, f", {blow.name.replace('_', ' ')}"
        rooms = [
            Characteristic(f"room_{g.name}_{n}", "mm", f"room left at the {g.name.replace('_', ' ')} at the worst{at}")
            for g in (self.drawn.guarded if self.drawn else ())
        ]
        return (
            Characteristic(f"peak_force_{n}", "kN", f"peak force, filtered CFC 60{at}"),
            Characteristic(f"intrusion_{n}", "mm", f"how far the bar's middle or the hit place moved to the car{at}"),
            Characteristic(f"permanent_set_{n}", "mm", f"what stays of it{at}"),
            Characteristic(f"chrome_strain_{n}", "1", f"bending strain of the chromed face at the worst place{at}"),
            Characteristic(f"bracket_push_{n}", "kN", f"most load of a bracket towards the frame rail{at}"),
            Characteristic(f"bracket_pull_{n}", "kN", f"most load of a bracket away from the frame rail{at}"),
            Characteristic(f"joint_slip_{n}", "mm", f"slip of a bracket's joint{at}"),
            Characteristic(f"bar_work_{n}", "J", f"energy the bar does not give back{at}"),
            Characteristic(f"restitution_{n}", "1", f"speed of parting over speed of closing{at}"),
            *rooms,
        )

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        drawing_of(settings)
        drawn = self.drawn
        blows = drawn.blows if drawn else ()
        mass = next(v.nominal for v in values if v.name == f"{self.name}.car_mass")
        lines = rig_lines(blows, mass)
        return Plan(
            self.name, values, limited(self.characteristics, settings), self.data(settings), lines,
            (
                "Each hit finds a bar that has had none; plane motion, the bar neither twists nor dents under the "
                "striker, holes are left out, its wrapped ends are rigid; tyres hold the car sideways.",
                "Forces filtered by ISO 6487 CFC 60 (4 poles, without shift of phase); the raw force is far higher.",
                "Chrome follows the steel's bending strain over about a section's depth.",
                "What is computed here shows no compliance: only the protocol's own tests do.",
            ),
            CAUTIONS,
        )  # fmt: skip

    def data(self, settings: Settings) -> dict[str, Any]:
        """The fibres of the section, and for every hit a mesh with nodes on brackets and at the middle."""
        bumper, drawn = drawing_of(settings), self.drawn
        if drawn is None:
            return {}
        wrap = (bumper.wrap.radius, bumper.wrap.angle, bumper.wrap.length) if bumper.wrap else None
        arcs = np.array([[a.length, a.radius] for a in bumper.arcs])
        half, on, meshes, strikers = 0.5 * bumper.length, (-drawn.bracket, drawn.bracket), [], []
        for blow in drawn.blows:
            inside = float(np.clip(blow.along, -half, half))
            marks = () if "barrier" in blow.kind else fine_marks(inside, half, on)
            points = [g.along for g in drawn.guarded] + [inside]
            pitch = 0.06 if blow.radius == 0.0 or blow.radius > 1.0 else min(max(blow.radius / 5.0, 0.02), 0.05)
            meshes.append(mesh(arcs, half, on, points, WIDE if "barrier" in blow.kind else SPACING, marks, wrap, pitch))
            aim = plan_curve(arcs, np.array([blow.along]), wrap)[0]
            strikers.append((blow, (float(aim[0]), float(aim[1])), pitch))
        return {"meshes": meshes, "strikers": strikers, "fibres": fibres(bumper), "drawn": drawn,
                "end": wrap[0] * wrap[1] + wrap[2] if wrap else 0.0}  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        from firstoff.physics.impact import beam

        n = len(columns["sheet_thickness"])
        at = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        drawn: ImpactDrawing | None = plan.data.get("drawn")
        if drawn is None:
            return {}, np.zeros(n, np.uint8)
        bars, good = self._bars(plan, columns, at)
        brackets = self._brackets(at, columns)
        sides = np.stack([columns["stand_off_left"], columns["stand_off_right"]], axis=1)
        given: Columns = {}
        status = np.where(good, Status.OK, Status.NO_VALUE).astype(np.uint8)
        for grid, (blow, aim, pitch) in zip(plan.data["meshes"], plan.data["strikers"], strict=True):
            cars, strikers = self._movers(blow, aim, pitch, at, bars)
            if "tap" in plan.data:  # somebody records this run
                plan.data["tap"](blow, grid, bars, brackets, cars, strikers, plan.data["end"])
            found, _ = beam.hit(grid, bars, brackets, cars, strikers, plan.data["end"])
            status |= found.status
            given |= self._results(blow, drawn, found, sides, good)
        return given, status

    @staticmethod
    def _bars(
        plan: Plan, columns: Mapping[str, FloatArray], at: Mapping[str, FloatArray]
    ) -> tuple[FloatArray, np.ndarray]:
        """Rows of the bars from the formed section: walls thinned and hardened by the draw."""
        from firstoff.physics.impact.moment_curve import bar_rows

        place, length, part = plan.data["fibres"]
        t, law = columns["sheet_thickness"], columns["bar_law"]
        strain = np.stack([columns[key] for key in ("face_strain", "wall_strain_upper", "wall_strain_lower")], axis=1)
        good = np.isfinite(strain).all(axis=1) & np.isfinite(law).all(axis=1) & (t > 0.0)
        strain = np.where(good[:, None], np.clip(strain, 0.0, 1.0), 0.0)[:, part]
        thick = np.where(good, t, 1e-3)[:, None]
        usual = np.array([2.06e11, 6e8, 0.17, 0.01])
        rows = np.where(good[:, None], law[:, :4], usual)
        factor = np.where(good, columns["strip_law"][:, 4], 1.15)[:, None]
        bars = bar_rows(place, length * thick * np.exp(-strain), rows[:, 3:4] + factor * strain,
                        np.ascontiguousarray(rows[:, :3]), DENSITY, np.maximum(at["flattening"], 0.0))  # fmt: skip
        bars[:, -2], bars[:, -1] = at["rate_reference"], at["rate_exponent"]
        return bars, good

    @staticmethod
    def _brackets(at: Mapping[str, FloatArray], columns: Mapping[str, FloatArray]) -> FloatArray:
        from firstoff.physics.impact import beam

        share = np.clip(np.stack([at["bracket_left"], at["bracket_right"]], axis=1), 1e-3, 2.0)
        stiff = np.maximum(at["bracket_stiffness"], 1e3)[:, None] * share
        soft = np.minimum(np.maximum(at["bracket_hardening"], 0.0)[:, None] * share, 0.9 * stiff)
        yields = np.maximum(at["bracket_yield"], 1.0)[:, None] * share
        lateral = np.maximum(at["bracket_lateral"], 0.0)[:, None] * share
        slips = np.maximum(columns["slip_load"], 1.0)[:, None]
        return beam.bracket_rows(stiff, yields, soft, lateral, slips, columns["slip_gap"][:, None])

    @staticmethod
    def _movers(
        blow: Blow, aim: tuple[float, float], pitch: float, at: Mapping[str, FloatArray], bars: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Rows of the cars and of the strikers, build by build."""
        from firstoff.physics.impact import beam
        from firstoff.physics.impact.beam_parts import CAR_SPEED, SPEED

        n, fixed = len(bars), "barrier" in blow.kind
        asked = blow.speed * np.clip(at["speed_error"], 0.1, 3.0)
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
        foam = at["absorber_depth"] > 1e-4
        depth, load = np.maximum(at["absorber_depth"], 1e-4), np.maximum(at["absorber_plateau"], 1.0)
        crush = np.stack([10.0 * load / depth * pitch, load * pitch, 0.2 * load / depth * pitch, 0.7 * depth,
                          np.full(n, 0.02 * beam.BARE * pitch), np.full(n, 3.0)], axis=1)  # fmt: skip
        strikers[:, 8:] = np.where(foam[:, None], crush, strikers[:, 8:])
        return cars, strikers

    @staticmethod
    def _results(
        blow: Blow, drawn: ImpactDrawing, found: beam.Hit, sides: FloatArray, good: np.ndarray
    ) -> dict[str, FloatArray]:
        n = blow.name
        given = {
            f"peak_force_{n}": found.peak, f"intrusion_{n}": found.intrusion[:, -1],
            f"permanent_set_{n}": found.permanent_set[:, -1], f"chrome_strain_{n}": found.strain,
            f"bracket_push_{n}": found.pushed.max(axis=1), f"bracket_pull_{n}": found.pulled.max(axis=1),
            f"joint_slip_{n}": np.abs(found.slipped).max(axis=1), f"bar_work_{n}": found.bar,
            f"restitution_{n}": found.restitution,
        }  # fmt: skip
        for i, g in enumerate(drawn.guarded):
            right = 0.5 * (1.0 + g.along / drawn.bracket)
            off = sides[:, 0] * (1.0 - right) + sides[:, 1] * right
            given[f"room_{g.name}_{n}"] = g.clearance + off - found.intrusion[:, i]
        return {name: np.where(good, column, np.nan) for name, column in given.items()}


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
