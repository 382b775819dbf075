"""The twin-tube damper, in process order."""

from __future__ import annotations

from firstoff.families import CheckStation, Family, PlannedStation
from firstoff.stations.damper import force_table
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
from firstoff.stations.settle import Settings


def stations(settings: Settings) -> tuple[PlannedStation, ...]:
    """In process order; the rig runs at the speeds of the customer's table."""
    rig = DampingRig(settings.speeds)
    return (PressureTube(), PistonRod(), PistonValve(), BaseValve(), OilFill(), GasCharge(), rig)


def checks(settings: Settings) -> tuple[CheckStation, ...]:
    """What may be measured beside the route."""
    speeds = settings.speeds
    return (ValveBench(), RigChecks(speeds), DynamicRig(speeds), FillingLimits(speeds), StrengthLimits(speeds))


HANDLING = "A charged damper is never opened, heated or crushed: an authorised person vents it first, by the procedure."

MODEL = """
# The customer's table. Force is positive in tension: rebound positive, compression negative. An invented example:
[[damping]]
speed = "0.52 m/s"
rebound = "1000 ±100 N"
compression = "-400 ±60 N"

# Further characteristics, computed or only measured:
[characteristics.rod_runout]
unit = "mm"
limits = "<= 0.05 mm"
what = "run-out of the rod between centres"
"""

PLANT = """
[[gauge]]
name = "damping rig"
measures = "rebound_* compression_*"
u = "6 N"                  # standard uncertainty of one reading
resolution = "1 N"
source = "assumed: replace by your rig study"
# study = "rig_study.csv"    # in the place of u and source: see `firstoff gauge`
"""

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
    contradictions=lambda at, settings: contradictions(at, settings.speeds),
    temperature_window=TEMPERATURE_WINDOW,
    make_trace_station=DynamicRig,
    handling=HANDLING,
    sections=(force_table.SECTION,),
    read=force_table.read,
    start=(MODEL, PLANT),
    readings="force",
    readings_unit="N",
)
