"""The twin-tube damper, in process order."""

from __future__ import annotations

from firstoff.families import CheckStation, Family, PlannedStation
from firstoff.stations.damper.base_valve import BaseValve
from firstoff.stations.damper.cures import with_cures
from firstoff.stations.damper.damping_rig import TEMPERATURE_WINDOW, DampingRig
from firstoff.stations.damper.design import contradictions
from firstoff.stations.damper.dynamic_rig import DynamicRig
from firstoff.stations.damper.faults import FAULTS, NOT_SEEN, SEEN_IN_MOTION, TEMPERATURE
from firstoff.stations.damper.filling_limits import FillingLimits
from firstoff.stations.damper.gas_charge import GasCharge
from firstoff.stations.damper.measurements import MEASUREMENTS
from firstoff.stations.damper.oil_fill import OilFill
from firstoff.stations.damper.piston_rod import PistonRod
from firstoff.stations.damper.piston_valve import PistonValve
from firstoff.stations.damper.pressure_tube import PressureTube
from firstoff.stations.damper.rig_checks import RigChecks
from firstoff.stations.damper.strength_limits import StrengthLimits
from firstoff.stations.damper.valve_bench import ValveBench


def stations(speeds: tuple[float, ...]) -> tuple[PlannedStation, ...]:
    """In process order; the rig runs at the speeds of the customer's table."""
    return (PressureTube(), PistonRod(), PistonValve(), BaseValve(), OilFill(), GasCharge(), DampingRig(speeds))


def checks(speeds: tuple[float, ...]) -> tuple[CheckStation, ...]:
    """What may be measured beside the route."""
    return (ValveBench(), RigChecks(speeds), DynamicRig(speeds), FillingLimits(speeds), StrengthLimits(speeds))


HANDLING = "A charged damper is never opened, heated or crushed: an authorised person vents it first, by the procedure."

FAMILY = Family(
    "damper",
    "Twin-tube damper",
    stations,
    with_cures(FAULTS),
    NOT_SEEN,
    TEMPERATURE,
    checks,
    {DynamicRig.name: with_cures(SEEN_IN_MOTION)},
    MEASUREMENTS,
    contradictions=contradictions,
    temperature_window=TEMPERATURE_WINDOW,
    make_trace_station=DynamicRig,
    handling=HANDLING,
)
