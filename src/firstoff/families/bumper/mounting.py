"""Bolted to the car, and what is tested of it there; only where the sheet says how it stands on the car."""

from __future__ import annotations

from firstoff.families import CheckStation, PlannedStation
from firstoff.stations.bumper.mounting.assembly import Assembly
from firstoff.stations.bumper.mounting.fit_up import FitUp
from firstoff.stations.bumper.mounting.impact import Impact
from firstoff.stations.bumper.mounting.impact_faults import BOLTED_FAULTS
from firstoff.stations.bumper.mounting.impact_faults import FAULTS as HIT_FAULTS
from firstoff.stations.bumper.mounting.measurements import MEASUREMENTS
from firstoff.stations.bumper.mounting.towing import Towing
from firstoff.stations.bumper.mounting.vibration import Vibration
from firstoff.stations.settle import Settings

__all__ = ["FAULTS", "MEASUREMENTS", "checks", "stations"]


def stations(settings: Settings) -> tuple[PlannedStation, ...]:
    """In process order."""
    mounted = settings.drawing is None or settings.drawing.mounted is not None
    return (Assembly(),) if mounted else ()


def checks(settings: Settings) -> tuple[CheckStation, ...]:
    """What may be tested beside the route."""
    return (Impact(settings), Vibration(settings), FitUp(settings), Towing(settings))


FAULTS = {Assembly.name: BOLTED_FAULTS, Impact.name: HIT_FAULTS}
