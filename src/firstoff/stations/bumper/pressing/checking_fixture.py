"""Checking fixture: the part held by its face; gap and flush at named points."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.chain.station import Characteristic, Columns, FloatArray, Parameter, Plan, StatusArray
from firstoff.physics.forming.profile import bow_weights, twist_weights
from firstoff.sheets.units import format_value
from firstoff.stations.bumper.drawing import FACE, WRAP, Bumper, Point, Side
from firstoff.stations.bumper.pressing.common import (
    corner_strips,
    drawing_of,
    names_of,
    strips_of,
    wall_strips,
    wrap_strip,
)
from firstoff.stations.bumper.pressing.die_line import sheet_thickness, wall_stretch
from firstoff.stations.settle import Settings, limited, setting_lines, settle

CAUTIONS = (
    "Clamps pinch: close them in the order on the fixture, fingers out. Fixture and part are heavy, edges are sharp.",
    "A part that conforms in the fixture is not thereby released for hitch or impact: those have their own tests.",
)


class CheckingFixture:
    """Opening of the walls, curl, bow and twist put together over the whole section, point by point."""

    name = "checking_fixture"
    title = "Checking fixture: gap and flush"
    needs = (
        *names_of("final"), "sheet_thickness", "bow_plan", "bow_vertical", "wall_strain_upper", "wall_strain_lower",
        "blank_growth", "blank_shift",
    )  # fmt: skip
    parameters = (
        Parameter("seat", "mm", "scatter", "how far the face stands off its rests", "0 mm, part sd 0.03 mm",
                  "assumed: clean rests, common practice, no source", low="-3 mm", high="3 mm"),
    )  # fmt: skip

    def __init__(self, settings: Settings | None = None) -> None:
        drawn = settings.drawing if settings is not None else None
        self.points: tuple[Point, ...] = drawn.points if drawn is not None else ()
        names = [f"gap_{p.name}" for p in self.points if p.gap is not None]
        names += [f"flush_{p.name}" for p in self.points if p.flush]
        self.gives = (*names, "end_twist", "opening_upper", "opening_lower", "curl_upper", "curl_lower")

    def plan(self, settings: Settings) -> Plan:
        values = settle(self, settings)
        gives = [Characteristic(f"gap_{p.name}", "mm", f"gap between part and fixture, {p.name}") for p in self.points
                 if p.gap is not None]  # fmt: skip
        gives += [Characteristic(f"flush_{p.name}", "mm", f"how far the edge stands out, {p.name}") for p in self.points
                  if p.flush]  # fmt: skip
        gives += [
            Characteristic("end_twist", "deg", "twist of the ends against the middle"),
            Characteristic("opening_upper", "deg", "how far the upper wall stands open against the drawing"),
            Characteristic("opening_lower", "deg", "how far the lower wall stands open against the drawing"),
            Characteristic("curl_upper", "1/m", "curvature of the upper wall, outwards"),
            Characteristic("curl_lower", "1/m", "curvature of the lower wall, outwards"),
        ]
        where = [
            (p.name.replace("_", " "), f"at {p.at}, {format_value(p.along, 'mm', 4)} from the middle")
            for p in self.points
        ]
        return Plan(
            self.name, values, limited(gives, settings), self.data(settings),
            (*setting_lines(self, values), ("held by", "its face, on the middle; clamps closed first"), *where),
            (
                "Each strip of the section springs by itself; the bar's bow and twist are those of its whole section.",
                "The wrapped ends are measured against the bar's own end.",
            ),
            CAUTIONS,
        )  # fmt: skip

    @staticmethod
    def data(settings: Settings) -> dict[str, Any]:
        """The drawing, the stretch that the blank allows for, and the weights of the bow at every point."""
        bumper = drawing_of(settings)
        lengths = np.array([a.length for a in bumper.arcs])
        bends = np.array([1.0 / a.radius for a in bumper.arcs])
        spots = [*(p.along for p in bumper.points), 0.5 * bumper.length]
        bow = np.array([bow_weights(lengths, s) for s in spots])
        twist = np.array([twist_weights(lengths, bends, s) for s in spots])
        return {
            "bumper": bumper,
            "thickness": sheet_thickness(settings),
            "stretch": wall_stretch(settings),
            "bow": bow,
            "twist": twist,
        }

    def run(self, plan: Plan, columns: Mapping[str, FloatArray]) -> tuple[Columns, StatusArray]:
        bumper: Bumper = plan.data["bumper"]
        final = strips_of(columns, "final")
        t, seat = columns["sheet_thickness"], columns[f"{self.name}.seat"]
        found = self._profile(plan, columns, final.curvature, t)
        sideways = columns["bow_plan"] @ plan.data["bow"].T
        upwards = columns["bow_vertical"] @ plan.data["bow"].T
        twist = -columns["bow_vertical"] @ plan.data["twist"].T  # an end that rises leans backwards
        given: Columns = {}
        for i, p in enumerate(self.points):
            if p.at == WRAP:
                given[f"gap_{p.name}"] = self._wrap_gap(bumper, p, final.curvature, t)
                continue
            place, normal, tangent, moved = found[p.at]
            x = moved[:, 0] + sideways[:, i] - twist[:, i] * place[1]
            y = moved[:, 1] + upwards[:, i] + twist[:, i] * place[0]
            if p.gap is not None:
                # a face that stands off its rests brings the whole part away from the fixture before it
                given[f"gap_{p.name}"] = p.gap - (x * normal[0] + y * normal[1]) + seat * float(normal @ found[FACE][1])
            if p.flush:
                given[f"flush_{p.name}"] = x * tangent[0] + y * tangent[1]
        first, last = bumper.drawn
        arcs = bumper.angles * (np.array([c.radius for c in bumper.inner]) + 0.5 * t[:, None])
        turned = final.curvature[:, : len(bumper.inner)] * arcs
        up, down = wall_strips(bumper)
        given |= {
            "end_twist": twist[:, -1],
            "opening_upper": bumper.angles[first] - turned[:, first],
            "opening_lower": bumper.angles[last] - turned[:, last],
            "curl_upper": final.curvature[:, up].copy(),
            "curl_lower": final.curvature[:, down].copy(),
        }
        return given, np.zeros(len(t), np.uint8)

    @staticmethod
    def _profile(
        plan: Plan, columns: Mapping[str, FloatArray], curvature: FloatArray, t: FloatArray
    ) -> dict[str, tuple[FloatArray, FloatArray, FloatArray, FloatArray]]:
        """By corner: its place as drawn, normal and tangent of the flat before it, and each build's move (n, 2)."""
        bumper: Bumper = plan.data["bumper"]
        drawn: float = plan.data["thickness"]
        n, m = len(t), len(bumper.inner)
        first, last = bumper.drawn
        arcs, flats = bumper.arc_lengths(drawn), bumper.flats(drawn)
        angles = np.stack([curvature[:, i] * bumper.angles[i] * (bumper.inner[i].radius + 0.5 * t)
                           for i in corner_strips(bumper)], axis=1)  # fmt: skip
        lengths, curls = np.repeat(flats[None, :], n, axis=0), np.zeros((n, m + 1))
        walls = wall_strips(bumper)
        for flat in range(m + 1):
            if flat <= first:
                curls[:, flat] = -np.sign(bumper.turns[first]) * curvature[:, walls[0]] * flats[flat]
            elif flat > last:
                curls[:, flat] = -np.sign(bumper.turns[last]) * curvature[:, walls[1]] * flats[flat]
        stretch = plan.data["stretch"]
        for edge, side, wall, sign in ((0, "upper", bumper.walls[0], 1.0), (m, "lower", bumper.walls[1], -1.0)):
            strain = columns[f"wall_strain_{side}"] - stretch[0 if side == "upper" else 1]
            lengths[:, edge] += 0.5 * columns["blank_growth"] + sign * columns["blank_shift"] + wall * strain
        found: dict[str, tuple[FloatArray, FloatArray, FloatArray, FloatArray]] = {}
        zero = np.zeros(2)
        out = bumper.headings[bumper.datum]
        found[FACE] = (zero, np.array([np.sin(out), -np.cos(out)]), np.array([np.cos(out), np.sin(out)]),
                       np.zeros((n, 2)))  # fmt: skip
        for half in Side.of(bumper):
            ends, _ = half.pieces(bumper, arcs, lengths, angles, curls)
            plain, ways = half.pieces(bumper, arcs, flats[None, :], bumper.angles[None, :], np.zeros((1, m + 1)))
            names = [bumper.inner[c].name for c in half.corners] + [bumper.corners[0 if half.sign < 0 else -1].name]
            for k, name in enumerate(names):
                at = 2 * k + 1  # the end of the flat before it
                way = ways[0, at]
                normal = half.sign * np.array([np.sin(way), -np.cos(way)])
                found[name] = (plain[0, at], normal, np.array([np.cos(way), np.sin(way)]), ends[:, at] - plain[0, at])
        return found

    @staticmethod
    def _wrap_gap(bumper: Bumper, point: Point, curvature: FloatArray, t: FloatArray) -> FloatArray:
        """Gap at the end of the wrap: an end that stands open comes nearer to the fixture."""
        wrap, k = bumper.wrap, wrap_strip(bumper)
        assert wrap is not None and k is not None and point.gap is not None
        mean = wrap.radius + 0.5 * t
        open_by = wrap.angle - curvature[:, k] * wrap.angle * mean
        arm = wrap.length + mean * np.tan(0.5 * wrap.angle)
        return np.asarray(point.gap - open_by * arm)
