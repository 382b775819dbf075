"""Pocket calculations of low-speed impact: section, bar, barrier, pendulum, strain rate, protocol."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.formula import (
    MM,
    MM2,
    MM3,
    MM4,
    Given,
    Number,
    Read,
    above_zero,
    formula,
    from_zero,
    whole_number,
)
from firstoff.physics.impact import bar, barrier, pendulum, protocol, section, strain_rate

NMM, NMM2, PER_MM, MS = 1e-3, 1e-6, 1e3, 1e-3
LIGHT_BAR = 0.01  # of the vehicle's mass, for the barrier's closed form


def _channel(x: Read, _: Given) -> Mapping[str, Any]:
    keys = ("web_height_centreline_mm", "flange_depth_from_web_centreline_mm", "thickness_mm")
    c = section.channel(*(x[key] for key in keys))
    return {
        "area": c.area, "centroid_from_web_centreline": c.centroid, "I_plan": c.inertia, "Z_elastic_min": c.modulus_min,
        "Z_elastic_web_side": c.modulus_web, "S_plastic": c.plastic_modulus,
        "plastic_axis_from_web_centreline": c.plastic_axis, "shape_factor": c.plastic_modulus / c.modulus_min,
    }  # fmt: skip


def _bar(x: Read, _: Given) -> Mapping[str, Any]:
    found = bar.central_load(x["span_mm"], x["EI_Nmm2"], x["My_Nmm"], x["Mp_Nmm"])
    return {
        "stiffness": found.stiffness, "first_yield_force": found.first_yield,
        "first_yield_deflection": found.deflection, "collapse_force": found.collapse,
    }  # fmt: skip


def _barrier(x: Read, _: Given) -> Mapping[str, Any]:
    count = whole_number("brackets", x["brackets"])
    mass = float(x["vehicle_mass_kg"])
    if float(x.get("bar_mass_kg", 0.0)) > LIGHT_BAR * mass:
        raise ValueError(f"bar_mass_kg must be at most {LIGHT_BAR:.0%} of the vehicle: the closed form has a light bar")
    found = barrier.hit(
        mass, float(x["speed_m_per_s"]), count, float(x["bracket_stiffness_N_per_mm"]),
        float(x["bracket_yield_force_N"]), float(x.get("bracket_hardening_N_per_mm", 0.0)),
    )  # fmt: skip
    return {
        "kinetic_energy": found.energy, "peak_barrier_force": found.peak_force,
        "peak_force_per_bracket": found.peak_force / count, "max_stroke": found.stroke,
        "permanent_set": found.permanent_set, "dissipated": found.dissipated, "rebound_speed": found.rebound_speed,
        "restitution": found.restitution, "time_to_max_stroke": found.time_to_stroke,
        "energy_balance_residual": found.energy_residual,
    }  # fmt: skip


def _pendulum(x: Read, given: Given) -> Mapping[str, Any]:
    striker = given.get("striker", "rigid")
    if not str(striker).startswith("rigid"):
        raise ValueError(f"striker must be rigid, not {striker!r}")
    found = pendulum.central_hinge(
        float(x["span_mm"]), float(x["EI_Nmm2"]), float(x["Mp_Nmm"]), float(x["striker_mass_kg"]),
        float(x["vehicle_mass_kg"]), float(x["striker_speed_m_per_s"]), float(x.get("vehicle_speed_m_per_s", 0.0)),
        float(x.get("bracket_stiffness_N_per_mm", math.inf)), float(x.get("bar_mass_kg_per_m", 0.0)),
    )  # fmt: skip
    return {
        "deformation_energy": found.deformation_energy, "collapse_force": found.collapse_force,
        "peak_force": found.peak_force, "max_relative_intrusion": found.intrusion,
        "permanent_set_mid": found.permanent_set, "plastic_work": found.plastic_work,
        "restitution": found.restitution, "impactor_speed_after": found.striker_speed,
        "vehicle_speed_after": found.vehicle_speed, "momentum_residual": found.momentum_residual,
        "energy_balance_residual": found.energy_residual,
    }  # fmt: skip


def _cowper(x: Read, _: Given) -> Mapping[str, Any]:
    return {"yield_factor": strain_rate.cowper_symonds(x["strain_rate_per_s"], x["D_per_s"], x["q"])}


_FACT_UNITS: dict[str, str | tuple[str, float]] = {
    "pendulum_longitudinal_speed_mph": ("mph", 0.44704),
    "pendulum_longitudinal_speed_m_per_s": "m/s",
    "pendulum_corner_speed_mph": ("mph", 0.44704),
    "pendulum_corner_speed_m_per_s": "m/s",
    "barrier_speed_mph": ("mph", 0.44704),
    "barrier_speed_m_per_s": "m/s",
    "impact_line_height_min": ("mm", MM),
    "impact_line_height_max": ("mm", MM),
    "longitudinal_impacts_per_end": "1",
    "min_vertical_separation_between_impacts": ("mm", MM),
    "or_lateral_separation": ("mm", MM),
    "min_interval_between_impacts": ("min", 60.0),
    "corner_first_height": ("mm", MM),
    "applies_to_multipurpose_passenger_vehicles": "",
}


def _facts(_: Read, __: Given) -> Mapping[str, Any]:
    found = {name: fact.si for name, fact in protocol.part_581().items()}
    speeds = {f"{name.removesuffix('_mph')}_m_per_s": value for name, value in found.items() if name.endswith("_mph")}
    return {**found, **speeds}


_SPAN = above_zero("span between the supports", MM, lists=False)
_EI = above_zero("bending rigidity E I", NMM2, lists=False)
_MP = above_zero("plastic moment", NMM, lists=False)

CALCULATIONS: tuple[Calculation, ...] = (
    formula(
        "section-pressed-channel",
        "Area and plan-bending constants of a pressed open channel with sharp corners",
        "sums over rectangles",
        {
            "web_height_centreline_mm": above_zero("web, centreline to centreline of the flanges", MM),
            "flange_depth_from_web_centreline_mm": above_zero("flange tips from the web's centreline", MM),
            "thickness_mm": above_zero("thickness of the sheet", MM),
        },
        {
            "area": ("mm2", MM2),
            "centroid_from_web_centreline": ("mm", MM),
            "I_plan": ("mm4", MM4),
            "Z_elastic_min": ("mm3", MM3),
            "Z_elastic_web_side": ("mm3", MM3),
            "S_plastic": ("mm3", MM3),
            "plastic_axis_from_web_centreline": ("mm", MM),
            "shape_factor": "1",
        },  # fmt: skip
        _channel,
        texts={"description": "a note"},
    ),
    formula(
        "bar-two-supports-static",
        "Straight bar on two knife supports under a slow central load",
        "Euler-Bernoulli beam and plastic-hinge mechanism (textbook)",
        {
            "span_mm": _SPAN,
            "EI_Nmm2": _EI,
            "My_Nmm": above_zero("moment at first yield", NMM, lists=False),
            "Mp_Nmm": _MP,
        },
        {
            "stiffness": ("N/mm", PER_MM),
            "first_yield_force": "N",
            "first_yield_deflection": ("mm", MM),
            "collapse_force": "N",
        },  # fmt: skip
        _bar,
        texts={"hardening": ("after the plastic moment", ("none after Mp", "none"))},
    ),
    formula(
        "barrier-bilinear-brackets",
        "Rigid bar on elastic-plastic brackets against a flat rigid barrier",
        "energy balance of a mass on a bilinear spring",
        {
            "vehicle_mass_kg": above_zero("mass of the vehicle", lists=False),
            "speed_m_per_s": above_zero("speed of the vehicle", lists=False),
            "brackets": above_zero("number of brackets, all alike", lists=False),
            "bracket_stiffness_N_per_mm": above_zero("elastic stiffness of one bracket", PER_MM, lists=False),
            "bracket_yield_force_N": above_zero("yield force of one bracket", lists=False),
            "bracket_hardening_N_per_mm": from_zero(
                "stiffness after yield, 0 when left out", PER_MM, lists=False, optional=True
            ),
            "bar_mass_kg": from_zero("mass of the bar, at most 1 % of the vehicle", lists=False, optional=True),
        },
        {
            "kinetic_energy": "J",
            "peak_barrier_force": "N",
            "peak_force_per_bracket": "N",
            "max_stroke": ("mm", MM),
            "permanent_set": ("mm", MM),
            "dissipated": "J",
            "rebound_speed": "m/s",
            "restitution": "1",
            "time_to_max_stroke": ("ms", MS),
            "energy_balance_residual": "1",
        },  # fmt: skip
        _barrier,
        texts={"unloading": ("of a bracket", ("elastic at the initial stiffness",))},
    ),
    formula(
        "pendulum-central-hinge",
        "Free striker on the middle of a bar held by two stiff brackets on a free vehicle",
        "momentum and energy balance with an elastic-perfectly plastic hinge",
        {
            "span_mm": _SPAN,
            "EI_Nmm2": _EI,
            "Mp_Nmm": _MP,
            "striker_mass_kg": above_zero("mass of the striker", lists=False),
            "vehicle_mass_kg": above_zero("mass of the vehicle", lists=False),
            "striker_speed_m_per_s": Number("speed of the striker", lists=False),
            "vehicle_speed_m_per_s": Number("speed of the vehicle, 0 when left out", lists=False, optional=True),
            "bar_mass_kg_per_m": from_zero("mass of the bar per length, light", lists=False, optional=True),
            "bracket_stiffness_N_per_mm": above_zero(
                "stiffness of one bracket, rigid when left out", PER_MM, lists=False, optional=True
            ),
        },
        {
            "deformation_energy": "J",
            "collapse_force": "N (quasi-static)",
            "peak_force": "N (quasi-static)",
            "max_relative_intrusion": ("mm", MM),
            "permanent_set_mid": ("mm", MM),
            "plastic_work": "J",
            "restitution": "1",
            "impactor_speed_after": "m/s",
            "vehicle_speed_after": "m/s",
            "momentum_residual": "1",
            "energy_balance_residual": "1",
        },  # fmt: skip
        _pendulum,
        texts={
            "moment_curvature": ("of the bar", ("elastic-perfectly plastic, rate independent",)),
            "bar_plan": ("shape of the bar in plan", ("straight",)),
            "bracket_yield": ("of the brackets", ("none",)),
            "bracket_lateral_restraint": ("of the bar's ends", ("none",)),
            "striker": "a note that begins with 'rigid'",
        },
    ),
    formula(
        "cowper-symonds-yield-factor",
        "Dynamic over static yield strength",
        "Cowper and Symonds 1957; constants of mild steel D = 40.4 1/s, q = 5 (from memory), for initial yield only",
        {
            "D_per_s": above_zero("reference strain rate"),
            "q": above_zero("exponent"),
            "strain_rate_per_s": from_zero("strain rate or list of them"),
        },
        {"yield_factor": "1"},
        _cowper,
    ),
    formula(
        "protocol-49cfr581",
        "US low-speed bumper protocol: speeds, heights, spacing; only its tests show that a vehicle meets it",
        protocol.source(),
        {},
        _FACT_UNITS,
        _facts,
    ),
)
