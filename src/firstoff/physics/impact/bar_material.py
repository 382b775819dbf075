"""Material laws of bars that are not of the formed steel, as data."""

from __future__ import annotations

import json
import math
from functools import cache
from importlib.resources import files
from typing import Any, Final, NamedTuple

FORMED_STEEL: Final = "formed steel"
MATERIALS: Final = (FORMED_STEEL, "aluminium", "plastic", "laminate")


class BarMaterial(NamedTuple):
    """Swift's law sigma = K (eps0 + eps_p)^n above E, SI."""

    modulus: float  # Pa
    strength: float  # K, Pa
    exponent: float  # n
    first_strain: float  # eps0: K eps0^n is the stress at first yield
    density: float  # kg/m3
    break_strain: float
    rate: tuple[float, float]  # D [1/s], 0 for none, and q of Cowper and Symonds
    source: str


@cache
def _all() -> dict[str, Any]:
    folder = files("firstoff.physics.impact")
    found: dict[str, Any] = json.loads(folder.joinpath("data/bar_materials.json").read_text("utf-8"))
    return found


def material(name: str) -> BarMaterial:
    """Law of a bar's material: E, and sigma = K (eps0 + eps_p)^n with sigma(0) the yield strength; of what does not
    yield, a yield strength of E times the strain at break.

    name: one of `MATERIALS` but the formed steel, whose law the chain gives. Source: data/bar_materials.json says of
    each. KeyError for a name that is not there.
    """
    row = _all()[name]
    modulus, exponent = row["modulus_GPa"] * 1e9, row["exponent"]
    first = row["yield_MPa"] * 1e6 if row["yield_MPa"] is not None else 1.05 * modulus * row["break_strain"]
    # Swift's curve through the yield strength with the slope that the exponent gives: eps0 as that of elastic strain
    start = max(first / modulus, 1e-4)
    return BarMaterial(modulus, first / math.pow(start, exponent), exponent, start, row["density_kg_per_m3"],
                       row["break_strain"], (row["rate_D_per_s"], row["rate_q"]), row["source"])  # fmt: skip


def break_strain(name: str) -> float:
    """Strain of the outermost fibre at which a bar of the material breaks; infinite where no limit is known.

    Source: data/bar_materials.json; the formed steel folds and does not break.
    """
    return math.inf if name == FORMED_STEEL else material(name).break_strain


def source(name: str) -> str:
    """Where the law of a material comes from."""
    return str(_all()[name]["source"])
