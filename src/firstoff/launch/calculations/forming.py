"""Pocket calculations of the press shop: forces, blank, forming limit, springback."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.damper_inputs import choice, number, plain, scalar
from firstoff.physics.forming import blank, flow_curve, forces, springback

MM, MPA = 1e-3, 1e6
RULE = "0.33 t for R < 2 t, else 0.50 t"


def _mm(given: Mapping[str, Any], key: str, **bounds: float) -> float:
    return MM * scalar(given, key, **bounds)


def _mpa(given: Mapping[str, Any], key: str) -> float:
    return MPA * scalar(given, key, above=0.0)


def _blank_width(given: Mapping[str, Any]) -> dict[str, Any]:
    if "neutral_factor_rule" in given:
        choice(given, "neutral_factor_rule", [RULE])
    thickness = _mm(given, "thickness_mm", above=0.0)
    angle = math.radians(scalar(given, "bend_angle_deg", least=0.0, most=180.0))
    allowance = blank.bend_allowance(angle, _mm(given, "inside_radius_mm", least=0.0), thickness)
    found: dict[str, Any] = {"bend_allowance": plain("bend_allowance", allowance / MM)}
    sizes = [key for key in ("flat_web_mm", "flat_flange_mm", "flanges") if key in given]
    if sizes and len(sizes) < 3:
        raise ValueError("flat_web_mm, flat_flange_mm and flanges belong together")
    if sizes:
        legs = scalar(given, "flanges", least=0.0) * (_mm(given, "flat_flange_mm", least=0.0) + allowance)
        found["blank_width"] = plain("blank_width", (_mm(given, "flat_web_mm", least=0.0) + legs) / MM)
    return found


def _forming_limit(given: Mapping[str, Any]) -> dict[str, Any]:
    limit = flow_curve.plane_strain_limit(_mm(given, "thickness_mm", above=0.0), scalar(given, "n", above=0.0, most=1))
    return {
        "flc0_engineering": plain("flc0_engineering", 100.0 * limit),
        "flc0_true": plain("flc0_true", math.log1p(float(limit))),
    }


def _shear(given: Mapping[str, Any]) -> dict[str, Any]:
    force = forces.shear(
        _mpa(given, "tensile_strength_MPa"), _mm(given, "thickness_mm", above=0.0),
        _mm(given, "cut_length_mm", above=0.0),
        scalar(given, "shear_to_tensile_ratio", forces.SHEAR_TO_TENSILE, above=0.0, most=1.0),
    )  # fmt: skip
    found = {"force": plain("force", force), "force_in_tonnes": plain("force", force / forces.TONNE)}
    if "press_capacity_t" in given:
        capacity = number("press_capacity_t", given["press_capacity_t"], above=0.0)
        found["share_of_press"] = plain("share_of_press", force / forces.TONNE / capacity)
    return found


def _bend(key: str, usual: float) -> Any:
    def run(given: Mapping[str, Any]) -> dict[str, Any]:
        force = forces.bend(
            _mpa(given, "tensile_strength_MPa"), _mm(given, "thickness_mm", above=0.0),
            _mm(given, "bend_length_mm", above=0.0), _mm(given, "die_opening_mm", above=0.0),
            scalar(given, key, usual, above=0.0),
        )  # fmt: skip
        return {"force": plain("force", force)}

    return run


def _strip(given: Mapping[str, Any]) -> tuple[float, float, float]:
    """Thickness [m], yield stress and modulus of the wide strip [Pa]."""
    f = float(flow_curve.plane_strain_factor(scalar(given, "anisotropy_r", 1.0, least=0.0)))
    stiff = flow_curve.plane_strain_modulus(_mpa(given, "E_MPa"), scalar(given, "poisson", least=0.0, most=0.499))
    return _mm(given, "thickness_mm", above=0.0), f * _mpa(given, "yield_MPa"), float(stiff)


def _perfectly_plastic(given: Mapping[str, Any]) -> dict[str, Any]:
    if scalar(given, "tension_N_per_mm", 0.0) != 0.0:
        raise ValueError("tension_N_per_mm must be 0: the closed form is one of pure bending")
    thickness, strength, modulus = _strip(given)
    radius = _mm(given, "neutral_radius_mm", above=0.0)
    found = springback.perfectly_plastic(radius, thickness, strength, modulus)
    narrow = springback.perfectly_plastic(radius, thickness, _mpa(given, "yield_MPa"), _mpa(given, "E_MPa"))
    return {
        "radius_ratio_plane_strain": found.ratio,
        "radius_after": plain("radius_after", found.radius / MM),
        "angle_after_for_90_deg": math.degrees(found.angle),
        "overbend_angle_for_90_deg": plain("overbend_angle_for_90_deg", math.degrees(found.overbend)),
        "radius_ratio_handbook_uniaxial": narrow.ratio,
    }


def _power_law(given: Mapping[str, Any]) -> dict[str, Any]:
    moment, found = springback.power_law(
        _mm(given, "neutral_radius_mm", above=0.0), _mm(given, "thickness_mm", above=0.0), _mpa(given, "K_MPa"),
        scalar(given, "n"), _mpa(given, "E_MPa"), scalar(given, "poisson", least=0.0, most=0.499),
        scalar(given, "anisotropy_r", 1.0, least=0.0),
    )  # fmt: skip
    angle = math.degrees(found.angle)
    return {"moment": plain("moment", moment), "radius_ratio": found.ratio, "angle_after_for_90_deg": angle}


def _curl(given: Mapping[str, Any]) -> dict[str, Any]:
    thickness, strength, modulus = _strip(given)
    _mm(given, "bend_neutral_radius_mm", above=0.0)  # the closed form holds for any radius that makes all layers yield
    tension = 1e3 * scalar(given, "tension_N_per_mm", least=0.0)
    if "tension_ratio" in given and not math.isclose(
        scalar(given, "tension_ratio"), tension / (strength * thickness), rel_tol=1e-3, abs_tol=1e-9
    ):
        raise ValueError("tension_ratio and tension_N_per_mm contradict each other")
    return {"curl_radius": plain("curl_radius", springback.sidewall_curl(tension, thickness, strength, modulus) / MM)}


_THICKNESS = {"thickness_mm": "thickness of the sheet"}
_WIDE = {**_THICKNESS, "yield_MPa": "yield stress", "E_MPa": "modulus", "poisson": "Poisson's ratio"}
_R = {"anisotropy_r": "r value; 1 when left out"}
_BEND_INPUTS = {"tensile_strength_MPa": "tensile strength", **_THICKNESS, "bend_length_mm": "length of the bend",
                "die_opening_mm": "opening of the die"}  # fmt: skip
_ANGLE = {"angle_after_for_90_deg": "deg"}

CALCULATIONS: tuple[Calculation, ...] = (
    Calculation(
        "blank-width-bend-allowance", "Developed width of a channel with flanges, and its bend allowance",
        "Neutral-fibre bend allowance, 0.33 t and 0.50 t of the handbooks (from memory)",
        {**_THICKNESS, "inside_radius_mm": "inside radius", "bend_angle_deg": "angle the sheet turns through, 0 flat"},
        {"bend_allowance": "mm", "blank_width": "mm"}, _blank_width,
        {"flat_web_mm": "flat of the web", "flat_flange_mm": "flat of one flange", "flanges": "how many flanges",
         "neutral_factor_rule": f'"{RULE}"'},
    ),
    Calculation(
        "flc0-keeler-brazier", "Plane-strain forming limit of steel sheet",
        "Keeler and Brazier 1977; coefficients read in secondary texts, cap of the thickness from memory",
        {**_THICKNESS, "n": "hardening exponent"}, {"flc0_engineering": "%", "flc0_true": "1"}, _forming_limit,
    ),
    Calculation(
        "shear-force", "Force to trim or pierce along a cut length", "Handbooks, e.g. Groover; 0.7 from memory",
        {"tensile_strength_MPa": "tensile strength", **_THICKNESS, "cut_length_mm": "length of the cut"},
        {"force": "N", "force_in_tonnes": "t", "share_of_press": "1"}, _shear,
        {"shear_to_tensile_ratio": "0.7 when left out", "press_capacity_t": "force of the press, metric tonnes"},
    ),
    Calculation("v-bend-force", "Force to bend in a V die", "Handbooks, e.g. Groover", _BEND_INPUTS, {"force": "N"},
                _bend("v_bend_constant", forces.V_BEND), {"v_bend_constant": "1.33 when left out"}),
    Calculation("wipe-bend-force", "Force to bend an edge with a wiping die",
                "Handbooks, e.g. Groover; 0.33 from memory", _BEND_INPUTS, {"force": "N"},
                _bend("wipe_bend_constant", forces.WIPE_BEND), {"wipe_bend_constant": "0.33 when left out"}),
    Calculation(
        "springback-elastic-perfectly-plastic", "Pure bending of a wide sheet, elastic-perfectly plastic",
        "Cubic springback formula with plane-strain yield stress and modulus; textbook",
        {**_WIDE, "neutral_radius_mm": "radius to the middle of the sheet"},
        {"radius_ratio_plane_strain": "1", "radius_after": "mm", **_ANGLE, "overbend_angle_for_90_deg": "deg",
         "radius_ratio_handbook_uniaxial": "1"},
        _perfectly_plastic, {**_R, "tension_N_per_mm": "0"},
    ),
    Calculation(
        "springback-power-law", "Pure bending of a wide sheet with power-law hardening, elastic core neglected",
        "Hosford and Caddell, Metal Forming (from memory)",
        {**_THICKNESS, "K_MPa": "strength coefficient", "n": "hardening exponent", "E_MPa": "modulus",
         "poisson": "Poisson's ratio", "neutral_radius_mm": "radius to the middle of the sheet"},
        {"moment": "N.mm/mm", "radius_ratio": "1", **_ANGLE}, _power_law, _R,
    ),
    Calculation(
        "sidewall-curl-elastic-perfectly-plastic", "Sheet bent over a radius, straightened and let go under tension",
        "Reversed plastic moment of a wide elastic-perfectly plastic sheet; textbook, derived",
        {**_WIDE, "bend_neutral_radius_mm": "radius to the middle of the sheet in the bend",
         "tension_N_per_mm": "tension per width"},
        {"curl_radius": "mm"}, _curl,
        {**_R, "tension_ratio": "tension over yield force; checked", "tension_ratio_definition": "a text, not used",
         "release": "a text, not used"},
    ),
)  # fmt: skip
