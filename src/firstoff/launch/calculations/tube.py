"""Pocket calculations of tube and rod: strip, seam, drawing, pressure, welds, buckling."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.formula import (
    DEG,
    MM,
    MM3,
    MPA,
    Given,
    Read,
    above_zero,
    formula,
    from_zero,
)
from firstoff.physics.tube import drawing, pressure, rod, strip, welding


def _hoop(x: Read, _: Given) -> Mapping[str, Any]:
    return pressure.hoop_stress(x["p_MPa"], x["ri_mm"], x["ro_mm"])._asdict()


def _first_yield(x: Read, _: Given) -> Mapping[str, Any]:
    return {"p": pressure.first_yield_pressure(x["Re_MPa"], x["ri_mm"], x["ro_mm"])}


def _burst(x: Read, _: Given) -> Mapping[str, Any]:
    return {"p": pressure.burst_pressure(x["t_mm"], x["Rm_MPa"], x["D_m_mm"])}


def _die(x: Read) -> tuple[Any, ...]:
    return tuple(x[key] for key in _DIE)


def _sinking(x: Read, _: Given) -> Mapping[str, Any]:
    return dict(zip(("sigma", "F"), drawing.sinking_draw(*_die(x)), strict=True))


def _push(x: Read, _: Given) -> Mapping[str, Any]:
    return dict(zip(("sigma", "F"), drawing.end_push(*_die(x)), strict=True))


def _weld(x: Read, _: Given) -> Mapping[str, Any]:
    keys = ("I_A", "R_ohm", "t_s", "nugget_d_mm", "nugget_h_mm", "u_J_per_mm3")
    found = welding.resistance_weld_heat(*(x[key] for key in keys))
    return {"Q": found.heat, "volume": found.volume, "melt": found.melt, "share": found.share}


def _seam(x: Read, _: Given) -> Mapping[str, Any]:
    keys = ("rho_kg_per_m3", "t_mm", "w_mm", "v_m_per_min", "cp_J_per_kgK", "dT_K", "eta")
    return dict(zip(("P_weld", "P_line"), welding.seam_heat(*(x[key] for key in keys)), strict=True))


def _buckling(x: Read, _: Given) -> Mapping[str, Any]:
    found = rod.buckling(x["d_mm"], x["L_mm"], x["E_MPa"], x["Sy_MPa"], x["K"])
    names = ["johnson" if short else "euler" for short in found.johnson.ravel()]
    return {
        "lambda_T": found.transition, "lambda": found.slenderness, "F": found.load,
        "branch": names if found.johnson.ndim else names[0],
    }  # fmt: skip


def _strip(x: Read, _: Given) -> Mapping[str, Any]:
    middle, width = strip.strip_width(float(x["D_mm"]), float(x["t_mm"]))
    return {"mid_line": middle, "B": width}


_RADII = {"ri_mm": above_zero("inner radius", MM), "ro_mm": above_zero("outer radius", MM)}
_DIE = {
    "r0_mm": above_zero("mean radius before the die", MM),
    "r1_mm": above_zero("mean radius after the die", MM),
    "t_mm": above_zero("wall, kept constant", MM),
    "Y_MPa": above_zero("mean flow stress over the pass", MPA),
    "mu": from_zero("friction coefficient", most=1.0),
    "alpha_deg": above_zero("half angle of the die, below 90", DEG, most=89.999),
}
_STRESS, _PRESSURE = ("MPa", MPA), ("MPa", MPA)

CALCULATIONS: tuple[Calculation, ...] = (
    formula(
        "strip-width",
        "Width of the strip for a welded tube",
        "table of a tube-mill maker's text (mill-specific: a mill's own allowances go before it)",
        {
            "D_mm": above_zero("outside diameter, 6 to 95", MM, lists=False),
            "t_mm": above_zero("wall, up to 6; D/t 10 to 60", MM, lists=False),
        },
        {"mid_line": ("mm", MM), "B": ("mm", MM)},
        _strip,
    ),
    formula(
        "seam-heat",
        "Heat to weld the seam of a tube",
        "heat balance",
        {
            "rho_kg_per_m3": above_zero("density"),
            "t_mm": above_zero("wall", MM),
            "w_mm": above_zero("heated width over both edges", MM),
            "v_m_per_min": above_zero("speed of the tube", 1.0 / 60.0),
            "cp_J_per_kgK": above_zero("heat capacity, mean over the rise"),
            "dT_K": above_zero("temperature rise"),
            "eta": above_zero("share of the line's power that reaches the seam", most=1.0),
        },
        {"P_weld": ("kW", 1e3), "P_line": ("kW", 1e3)},
        _seam,
    ),
    formula(
        "tube-sinking-draw",
        "Stress and force to draw a tube through a die without a plug",
        "Sachs and Baldwin's slab analysis (from memory); its equation integrated numerically agrees",
        _DIE,
        {"sigma": _STRESS, "F": "N"},
        _sinking,
    ),
    formula(
        "end-reduction-push",
        "Stress and force to push a reducing die over a tube's end",
        "membrane equilibrium with Tresca's rule, derived in physics/tube/drawing.py",
        _DIE,
        {"sigma": _STRESS, "F": "N"},
        _push,
    ),
    formula(
        "hoop-stress",
        "Hoop stress of a tube under inner pressure, five forms",
        "Barlow and Lame (any strength-of-materials text)",
        {"p_MPa": from_zero("inner pressure, gauge", MPA), **_RADII},
        dict.fromkeys(("barlow", "inner_diameter", "mid", "lame_inner", "lame_outer"), _STRESS),
        _hoop,
    ),
    formula(
        "first-yield-pressure",
        "Pressure at first yield of a tube's bore",
        "Lame's stress at the bore, maximum-hoop-stress rule",
        {"Re_MPa": above_zero("yield strength", MPA), **_RADII},
        {"p": _PRESSURE},
        _first_yield,
    ),
    formula(
        "burst-pressure",
        "Estimate of a thin tube's burst pressure; only a burst test, with liquid and shielded, shows it",
        "hoop stress at the mean diameter set to the tensile strength (common practice)",
        {
            "t_mm": above_zero("wall, up to a quarter of the mean diameter", MM),
            "Rm_MPa": above_zero("tensile strength", MPA),
            "D_m_mm": above_zero("mean diameter", MM),
        },
        {"p": _PRESSURE},
        _burst,
    ),
    formula(
        "resistance-weld-heat",
        "Heat of a resistance weld and the share that melts the nugget",
        "Groover, Fundamentals of Modern Manufacturing, resistance welding (from memory)",
        {
            "I_A": above_zero("welding current"),
            "R_ohm": above_zero("resistance, mean over the weld"),
            "t_s": above_zero("welding time"),
            "nugget_d_mm": above_zero("diameter of the nugget", MM),
            "nugget_h_mm": above_zero("height of the nugget", MM),
            "u_J_per_mm3": above_zero("energy to heat and melt the metal", 1e9),
        },
        {"Q": "J", "volume": ("mm3", MM3), "melt": "J", "share": "1"},
        _weld,
    ),
    formula(
        "rod-buckling",
        "Buckling load of a round rod, Johnson's or Euler's branch",
        "Shigley, columns (from memory)",
        {
            "d_mm": above_zero("diameter", MM),
            "L_mm": above_zero("length", MM),
            "E_MPa": above_zero("modulus of elasticity", MPA),
            "Sy_MPa": above_zero("yield strength", MPA),
            "K": above_zero("end factor: 1 both ends pinned, 0.5 both fixed, 2 one free"),
        },
        {"lambda_T": "1", "lambda": "1", "F": "N", "branch": ""},
        _buckling,
    ),
)
