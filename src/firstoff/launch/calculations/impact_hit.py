"""Pocket calculations by the impact kernel: a straight pressed channel on two brackets, and how thick it must be."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.formula import MM, MPA, Given, Number, Read, above_zero, formula, from_zero
from firstoff.physics.ranges import FloatArray

N_PER_MM, KN = 1e3, 1e3
SOURCE = (
    "nonlinear beam in motion, central differences, section summed over its fibres, forces filtered by ISO 6487 CFC "
    "60; checked by closed forms of the plastic hinge and of bilinear brackets"
)
SPACING, SLICES = 0.1, 24  # m between nodes, about; fibres of the walls
INPUTS: dict[str, Number] = {
    "length_mm": above_zero("length of the bar", MM, lists=False),
    "span_mm": above_zero("between the two brackets, alike about the middle", MM, lists=False),
    "web_height_centreline_mm": above_zero("web, centreline to centreline of the flanges", MM, lists=False),
    "flange_depth_from_web_centreline_mm": above_zero("flange tips from the web's centreline", MM, lists=False),
    "yield_MPa": above_zero("yield strength", MPA, lists=False),
    "bracket_stiffness_N_per_mm": above_zero("stiffness of one bracket", N_PER_MM, lists=False),
    "striker_mass_kg": above_zero("mass of the pendulum", lists=False),
    "vehicle_mass_kg": above_zero("mass of the vehicle", lists=False),
    "speed_m_per_s": above_zero("speed of the pendulum, the vehicle at rest", most=6.0, lists=False),
    "bracket_yield_N": above_zero("yield force of one bracket, none when left out", lists=False, optional=True),
    "bracket_hardening_N_per_mm": from_zero("slope of a bracket after yield, 0 when left out", N_PER_MM, lists=False,
                                            optional=True),
    "place_mm": Number("where it is hit, from the middle, 0 when left out", MM, lists=False, optional=True),
    "striker_radius_mm": above_zero("radius of the pendulum's face in plan, 200 when left out", MM, lists=False,
                                    optional=True),
    "exponent": from_zero("hardening n of Swift's curve, 0.001 to 0.5, 0.15 when left out", most=0.5, lists=False,
                          optional=True),
    "modulus_GPa": above_zero("elastic modulus, 206 when left out", 1e9, lists=False, optional=True),
    "density_kg_per_m3": above_zero("density, 7850 when left out", lists=False, optional=True),
    "flattening_mm": from_zero("share of depth lost per curvature as the section flattens, 0 when left out", MM,
                               lists=False, optional=True),
}  # fmt: skip
GIVES: dict[str, str | tuple[str, float]] = {
    "peak_force": ("kN", KN), "intrusion": ("mm", MM), "permanent_set": ("mm", MM), "restitution": "1",
    "load_left": ("kN", KN), "load_right": ("kN", KN), "bar_work": "J", "bracket_work": "J",
    "face_strain": "1", "striker_speed_after": "m/s", "vehicle_speed_after": "m/s", "event": ("ms", 1e-3),
    "energy_residual": "1", "momentum_residual": "1",
}  # fmt: skip


def _of(x: Read, key: str, otherwise: float) -> float:
    return float(x[key]) if key in x else otherwise


def _bars(x: Read, thickness: FloatArray) -> FloatArray:
    """Rows of channels (n,) with sharp corners: the web as one fibre, both flanges in slices."""
    from firstoff.physics.impact.moment_curve import bar_rows

    depth, web = float(x["flange_depth_from_web_centreline_mm"]), float(x["web_height_centreline_mm"])
    t = thickness[:, None]
    if not (np.all(thickness < 2.0 * depth) and np.all(thickness < web)):
        raise ValueError("the thickness must be below the web height and below twice the flange depth")
    edges = np.linspace(0.0, depth, SLICES + 1)
    place = np.concatenate([[0.0], 0.5 * (edges[1:] + edges[:-1])])
    areas = np.concatenate([web * t, np.repeat(2.0 * t * depth / SLICES, SLICES, axis=1)], axis=1)
    modulus, exponent = _of(x, "modulus_GPa", 206e9), max(_of(x, "exponent", 0.15), 1e-3)
    start = float(x["yield_MPa"]) / modulus
    law = np.tile([modulus, float(x["yield_MPa"]) / start**exponent, exponent], (len(t), 1))
    return bar_rows(place, areas, np.full(areas.shape, start), law, _of(x, "density_kg_per_m3", 7850.0),
                    _of(x, "flattening_mm", 0.0))  # fmt: skip


def _scene(x: Read) -> tuple[Any, FloatArray, FloatArray, FloatArray]:
    """Mesh, brackets, vehicle and striker."""
    from firstoff.physics.impact import beam
    from firstoff.physics.impact.mesh import fine_marks, mesh

    half, on = 0.5 * float(x["length_mm"]), 0.5 * float(x["span_mm"])
    if on > half:
        raise ValueError("the brackets must stand on the bar: span_mm above length_mm")
    place = _of(x, "place_mm", 0.0)
    if abs(place) > half:
        raise ValueError("place_mm lies beyond the bar")
    stiff = float(x["bracket_stiffness_N_per_mm"])
    marks = fine_marks(place, half, (-on, on))
    grid = mesh(np.array([[half, 1e9]]), half, [-on, on], [place], SPACING, marks, None, 0.02)
    row = beam.bracket_rows(np.full((1, 2), stiff), _of(x, "bracket_yield_N", beam.FREE),
                            _of(x, "bracket_hardening_N_per_mm", 0.0), stiff)  # fmt: skip
    mass = float(x["vehicle_mass_kg"])
    car = beam.vehicle_row(mass, 1.8 * mass, 2.2)
    striker = beam.striker_row(float(x["striker_mass_kg"]), float(x["speed_m_per_s"]), (place, 0.0),
                               _of(x, "striker_radius_mm", 0.2))  # fmt: skip
    return grid, row, car, striker


def _hit(x: Read, _: Given) -> Mapping[str, Any]:
    from firstoff.physics.impact import beam
    from firstoff.physics.impact.section import channel

    t = np.array([float(x["thickness_mm"])])
    grid, brackets, car, striker = _scene(x)
    found, __ = beam.hit(grid, _bars(x, t), brackets, car, striker, duration=0.35)
    if found.status[0] & 128:
        raise ValueError("the energy of this hit does not close, or the striker passes by: no value")
    axis = channel(float(x["web_height_centreline_mm"]), float(x["flange_depth_from_web_centreline_mm"]), t)
    face = float(axis.centroid[0] + 0.5 * t[0])
    return {
        "peak_force": found.peak[0], "intrusion": found.intrusion[0, 0], "permanent_set": found.permanent_set[0, 0],
        "restitution": found.restitution[0], "load_left": found.pushed[0, 0], "load_right": found.pushed[0, 1],
        "bar_work": found.bar[0], "bracket_work": found.brackets[0],
        "face_strain": max(found.arched[0], found.hollow[0]) * face, "striker_speed_after": found.striker_speed[0],
        "vehicle_speed_after": found.car_speed[0], "event": found.last_contact[0],
        "energy_residual": found.residual[0], "momentum_residual": found.momentum[0],
    }  # fmt: skip


def _thickness(x: Read, _: Given) -> Mapping[str, Any]:
    from firstoff.physics.impact.thickness import thickness_for

    grid, brackets, car, striker = _scene(x)
    try:
        found = thickness_for(float(x["intrusion_mm"]), lambda t: _bars(x, t), grid, brackets, car, striker,
                              float(x["thickness_least_mm"]), float(x["thickness_most_mm"]))  # fmt: skip
    except ArithmeticError as error:
        raise ValueError(str(error)) from error
    if found is None:
        raise ValueError("even the thickest gives way more: raise thickness_most_mm, or change section or brackets")
    return {"thickness": found}


CALCULATIONS: tuple[Calculation, ...] = (
    formula(
        "impact-channel-bar",
        "Straight pressed channel on two brackets, web in front, hit by a pendulum",
        SOURCE,
        {"thickness_mm": above_zero("thickness of the sheet", MM, lists=False), **INPUTS},
        GIVES,
        _hit,
    ),
    formula(
        "impact-channel-thickness",
        "Least thickness of such a channel at which it gives way no more than allowed",
        SOURCE + "; search by sections",
        {
            "intrusion_mm": above_zero("allowed at the place that is hit, towards the vehicle", MM, lists=False),
            "thickness_least_mm": above_zero("least thickness tried", MM, lists=False),
            "thickness_most_mm": above_zero("most thickness tried", MM, lists=False),
            **INPUTS,
        },
        {"thickness": ("mm", MM)},
        _thickness,
    ),
)
