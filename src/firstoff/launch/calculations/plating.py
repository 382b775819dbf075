"""Pocket calculations of plating: Faraday's law and cells whose current distribution is known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from firstoff.launch.calculations.base import Calculation
from firstoff.launch.calculations.formula import (
    A_PER_DM2,
    AH,
    DEG,
    G_PER_CM3,
    MINUTE,
    MM,
    UM,
    Given,
    Number,
    Read,
    above_zero,
    formula,
    from_zero,
    together,
)
from firstoff.physics.plating import cells, faraday

AGREE: Final = 1e-3  # how well sides and angle of a cell must fit together
_SIZES: Final = ("molar_mass_g_per_mol", "electrons", "density_g_per_cm3")


def _metal(x: Read, given: Given) -> faraday.Metal:
    """The metal by its numbers; what is left out comes from the table by its name."""
    known = faraday.metals().get(str(given.get("metal")))
    values = []
    for key, field in zip(_SIZES, faraday.Metal._fields, strict=True):
        if key in x:
            values.append(x[key])
        elif known is not None:
            values.append(np.asarray(getattr(known, field)))
        elif key == "density_g_per_cm3":
            values.append(np.array(math.nan))  # the equivalent needs none; others refuse it
        else:
            raise ValueError(f"{key} is missing, and metal is none of {', '.join(faraday.metals())}")
    return faraday.Metal(*values)


def _equivalent(x: Read, given: Given) -> Mapping[str, Any]:
    return {"equivalent": faraday.equivalent(_metal(x, given))}


def _rate(x: Read, given: Given) -> Mapping[str, Any]:
    return {"rate": faraday.rate(x["i_A_per_dm2"], x["efficiency"], _metal(x, given))}


def _thickness(x: Read, given: Given) -> Mapping[str, Any]:
    return {"thickness": faraday.thickness(x["i_A_per_dm2"], x["efficiency"], x["time_min"], _metal(x, given))}


def _time(x: Read, given: Given) -> Mapping[str, Any]:
    return {"time": faraday.time_for(x["thickness_um"], x["i_A_per_dm2"], x["efficiency"], _metal(x, given))}


def _charge(x: Read, given: Given) -> Mapping[str, Any]:
    return {"charge": faraday.charge_per_area(x["thickness_um"], x["efficiency"], _metal(x, given))}


def _haring(x: Read, _: Given) -> Mapping[str, Any]:
    keys = ("near_m", "far_m", "conductivity_S_per_m", "cathode_polarisation_resistance_ohm_m2")
    return dict(zip(("K", "M", "TP"), cells.haring_blum(*(x[key] for key in keys)), strict=True))


def _plates(x: Read, _: Given) -> Mapping[str, Any]:
    keys = ("gap_m", "conductivity_S_per_m", "cathode_polarisation_resistance_ohm_m2", "voltage_V")
    found = cells.parallel_plates(*(x[key] for key in keys))
    return {"i_primary": found.primary, "i_linear": found.linear, "wagner": found.wagner}


def _cylinders(x: Read, given: Given) -> Mapping[str, Any]:
    inside = given["cathode"] == "inner"
    cathode, anode = (x.get(f"{which}_polarisation_resistance_ohm_m2", np.array(0.0)) for which in ("cathode", "anode"))
    found = cells.coaxial_cylinders(
        x["inner_radius_m"], x["outer_radius_m"], x["length_m"], x["conductivity_S_per_m"], x["cell_voltage_V"],
        cathode if inside else anode, anode if inside else cathode, inside,
    )  # fmt: skip
    at = {"cathode": "inner" if inside else "outer", "anode": "outer" if inside else "inner"}
    densities = {
        f"i_{which}_{case}": getattr(found, f"{place}_{case}")
        for which, place in at.items()
        for case in ("primary", "linear")
    }
    return densities | {
        "R_primary": found.resistance_primary, "R_linear": found.resistance_linear,
        "I_primary": found.current_primary, "I_linear": found.current_linear, "wagner_cathode": found.wagner,
    }  # fmt: skip


def _disc(x: Read, _: Given) -> Mapping[str, Any]:
    radius = x["disk_radius_m"]
    found: dict[str, Any] = {"R": cells.disc_resistance(radius, x["conductivity_S_per_m"])}
    if "potential_difference_V" in x:
        current = x["potential_difference_V"] / found["R"]
        found |= {"I": current, "i_avg": current / (math.pi * radius**2)}
    if "r_over_R" in x:
        found["fraction_of_current_inside"] = cells.disc_enclosed(x["r_over_R"])
        if np.all(x["r_over_R"] < 1.0):
            found["i_over_iavg"] = cells.disc_density(x["r_over_R"])
    return found


def _free_disc(x: Read, _: Given) -> Mapping[str, Any]:
    return {"R": cells.disc_resistance(x["disk_radius_m"], x["conductivity_S_per_m"], 2)}


def _hull_scale(x: Read, _: Given) -> Mapping[str, Any]:
    found = cells.hull_scale(x["x"] * x["cathode_length_mm"])
    return {"i_per_current": found} | ({"i": found * x["current_A"]} if "current_A" in x else {})


def _hull(x: Read, _: Given) -> Mapping[str, Any]:
    from firstoff.physics.plating import hull

    width, short, long = (
        float(x[key]) for key in ("anode_width_mm", "short_insulating_side_mm", "long_insulating_side_mm")
    )
    length, angle = math.hypot(width, long - short), math.atan2(width, long - short)
    for key, drawn in (("cathode_length_mm", length), ("cathode_angle_at_far_end_deg", angle)):
        if key in x and abs(float(x[key]) - drawn) > AGREE * drawn:
            told = drawn / (MM if key.endswith("mm") else DEG)
            raise ValueError(f"{key} does not fit the sides, which make it {told:.7g}")
    cell = hull.hull_cell(short, long, width)
    found: dict[str, Any] = {"R_times_conductivity_times_depth": cell.resistance}
    if "conductivity_S_per_m" in x and together(x, "depth_mm", "conductivity_S_per_m"):
        found["R"] = cell.resistance / (x["conductivity_S_per_m"] * x["depth_mm"])
    if "x" in x:
        ratio = hull.density(cell, x["x"])
        found["i_over_iavg"] = ratio
        if "depth_mm" in x:
            found["i_per_current"] = ratio / (length * x["depth_mm"])
    return found


_METAL_TEXT = "metal; Ni, Cr(VI) and Cr(III) are known, and their numbers may be left out"
_EQUIVALENT = {
    "molar_mass_g_per_mol": above_zero("molar mass", 1e-3, optional=True),
    "electrons": above_zero("electrons an ion takes up", optional=True),
}
_METAL = {**_EQUIVALENT, "density_g_per_cm3": above_zero("density of the deposit", G_PER_CM3, optional=True)}
_ETA = above_zero("cathode efficiency, the share of current that deposits metal", most=1.0)
_I = from_zero("current density", A_PER_DM2)
_I_ABOVE = above_zero("current density", A_PER_DM2)
_D = from_zero("thickness", UM)
_KAPPA = above_zero("conductivity of the bath")
_RC = from_zero("slope of the cathode's overpotential over current density")
_X = Number("distance from the near end over the cathode's length, above 0 to 1, or list", above=0.0, most=1.0)
_TEXTS: dict[str, str | tuple[str, tuple[str, ...]]] = {"metal": _METAL_TEXT}
_LAW = "Faraday's law; IUPAC molar masses, handbook densities"

CALCULATIONS: tuple[Calculation, ...] = (
    formula(
        "faraday-equivalent",
        "Electrochemical equivalent",
        _LAW,
        _EQUIVALENT,
        {"equivalent": ("g/Ah", 1e-3 / AH)},
        _equivalent,
        texts=_TEXTS,
    ),
    formula(
        "faraday-plating-rate",
        "Plating rate",
        _LAW,
        {**_METAL, "i_A_per_dm2": _I, "efficiency": _ETA},
        {"rate": ("um/min", UM / MINUTE)},
        _rate,
        texts=_TEXTS,
    ),
    formula(
        "faraday-thickness",
        "Thickness of a deposit from current density, efficiency and time",
        _LAW,
        {**_METAL, "i_A_per_dm2": _I, "efficiency": _ETA, "time_min": from_zero("plating time", MINUTE)},
        {"thickness": ("um", UM)},
        _thickness,
        texts=_TEXTS,
    ),
    formula(
        "faraday-plating-time",
        "Plating time for a thickness",
        _LAW,
        {**_METAL, "i_A_per_dm2": _I_ABOVE, "efficiency": _ETA, "thickness_um": _D},
        {"time": ("min", MINUTE)},
        _time,
        texts=_TEXTS,
    ),
    formula(
        "faraday-charge-per-area",
        "Charge per area for a thickness",
        _LAW,
        {**_METAL, "efficiency": _ETA, "thickness_um": _D},
        {"charge": ("Ah/m2", AH)},
        _charge,
        texts=_TEXTS,
    ),
    formula(
        "haring-blum-throwing-power",
        "Haring-Blum cell: metal ratio and throwing power with linear polarisation",
        "Haring and Blum 1923; Field 1932 (from memory)",
        {
            "near_m": above_zero("distance of the near cathode"),
            "far_m": above_zero("distance of the far cathode"),
            "conductivity_S_per_m": _KAPPA,
            "cathode_polarisation_resistance_ohm_m2": _RC,
        },
        {"K": "1", "M": "1", "TP": ("%", 0.01)},
        _haring,
    ),
    formula(
        "hull-cell-empirical-formula",
        "Current density on a 267 ml Hull panel by the empirical scale, for reading panels",
        "Hull 1939 (from memory); made for 0.64 to 8.25 cm from the near end, negative beyond 9.4 cm",
        {
            "x": _X,
            "cathode_length_mm": above_zero("length of the cathode", MM),
            "current_A": above_zero("cell current", optional=True),
        },
        {"i_per_current": ("A/dm2 per A", A_PER_DM2), "i": ("A/dm2", A_PER_DM2)},
        _hull_scale,
    ),
    formula(
        "hull-cell-primary-distribution",
        "Primary current distribution along the cathode of a Hull cell, and cell resistance",
        "Laplace's equation in a trapezium, Schwarz-Christoffel map",
        {
            "anode_width_mm": above_zero("width of the anode, square across the sides", MM, lists=False),
            "short_insulating_side_mm": above_zero("side at the near end", MM, lists=False),
            "long_insulating_side_mm": above_zero("side at the far end", MM, lists=False),
            "cathode_length_mm": above_zero("must fit the sides", MM, lists=False, optional=True),
            "cathode_angle_at_far_end_deg": above_zero("must fit the sides", DEG, lists=False, optional=True),
            "depth_mm": above_zero("depth of the bath", MM, lists=False, optional=True),
            "conductivity_S_per_m": above_zero("of the bath, with depth_mm for R", lists=False, optional=True),
            "x": Number(_X.what, above=0.0, most=1.0, optional=True),
        },
        {
            "R_times_conductivity_times_depth": "1",
            "R": "ohm",
            "i_over_iavg": "1",
            "i_per_current": ("A/dm2 per A", A_PER_DM2),
        },  # fmt: skip
        _hull,
    ),
    formula(
        "disk-primary-distribution",
        "Primary current distribution and resistance of a disc in an insulating plane",
        "Newman 1966 (from memory); boundary elements converge to it",
        {
            "disk_radius_m": above_zero("radius", lists=False),
            "conductivity_S_per_m": above_zero("conductivity of the bath", lists=False),
            "potential_difference_V": above_zero("to a counter electrode at infinity", lists=False, optional=True),
            "r_over_R": from_zero("place on the disc, 0 to 1, or list", most=1.0, optional=True),
        },
        {"R": "ohm", "I": "A", "i_avg": "A/m2", "i_over_iavg": "1", "fraction_of_current_inside": "1"},
        _disc,
    ),
    formula(
        "free-disk-two-sided-resistance",
        "Resistance of a thin disc plated on both sides in an unbounded bath",
        "Newman 1966 (from memory), half the one-sided value by symmetry",
        {"disk_radius_m": above_zero("radius"), "conductivity_S_per_m": _KAPPA},
        {"R": "ohm"},
        _free_disc,
    ),
    formula(
        "coaxial-cylinders-linear-polarisation",
        "Resistance and current densities between coaxial cylinders, without and with linear polarisation",
        "Laplace's equation between cylinders (textbook)",
        {
            "inner_radius_m": above_zero("radius of the inner electrode"),
            "outer_radius_m": above_zero("radius of the outer electrode"),
            "length_m": above_zero("length"),
            "conductivity_S_per_m": _KAPPA,
            "cell_voltage_V": above_zero("voltage"),
            "cathode_polarisation_resistance_ohm_m2": from_zero(f"{_RC.what}; 0 when left out", optional=True),
            "anode_polarisation_resistance_ohm_m2": from_zero("the same of the anode; 0 when left out", optional=True),
        },
        {"R_primary": "ohm", "R_linear": "ohm", "I_primary": "A", "I_linear": "A", "wagner_cathode": "1"}
        | {f"i_{which}_{case}": "A/m2" for which in ("cathode", "anode") for case in ("primary", "linear")},
        _cylinders,
        texts={"cathode": ("which electrode is the cathode", ("inner", "outer"))},
        needed_texts=("cathode",),
    ),
    formula(
        "parallel-plates-linear-polarisation",
        "Current density between parallel plates, the cathode polarised linearly",
        "Ohm's law",
        {
            "gap_m": above_zero("distance of the plates"),
            "conductivity_S_per_m": _KAPPA,
            "cathode_polarisation_resistance_ohm_m2": _RC,
            "voltage_V": above_zero("voltage across bath and cathode"),
        },
        {"i_primary": "A/m2", "i_linear": "A/m2", "wagner": "1"},
        _plates,
    ),
)
