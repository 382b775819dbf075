"""What a current density leaves on the part: nickel, chromium, cover, burning; what the standards ask for."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt

from firstoff.physics.plating import faraday
from firstoff.physics.ranges import FloatArray, Numbers, not_negative, positive, within

HOUR: Final = 3600.0
BARE, COVERED, BURNT = 0, 1, 2  # states of a place


class Bath(NamedTuple):
    """How a bath turns current into metal. Measured on weighed panels; there are no defaults.

    efficiency e: slope of the metal's partial current, 0 to 1; threshold i_0 [A/m2] >= 0: current density that goes
    into other reactions first (nickel: hydrogen ions; hexavalent chromium: the film below which nothing covers);
    burning [A/m2] > i_0: current density above which the deposit is dark or rough.
    """

    metal: faraday.Metal
    efficiency: Numbers
    threshold: Numbers
    burning: Numbers


def efficiency(current_density: Numbers, bath: Bath) -> FloatArray:
    """Share of the current that deposits metal, eta = e (1 - i_0/i) above i_0, else 0.

    current_density i [A/m2] >= 0; the fields of bath may have its shape. The metal's partial current is a straight line
    above the threshold: chromium's efficiency rises with current density, nickel's falls off only at low ones. Source:
    straight-line fit of published efficiency curves (common practice, no source). ValueError out of range.
    """
    i, low = not_negative("current density", current_density), not_negative("threshold", bath.threshold)
    slope = within("efficiency", bath.efficiency, above=0.0, most=1.0)
    found: FloatArray = slope * np.clip(
        1.0 - np.divide(low, i, out=np.ones(np.broadcast(i, low).shape), where=i > 0), 0, 1
    )
    return found


def thickness(current_density: Numbers, time: Numbers, bath: Bath) -> FloatArray:
    """Thickness of the deposit at a steady current density, i eta(i) t M/(n F rho) [m]; time t [s] >= 0.

    Other arguments as in `efficiency`. Source: Faraday's law.
    """
    return faraday.thickness(current_density, efficiency(current_density, bath), time, bath.metal)


def state(current_density: Numbers, bath: Bath) -> npt.NDArray[np.int64]:
    """Whether a place stays bare (i <= i_0), is covered, or burns (i > burning): BARE, COVERED, BURNT; any shape.

    ValueError when the burning limit is not above the threshold.
    """
    i, low = not_negative("current density", current_density), not_negative("threshold", bath.threshold)
    high = positive("burning limit", bath.burning)
    if not np.all(high > low):
        raise ValueError("the burning limit must be above the threshold")
    return np.where(i > high, BURNT, np.where(i > low, COVERED, BARE)).astype(np.int64)


def current_for(thickness_: Numbers, time: Numbers, bath: Bath) -> FloatArray:
    """Current density that gives a thickness d [m] > 0 in a time t [s] > 0: i = i_0 + d n F rho/(e M t) [A/m2].

    ValueError out of range, and where it would burn.
    """
    slope = within("efficiency", bath.efficiency, above=0.0, most=1.0)
    partial = positive("thickness", thickness_) / (positive("time", time) * faraday.volume_per_charge(bath.metal))
    found: FloatArray = not_negative("threshold", bath.threshold) + partial / slope
    if not np.all(found <= np.asarray(bath.burning)):
        raise ValueError("the current density for this thickness and time would burn")
    return found


class Nickel(NamedTuple):
    """Semi-bright and bright nickel [m], their sum [m], share of semi-bright."""

    semi_bright: FloatArray
    bright: FloatArray
    total: FloatArray
    share: FloatArray


def double_nickel(semi_bright: FloatArray, bright: FloatArray) -> Nickel:
    """Both layers together; thicknesses [m] >= 0 of one shape. The share is 0 where there is no nickel."""
    lower, upper = not_negative("semi-bright nickel", semi_bright), not_negative("bright nickel", bright)
    total = lower + upper
    share = np.divide(lower, total, out=np.zeros(total.shape), where=total > 0.0)
    return Nickel(lower, upper, total, share)


@cache
def _tables() -> dict[str, Any]:
    text = files("firstoff.physics.plating").joinpath("data/coatings.json").read_text("utf-8")
    tables: dict[str, Any] = json.loads(text)
    return tables


class Coating(NamedTuple):
    """Least nickel [m], its type (d, b, p), least chromium [m], its type (r, mp, mc), least share of semi-bright."""

    nickel: float
    nickel_type: str
    chromium: float
    chromium_type: str
    semi_bright_share: float


def coatings_for(service_condition: int) -> tuple[Coating, ...]:
    """Coatings that a service condition (1 mild to 5 extended very severe) asks for on steel; any one of them.

    Source: ASTM B456 (from memory, partly seen in reprints), see data/coatings.json: the drawing and the standard go
    before it. ValueError for another number.
    """
    table = _tables()["nickel_chromium_on_steel"]
    name = f"SC{service_condition}"
    if name not in table["classes"]:
        raise ValueError(f"the service condition must be 1 to 5, not {service_condition}")
    thin = table["chromium_min_um"]
    chromium = thin.get(name, thin["default"]) * 1e-6
    return tuple(
        Coating(nickel * 1e-6, kind, chromium, chrome, table["semi_bright_share_min"] if kind == "d" else 0.0)
        for kind, nickel, chrome in table["classes"][name]
    )


def short_of(coating: Coating, nickel: Nickel, chromium: Numbers) -> FloatArray:
    """Largest lack over what the coating asks for, as a share: 0 where nothing lacks, 0.1 where a tenth is missing.

    Nickel over its least, chromium [m] over its least, share of semi-bright over its least; any one shape. Says what
    was computed of the significant surface; only thickness and corrosion tests show a coating.
    """
    asked = [(nickel.total, coating.nickel), (not_negative("chromium", chromium), coating.chromium)]
    if coating.semi_bright_share:
        asked.append((nickel.share, coating.semi_bright_share))
    lacks = np.broadcast_arrays(*(1.0 - np.asarray(found) / least for found, least in asked))
    worst: FloatArray = np.maximum(np.max(np.stack(lacks), axis=0), 0.0)
    return worst


class Relief(NamedTuple):
    """Heating that drives hydrogen out: least time [s], temperatures [K], start within [s] after plating."""

    time: float
    coolest: float
    hottest: float
    start_within: float


def hydrogen_relief(tensile_strength: float) -> Relief | None:
    """Heating after plating by the steel's tensile strength; None below 1000 MPa, where none is asked for.

    tensile_strength [Pa], the most the part may have (hard spots, cold-worked corners and case included). Pickling,
    electrolytic cleaning and chromium plating all bring hydrogen in. Source: ASTM B850 (from memory), see
    data/coatings.json. ValueError above 1800 MPa: by agreement with the customer only.
    """
    table = _tables()["hydrogen_relief"]
    strength = float(positive("tensile strength", tensile_strength)) / 1e6
    if strength < table["least_MPa"]:
        return None
    hours = next((hours for most, hours in table["rows"] if strength <= most), None)
    if hours is None:
        raise ValueError(f"the table ends at {table['rows'][-1][0]} MPa: agree the heating with the customer")
    coolest, hottest = (t + 273.15 for t in table["temperature_C"])
    return Relief(hours * HOUR, coolest, hottest, table["start_within_h"] * HOUR)
