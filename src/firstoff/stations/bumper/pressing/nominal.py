"""The bumper at its nominal settings, die by die: what the dies are planned from."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from typing import Any, Protocol

import numpy as np

from firstoff.chain.ensemble import Ensemble, run
from firstoff.chain.station import Columns, FloatArray, Plan, Station
from firstoff.errors import InputFault
from firstoff.stations.settle import Settings, nominals

# where each die's station stands, in process order
STATIONS = (
    ("coil", "coil", "Coil"),
    ("draw", "draw", "Draw"),
    ("reform", "reform", "Reform"),
    ("blanking", "blanking", "Blanking"),
    ("trim", "cutting", "Trim"),
    ("pierce", "cutting", "Pierce"),
    ("flange", "flanging", "Flange"),
    ("cam_flange", "flanging", "CamFlange"),
    ("restrike", "restrike", "Restrike"),
    ("final_pierce", "cutting", "FinalPierce"),
    ("checking_fixture", "checking_fixture", "CheckingFixture"),
)
TAKES_SETTINGS = ("pierce", "flange", "final_pierce", "checking_fixture")


class _Die(Station, Protocol):
    def data(self, settings: Settings) -> dict[str, Any]: ...


def at_nominal(settings: Settings, last: str, moved: Mapping[str, FloatArray] | None = None) -> Columns:
    """Columns of one build at nominal, or of several with some parameters moved, as far as the station `last`.

    An InputFault without a message for a parameter that is nowhere given: its own station says so when it is planned.
    """
    stations: list[_Die] = []
    for name, module, kind in STATIONS:
        if name == "reform" and settings.drawing.form_hits < 2:
            continue
        made = getattr(import_module(f"firstoff.stations.bumper.pressing.{module}"), kind)
        stations.append(made(settings) if name in TAKES_SETTINGS else made())
        if name == last:
            break
    at = nominals(stations, settings)
    if any(f"{s.name}.{p.name}" not in at for s in stations for p in s.parameters):
        raise InputFault(())
    moved = moved or {}
    count = max((len(column) for column in moved.values()), default=1)
    columns = {name: np.full(count, value) for name, value in at.items()} | dict(moved)
    plans = {s.name: Plan(s.name, data=s.data(settings) if hasattr(s, "data") else {}) for s in stations}
    return run(stations, plans, Ensemble(columns, {})).columns
