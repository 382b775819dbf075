"""Faraday's law: charge, mass and thickness of a deposit."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Final, NamedTuple

from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive, within

FARADAY: Final = 96485.33212  # C/mol, exact by the SI


class Metal(NamedTuple):
    """Molar mass [kg/mol], electrons taken up by one ion, density [kg/m3]."""

    molar_mass: Numbers
    electrons: Numbers
    density: Numbers


@cache
def metals() -> dict[str, Metal]:
    """The metals of the table by name. Source: see data/metals.json."""
    text = files("firstoff.physics.plating").joinpath("data/metals.json").read_text("utf-8")
    rows = json.loads(text)["metals"]
    return {
        name: Metal(row["molar_mass_g_per_mol"] * 1e-3, float(row["electrons"]), row["density_g_per_cm3"] * 1e3)
        for name, row in rows.items()
    }


def equivalent(metal: Metal) -> FloatArray:
    """Mass that a charge deposits at full efficiency, M/(n F) [kg/C].

    metal: molar mass M [kg/mol], electrons n, both > 0, any one shape. Source: Faraday's law. ValueError out of range.
    """
    return positive("molar mass", metal.molar_mass) / (positive("electrons", metal.electrons) * FARADAY)


def volume_per_charge(metal: Metal) -> FloatArray:
    """Volume that a charge deposits at full efficiency, M/(n F rho) [m3/C]; density rho [kg/m3] > 0."""
    return equivalent(metal) / positive("density", metal.density)


def rate(current_density: Numbers, efficiency: Numbers, metal: Metal) -> FloatArray:
    """Growth of the deposit, i eta M/(n F rho) [m/s].

    current_density i [A/m2] >= 0; efficiency eta of the cathode, 0 to 1: the share of current that deposits metal; any
    one shape. Source: Faraday's law. ValueError out of range.
    """
    eta = within("efficiency", efficiency, least=0.0, most=1.0)
    return not_negative("current density", current_density) * eta * volume_per_charge(metal)


def thickness(current_density: Numbers, efficiency: Numbers, time: Numbers, metal: Metal) -> FloatArray:
    """Thickness after a time t [s] >= 0 at steady current, i t eta M/(n F rho) [m]; other arguments as in `rate`."""
    return rate(current_density, efficiency, metal) * not_negative("time", time)


def time_for(thickness_: Numbers, current_density: Numbers, efficiency: Numbers, metal: Metal) -> FloatArray:
    """Time for a thickness d [m] >= 0, t = d n F rho/(i eta M) [s]; current density and efficiency above 0."""
    positive("current density", current_density)
    positive("efficiency", efficiency)
    return not_negative("thickness", thickness_) / rate(current_density, efficiency, metal)


def charge_per_area(thickness_: Numbers, efficiency: Numbers, metal: Metal) -> FloatArray:
    """Charge per area for a thickness d [m] >= 0, d n F rho/(eta M) [C/m2]; efficiency above 0 to 1."""
    eta = within("efficiency", efficiency, above=0.0, most=1.0)
    return not_negative("thickness", thickness_) / (eta * volume_per_charge(metal))
