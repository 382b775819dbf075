"""The hits: what the formed bar, on its brackets, leaves to lamps and cooler when it is met at low speed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.impact.bar_material import FORMED_STEEL, break_strain, source
from firstoff.physics.impact.mesh import fine_marks, mesh, plan_curve
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.mounting.impact_setup import CAUTIONS, rig_lines
from firstoff.stations.bumper.mounting.impact_sheet import Blow, Guarded, ImpactDrawing
from firstoff.stations.bumper.pressing.common import drawing_of
from firstoff.stations.settle import Settings, limited, settle

# The kernel is imported where hits are computed: compiling it for the first time takes half a minute.
ASSUMED = "assumed: common practice, no source"
ANY = ImpactDrawing(0.5, (Guarded("POINT", 0.0, 0.0),), (Blow("HIT", "pendulum", 1.0, 0.0, 0.2, 0.3, 0.0, 0.0, ""),))
SPACING, WIDE = 0.13, 0.08  # m between nodes, about: of a bar hit at a place; of one that a barrier meets along itself
LONGEST = 0.35  # s of an event: soft bars and springs take their time; it ends 8 ms after the last contact
SECONDS = 1.2e-3  # of one core, a build and hit, about


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
        Parameter("bracket_left", "1", "given", "left outer bracket over a whole one: 0 where missing", "1", ASSUMED,
                  low="0", high="2"),
        Parameter("bracket_right", "1", "given", "right outer bracket over a whole one: 0 where missing", "1", ASSUMED,
                  low="0", high="2"),
        Parameter("pitch_stiffness", "kN*m", "given", "moment a radian of both brackets against pitch of the bar",
                  "250 kN*m", ASSUMED, low="1 kN*m", high="1e5 kN*m"),
        Parameter("pitch_yield", "kN*m", "given", "moment at which both brackets yield in pitch", "3 kN*m", ASSUMED,
                  low="0.05 kN*m", high="1e4 kN*m"),
        Parameter("absorber_depth", "mm", "given", "depth of foam before the bar; 0 for none", "0 mm", ASSUMED,
                  low="0 mm", high="200 mm"),
        Parameter("absorber_plateau", "N/mm", "scatter", "load of the foam per length of bar at which it crushes",
                  "60 N/mm, lot sd 2 N/mm", ASSUMED, low="1 N/mm", high="5000 N/mm"),
        Parameter("absorber_rate", "kN/mm", "scatter", "rate of all springs of the absorber together; of springs only",
                  "0.6 kN/mm, lot sd 0.012 kN/mm", ASSUMED, low="0.01 kN/mm", high="50 kN/mm"),
        Parameter("absorber_loss", "1", "given", "share of the work that the springs keep; of springs only", "0.3",
                  ASSUMED, low="0", high="0.9"),
        Parameter("bar_thickness", "mm", "scatter", "wall of a bar that is not of the formed steel", "3 mm, part sd "
                  "0.05 mm", ASSUMED, low="0.5 mm", high="30 mm"),
        Parameter("bar_strength", "1", "scatter", "strength of such a bar over that of its material's law",
                  "1, lot sd 0.03", ASSUMED, low="0.3", high="3"),
        Parameter("dent_share", "1", "given", "load at which the face dents, over that of a strip clamped at its bends "
                  "and loaded along its middle; 0 for a face that keeps its shape", "0", ASSUMED, low="0", high="50"),
        Parameter("chrome_stretch", "1", "scatter", "stretch at which the chrome of the face cracks",
                  "0.4 %, lot sd 0.05 %, part sd 0.03 %", ASSUMED + "; decorative chromium on nickel, from memory",
                  low="0.01 %", high="20 %"),
        Parameter("chrome_squeeze", "1", "scatter", "squeeze at which it cracks or flakes",
                  "1.5 %, lot sd 0.15 %, part sd 0.1 %", ASSUMED, low="0.01 %", high="30 %"),
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
        self.seconds = SECONDS * len(self.drawn.blows) if self.drawn else 0.0

    def _of(self, blow: Blow) -> tuple[Characteristic, ...]:
        n, at = blow.name, f", {blow.name.replace('_', ' ')}"
        rooms = [
            Characteristic(f"room_{g.name}_{n}", "mm", f"room left at the {g.name.replace('_', ' ')} at the worst{at}")
            for g in (self.drawn.guarded if self.drawn else ())
        ]
        return (
            Characteristic(f"peak_force_{n}", "kN", f"peak force, filtered CFC 60{at}"),
            Characteristic(
                f"deceleration_{n}",
                "m/s^2",
                f"peak deceleration of the striker, or of the car at a barrier, filtered CFC 60{at}",
            ),
            Characteristic(f"striker_travel_{n}", "mm", f"most travel of the striker towards the car{at}"),
            Characteristic(f"loop_energy_{n}", "J", f"energy in the loop of force over travel{at}"),
            Characteristic(f"intrusion_{n}", "mm", f"how far the bar's middle or the hit place moved to the car{at}"),
            Characteristic(f"permanent_set_{n}", "mm", f"what stays of it{at}"),
            Characteristic(
                f"chrome_strain_{n}", "1", f"most stretch or squeeze of the chromed face, over 80 mm of the bar{at}"
            ),
            Characteristic(
                f"chrome_cracked_{n}",
                "1",
                f"1 where the chrome of the face cracks, 0 where not: the mean is the share of bars{at}",
            ),
            Characteristic(
                f"rail_load_left_{n}", "kN", f"most load of the left bracket, or the sum of both, towards the rail{at}"
            ),
            Characteristic(
                f"rail_load_right_{n}",
                "kN",
                f"most load of the right bracket, or the sum of both, towards the rail{at}",
            ),
            Characteristic(f"bracket_push_{n}", "kN", f"most load of a bracket towards the frame rail{at}"),
            Characteristic(f"bracket_pull_{n}", "kN", f"most load of a bracket away from the frame rail{at}"),
            Characteristic(f"joint_slip_{n}", "mm", f"slip of a bracket's joint{at}"),
            Characteristic(f"bar_work_{n}", "J", f"energy the bar does not give back{at}"),
            Characteristic(f"dent_{n}", "mm", f"depth that stays pressed into the face, or into its absorber{at}"),
            Characteristic(f"bar_strain_{n}", "1", f"most bending strain of the outermost fibre{at}"),
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
                "Each hit finds a bar that has had none; plane motion, the bar does not twist, and dents under the "
                "striker only where `dent_share` says so; holes are left out, its wrapped ends are rigid; tyres hold "
                "the car sideways.",
                "Forces filtered by ISO 6487 CFC 60 (4 poles, without shift of phase); the raw force is far higher.",
                "Chrome follows the bar's bending strain, curvature averaged over 80 mm of it; no dent is in it.",
                *_of_the_bar(drawn),
                "What is computed here shows no compliance: only the protocol's own tests do.",
            ),
            CAUTIONS,
        )  # fmt: skip

    def data(self, settings: Settings) -> dict[str, Any]:
        """The fibres of the section, and for every hit a mesh with nodes on brackets and at the middle."""
        from firstoff.stations.bumper.mounting.impact_rows import fibres

        bumper, drawn = drawing_of(settings), self.drawn
        if drawn is None:
            return {}
        wrap = (bumper.wrap.radius, bumper.wrap.angle, bumper.wrap.length) if bumper.wrap else None
        arcs = np.array([[a.length, a.radius] for a in bumper.arcs])
        half, on, meshes, strikers = 0.5 * bumper.length, drawn.places, [], []
        for blow in drawn.blows:
            inside = float(np.clip(blow.along, -half, half))
            marks = () if "barrier" in blow.kind else fine_marks(inside, half, on)
            points = [g.along for g in drawn.guarded] + [inside]
            pitch = 0.06 if blow.radius == 0.0 or blow.radius > 1.0 else min(max(blow.radius / 5.0, 0.02), 0.05)
            meshes.append(mesh(arcs, half, on, points, WIDE if "barrier" in blow.kind else SPACING, marks, wrap, pitch))
            aim = plan_curve(arcs, np.array([blow.along]), wrap)[0]
            strikers.append((blow, (float(aim[0]), float(aim[1])), pitch))
        end = wrap[0] * wrap[1] + wrap[2] if wrap else 0.0
        return {"meshes": meshes, "strikers": strikers, "fibres": fibres(bumper), "drawn": drawn, "end": end,
                "length": 2.0 * (half + end), "breaks": break_strain(drawn.material)}  # fmt: skip

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        from firstoff.physics.impact import beam
        from firstoff.stations.bumper.mounting import impact_rows as rows

        n = len(columns["sheet_thickness"])
        at = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        drawn: ImpactDrawing | None = plan.data.get("drawn")
        if drawn is None:
            return {}, np.zeros(n, np.uint8)
        bars, face, good = rows.bars(plan.data, columns, at)
        brackets, plate = rows.brackets(at, columns, len(drawn.places)), rows.plate_of(plan.data, columns, at)
        sides = np.stack([columns["stand_off_left"], columns["stand_off_right"]], axis=1)
        given: Columns = {}
        status = np.where(good, Status.OK, Status.NO_VALUE).astype(np.uint8)
        for grid, (blow, aim, pitch) in zip(plan.data["meshes"], plan.data["strikers"], strict=True):
            cars, strikers = rows.movers(blow, aim, pitch, at, drawn, plan.data["length"], plate)
            if "tap" in plan.data:  # somebody records this run
                plan.data["tap"](blow, grid, bars, brackets, cars, strikers, plan.data["end"])
            found, _ = beam.hit(grid, bars, brackets, cars, strikers, plan.data["end"], LONGEST)
            broken = found.strain > plan.data["breaks"]  # the model does not part the bar
            status |= found.status | np.where(broken, Status.OUT_OF_RANGE, Status.OK).astype(np.uint8)
            made = rows.results(blow, drawn, found, sides, face, at)
            given |= {name: np.where(good, column, np.nan) for name, column in made.items()}
        return given, status


def _of_the_bar(drawn: ImpactDrawing | None) -> tuple[str, ...]:
    """What is taken for a bar that is not of the formed steel, and where from."""
    if drawn is None or drawn.material == FORMED_STEEL:
        return ()
    return (
        f"The bar is of {drawn.material}, one thickness all over, in the drawn section: {source(drawn.material)}. "
        f"Beyond a strain of {break_strain(drawn.material):.1%} it breaks; the model goes on and marks such a build.",
    )
