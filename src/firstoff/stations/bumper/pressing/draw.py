"""Draw: the section is formed over the punch, the walls run over the die radius, the bar takes its bow in plan."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.chain.station import Change, Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.chain.status import Status
from firstoff.physics.forming import forces, strip
from firstoff.physics.forming.flow_curve import forming_limit
from firstoff.physics.forming.profile import bow_weights, unsymmetric_release
from firstoff.physics.forming.section import properties
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.drawing import Bumper
from firstoff.stations.bumper.pressing.common import (
    LAYERS,
    PRESS_CAUTIONS,
    Program,
    as_columns,
    corner_strips,
    drawing_of,
    is_upper,
    names_of,
    strip_count,
    walk,
    wall_strips,
)
from firstoff.stations.bumper.pressing.die_line import compensation, die_setup, sheet_thickness
from firstoff.stations.bumper.pressing.nominal import at_nominal
from firstoff.stations.settle import Settings, limited, setting_lines, settle

ASSUMED = "assumed: common practice, no source"
BINS = 16  # of the section's fibres by their depth
FIRST_HIT = 2.5  # times the drawn radius, of the first of two forming hits: common practice, no source
ROUGHENING = 0.25  # um of Ra per um of grain and unit strain: assumed, from memory of orange peel on low-carbon sheet


class Draw:
    """Binder, lubricant and radii in; bent and straightened sheet, thinning, bow in plan out."""

    name = "draw"
    title = "Draw: form the section"
    needs = ("sheet_thickness", "strip_law", "bar_law", "coil.grain_size", "coil.modulus")
    gives = (
        *names_of("drawn"), "wall_strain_upper", "wall_strain_lower", "wall_thickness_upper", "wall_thickness_lower",
        "forming_margin", "face_strain", "bow_strain",
        "roughness_growth", "bow_plan", "bow_vertical", "force_draw",
    )  # fmt: skip
    parameters = (
        Parameter("binder_force", "kN", "setting", "binder force, both sides together", low="20 kN", high="20000 kN",
                  lot_share=0.3, change=Change("50 kN", 10, "cushion pressure", 10)),
        Parameter("end_hold", "kN", "setting", "binder force on the two ends, which stretch the bar", "200 ±15 kN",
                  ASSUMED, low="0 kN", high="10000 kN", lot_share=0.3,
                  change=Change("25 kN", 10, "cushion pressure at the ends", 8)),
        Parameter("over_crown", "%", "setting", "how much more the die bows the bar in plan than the drawing", "0 %",
                  "assumed: die cut to the drawing", low="-20 %", high="150 %",
                  change=Change("1 %", 960, "recut or weld the die: a tool-room job", 10, 6000)),
        Parameter("end_rise", "mm", "setting", "how far the die bends the ends up against the drawing", "0 mm",
                  "assumed: die cut to the drawing", low="-30 mm", high="30 mm",
                  change=Change("0.5 mm", 960, "recut or weld the die: a tool-room job", 10, 6000)),
        Parameter("friction", "1", "scatter", "friction of sheet and die", "0.12, lot sd 0.005, part sd 0.002",
                  ASSUMED + "; oiled steel", low="0.02", high="0.4"),
        Parameter("die_radius", "mm", "given", "radius of the die over which the walls run", low="2 mm", high="60 mm"),
        Parameter("binder_tilt", "%", "scatter", "share of the binder force that lies on the upper side beyond a half",
                  "0 %, lot sd 0.5 %, part sd 0.3 %", ASSUMED, low="-40 %", high="40 %"),
    )  # fmt: skip

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        bumper = drawing_of(settings)
        crown, rise = (compensation(settings, f"draw.{key}") for key in ("over_crown", "end_rise"))
        gives = (
            Characteristic("wall_thickness_upper", "mm", "thickness of the upper wall"),
            Characteristic("wall_thickness_lower", "mm", "thickness of the lower wall"),
            Characteristic("forming_margin", "1", "true strain left to the forming limit in the most strained wall"),
            Characteristic("roughness_growth", "um", "orange peel: how much rougher the face becomes, Ra"),
        )
        hits = " (first of two hits, at larger radii)" if bumper.form_hits == 2 else ""
        return Plan(
            self.name, values, limited(gives, settings), self.data(settings),
            setup=(
                *setting_lines(self, values),
                ("forms", f"{sum(c.die == 'draw' for c in bumper.inner)} bends, draw depth "
                 f"{format_value(bumper.depth, 'mm', 4)}{hits}"),
                ("over-crown that brings the bow to the drawing", f"{100.0 * crown:.1f} %"),
                ("rise that brings the ends to the drawing's height", format_value(rise, "mm", 2)),
                *_section(settings),
                ("lubricant", "drawing oil on both faces, 1 to 2 g/m2, to the edges (common practice, no source)"),
                ("binder", "blocks set to the sheet's thickness plus 0.1 mm; shims checked with a blued blank"),
                *_flags(settings),
                *die_setup(settings, self.name),
            ),
            assumptions=(
                "Plane strain across each strip; tension of binder, bends and rope friction; the corner of the punch "
                "bears the wall's tension less half its friction.",
                "The bow is bent into the section's fibres under the ends' friction and let go elastically; the dies "
                "after it leave it.",
                f"Orange peel: Ra grows by {ROUGHENING} um for each um of grain and unit of strain (from memory).",
            ),
            cautions=PRESS_CAUTIONS,
        )  # fmt: skip

    @staticmethod
    def data(settings: Settings) -> dict[str, Any]:
        """The drawing, and its fibres in bins of their depth."""
        bumper = drawing_of(settings)
        level = float(bow_weights(np.array([a.length for a in bumper.arcs]), 0.5 * bumper.length).sum())
        return {"bumper": bumper, "fibres": fibres(bumper), "level": level}

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        bumper: Bumper = plan.data["bumper"]
        at = {p.name: columns[f"{self.name}.{p.name}"] for p in self.parameters}
        t, law = columns["sheet_thickness"], columns["strip_law"]
        mu = np.maximum(at["friction"], 0.0)
        over, wall = self._tensions(bumper, at, mu, t, law)
        drawn, status = walk(
            strip.flat(len(t), strip_count(bumper), LAYERS), self._program(bumper, at, mu, t, over, wall), t, law
        )
        upper, lower = (drawn.membrane[:, i] for i in wall_strips(bumper))
        plan_bow, vertical, bent = self._bow(plan, columns, at, mu)
        width = bumper.length * wall.sum(axis=0)
        face = self._face_strain(bumper, wall, mu, t, law)
        tightest = max(1.0 / a.radius for a in bumper.arcs)
        # the edges of the walls lie inside the bow and are gathered: the left branch of the forming limit
        minor = np.minimum(tightest * (1.0 + at["over_crown"]) * float(plan.data["fibres"][0].min()), 0.0)
        bowed = tightest * (1.0 + at["over_crown"]) * float(plan.data["fibres"][0].max())
        given: Columns = as_columns(drawn, "drawn")
        given |= {
            "wall_strain_upper": upper,
            "wall_strain_lower": lower,
            "wall_thickness_upper": t * np.exp(-upper),
            "wall_thickness_lower": t * np.exp(-lower),
            "forming_margin": forming_limit(minor, t, law[:, strip.EXPONENT]) - np.maximum(upper, lower),
            "face_strain": face,
            "bow_strain": bowed,
            "roughness_growth": ROUGHENING * columns["coil.grain_size"] * np.hypot(face, bowed),
            "bow_plan": plan_bow,
            "bow_vertical": vertical,
            "force_draw": at["binder_force"] + at["end_hold"] + width,
        }
        odd = np.where((at["friction"] < 0.0) | (at["binder_force"] < 0.0), Status.OUT_OF_RANGE, Status.OK)
        return given, status | bent | odd.astype(np.uint8)

    @staticmethod
    def _tensions(
        bumper: Bumper, at: Mapping[str, FloatArray], mu: FloatArray, t: FloatArray, law: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Tension per width at the die radius and in the wall behind it, (2, n): upper and lower."""
        radius = at["die_radius"]
        reached = law[:, strip.PRE_STRAIN] + law[:, strip.FACTOR] * 0.25 * t / (radius + 0.5 * t)
        flow = law[:, strip.STRENGTH] * reached ** law[:, strip.EXPONENT]
        found = []
        for side in (1.0, -1.0):
            binder = np.maximum(at["binder_force"], 0.0) * (0.5 + side * at["binder_tilt"]) / bumper.length
            wall = forces.drawn_wall(binder, mu, 0.5 * np.pi, flow, t, radius)[1]
            found.append((wall - forces.bending_tension(flow, t, radius, wall), wall))
        return np.stack([f[0] for f in found]), np.stack([f[1] for f in found])

    @staticmethod
    def _program(
        bumper: Bumper, at: Mapping[str, FloatArray], mu: FloatArray, t: FloatArray, over: FloatArray, wall: FloatArray
    ) -> Program:
        program = Program(len(t), strip_count(bumper), 3)
        die = 1.0 / (at["die_radius"] + 0.5 * t)
        first, last = bumper.drawn
        wider = FIRST_HIT if bumper.form_hits == 2 else 1.0
        for i in corner_strips(bumper):
            side = 0 if is_upper(bumper, i) else 1
            if first <= i <= last:
                tension = wall[side] * np.exp(-0.5 * mu * bumper.angles[i])
                program.bend(i, 0, 1.0 / (wider * bumper.inner[i].radius + 0.5 * t), tension)
            else:  # sheet of a lip has run over the die radius; it bends the other way there than the lip will
                program.bend(i, 0, -die, over[side])
                program.bend(i, 1, 0.0, wall[side])
            program.release(i, 2)
        for side, i in enumerate(wall_strips(bumper)):
            program.bend(i, 0, die, over[side])
            program.bend(i, 1, 0.0, wall[side])
            program.release(i, 2)
        return program

    @staticmethod
    def _face_strain(bumper: Bumper, wall: FloatArray, mu: FloatArray, t: FloatArray, law: FloatArray) -> FloatArray:
        """Strain of the face, under what the punch corners let through of the walls' tension."""
        first, last = bumper.drawn
        tension = np.minimum(wall[0] * np.exp(-mu * bumper.angles[first]), wall[1] * np.exp(-mu * bumper.angles[last]))
        stress = tension / t
        yields = np.maximum(stress / law[:, strip.STRENGTH], 1e-9) ** (1.0 / law[:, strip.EXPONENT])
        plastic = np.maximum(yields - law[:, strip.PRE_STRAIN], 0.0) / law[:, strip.FACTOR]
        return np.asarray(stress / law[:, strip.MODULUS] + plastic)

    def _bow(
        self, plan: Plan, columns: Mapping[str, FloatArray], at: Mapping[str, FloatArray], mu: FloatArray
    ) -> tuple[FloatArray, FloatArray, StatusArray]:
        """Curvature of each arc in plan beyond the drawing's, and out of plan, after release (n, arcs)."""
        bumper: Bumper = plan.data["bumper"]
        places, lengths, by_height = plan.data["fibres"]
        n, arcs, t = len(mu), len(bumper.arcs), columns["sheet_thickness"]
        program = Program(n, arcs, 1)
        drawn = np.array([1.0 / a.radius for a in bumper.arcs])
        tension = 2.0 * mu * 0.5 * np.maximum(at["end_hold"], 0.0) / t
        for j in range(arcs):
            program.bend(j, 0, drawn[j] * (1.0 + at["over_crown"]), tension)
        strips, _, status = strip.walk(
            strip.flat(n, arcs, len(places)), program.steps, np.ones((n, arcs)), places, lengths, columns["bar_law"]
        )
        found = np.zeros((2, n, arcs))
        raised = at["end_rise"] / plan.data["level"]  # one curvature over the whole bar
        modulus = columns["coil.modulus"]
        for j in range(arcs):
            stress = strips.state[:, j, :, strip.STRESS]
            found[0, :, j], found[1, :, j] = unsymmetric_release(stress, lengths, places, by_height, modulus)
            found[0, :, j] += program.steps[:, j, 0, 1] - drawn[j]
            found[1, :, j] += raised
        return found[0], found[1], status


def _section(settings: Settings) -> tuple[tuple[str, str], ...]:
    """Properties of the pressed section as drawn."""
    found = properties(drawing_of(settings).centreline(sheet_thickness(settings)), sheet_thickness(settings))
    x, y = (1e3 * c for c in found.shear_centre)
    return (
        ("section", f"{1e4 * found.area:.2f} cm2, centroid {1e3 * found.x:.1f} mm behind the face, "
         f"{1e3 * found.y:.1f} mm up"),
        ("second moments", f"{1e8 * found.i_yy:.1f} cm⁴ in plan, {1e8 * found.i_xx:.1f} cm⁴ up and down, "
         f"product {1e8 * found.i_xy:.1f} cm⁴"),
        ("section moduli in plan", f"{1e6 * found.modulus_plan:.2f} cm3 elastic, "
         f"{1e6 * found.plastic_plan:.2f} cm3 plastic"),
        ("shear centre", f"{x:.1f} mm behind the face, {y:.1f} mm up; torsion constant {1e8 * found.torsion:.4f} cm⁴"),
    )  # fmt: skip


def _flags(settings: Settings) -> tuple[tuple[str, str], ...]:
    """What may show on the face: stretcher strains and orange peel."""
    found = at_nominal(settings, "draw")
    strain = float(np.hypot(found["face_strain"], found["bow_strain"])[0])
    lueders = settings.given.get("coil.yield_elongation")
    limit = lueders.nominal if lueders is not None else 0.0
    lines = [("strain of the face", f"{100.0 * strain:.2f} %")]
    if strain < limit:
        what = f"likely: the face strains less than the coil's yield point elongation, {100.0 * limit:.1f} %"
        lines.append(("stretcher strains", what))
    lines.append(("orange peel", f"Ra grows by {1e6 * float(found['roughness_growth'][0]):.2f} um"))
    return tuple(lines)


def fibres(bumper: Bumper) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Fibres of the section in bins of equal depth: place from the centroid towards the outside of the bow [m], length
    of sheet [m], mean depth below the origin [m]. Fibres of one depth bear the same strain, whatever their height.
    """
    line = bumper.centreline(1e-6)
    middle, lengths = 0.5 * (line.ends[1:] + line.ends[:-1]), line.lengths
    x = middle[:, 0] - float(lengths @ middle[:, 0]) / float(lengths.sum())
    depth = x.max() - x.min() + 1e-12
    bins = np.minimum((BINS * (x - x.min()) / depth).astype(int), BINS - 1)
    full = [b for b in range(BINS) if (bins == b).any()]
    total = np.array([lengths[bins == b].sum() for b in full])
    place, height = (
        np.array([float(lengths[bins == b] @ v[bins == b]) for b in full]) / total for v in (-x, -middle[:, 1])
    )
    return place, total, height
